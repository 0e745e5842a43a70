"""The use cases, with the fake reader."""

from __future__ import annotations

import sys
import types
from pathlib import Path

import cv2
import pytest
from PIL import Image

from lastwet import __version__, service
from lastwet.errors import ExitCode, NotWritten, UnusablePhoto, UsageError
from lastwet.film.coating import load_coating
from lastwet.gauge import Gauge, load_gauge
from lastwet.logbook.store import Logbook
from lastwet.reading.outcome import Outcome, Reading, Refusal
from lastwet.reading.photo import Photo
from lastwet.result import Result, Task
from lastwet.service.burst import read_burst
from lastwet.service.photos import sha256_of
from tests import fake_reader
from tests.fake_reader import FAULT, GLARE, photo_bytes


@pytest.fixture
def task(gauge_file: Path) -> Task:
    return Task(load_gauge(str(gauge_file)), "fine")


def read(original: bytes, task: Task) -> Result:
    return service.read_photo("x.jpg", task, lambda _: original, fake_reader.read)


# --- film


def test_a_coating_card_gives_solids_and_range() -> None:
    film = service.film(load_coating("nosuch-clear"), None, None, None)
    assert (film.coating, film.solids, film.thinner, film.thinned) == ("Nosuch clear (invented)", 0.34, None, 0)
    assert film.wet_range_um == (90, 125)
    assert (film.solids_tolerance, film.thinner_max) == (0.01, 0.1)


def test_single_values_win_over_the_card() -> None:
    film = service.film(load_coating("nosuch-clear"), 40, 8, "4-6mil")
    assert (film.solids, film.thinner) == (0.4, 0.08)
    assert film.wet_range_um == pytest.approx((101.6, 152.4))
    assert film.solids_tolerance == 0  # the card's belongs to the card's solids


@pytest.mark.parametrize(
    ("coating", "thinner", "caution"),
    [("nosuch-clear", 10, None), ("nosuch-clear", 11, "11 % thinner is more than Nosuch clear (invented) allows, 10 %"), (None, 11, None)],
)
def test_more_thinner_than_the_card_allows_is_told(coating: str | None, thinner: float, caution: str | None) -> None:
    assert service.film(load_coating(coating) if coating else None, 40, thinner, None).caution == caution


@pytest.mark.parametrize(
    ("solids", "thinner", "fault"),
    [
        (0, 0, "volume solids of 0 "),
        (101, 0, "volume solids of 1.01 "),
        (0.57, 0, "write percent, as in 57 for 57 %"),
        (float("nan"), 0, "volume solids of nan "),
        (50, -1, "thinner of -0.01 "),
        (None, 8, "thinner alone predicts nothing"),
    ],
)
def test_impossible_paint_is_refused(solids: float | None, thinner: float, fault: str) -> None:
    with pytest.raises(UsageError, match=fault):
        service.film(None, solids, thinner, None)


# --- names


def test_a_folder_gives_its_photos_by_name(tmp_path: Path) -> None:
    for name in ("b.JPG", "a.png", "c.heic", "c.json", ".hidden.jpg", "a-12345678-overlay.jpg", "notes.txt"):
        (tmp_path / name).touch()
    (tmp_path / "sub").mkdir()
    names = service.expand(["z.jpg", str(tmp_path), "-", "z.jpg"])
    assert names == ["z.jpg", *(str(tmp_path / name) for name in ("a.png", "b.JPG", "c.heic")), "-", "z.jpg"]


def test_a_pattern_gives_what_it_matches_by_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("b.jpg", "a.jpg", "c.png", "a.json", "b[1].jpg", "day/d.jpg", "a-12345678-overlay.jpg"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    monkeypatch.chdir(tmp_path)
    assert service.expand(["*.jpg"]) == ["a.jpg", "b.jpg", "b[1].jpg"]
    assert service.expand([str(tmp_path / "?.*"), "**/d.jpg"]) == [
        *(str(tmp_path / f"{n}") for n in ("a.jpg", "b.jpg", "c.png")),
        "day/d.jpg",
    ]
    assert service.expand(["b[1].jpg", "x*.jpg"]) == ["b[1].jpg", "x*.jpg"]  # a file of that name; nothing matches


def test_a_folder_without_photos_is_an_unusable_photo(tmp_path: Path, task: Task) -> None:
    (result,) = service.read_photos(service.expand([str(tmp_path / "empty")]), task, reader=fake_reader.read)
    assert isinstance(result.outcome, UnusablePhoto)


# --- reading


def test_a_bad_file_does_not_stop_the_others(tmp_path: Path, task: Task) -> None:
    (tmp_path / "b.jpg").write_bytes(photo_bytes(2))
    results = service.read_photos([str(tmp_path / "a.jpg"), str(tmp_path / "b.jpg")], task, reader=fake_reader.read)
    assert [result.as_json()["outcome"] for result in results] == ["unusable", "read"]


def test_a_failure_of_the_reader_is_a_refusal_that_is_logged(tmp_path: Path, task: Task) -> None:
    result = read(photo_bytes(FAULT), task)
    assert isinstance(result.outcome, Refusal)
    assert result.failure == "ValueError: a fault of the program"
    assert result.failure in result.outcome.reasons[0].message
    assert service.keep(result, Logbook(tmp_path / "log"), "tester", None) == service.Kept(entry=1)


def fetch_or_fail(name: str) -> bytes:
    """Fail as no file does; other names are painted photos."""
    if name == "bad.jpg":
        raise ZeroDivisionError("a fault of the program")
    return photo_bytes(4)


def burst(task: Task, *names: str) -> Result:
    return read_burst(names, task, fetch_or_fail, fake_reader.read_together)


def test_a_failure_before_there_is_a_photo_is_told_alike_alone_and_in_a_burst(task: Task) -> None:
    alone, together = service.read_photo("bad.jpg", task, fetch_or_fail, fake_reader.read), burst(task, "bad.jpg", "bad.jpg")
    for result in (alone, together):
        assert isinstance(result.outcome, Refusal)
        assert result.failure == "ZeroDivisionError: a fault of the program"
        assert result.exit_code(check=False) == ExitCode.UNEXPECTED


def test_a_photo_on_which_the_program_failed_does_not_cost_the_others_of_the_dip(tmp_path: Path, task: Task) -> None:
    result = burst(task, "bad.jpg", "a.jpg")
    assert (result.wet, result.failure) == (burst(task, "a.jpg").wet, "ZeroDivisionError: a fault of the program")
    failed, used = result.parts
    assert isinstance(failed.outcome, Refusal) and (failed.used, used.used) == (False, True)
    entry = service.log_result(Logbook(tmp_path / "log"), result, "tester")
    assert entry.photos == (used.sha256,)


@pytest.mark.parametrize("names", [("none.jpg", "junk.jpg"), ("junk.jpg", "none.jpg")])
def test_of_files_that_are_no_photos_one_that_is_there_is_logged(tmp_path: Path, task: Task, names: tuple[str, str]) -> None:
    (tmp_path / "junk.jpg").write_bytes(b"no photo")
    result = read_burst([str(tmp_path / name) for name in names], task, combiner=fake_reader.read_together)
    assert (Path(result.name).name, result.sha256) == ("junk.jpg", sha256_of(b"no photo"))
    assert service.keep(result, Logbook(tmp_path / "log"), "tester", None).entry == 1


def test_a_decoder_that_fails_otherwise_than_foreseen_is_a_failure(task: Task, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lastwet.service.photos.load_photo", lambda *_: 1 // 0)
    alone, together = read(photo_bytes(4), task), burst(task, "a.jpg")
    assert alone.failure == together.failure == "ZeroDivisionError: integer division or modulo by zero"
    assert alone.sha256 == together.sha256 == sha256_of(photo_bytes(4))
    with pytest.raises(ZeroDivisionError):  # nothing can be held against it
        service.load_clean("a.jpg", fetch_or_fail)


@pytest.mark.parametrize("name", ["a" * 300, "a" * 5000])
def test_a_name_that_no_file_can_have_is_an_unusable_photo(name: str, task: Task) -> None:
    (result,) = service.read_photos(service.expand([name]), task, reader=fake_reader.read)
    assert isinstance(result.outcome, UnusablePhoto)
    with pytest.raises(NotWritten, match="could not open the log"):
        service.open_log(Path(name), to_read=True)


def test_the_name_of_a_file_need_not_be_unicode(tmp_path: Path, task: Task) -> None:
    result = service.read_photo("caf\udce9.jpg", task, lambda _: photo_bytes(2), fake_reader.read)
    assert result.name == r"caf\udce9.jpg"
    assert service.keep(result, Logbook(tmp_path / "log"), "tester", tmp_path).faults == ()
    assert not isinstance(service.read_photo("caf\udce9.jpg", task, reader=fake_reader.read).outcome, Reading)


def test_the_reader_is_asked_for_its_settings_once(task: Task, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    class Module(types.ModuleType):
        def __getattr__(self, name: str) -> str:
            asked.append(name)
            return "hashed"

    def reader(photo: Photo, gauge: Gauge, side_id: str | None) -> Outcome:
        return fake_reader.read(photo, gauge, side_id)

    reader.__module__ = "another_reader"
    monkeypatch.setitem(sys.modules, "another_reader", Module("another_reader"))
    results = [service.read_photo(name, task, lambda _: photo_bytes(2, size=(64, 48)), reader) for name in ("a", "b", "c")]
    assert [result.reader_settings for result in results] == ["hashed"] * 3
    assert asked == ["SETTINGS_ID"]


# --- keeping


def test_a_reading_is_logged_with_everything_to_repeat_it(tmp_path: Path, task: Task) -> None:
    original = photo_bytes(3)
    logbook = Logbook(tmp_path / "log")
    result = read(original, task)
    kept = service.keep(result, logbook, "tester", None)
    assert kept.entry == 1
    entry = logbook.entry(1)
    assert entry.body["reading"] == result.as_json()
    assert entry.body["by"] == "tester"
    assert entry.body["gauge"]["sides"] == {"fine": [40, 60, 85, 110, 140, 175, 215], "coarse": [260, 310, 370, 440]}
    assert entry.body["film"].keys() == {"coating", "volume_solids", "volume_solids_tolerance", "thinner", "thinner_stated", "thinner_max"}
    assert entry.body["software"] == {"version": __version__, "reader_settings": fake_reader.SETTINGS_ID, "opencv": cv2.__version__}
    assert logbook.photos.path(result.sha256 or "").read_bytes() == original


def test_a_refusal_is_logged_with_its_photo(tmp_path: Path, task: Task) -> None:
    logbook = Logbook(tmp_path / "log")
    result = read(photo_bytes(GLARE), task)
    assert isinstance(result.outcome, Refusal)
    service.keep(result, logbook, "tester", None)
    assert logbook.entry(1).photo_sha256 == result.sha256


def test_an_unusable_file_is_logged_by_its_hash_and_a_missing_one_not_at_all(tmp_path: Path, task: Task) -> None:
    logbook = Logbook(tmp_path / "log")
    service.keep(read(b"hello", task), logbook, "tester", tmp_path)
    assert service.keep(service.read_photo("nosuch.jpg", task, reader=fake_reader.read), logbook, "tester", tmp_path).entry is None
    (entry,) = logbook.entries(10)
    assert entry.photo_sha256 is None
    # of "hello", as GNU sha256sum prints it
    assert entry.body["reading"]["sha256"] == "2cf24dba5fb0a30e26e83b2ac5b9e29e1b161e5c1fa7425e73043362938b9824"


def test_what_cannot_be_written_is_told_and_stops_neither_log_nor_picture(tmp_path: Path, task: Task) -> None:
    (tmp_path / "file").touch()
    kept = service.keep(read(photo_bytes(3), task), Logbook(tmp_path / "log"), "tester", tmp_path / "file")
    assert kept.entry == 1
    assert [type(fault) for fault in kept.faults] == [NotWritten]


def test_a_picture_that_cannot_be_drawn_does_not_cost_the_reading(tmp_path: Path, task: Task, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise ZeroDivisionError("a fault of the program")

    monkeypatch.setattr("lastwet.reading.overlay.draw_overlay", fail)
    kept = service.keep(read(photo_bytes(3), task), Logbook(tmp_path / "log"), "tester", tmp_path / "out")
    assert kept.entry == 1
    assert [str(fault) for fault in kept.faults] == [
        "the picture of x.jpg could not be drawn (ZeroDivisionError: a fault of the program): report this with the photo"
    ]


def test_pictures_of_photos_of_the_same_name_do_not_overwrite_each_other(tmp_path: Path, task: Task) -> None:
    pictures = {service.keep(read(photo_bytes(last_wet), task), None, "tester", tmp_path).picture for last_wet in (2, 3)}
    assert len(pictures) == 2
    for path in pictures:
        assert path is not None
        with Image.open(path) as picture:
            assert picture.format == "JPEG"


def test_looking_for_a_log_does_not_begin_one(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="there is no logbook in"):
        service.open_log(tmp_path / "log", to_read=True)
    assert not (tmp_path / "log").exists()


@pytest.mark.parametrize(("stated", "variable", "place"), [("a", "b", "a"), (None, "b", "b"), (None, "", "data/lastwet/logbook")])
def test_the_logs_place_is_stated_or_the_variables_or_the_users(
    stated: str | None, variable: str, place: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """XDG Base Directory Specification: user data under XDG_DATA_HOME."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("LASTWET_LOG", variable and str(tmp_path / variable))
    assert service.open_log(tmp_path / stated if stated else None).folder == tmp_path / place


def test_a_user_without_a_name_is_unknown(monkeypatch: pytest.MonkeyPatch) -> None:
    def nobody() -> str:
        raise KeyError("getpwuid(): uid not found: 4242")

    monkeypatch.setattr("getpass.getuser", nobody)
    assert service.user_name() == "unknown"

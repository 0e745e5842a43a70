"""A photo of the wiped gauge beside that of the dip, over real pipes, with the fake reader: wet teeth on it are dirt."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from lastwet.logbook.store import Logbook
from tests.cli.test_read import VALIDATOR, objects
from tests.conftest import Run
from tests.fake_reader import photo_bytes

OPTIONS = ("--gauge", "bench.toml", "--side", "fine", "--by", "Ann")


@pytest.fixture
def shop(tmp_path: Path, gauge_file: Path) -> Path:
    """Two photos of a dip, a clean gauge, and one with something on the third tooth."""
    assert gauge_file.name == OPTIONS[1]
    for name, painted in (("a.jpg", 5), ("b.jpg", 5), ("clean.jpg", 0), ("dirty.jpg", 3)):
        (tmp_path / name).write_bytes(photo_bytes(painted, size=(640 + 2 * ord(name[0]), 480)))
    return tmp_path


def sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.parametrize("photos", [["a.jpg"], ["a.jpg", "b.jpg", "--burst"]])
def test_a_clean_gauge_changes_nothing_but_is_named(run: Run, shop: Path, photos: list[str]) -> None:
    (plain,), (found,) = (objects(run("read", *photos, "--json", "--no-log", *more, *OPTIONS)) for more in ((), ("--clean", "clean.jpg")))
    assert found.pop("clean") == {"photo": "clean.jpg", "sha256": sha256(shop / "clean.jpg")}
    assert {**found, "seconds": 0} == {**plain, "seconds": 0}
    assert "clean gauge     clean.jpg: nothing on it looked wet" in run("read", *photos, "--clean", "clean.jpg", *OPTIONS).stdout


@pytest.mark.usefixtures("shop")
@pytest.mark.parametrize("photos", [["a.jpg"], ["a.jpg", "b.jpg", "--burst"]])
def test_a_dirty_gauge_is_refused_with_exit_code_4(run: Run, photos: list[str]) -> None:
    done = run("read", *photos, "--clean", "dirty.jpg", "--json", *OPTIONS)
    (found,) = objects(done)
    assert (found["outcome"], found["refusals"][0]["code"], done.returncode) == ("refused", "dirty", 4)
    assert "tooth 85" in found["refusals"][0]["message"]
    assert found["best_guess"]["last_wet"] == 5


@pytest.mark.usefixtures("shop")
def test_each_photo_is_held_against_it(run: Run) -> None:
    found = objects(run("read", "a.jpg", "b.jpg", "--clean", "dirty.jpg", "--json", *OPTIONS))
    assert [(line["photo"], line["outcome"]) for line in found] == [("a.jpg", "refused"), ("b.jpg", "refused")]


@pytest.mark.parametrize("photos", [["a.jpg"], ["a.jpg", "b.jpg"], ["a.jpg", "b.jpg", "--burst"]])
def test_a_file_of_the_clean_gauge_that_is_no_photo_is_wrong_usage_before_anything_is_read(run: Run, shop: Path, photos: list[str]) -> None:
    (shop / "clean.jpg").write_bytes(b"no photo")
    for name in ("clean.jpg", "nosuch.jpg"):
        done = run("read", *photos, "--clean", name, "--json", *OPTIONS)
        assert (done.returncode, done.stdout) == (2, "")
        assert done.stderr.startswith(f"lastwet: the photo of the clean gauge: {name}")
    assert not (shop / "log").exists()


def test_so_it_is_on_a_board(run: Run, shop: Path) -> None:
    run("board", "new", "door", "--coating", "nosuch-satin")
    run("board", "coat", "door")
    done = run("board", "add", "door", "--photo", "a.jpg", "--clean", "nosuch.jpg", *OPTIONS)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("lastwet: the photo of the clean gauge: nosuch.jpg")
    assert [entry.kind for entry in Logbook(shop / "log").all_entries()] == ["board", "coat"]


@pytest.mark.parametrize("photos", [["a.jpg"], ["a.jpg", "b.jpg", "--burst"]])
def test_it_is_kept_in_the_log_checked_and_read_again(run: Run, shop: Path, photos: list[str]) -> None:
    run("read", *photos, "--clean", "clean.jpg", *OPTIONS)
    log = Logbook(shop / "log")
    wiped = sha256(shop / "clean.jpg")
    assert log.entry(1).more_photos[-1] == wiped
    assert log.photos.path(wiped).read_bytes() == (shop / "clean.jpg").read_bytes()
    assert "clean      clean.jpg, the gauge before the dip" in run("log", "show", "1").stdout
    assert run("log", "verify").returncode == 0
    assert run("log", "recheck", "--jobs", "1").stdout.startswith("1 the same, 0 would differ")
    now = json.loads(run("log", "recheck", "--jobs", "1", "--json").stdout)["now"]
    VALIDATOR.validate(now)
    assert now["clean"]["sha256"] == wiped
    assert run("report", "-o", "r.html").returncode == 0
    text = (shop / "r.html").read_text("utf-8")
    assert "Photo of the clean gauge, SHA-256" in text
    assert wiped[:32] in text
    log.photos.path(wiped).unlink()
    assert run("log", "verify").returncode == 6


def test_a_recheck_finds_a_gauge_dirty_that_was_not_found_so(run: Run, shop: Path) -> None:
    """Logged as if the stain had not been seen."""
    run("read", "a.jpg", "--clean", "clean.jpg", *OPTIONS)
    log = Logbook(shop / "log")
    body = json.loads(log.entry(1).record)["body"]
    body["reading"]["clean"]["sha256"] = sha256(shop / "dirty.jpg")
    more = [(shop / "dirty.jpg").read_bytes()]
    log.append("reading", body, (shop / "a.jpg").read_bytes(), more=more, recorded_at=log.entry(1).recorded_at)
    assert "     2  then 140 to 175 um (5.51 to 6.89 mil) wet, side fine; now refused, dirty" in run("log", "recheck", "--jobs", "1").stdout


@pytest.mark.usefixtures("shop")
def test_a_reading_by_eye_takes_no_photo_of_the_clean_gauge(run: Run) -> None:
    done = run("read", "a.jpg", "--clean", "clean.jpg", "--last-wet", "4", *OPTIONS)
    assert (done.returncode, "a reading by eye takes one photo" in done.stderr) == (2, True)


def test_help_names_the_option(run: Run) -> None:
    assert "--clean" in run("read", "--help").stdout

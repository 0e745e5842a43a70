"""Several photos of one dip in one call, over real pipes, with the fake reader."""

from __future__ import annotations

import csv
import hashlib
import json
import re
import sqlite3
import subprocess
from contextlib import closing
from io import StringIO
from pathlib import Path

import pytest

from lastwet.logbook.store import Logbook
from tests.cli.test_read import VALIDATOR, objects
from tests.conftest import ROOT, Run
from tests.fake_reader import FAULT, GLARE, photo_bytes

OPTIONS = ("--gauge", "bench.toml", "--side", "fine", "--by", "Ann")


@pytest.fixture
def dip(tmp_path: Path, gauge_file: Path) -> Path:
    """Two photos of one dip that are read, between them one that is not."""
    assert gauge_file.name == OPTIONS[1]
    for name, painted in (("a.jpg", 5), ("b.jpg", GLARE), ("c.jpg", 5)):
        (tmp_path / name).write_bytes(photo_bytes(painted, size=(640 + 2 * ord(name[0]), 480)))
    return tmp_path


@pytest.mark.usefixtures("dip")
def test_photos_of_one_dip_give_one_object(run: Run) -> None:
    done = run("read", "a.jpg", "b.jpg", "c.jpg", "--burst", "--json", "--wet-range", "140-175um", *OPTIONS)
    (found,) = objects(done)
    assert (found["photos"], "photo" in found, done.returncode, done.stderr) == (["a.jpg", "b.jpg", "c.jpg"], False, 0, "")
    assert (found["outcome"], found["last_wet"], found["verdict"]) == ("read", 5, "inside")
    assert [(each["photo"], each["used"], each["outcome"], each["last_wet"]) for each in found["each"]] == [
        ("a.jpg", True, "read", 5), ("b.jpg", False, "refused", None), ("c.jpg", True, "read", 5)
    ]  # fmt: skip
    assert found["sha256"] == found["each"][2]["sha256"]
    assert found["each"][1]["refusals"][0]["code"] == "glare"


@pytest.mark.usefixtures("dip")
def test_without_the_option_each_photo_is_a_dip(run: Run) -> None:
    found = objects(run("read", "a.jpg", "c.jpg", "--json", *OPTIONS))
    assert [line["photo"] for line in found] == ["a.jpg", "c.jpg"]
    assert not any("photos" in line or "each" in line for line in found)


@pytest.mark.usefixtures("dip")
def test_a_burst_of_one_says_what_the_photo_says(run: Run) -> None:
    (one,), (burst,) = (objects(run("read", "a.jpg", "--json", *option, *OPTIONS)) for option in ((), ("--burst",)))
    for key in one.keys() - {"photo", "seconds"}:
        assert burst[key] == one[key]


@pytest.mark.usefixtures("dip")
def test_a_folder_is_one_dip_too(run: Run) -> None:
    (found,) = objects(run("read", ".", "--burst", "--json", "--no-log", *OPTIONS))
    assert found["photos"] == ["a.jpg", "b.jpg", "c.jpg"]


def test_photos_that_differ_refuse_with_exit_code_4(run: Run, dip: Path) -> None:
    (dip / "b.jpg").write_bytes(photo_bytes(4))
    done = run("read", "a.jpg", "b.jpg", "--burst", "--json", *OPTIONS)
    (found,) = objects(done)
    assert (found["outcome"], found["refusals"][0]["code"], done.returncode) == ("refused", "photos-disagree", 4)


def test_a_file_that_is_no_photo_adds_nothing_and_is_told(run: Run, dip: Path) -> None:
    (dip / "b.jpg").write_bytes(b"no photo")
    done = run("read", "b.jpg", "a.jpg", "nosuch.jpg", "--burst", "--json", *OPTIONS)
    (found,) = objects(done)
    assert (found["outcome"], found["last_wet"], done.returncode) == ("read", 5, 3)
    assert [(each["outcome"], each["used"]) for each in found["each"]] == [("unusable", False), ("read", True), ("unusable", False)]
    assert found["each"][2]["sha256"] is None
    alone = run("read", "b.jpg", "nosuch.jpg", "--burst", "--json", *OPTIONS)
    assert (objects(alone)[0]["outcome"], objects(alone)[0]["refusals"][0]["code"], alone.returncode) == ("unusable", "not-an-image", 3)


def test_a_fault_of_the_program_is_told(run: Run, dip: Path) -> None:
    (dip / "b.jpg").write_bytes(photo_bytes(FAULT))
    done = run("read", "a.jpg", "b.jpg", "--burst", "--json", *OPTIONS)
    assert (objects(done)[0]["outcome"], done.returncode) == ("refused", 1)
    assert done.stderr == "lastwet: a.jpg, b.jpg: ValueError: a fault of the program\n"


def test_people_are_told_what_each_photo_says(run: Run, dip: Path) -> None:
    (dip / "d.jpg").write_bytes(b"no photo")
    shown = run("read", ".", "--burst", "--overlay", "out", *OPTIONS).stdout
    assert shown.startswith("a.jpg and 3 more: 140 to 175 um")
    assert "photo           a.jpg: used; by itself 5 of 7 wet\n" in shown
    assert "photo           b.jpg: not used; by itself glare: A tooth lies under glare.\n" in shown
    assert "photo           d.jpg: not used; not-an-image: d.jpg is not a JPEG" in shown
    assert [path.name[:2] for path in (dip / "out").iterdir()] == ["c-"]  # the picture is of the best photo


@pytest.mark.usefixtures("dip")
@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["a.jpg", "--last-wet", "4"], "a reading by eye takes one photo"),
        (["a.jpg"] * 13, "13 photos are too many for one dip: give at most 12"),
    ],
)
def test_wrong_usage_is_one_sentence_and_logs_nothing(run: Run, tmp_path: Path, arguments: list[str], sentence: str) -> None:
    done = run("read", *arguments, "--burst", *OPTIONS)
    assert (done.returncode, done.stdout, sentence in done.stderr) == (2, "", True)
    assert not run("log", "list").stdout
    assert not list(tmp_path.glob("log/photos/*"))


@pytest.mark.usefixtures("dip")
def test_the_schema_wants_one_photo_or_several(run: Run) -> None:
    (found,) = objects(run("read", "a.jpg", "c.jpg", "--burst", "--json", *OPTIONS))
    assert not VALIDATOR.is_valid(found | {"photo": "a.jpg"})
    assert not VALIDATOR.is_valid({key: value for key, value in found.items() if key != "photos"})
    assert not VALIDATOR.is_valid(found | {"each": [{"photo": "a.jpg"}]})


def test_help_names_the_options(run: Run) -> None:
    shown = run("read", "--help").stdout
    assert "--burst" in shown
    assert "one and the same dip" in " ".join(shown.replace("│", " ").split())


@pytest.mark.usefixtures("dip")
def test_the_log_keeps_what_was_printed(run: Run) -> None:
    found = objects(run("read", "a.jpg", "b.jpg", "--burst", "--json", *OPTIONS))
    assert [json.loads(line)["body"]["reading"] for line in run("log", "list", "--json").stdout.splitlines()] == found


# --- the log


@pytest.fixture
def log(run: Run, dip: Path) -> Logbook:
    """A log of one burst of three photos and of a file that is none."""
    (dip / "d.jpg").write_bytes(b"no photo")
    run("read", "a.jpg", "b.jpg", "c.jpg", "d.jpg", "--burst", "--wet-range", "140-175um", *OPTIONS)
    return Logbook(dip / "log")


def hashes(folder: Path, *names: str) -> list[str]:
    return [hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in names]


def test_the_log_keeps_every_photo(run: Run, dip: Path, log: Logbook) -> None:
    """The one that says most first; what is no photo by its hash alone, as ever."""
    a, b, c, d = hashes(dip, "a.jpg", "b.jpg", "c.jpg", "d.jpg")
    (entry,) = log.all_entries()
    assert (entry.photo_sha256, entry.more_photos) == (c, (a, b))
    assert entry.body["reading"]["each"][3]["sha256"] == d
    assert sorted(path.name for path in log.photos.folder.iterdir()) == sorted([a, b, c])
    done = run("log", "verify")
    assert (done.returncode, done.stderr, "broken" in done.stdout, "trace" in done.stdout) == (0, "", False, False)
    shown = run("log", "show", "1").stdout
    assert "photo      a.jpg, b.jpg, c.jpg, d.jpg, " in shown
    assert all(f"kept as    {log.photos.path(sha256)}" in shown for sha256 in (a, b, c))
    assert "a.jpg and 3 more" in run("log", "list").stdout


@pytest.mark.parametrize("position", [0, 1, 2])
def test_a_change_to_any_of_the_photos_is_found(run: Run, log: Logbook, position: int) -> None:
    path = log.photos.path(log.entry(1).photos[position])
    path.chmod(0o644)
    path.write_bytes(path.read_bytes()[:-1] + b"\0")
    done = run("log", "verify")
    assert (done.returncode, str(path) in done.stdout) == (6, True)
    assert "entry 1 is the first that is not what was written" in done.stderr
    assert "NOT INTACT" in report(run, log.folder.parent)


def test_a_missing_photo_is_found(run: Run, log: Logbook) -> None:
    log.photos.path(log.entry(1).photos[1]).unlink()
    done = run("log", "verify")
    assert (done.returncode, "broken  the photo of entry 1 is missing" in done.stdout) == (6, True)
    assert run("log", "recheck", "--jobs", "1").stdout.splitlines()[0] == "     1  a photo of it is missing or changed"
    assert run("log", "export", "out").returncode == 6


def test_a_photo_that_was_taken_out_of_the_entry_is_found(run: Run, log: Logbook) -> None:
    """With its file, so that nothing is left over."""
    second = log.entry(1).more_photos[1]
    with closing(sqlite3.connect(log.folder / "log.sqlite3")) as connection:
        connection.execute("DROP TRIGGER entry_is_never_changed")
        connection.execute("UPDATE entry SET record = replace(record, ?, '')", [f',"{second}"'])
        connection.commit()
    log.photos.path(second).unlink()
    assert "broken  entry 1 is not what was written" in run("log", "verify").stdout


@pytest.mark.usefixtures("log")
def test_a_recheck_reads_them_together_again(run: Run, dip: Path) -> None:
    done = run("log", "recheck", "--jobs", "1")
    assert (done.stdout, done.stderr) == ("1 the same, 0 would differ, 0 without their photo; nothing was changed\n", "")
    now = json.loads(run("log", "recheck", "--jobs", "1", "--json").stdout)["now"]
    VALIDATOR.validate(now)
    assert [each["sha256"] for each in now["each"]] == hashes(dip, "a.jpg", "b.jpg", "c.jpg")


def test_backup_and_export_have_every_photo(run: Run, dip: Path, log: Logbook) -> None:
    assert run("log", "backup", "copy").returncode == 0
    assert sorted(path.name for path in (dip / "copy" / "photos").iterdir()) == sorted(log.entry(1).photos)
    done = run("log", "export", "out")
    assert (done.returncode, done.stdout) == (0, "1 readings, 1 entries and 3 photos in out\n")
    assert sorted(path.stem for path in (dip / "out" / "photos").iterdir()) == sorted(log.entry(1).photos)
    (row,) = csv.DictReader(StringIO((dip / "out" / "readings.csv").read_text("utf-8"), newline=""))
    assert (row["photo_sha256"], row["more_photos_sha256"]) == (log.entry(1).photo_sha256, " ".join(log.entry(1).more_photos))
    assert run("log", "export", "redacted", "--redact").returncode == 0
    told = (dip / "redacted" / "entries.jsonl").read_text() + (dip / "redacted" / "readings.csv").read_text()
    assert not any(name in told for name in (".jpg", "Ann"))
    assert all(sha256 in told for sha256 in log.entry(1).photos)


def report(run: Run, folder: Path) -> str:
    assert run("report", "-o", "r.html").returncode == 0
    text = (folder / "r.html").read_text("utf-8")
    (folder / "r.html").unlink()
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def test_a_report_lists_every_photo_and_shows_the_best(run: Run, dip: Path, log: Logbook) -> None:
    text = report(run, dip)
    c, a, b = log.entry(1).photos
    assert f"Photo SHA-256 {c[:32]} {c[32:]}" in text
    for sha256 in (a, b):
        assert f"Another photo of the dip, SHA-256 {sha256[:32]} {sha256[32:]}" in text
    assert "No picture" not in text
    assert run("report", "-o", "r.pdf").returncode == 0


def test_a_burst_is_confirmed_and_corrected(run: Run, log: Logbook) -> None:
    assert run("confirm", "1", "--last-wet", "5", "--by", "Ben").returncode == 0
    assert run("confirm", "1", "--last-wet", "4", "--by", "Ben", "--reason", "a drop").returncode == 0
    corrected = log.entry(3).body["reading"]
    VALIDATOR.validate(corrected)
    assert (corrected["photos"], corrected["last_wet"]) == (["a.jpg", "b.jpg", "c.jpg", "d.jpg"], 4)
    assert "read by eye" in run("log", "show", "1").stdout
    assert "corrected by entry 3: 110 to 140 um" in run("log", "list").stdout


def test_the_same_photos_by_hand(log: Logbook) -> None:
    """The commands of docs/logbook.md that check a logbook without this program look at every photo."""
    commands = re.findall(r"```sh\n(.*?)```", (ROOT / "docs" / "logbook.md").read_text("utf-8"), re.DOTALL)
    done = [subprocess.run(["bash", "-c", each], cwd=log.folder, capture_output=True, text=True, check=False) for each in commands]
    assert [each.stdout for each in done] == [""] * len(commands)
    second = log.photos.path(log.entry(1).more_photos[0])
    second.chmod(0o644)
    second.write_bytes(b"another")
    found = [subprocess.run(["bash", "-c", each], cwd=log.folder, capture_output=True, text=True, check=False) for each in commands]
    assert any(second.name in each.stdout for each in found)

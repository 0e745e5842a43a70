"""Several photos of one dip in one call, over real pipes, with the fake reader."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.test_read import VALIDATOR, objects
from tests.conftest import Run
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

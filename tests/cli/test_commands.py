"""The other commands over real pipes."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import cv2
import pytest
from PIL import Image

from lastwet import __version__
from lastwet.film.coating import coating_names
from lastwet.gauge import gauge_names
from lastwet.logbook.store import Logbook
from tests.conftest import Run
from tests.fake_reader import GLARE, photo_bytes


def test_the_version_is_printed(run: Run) -> None:
    assert run("--version").stdout == f"lastwet {__version__}\n"


def test_help_loads_nothing_heavy() -> None:
    """What makes it quick; how long it takes is told by `make bench`, as a clock here would judge the machine."""
    command = [sys.executable, "-X", "importtime", "-m", "lastwet", "--help"]
    imported = subprocess.run(command, capture_output=True, check=True, text=True).stderr
    assert not re.search(r"\| +(numpy|cv2|PIL|pydantic|sqlite3|jinja2|skimage|scipy)$", imported, re.MULTILINE)


@pytest.mark.parametrize("command", [[], ["gauge"], ["coating"], ["log"]])
def test_a_command_without_its_verb_shows_the_help(run: Run, command: list[str]) -> None:
    done = run(*command)
    assert "Usage" in done.stdout + done.stderr
    assert done.returncode == 2


# --- gauges and coatings


def test_gauges_are_listed_and_shown(run: Run) -> None:
    listed = run("gauge", "list").stdout.splitlines()
    assert [line.split()[0] for line in listed] == list(gauge_names())
    shown = run("gauge", "show", "mil-card").stdout
    assert "mil-card, in mil" in shown
    assert "side B: 3 4 5 6 7 8 9 10" in shown


def test_a_good_gauge_file_passes_the_check(run: Run, gauge_file: Path) -> None:
    done = run("gauge", "check", gauge_file)
    assert (done.returncode, done.stderr) == (0, "")
    assert "bench.toml is a good gauge file" in done.stdout


@pytest.mark.parametrize("command", ["check", "show"])
def test_sides_that_no_photo_is_read_of_are_named(run: Run, tmp_path: Path, command: str) -> None:
    counts = {"two": 2, "three": 3, "fourteen": 14, "fifteen": 15}
    sides = "".join(f'[[side]]\nid = "{name}"\nteeth = {[10 * value for value in range(1, count + 1)]}\n' for name, count in counts.items())
    (tmp_path / "odd.toml").write_text(f'name = "odd"\nunit = "um"\n{sides}')
    done = run("gauge", command, "odd.toml")
    assert (done.returncode, "side fifteen: 10 20 30" in done.stdout) == (0, True)
    assert done.stderr.splitlines() == [
        f"lastwet: odd.toml: side {name} has {counts[name]} teeth, and only rows of 3 to 14 are read from photos: read this side by eye"
        for name in ("two", "fifteen")
    ]


def test_a_unit_that_a_gauge_can_hardly_have_is_told_and_no_error(run: Run, gauge_file: Path) -> None:
    gauge_file.write_text(gauge_file.read_text().replace('"um"', '"mil"'))
    done = run("gauge", "check", "bench.toml")
    assert (done.returncode, "bench.toml is a good gauge file" in done.stdout) == (0, True)
    assert done.stderr.startswith("lastwet: bench.toml: teeth from 40 to 440 mil are thicker than those of notched gauges")
    assert done.stderr.endswith("are they micrometres? Compare them with the gauge\n") and done.stderr.count("\n") == 1


@pytest.mark.parametrize("command", ["check", "show"])
def test_a_bad_gauge_file_gets_one_sentence(run: Run, gauge_file: Path, command: str) -> None:
    gauge_file.write_text(gauge_file.read_text().replace("110, 140", "140, 110"))
    done = run("gauge", command, "bench.toml")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        "lastwet: bench.toml: side 1, teeth do not rise (110 after 140): "
        "list the values of the teeth from the smallest to the largest, as in teeth = [40, 60, 85]\n"
    )


def test_coatings_are_listed_and_shown(run: Run) -> None:
    listed = run("coating", "list").stdout.splitlines()
    assert [line.split()[0] for line in listed] == list(coating_names())
    shown = run("coating", "show", "nosuch-clear").stdout
    assert "volume solids   34 +/- 1 %" in shown
    assert "wet range       90 to 125 um (3.54 to 4.92 mil), one coat" in shown
    assert "maximum build   140 um (5.51 mil) dry, all coats" in shown


# --- log


@pytest.fixture
def logged(run: Run, tmp_path: Path, gauge_file: Path) -> None:
    """A log of a reading and a refusal."""
    (tmp_path / "a.jpg").write_bytes(photo_bytes(5))
    (tmp_path / "b.jpg").write_bytes(photo_bytes(GLARE))
    run("read", "a.jpg", "b.jpg", "--gauge", gauge_file, "--side", "fine", "--solids", "50", "--wet-range", "140-175um", "--by", "tester")


@pytest.mark.usefixtures("logged")
def test_the_log_lists_the_newest_in_order(run: Run) -> None:
    first, second = run("log", "list").stdout.splitlines()
    assert re.match(r" +1  \d{4}-\d\d-\d\d \d\d:\d\d:\d\d[+-]\d{4}  140 to 175 um \(5\.51 to 6\.89 mil\) wet +a\.jpg", first)
    assert re.match(r" +2  .*  refused, glare +b\.jpg", second)
    assert run("log", "list", "--limit", "1").stdout.splitlines() == [second]


@pytest.mark.usefixtures("logged")
def test_an_entry_is_shown_with_its_evidence(run: Run, tmp_path: Path) -> None:
    shown = run("log", "show", "1").stdout
    for words in (
        "by tester",
        "140 to 175 um (5.51 to 6.89 mil) wet",
        "70 to 87.5 um (2.76 to 3.44 mil), predicted, not measured; from 50 % volume solids, no thinner stated",
        "inside; wet range 140 to 175 um (5.51 to 6.89 mil)",
        "strip, side fine (stated)",
        "a.jpg, the camera states no time",
        f"lastwet {__version__}, reader settings fake, OpenCV {cv2.__version__}",
    ):
        assert words in shown
    entry = json.loads(run("log", "show", "1", "--json").stdout)
    assert entry["hash"] in shown
    assert (tmp_path / "log" / "photos" / entry["photo_sha256"]).read_bytes() == photo_bytes(5)


@pytest.mark.usefixtures("logged")
def test_an_entry_from_before_a_field_was_added_is_shown(run: Run, tmp_path: Path) -> None:
    log = Logbook(tmp_path / "log")
    body = json.loads(log.entry(1).record)["body"]
    del body["software"]["opencv"], body["film"]["volume_solids_tolerance"], body["film"]["thinner_max"]
    log.append("reading", body, recorded_at=log.entry(1).recorded_at)
    shown = run("log", "show", "3")
    assert (shown.returncode, "OpenCV not recorded" in shown.stdout) == (0, True)


def test_what_the_log_shows_does_not_steer_the_terminal(run: Run, tmp_path: Path, gauge_file: Path) -> None:
    (tmp_path / "\x1b[31m.jpg").write_bytes(photo_bytes(5))
    run("read", "\x1b[31m.jpg", "--gauge", gauge_file)
    for command in (("list",), ("show", "1")):
        assert r"\x1b[31m.jpg" in run("log", *command).stdout


@pytest.mark.parametrize(
    ("stated", "words"),
    [
        ("2026:03:02 10:15:00", "taken 2026-03-02T10:15:00 by the camera's clock, zone unknown"),
        ("2026:03:02 10:15:00+02:00", "taken 2026-03-02T10:15:00+02:00 by the camera's clock\n"),
    ],
)
def test_the_cameras_time_is_told_as_its_claim(run: Run, tmp_path: Path, gauge_file: Path, stated: str, words: str) -> None:
    """Tags of EXIF 2.32: DateTimeOriginal 0x9003 and OffsetTimeOriginal 0x9011 in the Exif IFD 0x8769."""
    exif = Image.Exif()
    details = exif.get_ifd(0x8769)
    details[0x9003] = stated[:19]
    if stated[19:]:
        details[0x9011] = stated[19:]
    Image.new("RGB", (64, 48), (50, 90, 90)).save(tmp_path / "a.jpg", exif=exif)
    run("read", "a.jpg", "--gauge", gauge_file)
    assert words in run("log", "show", "1").stdout


@pytest.mark.usefixtures("logged")
def test_a_refusal_is_shown_with_its_reason(run: Run) -> None:
    assert "A tooth lies under glare." in run("log", "show", "2").stdout


@pytest.mark.usefixtures("logged")
def test_an_entry_that_was_changed_is_not_shown(run: Run, tmp_path: Path) -> None:
    log = tmp_path / "log" / "log.sqlite3"
    log.write_bytes(log.read_bytes().replace(b'"by":"tester"', b'"by":"nobody"'))
    done = run("log", "show", "1")
    assert (done.returncode, done.stdout) == (6, "")


@pytest.mark.usefixtures("logged")
def test_an_entry_that_is_not_there_is_wrong_usage(run: Run) -> None:
    assert run("log", "show", "3").returncode == 2


def test_a_log_that_is_not_there_is_not_begun_by_looking(run: Run, tmp_path: Path) -> None:
    done = run("log", "list")
    assert (done.returncode, done.stdout) == (2, "")
    assert "there is no logbook in" in done.stderr
    assert not (tmp_path / "log").exists()


def test_numpy_is_not_imported_before_it_is_told_to_start_no_threads() -> None:
    told = "import sys, lastwet.cli; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", told], check=False).returncode == 0

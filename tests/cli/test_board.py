"""`lastwet board` over real pipes, with the fake reader for photos."""

from __future__ import annotations

import hashlib
import json
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest

from lastwet.gauge import load_gauge
from lastwet.logbook.store import Logbook
from lastwet.logbook.verify import verify
from tests.conftest import Run
from tests.fake_reader import FAULT, GLARE, photo_bytes


def state(run: Run, name: str = "a") -> dict[str, Any]:
    """What `board show --json` prints."""
    (line,) = run("board", "show", name, "--json").stdout.splitlines()
    values: dict[str, Any] = json.loads(line)
    return values


def test_thinner_that_nobody_stated_is_not_told_as_none(run: Run) -> None:
    """Nor does it come to be stated where a further coat begins from the last settings; what was stated as 0 does."""
    run("board", "new", "a", "--coating", "nosuch-clear")
    for stated in ([], ["--settings", "last"], ["--settings", "last", "--thinner", "0"], ["--settings", "last"]):
        run("board", "coat", "a", "--speed", "400mm/s", *stated)
    assert [coat["paint"].get("thinner") for coat in state(run)["coats"]] == [None, None, 0, 0]
    shown = run("board", "show", "a").stdout
    assert shown.count("speed 400 mm/s\n") == 2 and shown.count("speed 400 mm/s, 0 % thinner\n") == 2
    assert "default not stated" in " ".join(run("board", "coat", "--help").stdout.replace("\u2502", " ").split())


@pytest.fixture
def board(run: Run) -> Run:
    """A scrap board with one coat; the wet range is 90 to 125 um."""
    assert run("board", "new", "a", "--coating", "nosuch-clear", "--by", "tester").returncode == 0
    assert run("board", "coat", "a", "--speed", "400mm/s", "--by", "tester").returncode == 0
    return run


@pytest.fixture
def piece(run: Run) -> Run:
    """A work piece with one coat."""
    begun = run("board", "new", "door", "--coating", "nosuch-clear", "--work-piece")
    assert "dip a scrap test piece where you can" in begun.stderr
    assert "a dip marks the film" in run("board", "coat", "door").stderr
    return run


def test_a_reading_typed_in_gives_advice_and_a_reminder(board: Run) -> None:
    done = board("board", "add", "a", "--wet", "140-175um")
    assert done.returncode == 0
    assert "spot 1          140 to 175 um (5.51 to 6.89 mil) wet, above" in done.stdout
    assert "speed x 1.30 to 1.63 (to 521 to 651 mm/s)" in done.stdout
    assert "not a dry film measurement" in done.stdout
    assert "wipe the gauge" in done.stderr


def test_wet_teeth_of_a_side_are_a_reading(board: Run, gauge_file: Path) -> None:
    assert board("board", "add", "a", "--gauge", gauge_file, "--side", "fine", "--last-wet", "3").returncode == 0
    assert state(board)["coats"][0]["spots"] == [{"spot": "1", "wet_um": [85, 110], "verdict": "straddles", "late": False}]


def test_a_photo_is_read_logged_with_its_board_and_counted(board: Run, tmp_path: Path, gauge_file: Path) -> None:
    (tmp_path / "dip.jpg").write_bytes(photo_bytes(4))
    done = board("board", "add", "a", "--photo", "dip.jpg", "--gauge", gauge_file, "--side", "fine", "--spot", "left", "--seconds", "5")
    assert (done.returncode, "110 to 140 um" in done.stdout) == (0, True)
    assert state(board)["coats"][0]["spots"][0]["wet_um"] == [110, 140]
    log = Logbook(tmp_path / "log")
    entry = log.entry(3)
    assert (entry.kind, entry.body["board"], entry.body["spot"], entry.body["seconds"]) == ("reading", "a", "left", 5)
    assert entry.body["film"]["coating"] == "Nosuch clear (invented)"
    assert entry.photo_sha256 and log.photos.path(entry.photo_sha256).read_bytes() == photo_bytes(4)
    assert verify(tmp_path / "log") == []


def test_a_refused_photo_counts_when_somebody_has_read_it(board: Run, tmp_path: Path, gauge_file: Path) -> None:
    (tmp_path / "dip.jpg").write_bytes(photo_bytes(GLARE))
    done = board("board", "add", "a", "--photo", "dip.jpg", "--gauge", gauge_file, "--side", "fine")
    assert done.returncode == 4
    assert "the photo of entry 3 was not read" in done.stderr
    assert board("confirm", "3", "--last-wet", "4", "--by", "tester").returncode == 0
    found = state(board)
    assert found["coats"][0]["spots"][0]["wet_um"] == [110, 140]
    assert not any("not read" in caution for caution in found["cautions"])


def test_a_photo_read_by_eye_is_kept_with_the_board(board: Run, tmp_path: Path, gauge_file: Path) -> None:
    (tmp_path / "dip.jpg").write_bytes(photo_bytes(GLARE))
    command = ["board", "add", "a", "--photo", "dip.jpg", "--gauge", gauge_file, "--side", "fine", "--last-wet", "3"]
    assert board(*command).returncode == 0
    assert state(board)["coats"][0]["spots"][0]["wet_um"] == [85, 110]


def test_a_file_that_is_no_photo_is_no_reading(board: Run, tmp_path: Path, gauge_file: Path) -> None:
    (tmp_path / "dip.jpg").write_text("no photo")
    assert board("board", "add", "a", "--photo", "dip.jpg", "--gauge", gauge_file, "--side", "fine").returncode == 3
    assert board("board", "add", "a", "--photo", "none.jpg", "--gauge", gauge_file, "--side", "fine").returncode == 3


@pytest.fixture
def dip(board: Run, tmp_path: Path, gauge_file: Path) -> Run:
    """`board add` to the board; there are two photos of one dip that are read, between them one that is not, and its gauge before."""
    for name, painted in (("a.jpg", 4), ("b.jpg", GLARE), ("c.jpg", 4), ("clean.jpg", 0), ("dirty.jpg", 3)):
        (tmp_path / name).write_bytes(photo_bytes(painted, size=(640 + 2 * ord(name[0]), 480)))
    return lambda *options: board("board", "add", "a", "--gauge", gauge_file, "--side", "fine", "--by", "Ann", *options)


def photos(*names: str) -> list[str]:
    return [argument for name in names for argument in ("--photo", name)]


def hashes(folder: Path, *names: str) -> list[str]:
    return [hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in names]


def test_several_photos_are_one_dip_and_all_are_kept(dip: Run, run: Run, tmp_path: Path) -> None:
    done = dip(*photos("a.jpg", "b.jpg", "c.jpg"), "--clean", "clean.jpg", "--spot", "left")
    assert (done.returncode, done.stdout.splitlines()[0]) == (0, "a.jpg and 2 more: 110 to 140 um (4.33 to 5.51 mil) wet")
    assert "photo           b.jpg: not used; by itself glare" in done.stdout
    assert "clean gauge     clean.jpg: nothing on it looked wet" in done.stdout
    assert state(run)["coats"][0]["spots"] == [{"spot": "left", "wet_um": [110, 140], "verdict": "straddles", "late": False}]
    entry = Logbook(tmp_path / "log").entry(3)
    assert (entry.body["board"], entry.body["spot"], entry.body["reading"]["photos"]) == ("a", "left", ["a.jpg", "b.jpg", "c.jpg"])
    assert list(entry.photos) == hashes(tmp_path, "c.jpg", "a.jpg", "b.jpg", "clean.jpg")
    assert verify(tmp_path / "log") == []
    assert run("log", "recheck", "--jobs", "1").stdout.startswith("1 the same, 0 would differ, 0 without")
    assert run("report", "-o", "r.html").returncode == 0
    assert all(sha256[:32] in (tmp_path / "r.html").read_text("utf-8") for sha256 in entry.photos)


def test_json_has_what_read_prints_of_a_dip(dip: Run, run: Run) -> None:
    found = json.loads(dip(*photos("a.jpg", "b.jpg"), "--clean", "clean.jpg", "--json").stdout)["reading"]
    options = "--burst --clean clean.jpg --gauge bench.toml --side fine --coating nosuch-clear --no-log --json"
    read = json.loads(run("read", "a.jpg", "b.jpg", *options.split()).stdout)
    assert found | {"seconds": 0} == read | {"seconds": 0}


def test_one_photo_is_held_against_the_clean_gauge_too(dip: Run, run: Run, tmp_path: Path) -> None:
    done = dip(*photos("a.jpg"), "--clean", "dirty.jpg", "--json")
    reading = json.loads(done.stdout)["reading"]
    assert (done.returncode, reading["refusals"][0]["code"], reading["photo"]) == (4, "dirty", "a.jpg")
    assert state(run)["coats"][0]["spots"] == []
    assert list(Logbook(tmp_path / "log").entry(3).photos) == hashes(tmp_path, "a.jpg", "dirty.jpg")


def test_a_photo_among_those_of_an_earlier_dip_is_no_other_dip(dip: Run, run: Run, tmp_path: Path) -> None:
    """One photo of the clean gauge may be named for two dips: it shows none."""
    (tmp_path / "d.jpg").write_bytes(photo_bytes(3))
    dip(*photos("a.jpg", "c.jpg"), "--clean", "clean.jpg")
    assert "same photo" not in dip(*photos("d.jpg"), "--clean", "clean.jpg").stderr
    assert "entries 3 and 5 have the same photo" in dip(*photos("a.jpg")).stderr
    assert [spot["spot"] for spot in state(run)["coats"][0]["spots"]] == ["1", "2"]


def test_photos_that_differ_count_when_somebody_has_read_them(dip: Run, run: Run, tmp_path: Path) -> None:
    (tmp_path / "b.jpg").write_bytes(photo_bytes(3))
    assert dip(*photos("a.jpg", "b.jpg")).returncode == 4
    assert state(run)["coats"][0]["spots"] == []
    assert run("confirm", "3", "--last-wet", "4", "--by", "Ben").returncode == 0
    assert state(run)["coats"][0]["spots"][0]["wet_um"] == [110, 140]


def test_a_file_that_is_no_photo_of_the_dip_is_told_and_the_others_count(dip: Run, run: Run) -> None:
    done = dip(*photos("a.jpg", "none.jpg"))
    assert (done.returncode, "photo           none.jpg: not used; not-an-image" in done.stdout) == (3, True)
    assert state(run)["coats"][0]["spots"][0]["wet_um"] == [110, 140]


def test_without_a_photo_of_the_clean_gauge_where_one_was_named_nothing_is_read(dip: Run, run: Run) -> None:
    done = dip(*photos("a.jpg", "c.jpg"), "--clean", "none.jpg")
    assert (done.returncode, "the photo of the clean gauge: none.jpg" in done.stderr) == (2, True)
    assert state(run)["coats"][0]["spots"] == []


def test_a_fault_of_the_program_is_told(dip: Run, tmp_path: Path) -> None:
    (tmp_path / "b.jpg").write_bytes(photo_bytes(FAULT))
    done = dip(*photos("a.jpg", "b.jpg"))
    assert (done.returncode, done.stderr.splitlines()[0]) == (1, "lastwet: a.jpg, b.jpg: ValueError: a fault of the program")


def test_help_says_that_photos_are_read_together(run: Run) -> None:
    shown = " ".join(run("board", "add", "--help").stdout.replace("\u2502", " ").split())
    assert "given again, all of them are read together" in shown
    assert "--clean" in shown


def test_the_log_says_which_board_an_entry_is_of(board: Run) -> None:
    board("board", "add", "a", "--wet", "140-175um", "--by", "tester")
    begun, sprayed, dipped = board("log", "list").stdout.splitlines()
    assert begun.endswith("board, a, by tester") and sprayed.endswith("coat, a, by tester")
    assert dipped.endswith("dip, a, by tester: 140 to 175 um (5.51 to 6.89 mil) wet")


def test_a_void_reading_no_longer_counts(board: Run) -> None:
    board("board", "add", "a", "--wet", "140-175um")
    assert board("log", "void", "3", "--reason", "wrong board", "--by", "tester").returncode == 0
    assert state(board)["coats"][0]["spots"] == []


def test_a_reading_typed_in_is_corrected_with_who_when_and_why(board: Run, gauge_file: Path) -> None:
    board("board", "add", "a", "--gauge", gauge_file, "--side", "fine", "--last-wet", "3", "--by", "Ann")
    assert "say why, by --reason" in board("confirm", "3", "--last-wet", "4", "--by", "Ben").stderr
    assert "side fine: miscounted" in board("confirm", "3", "--last-wet", "4", "--by", "Ben", "--reason", "miscounted").stdout
    assert state(board)["coats"][0]["spots"][0]["wet_um"] == [110, 140]
    assert board("confirm", "3", "--wet", "110-140um", "--by", "Cleo").returncode == 0
    (line,) = board("log", "list", "--kind", "dip").stdout.splitlines()
    assert "by Ann: 85 to 110 um" in line
    assert "[corrected by entry 4: 110 to 140 um (4.33 to 5.51 mil) wet; confirmed by Cleo]" in line
    board("log", "void", "4", "--by", "Ann", "--reason", "it was right")
    assert state(board)["coats"][0]["spots"][0]["wet_um"] == [85, 110]


def test_a_bracket_typed_in_is_corrected_by_a_bracket(board: Run, tmp_path: Path, gauge_file: Path) -> None:
    board("board", "add", "a", "--wet", "140-175um")
    assert "without its gauge" in board("confirm", "3", "--last-wet", "4", "--by", "Ben").stderr
    assert board("confirm", "3", "--wet", "110-140um", "--by", "Ben", "--reason", "misread").returncode == 0
    assert state(board)["coats"][0]["spots"][0]["wet_um"] == [110, 140]
    (tmp_path / "dip.jpg").write_bytes(photo_bytes(4))
    board("board", "add", "a", "--photo", "dip.jpg", "--gauge", gauge_file, "--side", "fine")
    assert "the wet teeth are counted on it" in board("confirm", "5", "--wet", "85-110um", "--by", "Ben").stderr
    assert board("confirm", "5", "--by", "Ben").returncode == 2


def test_readings_typed_in_are_found_by_gauge_outcome_and_verdict_as_they_stand(board: Run, gauge_file: Path) -> None:
    """The wet range is 90 to 125 um."""

    def found(*options: str) -> list[int]:
        return [json.loads(line)["seq"] for line in board("log", "list", *options, "--json").stdout.splitlines()]

    board("board", "add", "a", "--gauge", gauge_file, "--side", "fine", "--last-wet", "5")
    board("board", "add", "a", "--wet", "90-125um")
    assert (found("--gauge", load_gauge(str(gauge_file)).name), found("--outcome", "read")) == ([3], [3, 4])
    assert (found("--verdict", "above"), found("--verdict", "inside")) == ([3], [4])
    board("confirm", "4", "--wet", "40-60um", "--by", "Ben", "--reason", "misread")
    assert (found("--verdict", "inside"), found("--verdict", "below")) == ([], [4])
    board("log", "void", "3", "--by", "Ben", "--reason", "slipped")
    assert (found("--verdict", "above"), found("--outcome", "read")) == ([], [4])


def test_everything_of_a_board_is_found_by_its_job(run: Run, tmp_path: Path, gauge_file: Path) -> None:
    run("board", "new", "a", "--coating", "nosuch-clear", "--job", "kitchen 7")
    run("board", "new", "b", "--coating", "nosuch-clear")
    run("board", "coat", "a", "--mix", "10:1")
    run("board", "add", "a", "--wet", "90-125um")
    (tmp_path / "dip.jpg").write_bytes(photo_bytes(4))
    run("board", "add", "a", "--photo", "dip.jpg", "--gauge", gauge_file, "--side", "fine")
    run("board", "sand", "a", "--off", "2um")
    run("board", "measure", "a", "38um")
    of_job = [json.loads(line) for line in run("log", "list", "--job", "KITCHEN 7", "--json").stdout.splitlines()]
    assert [entry["kind"] for entry in of_job] == ["board", "coat", "dip", "reading", "sanding", "measured"]
    listed = run("board", "list", "--job", "kitchen 7").stdout
    assert (listed.split()[:2], "job kitchen 7" in listed, len(listed.splitlines())) == (["a", "scrap"], True, 1)
    assert (state(run)["job"], state(run, "b")["job"]) == ("kitchen 7", None)
    assert state(run)["coats"][0]["paint"]["mix"] == "10:1"
    assert "the name of the job is empty" in run("board", "new", "c", "--coating", "nosuch-clear", "--job", " ").stderr


def test_three_readings_dial_in_and_the_settings_are_recalled(board: Run) -> None:
    for _ in range(3):
        done = board("board", "add", "a", "--wet", "95-110um")
    assert "dialled in      yes: 3 readings in a row" in done.stdout
    board("board", "new", "b", "--coating", "nosuch-clear")
    board("board", "coat", "b", "--speed", "300mm/s")
    board("board", "add", "b", "--wet", "140-175um")
    assert "recalled        dialled in before with speed 400 mm/s" in board("board", "show", "b").stdout
    assert board("board", "coat", "b", "--settings", "dialled-in", "--flow", "7floz/min").returncode == 0
    settings = state(board, "b")["coats"][1]["settings"]
    assert settings == {"speed_mm_s": 400, "flow_ml_min": pytest.approx(7 * 29.5735295625)}


def test_a_late_dip_is_flagged(board: Run) -> None:
    done = board("board", "add", "a", "--wet", "95-110um", "--seconds", "90")
    assert "dipped 90 s after spraying, may read low" in done.stderr


def test_all_that_is_said_of_a_coat_is_kept(run: Run) -> None:
    run("board", "new", "a", "--coating", "nosuch-clear")
    gun = "--tip 1.3 --fluid-pressure 1bar --air-pressure 30psi --distance 8in --fan 25cm --overlap 50 --passes 2 --set cap=b"
    paint = "--thinner 5 --material 20C --batch 7 --applicator AB --air 68F --humidity 50 --surface 19C"
    times = "--mixed-at 2026-03-02T08:00+00:00 --at 2026-03-02T09:00+00:00"
    done = run("board", "coat", "a", *gun.split(), *paint.split(), *times.split(), "--viscosity", "26 s, 4 mm cup")
    assert (done.returncode, done.stderr) == (0, "")
    (coat,) = state(run)["coats"]
    assert coat["settings"] == {
        "tip": "1.3",
        "fluid_pressure_bar": 1,
        "air_pressure_bar": pytest.approx(2.0684, abs=1e-4),
        "distance_mm": pytest.approx(203.2),
        "fan_mm": 250,
        "overlap": 0.5,
        "passes": 2,
        "other": {"cap": "b"},
    }
    assert coat["paint"] == {
        "thinner": 0.05,
        "thinner_stated": True,
        "viscosity_s": 26,
        "cup": "4 mm cup",
        "material_c": 20,
        "batch": "7",
        "mixed_at": "2026-03-02T08:00:00+00:00",
        "applicator": "AB",
        "air_c": pytest.approx(20),
        "surface_c": 19,
        "humidity": 0.5,
    }
    shown = run("board", "show", "a").stdout
    assert "tip 1.3, fluid 1 bar, air 2.06843 bar, distance 203.2 mm, fan 250 mm, passes 2, overlap 50 %, cap b, 5 % thinner" in shown
    assert "pot life        over since" in shown


def test_what_speaks_against_a_coat_is_said_and_kept(board: Run, tmp_path: Path) -> None:
    board("board", "add", "a", "--wet", "300-330um")
    done = board("board", "coat", "a", "--thinner", "15", "--air", "20C", "--humidity", "60", "--surface", "14C")
    assert done.returncode == 0
    said = ("15 % thinner is more than", "above the dew point", "the recoat window opens in", "another coat may pass the maximum build")
    for words in said:
        assert words in done.stderr
    kept = Logbook(tmp_path / "log").entry(4).body["cautions"]
    assert len(kept) == len(said)


def test_a_work_piece_is_asked_for_its_touch_up(piece: Run) -> None:
    done = piece("board", "add", "door", "--wet", "95-110um")
    assert (done.returncode, done.stdout) == (2, "")
    assert "say --touched-up or --not-touched-up" in done.stderr
    assert piece("board", "add", "door", "--wet", "95-110um", "--not-touched-up").returncode == 0


def test_build_sanding_headroom_and_measured_film(piece: Run, tmp_path: Path) -> None:
    piece("board", "add", "door", "--wet", "100-125um", "--touched-up")
    assert "4 to 6 um" in piece("board", "sand", "door", "--off", "4-6um").stdout
    piece("board", "coat", "door")
    piece("board", "add", "door", "--wet", "100-125um", "--touched-up")
    found = state(piece, "door")
    assert found["build"]["dry_um"] == pytest.approx([2 * 33 - 6, 2 * 43.75 - 4])
    assert found["headroom"]["fit"] == "fits"
    assert found["headroom"]["left_um"] == pytest.approx([140 - 83.5, 140 - 60])
    assert found["recoat"]["state"] == "not yet"
    done = piece("board", "measure", "door", "70um", "74um", *["72um"] * 3, "--iso-19840", "60um", "--area", "1m2", "--check")
    assert done.returncode == 0
    assert "predicted       60 to 83.5 um (2.36 to 3.29 mil); the measured mean lies inside" in done.stdout
    assert state(piece, "door")["measured_um"] == [70, 74, 72, 72, 72]
    assert piece("board", "measure", "door", "30um", "--iso-19840", "60um", "--check").returncode == 5
    piece("board", "show", "door", "--charts", "charts")
    for name in ("readings.svg", "build.svg"):
        assert ET.parse(tmp_path / "charts" / name).getroot().tag.endswith("svg")


def test_the_recoat_window_is_that_of_the_time_asked_for(run: Run) -> None:
    """nosuch-clear may be recoated from 1 h to 6 h."""
    run("board", "new", "a", "--coating", "nosuch-clear")
    run("board", "coat", "a", "--at", "2026-03-02T08:00")
    shown = [run("board", "show", "a", "--at", f"2026-03-02T{time}").stdout for time in ("08:30", "12:00", "20:00")]
    said = [line.removeprefix("  recoat window   ") for text in shown for line in text.splitlines() if "recoat window" in line]
    assert said == ["not yet, opens in 30 min", "open, closes in 2 h", "missed"]


def test_what_a_rule_said_of_measured_film_is_logged_and_reported(board: Run, tmp_path: Path) -> None:
    """A document to sign must not say less than the command did."""
    board("board", "measure", "a", "60um", "62um", "65um")
    board("report", "--board", "a", "-o", "before.html")
    assert "no rule of acceptance was logged" in (tmp_path / "before.html").read_text()
    board("board", "measure", "a", "60um", "62um", "65um", "--iso-19840", "60um", "--area", "3m2")
    (without, told) = state(board, "a")["measured"]
    assert without["checks"] == []
    assert [check["passed"] for check in told["checks"]] == [False]
    assert ": not passed" in board("log", "list").stdout.splitlines()[-1]
    assert "  not passed      ISO 19840" in board("board", "show", "a").stdout
    board("report", "--board", "a", "-o", "after.html")
    after = (tmp_path / "after.html").read_text()
    assert "not passed: 3 readings, where an area of this size takes 10" in after
    assert "no rule of acceptance was logged" not in after


def test_the_shops_ratio_of_a_single_coat(board: Run) -> None:
    board("board", "add", "a", "--wet", "100-125um")
    found = json.loads(board("board", "measure", "a", "38um", "40um", "--json").stdout)
    assert found["ratio"]["value"] == pytest.approx(39 / 112.5)
    assert found["checks"][0]["passed"] is True


def test_boards_named_in_other_letters_than_ascii_are_kept_apart_and_listed(run: Run) -> None:
    """SQLite's NOCASE knows the cases of ASCII only."""
    for name in ("Tür", "tür", "TÜR"):
        run("board", "new", name, "--coating", "nosuch-clear")
    listed = [json.loads(line)["board"] for line in run("board", "list", "--json").stdout.splitlines()]
    assert listed == ["Tür", "TÜR"]


def test_boards_are_listed(piece: Run) -> None:
    piece("board", "new", "b", "--coating", "nosuch-primer")
    first, second = piece("board", "list").stdout.splitlines()
    assert first.split() == ["door", "work", "piece", "1", "coat", "Nosuch", "clear", "(invented)"]
    assert second.split()[:4] == ["b", "scrap", "0", "coats"]
    assert [json.loads(line)["board"] for line in piece("board", "list", "--json").stdout.splitlines()] == ["door", "b"]


BAD = [  # command, what its one sentence says
    ("board new a --coating nosuch-clear", "there is a board 'a' already"),
    ("board new A --coating nosuch-clear", "there is a board 'A' already"),
    ("board new b --coating nosuch", "there is no coating 'nosuch'"),
    ("board new b --coating nosuch-clear --aim 200um", "outside the wet range"),
    ("board coat b", "there is no board 'b'"),
    ("board coat a --speed 400", "not a speed"),
    ("board coat a --speed 0mm/s", "not a speed"),
    ("board coat a --flow 200", "not a flow"),
    ("board coat a --distance 8", "not a distance"),
    ("board coat a --air-pressure 30", "not a pressure"),
    ("board coat a --overlap 100", "overlap of 100 %"),
    ("board coat a --set cap", "not a setting"),
    ("board coat a --settings dialled-in", "nothing was dialled in yet"),
    ("board coat a --air 20", "not a temperature"),
    ("board coat a --air 20C --humidity 0", "not possible"),
    ("board coat a --humidity 0.6", "write percent, as in 60 for 60 %"),
    ("board coat a --humidity 150", "not possible"),
    ("board coat a --overlap 0.5", "write percent, as in 50 for 50 %"),
    ("board coat a --thinner -10", "not possible"),
    ("board coat a --thinner nan", "not possible"),
    ("board coat a --at 2999-01-01", "lies in the future"),
    ("board coat a --at 2020-01-01", "before the coat under it"),
    ("board coat a --at soon", "not a time"),
    ("board coat a --mixed-at 2999-01-01", "mixed after it was sprayed"),
    ("board add a", "there is no reading"),
    ("board add a --wet 110um", "one value"),
    ("board add a --wet 110-140um --gauge bench.toml", "there is no reading"),
    ("board add a --gauge bench.toml --side fine", "there is no reading"),
    ("board add a --gauge bench.toml --side fine --last-wet 8", "only 7 teeth"),
    ("board add a --gauge bench.toml --side rough --last-wet 1", "has no side 'rough'"),
    ("board add a --photo dip.jpg", "add --gauge"),
    ("board add a --wet 110-140um --clean clean.jpg", "--clean needs a photo of the dip: add --photo"),
    (f"board add a --gauge bench.toml{' --photo dip.jpg' * 13}", "13 photos are too many for one dip"),
    ("board add a --gauge bench.toml --side fine --last-wet 3 --photo a.jpg --photo b.jpg", "a reading by eye takes one photo"),
    ("board add a --gauge bench.toml --side fine --last-wet 3 --photo a.jpg --clean clean.jpg", "a reading by eye takes one photo"),
    ("board add a --wet 110-140um --seconds -1", "not possible"),
    ("board add b --wet 110-140um", "there is no board 'b'"),
    ("board add a --wet 10-20um --spot 1", "contradict each other"),
    ("board sand a --off 0um", "above 0"),
    ("board sand a --off 6-4um", "upside down"),
    ("board measure a 0um", "not above 0"),
    ("board measure a 40", "number and its unit"),
    ("board show b", "there is no board 'b'"),
]


@pytest.mark.usefixtures("gauge_file")
@pytest.mark.parametrize(("command", "words"), BAD)
def test_bad_input_gets_one_sentence_and_writes_nothing(tmp_path: Path, run: Run, command: str, words: str, log_of_one: Path) -> None:
    done = run(*command.split(), LASTWET_LOG=str(log_of_one))
    assert (done.returncode, done.stdout) == (2, ""), done.stderr
    assert words in done.stderr
    assert len(Logbook(log_of_one).entries(10)) == 3
    assert {path.name for path in tmp_path.iterdir()} == {"bench.toml"}


@pytest.fixture(scope="module")
def log_of_one(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A log of one board with a coat and a reading, which nothing in the test above may add to."""
    from lastwet.film.coating import load_coating
    from lastwet.film.dialin import Settings
    from lastwet.job.board import Paint, Work
    from lastwet.service import boards
    from lastwet.units import Bracket

    place = tmp_path_factory.mktemp("log") / "log"
    log = Logbook(place)
    boards.new_board(log, "a", load_coating("nosuch-clear"), Work.SCRAP, "tester")
    boards.new_coat(log, "a", Settings(), Paint(), "tester")
    boards.dip_typed(log, "a", Bracket(110, 140), boards.Place("1"), "tester")
    return place


def test_a_board_is_not_looked_for_in_a_log_that_is_not_there(run: Run, tmp_path: Path) -> None:
    done = run("board", "show", "a")
    assert (done.returncode, done.stdout) == (2, "")
    assert list(tmp_path.iterdir()) == []

"""`lastwet read` over real pipes, with the fake reader: what goes where, in which order, and the exit code."""

from __future__ import annotations

import json
import os
import pty
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from lastwet.logbook.verify import first_broken, verify
from tests.conftest import ROOT, Run
from tests.fake_reader import FAULT, GLARE, photo_bytes

VALIDATOR = jsonschema.Draft202012Validator(json.loads((ROOT / "docs" / "reading.schema.json").read_text()))


def objects(done: subprocess.CompletedProcess[str]) -> list[dict[str, Any]]:
    """Parse standard output as JSON lines, nothing else allowed, each valid by the schema."""
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    for line in lines:
        VALIDATOR.validate(line)
    return lines


@pytest.fixture
def photos(tmp_path: Path) -> Path:
    """A folder of one good photo, one refused, one damaged."""
    folder = tmp_path / "photos"
    folder.mkdir()
    (folder / "a.jpg").write_bytes(photo_bytes(5))
    (folder / "b.jpg").write_bytes(photo_bytes(GLARE))
    (folder / "c.jpg").write_bytes(photo_bytes(5)[:300])
    return folder


# --- JSON


def test_ten_photos_give_ten_objects_in_order_and_one_bad_file_stops_none(run: Run, tmp_path: Path, gauge_file: Path) -> None:
    names = [f"{number}.jpg" for number in (3, 1, 2, 9, 0, 5, 4, 8, 7, 6)]
    for number, name in enumerate(names):
        (tmp_path / name).write_bytes(photo_bytes(number % 8))
    (tmp_path / "9.jpg").write_bytes(b"no photo")
    done = run("read", "--json", "--gauge", gauge_file, "--side", "fine", *names)
    found = objects(done)
    assert [line["photo"] for line in found] == names
    assert [line["last_wet"] for line in found] == [0, 1, 2, None, 4, 5, 6, 7, 0, 1]
    assert (done.returncode, done.stderr) == (3, "")


def test_a_reading_says_everything_of_the_contract(run: Run, photos: Path, gauge_file: Path) -> None:
    options = ("--side", "fine", "--solids", "57", "--thinner", "8", "--wet-range", "140-180um")
    (found,) = objects(run("read", "--json", "--gauge", gauge_file, photos / "a.jpg", *options))
    assert found["outcome"] == "read"
    assert (found["gauge"], found["side"], found["side_source"], found["unit"]) == ("bench strip", "fine", "stated", "um")
    assert (found["last_wet"], found["wet"], found["verdict"]) == (5, {"low_um": 140.0, "high_um": 175.0}, "inside")
    assert found["dry"] == {"low_um": pytest.approx(140 * 0.57 / 1.08, abs=1e-3), "high_um": pytest.approx(175 * 0.57 / 1.08, abs=1e-3)}
    assert [tooth["value"] for tooth in found["teeth"]] == [40, 60, 85, 110, 140, 175, 215]


def test_the_schema_refuses_a_reading_without_a_bracket(run: Run, photos: Path, gauge_file: Path) -> None:
    (found,) = objects(run("read", "--json", "--gauge", gauge_file, photos / "a.jpg"))
    for wrong in ({"wet": None}, {"last_wet": None}, {"outcome": "maybe"}, {"outcome": "refused"}, {"unit": "mm"}, {"confidence": 1.2}):
        assert not VALIDATOR.is_valid(found | wrong)


def test_a_reading_by_eye_has_no_confidence_and_one_from_a_photo_must(run: Run, photos: Path, gauge_file: Path) -> None:
    (by_eye,) = objects(run("read", "--json", "--gauge", gauge_file, photos / "b.jpg", "--side", "fine", "--last-wet", "3", "--by", "Ann"))
    assert (by_eye["outcome"], by_eye["method"], by_eye["last_wet"], by_eye["confidence"]) == ("read", "eye", 3, None)
    assert not VALIDATOR.is_valid(by_eye | {"confidence": 0.99})
    (read,) = objects(run("read", "--json", "--gauge", gauge_file, photos / "a.jpg"))
    assert not VALIDATOR.is_valid(read | {"confidence": None})


def test_the_schema_tells_a_refused_photo_from_an_unusable_file(run: Run, photos: Path, gauge_file: Path) -> None:
    _, refused, unusable = objects(run("read", "--json", "--gauge", gauge_file, photos))
    assert not VALIDATOR.is_valid(refused | {"outcome": "unusable"})
    assert not VALIDATOR.is_valid(unusable | {"outcome": "refused"})
    assert not VALIDATOR.is_valid(refused | {"sha256": None})
    for wrong in ({"last_wet": 3}, {"wet": {"low_um": 1.0, "high_um": None}}, {"verdict": "inside"}, {"refusals": []}):
        assert not VALIDATOR.is_valid(refused | wrong)


def test_a_refusal_and_an_unusable_file_say_why(run: Run, photos: Path, gauge_file: Path) -> None:
    _, refused, unusable = objects(run("read", "--json", "--gauge", gauge_file, photos))
    assert (refused["outcome"], refused["refusals"][0]["code"]) == ("refused", "glare")
    assert refused["best_guess"] == {"last_wet": 3, "confidence": 0.6}
    assert refused["quality"] == {"tooth_width_px": 31.5, "sharpness": None}
    assert (unusable["outcome"], unusable["refusals"][0]["code"]) == ("unusable", "damaged")
    assert unusable["sha256"]


def test_a_photo_comes_from_standard_input(run: Run, gauge_file: Path) -> None:
    done = run("read", "--json", "--gauge", gauge_file, "-", stdin=photo_bytes(2))
    (found,) = objects(done)
    assert (found["photo"], found["last_wet"], done.returncode) == ("-", 2, 0)


@pytest.mark.parametrize("original", [b"", b"no photo"])
def test_what_is_no_photo_on_standard_input_is_unusable(run: Run, gauge_file: Path, original: bytes) -> None:
    done = run("read", "--json", "--gauge", gauge_file, "-", stdin=original)
    assert (objects(done)[0]["refusals"][0]["code"], done.returncode) == ("not-an-image", 3)


@pytest.mark.parametrize("name", [b"caf\xe9.jpg", "caf\u00e9.jpg".encode(), b"two\nlines.jpg", b"-dash.jpg", b"\x1b[31m.jpg"])
def test_any_name_of_a_file_will_do(tmp_path: Path, run: Run, gauge_file: Path, name: bytes) -> None:
    folder = tmp_path / "photos"
    folder.mkdir()
    Path(os.fsdecode(os.path.join(os.fsencode(folder), name))).write_bytes(photo_bytes(2))  # noqa: PTH118
    done = run("read", "--json", "--gauge", gauge_file, folder)
    assert (objects(done)[0]["last_wet"], done.returncode, done.stderr) == (2, 0, "")
    shown = run("read", "--gauge", gauge_file, folder)
    assert (shown.returncode, "60 to 85 um" in shown.stdout, "\x1b" in shown.stdout) == (0, True, False)


def test_an_empty_folder_is_no_photo(run: Run, tmp_path: Path, gauge_file: Path) -> None:
    (tmp_path / "empty").mkdir()
    done = run("read", "--json", "--gauge", gauge_file, "empty")
    assert (objects(done)[0]["photo"], done.returncode) == ("empty", 3)
    assert "empty is a folder" in done.stdout


# --- words


def test_people_are_told_bracket_film_verdict_and_what_to_compare(run: Run, photos: Path) -> None:
    options = ("--gauge", "mil-card", "--side", "B", "--solids", "57", "--thinner", "8", "--wet-range", "4-6mil")
    done = run("read", photos / "a.jpg", *options)
    assert done.returncode == 0
    assert "7 to 8 mil (178 to 203 um) wet" in done.stdout
    assert "3.69 to 4.22 mil (93.8 to 107 um), predicted, not measured; from 57 % volume solids and 8 % thinner" in done.stdout
    assert "above; wet range 4 to 6 mil (102 to 152 um)" in done.stdout
    assert "7 is the last wet tooth: compare with the number stamped on the gauge" in done.stdout
    assert "B, as you stated, not seen in the photo" in done.stdout


def test_people_are_told_why_and_what_to_do(run: Run, photos: Path, gauge_file: Path) -> None:
    done = run("read", photos, "--gauge", gauge_file)
    assert "A tooth lies under glare." in done.stdout
    assert "Turn the gauge away from the lamp." in done.stdout
    assert "c.jpg is damaged or cut off" in done.stdout
    assert "copy the photo from the phone again" in done.stdout


def test_a_straddled_limit_is_named(run: Run, photos: Path, gauge_file: Path) -> None:
    done = run("read", photos / "a.jpg", "--gauge", gauge_file, "--wet-range", "100-160um")
    assert "straddles 160 um, so the gauge cannot say on which side the film is" in done.stdout


# --- exit codes


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["photos/a.jpg"], 0),
        (["photos/a.jpg", "photos/b.jpg"], 4),
        (["photos/a.jpg", "photos/b.jpg", "photos/c.jpg"], 3),
        (["photos/nosuch.jpg"], 3),
        (["photos/a.jpg", "--wet-range", "40-60um"], 0),
        (["photos/a.jpg", "--wet-range", "40-60um", "--check"], 5),
        (["photos/a.jpg", "--wet-range", "140-175um", "--check"], 0),
        (["photos/a.jpg", "photos/b.jpg", "--wet-range", "40-60um", "--check"], 4),
    ],
)
def test_the_exit_code_says_the_worst(run: Run, photos: Path, gauge_file: Path, arguments: list[str], code: int) -> None:
    assert run("read", "--gauge", gauge_file, *arguments).returncode == code


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ([], "Missing argument 'PHOTO..."),
        (["a.jpg", "--gauge", "nosuch"], "there is no gauge 'nosuch'"),
        (["a.jpg", "--side", "x"], "gauge 'mil-card' has no side 'x': name one of its sides: A, B, C, D"),
        (["a.jpg", "--coating", "nosuch"], "there is no coating 'nosuch'"),
        (["a.jpg", "--solids", "0"], "volume solids of 0 as a fraction are not possible"),
        (["a.jpg", "--thinner", "8"], "thinner alone predicts nothing"),
        (["a.jpg", "--wet-range", "150-110um"], "the range '150-110um' is upside down"),
        (["a.jpg", "--check"], "--check needs a wet range"),
        (["a.jpg", "--log", "x", "--no-log"], "--log and --no-log contradict each other"),
        (["a.jpg", "--nosuch"], "No such option: --nosuch"),
    ],
)
def test_wrong_usage_is_one_sentence_on_standard_error(run: Run, arguments: list[str], sentence: str) -> None:
    done = run("read", "--gauge", "mil-card", *arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert sentence in done.stderr
    assert "Traceback" not in done.stderr


def test_a_fault_of_the_program_costs_one_photo_and_is_told_in_one_line(run: Run, photos: Path, gauge_file: Path) -> None:
    (photos / "b.jpg").write_bytes(photo_bytes(FAULT))
    done = run("read", "--json", "--gauge", gauge_file, photos)
    assert [line["outcome"] for line in objects(done)] == ["read", "refused", "unusable"]
    assert (done.returncode, done.stderr) == (1, f"lastwet: {photos / 'b.jpg'}: ValueError: a fault of the program\n")


def test_too_much_thinner_is_told_beside_the_reading(run: Run, photos: Path, gauge_file: Path) -> None:
    done = run("read", "--json", photos / "a.jpg", "--gauge", gauge_file, "--coating", "nosuch-clear", "--thinner", "30")
    assert objects(done)[0]["outcome"] == "read"
    assert (done.returncode, done.stderr) == (0, "lastwet: 30 % thinner is more than Nosuch clear (invented) allows, 10 %\n")
    done = run("read", photos / "a.jpg", "--gauge", gauge_file, "--coating", "nosuch-clear")
    assert "from 34 +/- 1 % volume solids, no thinner stated" in done.stdout


def test_a_pipe_that_lacks_a_letter_gets_it_escaped(run: Run, tmp_path: Path, gauge_file: Path) -> None:
    (tmp_path / "\u03b2.jpg").write_bytes(photo_bytes(2))
    done = run("read", "\u03b2.jpg", "--gauge", gauge_file, PYTHONIOENCODING="latin-1")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith(r"\u03b2.jpg: 60 to 85 um")


def test_what_is_said_on_standard_error_does_not_steer_the_terminal(run: Run) -> None:
    assert run("read", "a.jpg", "--gauge", "\x1b[31m").stderr.startswith(r"lastwet: there is no gauge '\x1b[31m'")


def test_a_log_that_cannot_be_written_is_told_before_anything_is_read(run: Run, photos: Path, gauge_file: Path) -> None:
    done = run("read", photos / "a.jpg", "--gauge", gauge_file, "--log", gauge_file / "log")
    assert (done.returncode, done.stdout) == (7, "")
    assert "could not" in done.stderr


def test_a_folder_for_pictures_that_cannot_be_made_is_told_before_anything_is_read(run: Run, photos: Path, gauge_file: Path) -> None:
    done = run("read", photos / "a.jpg", "--gauge", gauge_file, "--overlay", gauge_file)
    assert (done.returncode, done.stdout) == (7, "")
    assert "cannot be made" in done.stderr


def test_a_picture_that_cannot_be_written_does_not_hide_the_reading(run: Run, photos: Path, gauge_file: Path, tmp_path: Path) -> None:
    done = run("read", "--no-log", "--json", photos / "a.jpg", "--gauge", gauge_file, "--overlay", "out")
    (picture,) = (tmp_path / "out").iterdir()
    picture.unlink()
    picture.mkdir()
    again = run("read", "--no-log", "--json", photos, "--gauge", gauge_file, "--overlay", "out")
    assert [line["last_wet"] for line in objects(again)] == [line["last_wet"] for line in objects(done)] + [None, None]
    assert again.returncode == 7
    assert picture.name in again.stderr


@pytest.fixture
def heard() -> Iterator[None]:
    """See that Ctrl-C is heard: a shell's background jobs ignore it, tests that run there too, and hand that on to what they start."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("heard")
def test_ctrl_c_ends_with_130(tmp_path: Path, gauge_file: Path) -> None:
    command = [sys.executable, "-m", "tests.cli.command", "read", "-", "--no-log", "--gauge", str(gauge_file)]
    env = os.environ | {"PYTHONPATH": str(ROOT)}
    with subprocess.Popen(command, cwd=tmp_path, env=env, stdin=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdin
        process.stdin.write(bytes(1_000_000))  # more than a pipe holds: it is written when the command reads, and that waits for more
        process.stdin.flush()
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=30)
    assert (process.returncode, b"Traceback" in errors) == (130, False)


@pytest.mark.usefixtures("heard")
@pytest.mark.parametrize("jobs", ["1", "2"])
def test_ctrl_c_in_a_batch_leaves_a_whole_log(run: Run, tmp_path: Path, gauge_file: Path, jobs: str) -> None:
    """As a terminal sends it: to every process of the call."""
    for number in range(300):
        (tmp_path / f"{number:03}.jpg").write_bytes(photo_bytes(number % 8, size=(64, 48)))
    options = ["--json", "--jobs", jobs, "--gauge", str(gauge_file), "--side", "fine"]
    command = [sys.executable, "-m", "tests.cli.command", "read", ".", *options]
    env = os.environ | {"PYTHONPATH": str(ROOT), "LASTWET_LOG": str(tmp_path / "log")}
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    with subprocess.Popen(command, cwd=tmp_path, env=env, start_new_session=True, text=True, bufsize=1, **pipes) as process:
        assert process.stdout
        first = [process.stdout.readline() for _ in range(3)]
        os.killpg(process.pid, signal.SIGINT)
        rest, errors = process.communicate(timeout=30)
    assert (process.returncode, "Traceback" in errors) == (130, False)
    logged = [json.loads(line)["body"]["reading"]["photo"] for line in run("log", "list", "--json", "--limit", "300").stdout.splitlines()]
    printed = [json.loads(line)["photo"] for line in (first + rest.splitlines())]
    assert 3 <= len(logged) < 300
    assert logged[: len(printed)] == printed == [f"{number:03}.jpg" for number in range(len(printed))]
    assert len(logged) - len(printed) in (0, 1)  # logged before it is told
    assert first_broken(verify(tmp_path / "log")) is None


@pytest.mark.parametrize("jobs", ["1", "2"])
def test_a_batch_whose_output_is_closed_ends_quietly_with_141_and_leaves_a_whole_log(
    run: Run, tmp_path: Path, gauge_file: Path, jobs: str
) -> None:
    """As by `| head -1`; 141 is 128 + 13, SIGPIPE, as a POSIX shell says it of other programs."""
    for number in range(100):
        (tmp_path / f"{number:03}.jpg").write_bytes(photo_bytes(number % 8, size=(64, 48)))
    command = [sys.executable, "-m", "tests.cli.command", "read", ".", "--json", "--jobs", jobs, "--gauge", str(gauge_file)]
    env = os.environ | {"PYTHONPATH": str(ROOT), "LASTWET_LOG": str(tmp_path / "log")}
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    with subprocess.Popen([*command, "--side", "fine"], cwd=tmp_path, env=env, **pipes) as process:
        assert process.stdout and process.stderr
        assert json.loads(process.stdout.readline())["photo"] == "000.jpg"
        process.stdout.close()
        assert (process.wait(30), process.stderr.read()) == (128 + signal.SIGPIPE, b"")
    logged = [json.loads(line)["body"]["reading"]["photo"] for line in run("log", "list", "--json", "--limit", "100").stdout.splitlines()]
    assert logged == [f"{number:03}.jpg" for number in range(len(logged))]
    assert 2 <= len(logged) < 100
    assert first_broken(verify(tmp_path / "log")) is None


@pytest.mark.parametrize("command", [["gauge", "list"], ["--help"], ["read", "--help"], ["--version"]])
def test_any_command_whose_output_nobody_reads_ends_so(command: list[str]) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run([sys.executable, "-m", "lastwet", *command], stdout=writing, stderr=subprocess.PIPE, check=False)
    os.close(writing)
    assert (done.returncode, done.stderr) == (128 + signal.SIGPIPE, b"")


def test_a_complaint_that_nobody_reads_ends_so() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run([sys.executable, "-m", "lastwet", "gauge", "show", "nosuch"], stderr=writing, check=False)
    os.close(writing)
    assert done.returncode == 128 + signal.SIGPIPE


# --- log, pictures, progress


def test_readings_are_logged_where_asked_and_nowhere_with_no_log(run: Run, photos: Path, gauge_file: Path, tmp_path: Path) -> None:
    run("read", photos, "--gauge", gauge_file, "--no-log")
    assert not (tmp_path / "log").exists()
    done = run("read", photos, "--gauge", gauge_file, "--by", "tester", "--json")
    entries = [json.loads(line) for line in run("log", "list", "--json").stdout.splitlines()]
    assert [entry["body"]["reading"] for entry in entries] == objects(done)
    assert {entry["body"]["by"] for entry in entries} == {"tester"}
    run("read", photos / "a.jpg", "--gauge", gauge_file, "--log", "other")
    assert len(run("log", "list", "--log", "other").stdout.splitlines()) == 1


def test_a_picture_is_written_for_each_photo_that_could_be_looked_at(run: Run, photos: Path, gauge_file: Path, tmp_path: Path) -> None:
    run("read", photos, "--gauge", gauge_file, "--overlay", "out/deep")
    assert sorted(path.name[0] for path in (tmp_path / "out" / "deep").glob("*.jpg")) == ["a", "b"]


def test_progress_is_shown_on_a_terminal_only(run: Run, photos: Path, gauge_file: Path, tmp_path: Path) -> None:
    arguments = ["read", str(photos), "--gauge", str(gauge_file), "--json"]
    assert run(*arguments).stderr == ""
    terminal, end = pty.openpty()
    command = [sys.executable, "-m", "tests.cli.command", *arguments]
    env = os.environ | {"PYTHONPATH": str(ROOT), "LASTWET_LOG": str(tmp_path / "log")}
    done = subprocess.run(command, cwd=tmp_path, env=env, stdout=subprocess.PIPE, stderr=end, check=False)
    os.close(end)
    shown = os.read(terminal, 4096)
    os.close(terminal)
    assert b"3/3" in shown
    assert len(done.stdout.splitlines()) == 3


def test_nothing_is_coloured(run: Run, photos: Path, gauge_file: Path) -> None:
    """no-color.org; and a log of the output stays legible."""
    done = run("read", photos, "--gauge", gauge_file, NO_COLOR="1", FORCE_COLOR="1")
    assert "\x1b" not in done.stdout + done.stderr
    coloured = re.compile(r"\x1b\[[0-9;]*[349][0-7]")
    assert coloured.search(run("read", "--nosuch", FORCE_COLOR="1").stderr)
    assert not coloured.search(run("read", "--nosuch", NO_COLOR="1", FORCE_COLOR="1").stderr)

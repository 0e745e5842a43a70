"""`lastwet doctor` on a sound installation, and where something is wrong."""

from __future__ import annotations

import datetime as dt
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from lastwet import __version__
from lastwet.logbook.store import Logbook
from lastwet.service import doctor
from tests.conftest import Run


def test_a_sound_installation_is_told_as_sound(tmp_path: Path) -> None:
    """With the real reader."""
    command = [sys.executable, "-m", "lastwet", "doctor", "--log", str(tmp_path / "log"), "--json"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    found = {line["name"]: line for line in map(json.loads, done.stdout.splitlines())}
    assert (done.returncode, done.stderr) == (0, ""), done.stdout
    assert found["lastwet"]["found"].startswith(f"{__version__}, from ")
    assert re.match(r"\d of \d sample photos read", found["reader tried"]["found"])
    assert "logged and checked" in found["log tried"]["found"]
    assert "not begun yet" in found["logbook"]["found"]
    assert not (tmp_path / "log").exists()


def test_people_get_a_line_for_each(run: Run) -> None:
    lines = run("doctor").stdout.splitlines()
    assert any(line.startswith("sqlite ") for line in lines)
    assert any(line.startswith("PDF reports ") for line in lines)


def test_a_damaged_log_is_told_with_the_cure(run: Run, tmp_path: Path, noon_log: Logbook) -> None:
    path = noon_log.folder / "log.sqlite3"
    path.write_bytes(path.read_bytes().replace(b"sound", b"wound"))
    done = run("doctor")
    assert done.returncode == 1
    assert "<- lastwet log verify tells more" in done.stdout


@pytest.fixture
def noon_log(tmp_path: Path) -> Logbook:
    book = Logbook(tmp_path / "log")
    book.append("note", {"text": "sound"}, recorded_at=dt.datetime(2026, 3, 4, tzinfo=dt.UTC))
    return book


def checks(name: str) -> list[doctor.Check]:
    return [check for check in doctor.examine(Path("nosuch")) if check.name == name]


def test_another_opencv_beside_ours_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doctor, "_has", lambda package: package == "opencv-python")
    (found,) = checks("cv2")
    assert found.cure == "pip uninstall opencv-python, then install lastwet again"


def test_a_missing_package_a_full_disk_and_a_failing_reader_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail() -> list[object]:
        raise ImportError("no such library")

    monkeypatch.setattr(doctor, "PACKAGES", ("nosuch-package",))
    monkeypatch.setattr(doctor, "LEAST_FREE_MB", 10**12)
    monkeypatch.setattr(doctor, "samples", fail)
    found = {check.name: check for check in doctor.examine(Path("nosuch"))}
    assert found["nosuch-package"].cure
    assert found["free space"].cure
    assert "ImportError: no such library" in found["reader tried"].found
    assert found["reader tried"].cure

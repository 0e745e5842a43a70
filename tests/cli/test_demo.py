"""`lastwet demo` with the real reader, as a newcomer runs it first."""

from __future__ import annotations

import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

from lastwet.logbook.find import Filter
from lastwet.logbook.store import Logbook
from lastwet.service import samples


def test_the_demo_reads_logs_and_draws_the_samples(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "lastwet", "demo"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    folder, count = tmp_path / "demo", len(samples())
    assert count >= 2
    entries = Logbook(folder / "logbook").find(Filter(kind="reading"), 100)
    assert len(entries) == count
    assert "read" in {entry.body["reading"]["outcome"] for entry in entries}
    assert len(list(folder.glob("*-overlay.jpg"))) == count
    assert (folder / "report.html").read_text().count("data:image/jpeg;base64,") == count
    assert (folder / "report.pdf").exists() == bool(find_spec("fpdf"))
    assert str(Path("demo") / "report.html") in done.stdout


def test_a_demo_over_an_earlier_one_reports_its_own_readings(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "lastwet", "demo"]
    for _ in range(2):
        subprocess.run(command, cwd=tmp_path, capture_output=True, check=True)
    assert (tmp_path / "demo" / "report.html").read_text().count("data:image/jpeg;base64,") == len(samples())


def test_a_demo_that_cannot_be_written_says_so(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    done = subprocess.run([sys.executable, "-m", "lastwet", "demo", "file"], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (7, "")
    assert done.stderr.startswith("lastwet: ")
    assert len(done.stderr.splitlines()) == 1


def test_a_demo_whose_reader_fails_says_so(tmp_path: Path) -> None:
    broken = "from lastwet.cli import main; from lastwet.reading import reader; del reader.look; main()"
    done = subprocess.run([sys.executable, "-c", broken, "demo"], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert [line.split(":")[0] for line in done.stderr.splitlines()] == ["lastwet"] * len(samples())


def test_a_demo_that_reads_no_sample_says_so(tmp_path: Path) -> None:
    """As `lastwet doctor` does; what was refused is shown and reported all the same."""
    refuses = (
        "from lastwet.cli import main; from lastwet.reading import reader; from lastwet.reading.outcome import Code, Reason, Refusal\n"
        "reader.read = lambda *photo, **more: Refusal((Reason(Code.GLARE, 'A tooth lies under glare', 'Turn the gauge'),))\n"
        "main()"
    )
    done = subprocess.run([sys.executable, "-c", refuses, "demo"], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (1, "lastwet: no sample photo was read: install lastwet again, or report this\n")
    assert done.stdout.count("glare") >= len(samples()) and (tmp_path / "demo" / "report.html").exists()

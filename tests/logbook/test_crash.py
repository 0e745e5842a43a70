"""Killed, failing and concurrent writers: nothing acknowledged is lost, and what is left verifies.

A killed process is not a power cut: the system still holds what it was given. Power loss is not tested here.
"""

from __future__ import annotations

import datetime as dt
import errno
import random
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from lastwet.errors import NotWritten
from lastwet.logbook.store import Logbook
from lastwet.logbook.verify import verify
from tests.logbook.injection import DEATH, PHOTO, POINTS, inject

ROOT = Path(__file__).parents[2]
KILLS = 20

WRITER = """
import datetime as dt, itertools, os, sys
from lastwet.logbook.store import Logbook
sys.stdin.readline()
book = Logbook(sys.argv[1])
for n in range(int(sys.argv[2])):
    entry = book.append("reading", {"writer": os.getpid(), "n": n}, os.urandom(50_000), recorded_at=dt.datetime.now(dt.UTC))
    print(entry.seq, entry.hash, flush=True)
"""


def start_writer(folder: Path, count: int) -> subprocess.Popen[str]:
    """Start a process that has all it needs and waits for a line to begin."""
    command = [sys.executable, "-c", WRITER, str(folder), str(count)]
    return subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def begin(writer: subprocess.Popen[str]) -> None:
    assert writer.stdin is not None
    writer.stdin.write("\n")
    writer.stdin.flush()


def acknowledged(lines: str) -> dict[int, str]:
    """Numbers and hashes of the entries that the writer was told of; a line cut off by the kill was not finished."""
    whole = lines[: lines.rfind("\n") + 1].splitlines()
    return {int(seq): sealed for seq, sealed in (line.split() for line in whole)}


def broken(folder: Path) -> list[str]:
    return [finding.message for finding in verify(folder) if finding.broken]


def test_no_acknowledged_entry_is_lost_to_kill_9(tmp_path: Path) -> None:
    """The log is checked after each kill, while its traces are fresh."""
    chance, folder, told = random.Random(20), tmp_path / "log", dict[int, str]()
    for _ in range(KILLS):
        writer = start_writer(folder, 100_000)
        begin(writer)
        assert writer.stdout is not None
        first = writer.stdout.readline()
        time.sleep(chance.uniform(0, 0.15))
        writer.kill()  # SIGKILL, which a process cannot catch
        rest, _ = writer.communicate()
        told |= acknowledged(first + rest)
        assert broken(folder) == []
    kept = {entry.seq: entry.hash for entry in Logbook(folder).entries(1_000_000)}
    assert len(told) >= KILLS
    assert told.items() <= kept.items()
    assert len(kept) - len(told) <= KILLS, "at most the entry that was under way at each kill is there untold"


def test_two_processes_keep_one_chain(tmp_path: Path) -> None:
    """They also race to make the logbook."""
    folder = tmp_path / "log"
    writers = [start_writer(folder, 25) for _ in range(2)]
    for writer in writers:
        begin(writer)
    told = [acknowledged(writer.communicate()[0]) for writer in writers]
    assert [writer.returncode for writer in writers] == [0, 0]
    assert [len(entries) for entries in told] == [25, 25]
    assert told[0] | told[1] == {entry.seq: entry.hash for entry in Logbook(folder).entries(100)}
    assert sorted(told[0] | told[1]) == list(range(1, 51))
    assert verify(folder) == []


def disk_full() -> None:
    raise OSError(errno.ENOSPC, "No space left on device")


def io_error() -> None:
    raise sqlite3.OperationalError("disk I/O error")


@pytest.mark.parametrize(("step", "nth"), POINTS)
def test_a_failing_step_adds_nothing_and_can_be_tried_again(
    book: Logbook, noon: dt.datetime, monkeypatch: pytest.MonkeyPatch, step: str, nth: int
) -> None:
    first = book.append("note", {}, recorded_at=noon)
    # A file system without hard links is no failure: only the rename that takes the link's place can fail.
    steps = ["link", "rename"] if step == "link" else [step]
    with monkeypatch.context() as patch:
        for name in steps:
            inject(patch.setattr, name, nth, io_error if name.isupper() else disk_full)
        with pytest.raises(NotWritten) as failed:
            book.append("reading", {}, PHOTO, recorded_at=noon)
    assert failed.value.cure
    assert broken(book.folder) == []
    assert book.entries(10) == [first]
    assert book.append("reading", {}, PHOTO, recorded_at=noon).seq == 2
    assert broken(book.folder) == []


@pytest.mark.parametrize("when", ["before", "after"])
@pytest.mark.parametrize(("step", "nth"), POINTS)
def test_a_process_that_dies_at_a_step_leaves_a_log_that_verifies(book: Logbook, noon: dt.datetime, step: str, nth: int, when: str) -> None:
    first = book.append("note", {}, recorded_at=noon)
    died = subprocess.run([sys.executable, "-m", "tests.logbook.injection", book.folder, step, str(nth), when], cwd=ROOT, check=False)
    assert died.returncode == DEATH
    assert broken(book.folder) == []
    committed = (step, when) == ("COMMIT", "after")
    assert [entry.seq for entry in book.entries(10)] == ([2, 1] if committed else [1])
    assert book.entry(1) == first
    book.append("reading", {}, PHOTO, recorded_at=noon)
    assert broken(book.folder) == []

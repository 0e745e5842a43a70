"""Killed, failing and concurrent writers: nothing acknowledged is lost, and what is left verifies.

A killed process is not a power cut: the system still holds what it was given. Power loss is not tested here.
"""

from __future__ import annotations

import datetime as dt
import errno
import functools
import os
import sqlite3
import stat
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from fixtures.crash import ENDLESS, acknowledged, begin, kill_writers, rest_of, start_writer
from lastwet.errors import EvidenceBroken, NotWritten, UsageError
from lastwet.logbook.copying import copy_log
from lastwet.logbook.store import Logbook
from lastwet.logbook.verify import verify
from tests.logbook.injection import DEATH, PHOTO, POINTS, inject

ROOT = Path(__file__).parents[2]
KILLS = 20


def broken(folder: Path) -> list[str]:
    return [finding.message for finding in verify(folder) if finding.broken]


def test_no_acknowledged_entry_is_lost_to_kill_9(tmp_path: Path) -> None:
    """`make bench` does it 100 times."""
    tally = kill_writers(tmp_path / "log", KILLS)
    assert (tally.kills, tally.lost, tally.broken) == (KILLS, 0, 0)
    assert tally.acknowledged >= KILLS
    assert tally.untold <= KILLS, "at most the entry that was under way at each kill is there untold"


def test_two_writers_killed_together_lose_nothing(tmp_path: Path) -> None:
    tally = kill_writers(tmp_path / "log", 5, writers=2)
    assert (tally.kills, tally.lost, tally.broken) == (10, 0, 0)
    assert tally.acknowledged >= 10
    assert tally.untold <= 10


def test_the_tally_can_tell_a_loss(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A log that forgets its newest entry is caught."""
    whole = Logbook.all_entries
    monkeypatch.setattr(Logbook, "all_entries", lambda book: list(whole(book))[:1])
    assert kill_writers(tmp_path / "log", 2).lost > 0


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


def last_entries_while_written(folder: Path) -> list[int]:
    """Read the log again and again while two others write in it; the newest entry of each reading."""
    writers = [start_writer(folder, 40) for _ in range(2)]
    for writer in writers:
        begin(writer)
        assert writer.stdout is not None
        writer.stdout.readline()
    book, seen = Logbook(folder), []
    while any(writer.poll() is None for writer in writers):
        entries = book.entries(10)
        assert [entry.seq for entry in entries] == list(range(entries[0].seq, max(0, entries[0].seq - 10), -1))
        seen.append(entries[0].seq)
    for writer in writers:
        rest_of(writer)
    return seen


def test_readers_are_never_turned_away_while_others_write(tmp_path: Path) -> None:
    folder, seen = tmp_path / "log", list[int]()
    for _ in range(10):  # a busy machine may let the writers end before it reads twice
        seen += last_entries_while_written(folder)
        if len(set(seen)) > 5:
            break
    assert seen == sorted(seen)
    assert len(set(seen)) > 5
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


def test_the_photo_is_flushed_and_named_before_the_row_is_begun(book: Logbook, noon: dt.datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pillai et al., OSDI 2014: bytes, then name, then the folder that holds the name; only then may anything speak of the file."""
    book.append("reading", {}, b"so that the folder is there", recorded_at=noon)
    order: list[str] = []
    fsync, link = os.fsync, os.link

    def traced_fsync(descriptor: int) -> None:
        order.append("flush folder" if stat.S_ISDIR(os.fstat(descriptor).st_mode) else "flush file")
        fsync(descriptor)

    def traced_link(*arguments: Any, **options: Any) -> None:
        order.append("name")
        link(*arguments, **options)

    class Traced(sqlite3.Connection):
        def execute(self, sql: str, *parameters: Any) -> sqlite3.Cursor:
            order.extend(word for word in ("BEGIN", "INSERT", "COMMIT") if sql.startswith(word))
            return super().execute(sql, *parameters)

    monkeypatch.setattr(os, "fsync", traced_fsync)
    monkeypatch.setattr(os, "link", traced_link)
    monkeypatch.setattr(sqlite3, "connect", functools.partial(sqlite3.connect, factory=Traced))
    book.append("reading", {}, PHOTO, recorded_at=noon)
    assert order == ["flush file", "name", "flush folder", "BEGIN", "INSERT", "COMMIT"]


# --- copies


def test_a_log_that_is_written_to_is_copied_whole(tmp_path: Path) -> None:
    folder, copies = tmp_path / "log", [tmp_path / f"copy-{number}" for number in range(6)]
    writers = [start_writer(folder, ENDLESS) for _ in range(2)]
    for writer in writers:
        begin(writer)
        assert writer.stdout is not None
        writer.stdout.readline()
    counts = [copy_log(folder, copy) for copy in copies]
    for writer in writers:
        writer.kill()
        rest_of(writer)
    assert counts == sorted(counts)
    assert counts[0] < counts[-1]
    written = [entry.hash for entry in Logbook(folder).all_entries()]
    for count, copy in zip(counts, copies, strict=True):
        assert verify(copy) == []
        assert [entry.hash for entry in Logbook(copy).all_entries()] == written[:count]


def test_an_earlier_copy_is_brought_up_to_date(full: Logbook, tmp_path: Path, noon: dt.datetime) -> None:
    assert copy_log(full.folder, tmp_path / "copy") == 5
    full.append("reading", {}, b"photo six", recorded_at=noon)
    assert copy_log(full.folder, tmp_path / "copy") == 6
    assert verify(tmp_path / "copy") == []


def test_a_copy_that_knows_more_is_not_overwritten(full: Logbook, tmp_path: Path, noon: dt.datetime) -> None:
    """As after somebody put an old state of the log back, or cut off its end."""
    copy_log(full.folder, tmp_path / "copy")
    Logbook(tmp_path / "copy").append("note", {}, recorded_at=noon)
    kept = (tmp_path / "copy" / "log.sqlite3").read_bytes()
    with pytest.raises(EvidenceBroken, match="entry 6 of the copy .* is not in the log"):
        copy_log(full.folder, tmp_path / "copy")
    assert (tmp_path / "copy" / "log.sqlite3").read_bytes() == kept


@pytest.mark.parametrize("what", ["a file", "other files", "the log itself", "another log"])
def test_nothing_else_is_overwritten(full: Logbook, tmp_path: Path, noon: dt.datetime, what: str) -> None:
    target = full.folder if what == "the log itself" else tmp_path / "target"
    if what == "a file":
        target.write_text("letter")
    elif what == "other files":
        target.mkdir()
        (target / "letter.txt").write_text("dear")
    elif what == "another log":
        Logbook(target).append("note", {"other": True}, recorded_at=noon)
    with pytest.raises((UsageError, EvidenceBroken)) as refused:
        copy_log(full.folder, target)
    assert refused.value.cure
    assert verify(full.folder) == []


COPY_POINTS = [*(("fsync", nth) for nth in range(1, 6)), ("link", 1), ("link", 3), ("replace", 1)]


@pytest.mark.parametrize(("step", "nth"), COPY_POINTS)
def test_a_copy_that_fails_is_not_taken_for_a_logbook_and_can_be_tried_again(
    full: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, nth: int
) -> None:
    target = tmp_path / "copy"
    with monkeypatch.context() as patch:
        inject(patch.setattr, step, nth, disk_full)
        if step == "link":
            inject(patch.setattr, "rename", 1, disk_full)
        with pytest.raises(NotWritten) as failed:
            copy_log(full.folder, target)
    assert "free some space" in failed.value.cure
    assert not (target / "log.sqlite3").exists()
    assert verify(full.folder) == []
    assert copy_log(full.folder, target) == 5
    assert broken(target) == []

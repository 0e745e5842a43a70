"""Is the logbook what was written? Checks from what is stored to a list of findings; nothing here raises or repairs."""

from __future__ import annotations

import datetime as dt
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Any

from lastwet.logbook.database import BUSY_S, MIGRATIONS, connect, migrate
from lastwet.logbook.durable import PART
from lastwet.logbook.entry import unseal
from lastwet.logbook.faults import READ_ERRORS
from lastwet.logbook.photostore import PhotoStore
from lastwet.logbook.store import LOG_FILE, PHOTO_FOLDER


class Problem(StrEnum):
    """What a finding is about; the last three are traces of a killed process or of a clock, and break nothing."""

    UNREADABLE = "unreadable"
    DATABASE = "database"
    GUARD = "guard"
    GAP = "gap"
    CHANGED = "changed"
    CHAIN = "chain"
    PHOTO_MISSING = "photo-missing"
    PHOTO_CHANGED = "photo-changed"
    CLOCK = "clock"
    ORPHAN = "orphan"
    LEFTOVER = "leftover"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is not as it should be."""

    problem: Problem
    message: str
    """What was found, one sentence; names the entry or the file."""
    seq: int | None = None
    """The entry it concerns; None when it concerns none in particular."""

    @property
    def broken(self) -> bool:
        """Whether evidence is damaged."""
        return self.problem not in (Problem.CLOCK, Problem.ORPHAN, Problem.LEFTOVER)


CLOCK_SLACK = dt.timedelta(seconds=2 * BUSY_S)
"""Times may go back by this much without a word: an entry takes its time before it waits for others that are writing."""


@dataclass(slots=True)
class _Seen:
    """What the chain holds, kept while it is read, so that the rows need not be."""

    photos: dict[str, int] = field(default_factory=dict)
    """Hash of each photo, and the first entry that names it."""
    before: dt.datetime | None = None
    """Time of the entry before."""


def verify(folder: str | Path, *, photos: bool = True) -> list[Finding]:
    """Return what is wrong with the logbook in `folder`; empty when everything is as it was written.

    Without `photos`, the entries are checked and the bytes of the photos are not.

    Findings about the log as a whole come first, then those about entries in the order of the entries.
    """
    findings: list[Finding] = []
    try:
        findings.extend(_findings(Path(folder), photos))
    except READ_ERRORS as error:
        findings.append(Finding(Problem.UNREADABLE, f"the log {folder} cannot be read: {error}"))
    return sorted(findings, key=lambda finding: finding.seq or 0)


def first_broken(findings: Iterable[Finding]) -> int | None:
    """Return the number of the first entry that is damaged; None when no entry is."""
    return min((finding.seq for finding in findings if finding.broken and finding.seq is not None), default=None)


def _findings(folder: Path, with_photos: bool) -> Iterator[Finding]:
    if not (folder / LOG_FILE).is_file():
        yield Finding(Problem.UNREADABLE, f"{folder} is not a logbook: it has no {LOG_FILE}")
        return
    photos = PhotoStore(folder / PHOTO_FOLDER)
    # Names before rows: a photo that another process adds meanwhile is no orphan.
    names = {path.name for path in photos.folder.iterdir()} if photos.folder.is_dir() else set()
    seen = _Seen()
    with closing(connect(folder / LOG_FILE)) as connection:
        yield from _database(connection)
        yield from _chain(connection, seen)
    if with_photos:
        yield from _photos(photos, seen.photos)
    yield from _unclaimed(names - seen.photos.keys())


def _database(connection: sqlite3.Connection) -> Iterator[Finding]:
    """SQLite's own check, and that tables and triggers are those that were made."""
    try:
        for (line,) in connection.execute("PRAGMA integrity_check"):
            if line != "ok":
                yield Finding(Problem.DATABASE, f"SQLite finds: {' '.join(line.split())}")
        yield from _guards(connection)
    except READ_ERRORS as error:
        yield Finding(Problem.DATABASE, f"SQLite's own check fails: {error}")


def _guards(connection: sqlite3.Connection) -> Iterator[Finding]:
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    if version > len(MIGRATIONS):
        yield Finding(Problem.UNREADABLE, "the log was written by a newer version of this program")
        return
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as fresh:
        migrate(fresh, MIGRATIONS[:version])
        differing = {name for name, _ in _definitions(fresh) ^ _definitions(connection)}
    for name in sorted(differing):
        yield Finding(Problem.GUARD, f"the definition of {name} in the database is not what was made")


def _definitions(connection: sqlite3.Connection) -> set[tuple[str, str | None]]:
    return set(connection.execute("SELECT name, sql FROM sqlite_schema"))


def _chain(connection: sqlite3.Connection, seen: _Seen) -> Iterator[Finding]:
    """Each entry against its hash and the entry before; fills in `seen` on the way."""
    seq, head = 0, None
    try:
        for row in connection.execute("SELECT seq, previous, record, hash FROM entry ORDER BY seq"):
            yield from _missing(seq + 1, row[0] - 1)
            if row[0] == seq + 1 and row[1] != head:
                yield Finding(Problem.CHAIN, f"entry {row[0]} does not follow the entry before it", row[0])
            yield from _content(row, seen)
            seq, head = row[0], row[3]
        last = connection.execute("SELECT max(seq) FROM sqlite_sequence WHERE name = 'entry'").fetchone()[0]
        yield from _missing(seq + 1, last or 0)
    except READ_ERRORS as error:
        yield Finding(Problem.UNREADABLE, f"the log cannot be read after entry {seq}: {error}", seq + 1)


def _missing(first: int, last: int) -> Iterator[Finding]:
    if first <= last:
        named = f"entry {first} is" if first == last else f"entries {first} to {last} are"
        yield Finding(Problem.GAP, f"{named} missing", first)


def _content(row: tuple[int, Any, Any, Any], seen: _Seen) -> Iterator[Finding]:
    try:
        entry = unseal(*row)
    except ValueError as error:
        yield Finding(Problem.CHANGED, f"entry {row[0]} is not what was written: {error}", row[0])
        return
    for sha256 in entry.photos:
        seen.photos.setdefault(sha256, entry.seq)
    if seen.before and entry.recorded_at < seen.before - CLOCK_SLACK:
        told = f"entry {entry.seq} was logged at {entry.recorded_at.isoformat(timespec='seconds')}, earlier than one before it"
        yield Finding(Problem.CLOCK, f"{told}: the clock was set back; the order of the entries holds", entry.seq)
    seen.before = entry.recorded_at  # so that each step back is told once


def _photos(photos: PhotoStore, named: Mapping[str, int]) -> Iterator[Finding]:
    """The bytes of each photo against its name; a photo that several entries name is read once."""
    for sha256, seq in sorted(named.items(), key=lambda item: item[1]):
        try:
            if photos.digest(sha256) != sha256:
                yield Finding(Problem.PHOTO_CHANGED, f"the photo of entry {seq} is not what was written: {photos.path(sha256)}", seq)
        except FileNotFoundError:
            yield Finding(Problem.PHOTO_MISSING, f"the photo of entry {seq} is missing: {photos.path(sha256)}", seq)
        except OSError as error:
            yield Finding(Problem.UNREADABLE, f"the photo of entry {seq} cannot be read: {photos.path(sha256)} ({error.strerror})", seq)


def _unclaimed(names: Iterable[str]) -> Iterator[Finding]:
    for name in sorted(names):
        if name.endswith(PART):
            yield Finding(Problem.LEFTOVER, f"the file {PHOTO_FOLDER}/{name} was being written when a process ended; delete it")
        else:
            yield Finding(Problem.ORPHAN, f"no intact entry names the file {PHOTO_FOLDER}/{name}")

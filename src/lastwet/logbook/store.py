"""The logbook: a folder with `log.sqlite3` for the entries and `photos` for the bytes they speak of.

SQLite keeps a rollback journal with synchronous=EXTRA: a commit returns when the change and the removal of the journal are
flushed (sqlite.org/pragma.html#pragma_synchronous). The write-ahead log is not used: SQLite 3.7.0 to 3.51.2 can corrupt it
when two connections write at once, which is what the command and the page do, and its extra files must travel along.

A photo is durable before the row that names it: a crash leaves at worst a photo without an entry, never the reverse.
"""

from __future__ import annotations

import datetime as dt
import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

from lastwet.errors import EvidenceBroken, UsageError
from lastwet.logbook.durable import make_folder
from lastwet.logbook.entry import Entry, seal, unseal
from lastwet.logbook.faults import KEEP, explained
from lastwet.logbook.photostore import PhotoStore

LOG_FILE = "log.sqlite3"
PHOTO_FOLDER = "photos"

_CURE = "choose an empty or a new folder for the log"

APPLICATION_ID = 0x6C776574
"""Marks the SQLite file as a logbook; "lwet" in ASCII."""

BUSY_S = 30.0
"""Seconds to wait for another process that is writing; one entry takes milliseconds."""

_VERSION_1 = (
    f"PRAGMA application_id = {APPLICATION_ID}",
    # The record holds everything; the generated columns only show parts of it. AUTOINCREMENT remembers the highest number
    # ever given, so that an entry deleted from the end is missed as well.
    """
    CREATE TABLE entry (
        seq INTEGER PRIMARY KEY AUTOINCREMENT CHECK (seq = json_extract(record, '$.seq')),
        previous TEXT UNIQUE REFERENCES entry (hash) CHECK ((previous IS NULL) = (seq = 1)),
        record TEXT NOT NULL CHECK (json_valid(record)),
        hash TEXT NOT NULL UNIQUE CHECK (length(hash) = 64),
        kind TEXT GENERATED ALWAYS AS (json_extract(record, '$.kind')) VIRTUAL,
        recorded_at TEXT GENERATED ALWAYS AS (json_extract(record, '$.recorded_at')) VIRTUAL,
        photo_sha256 TEXT GENERATED ALWAYS AS (json_extract(record, '$.photo_sha256')) VIRTUAL
    ) STRICT
    """,
    "CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry BEGIN SELECT raise(ABORT, 'entries are never changed'); END",
    "CREATE TRIGGER entry_is_never_deleted BEFORE DELETE ON entry BEGIN SELECT raise(ABORT, 'entries are never deleted'); END",
    # INSERT OR REPLACE deletes the row in its way, and without recursive_triggers no DELETE trigger fires for it. So nothing
    # may be in its way: not the number, not the previous hash, not the hash.
    """
    CREATE TRIGGER entry_is_never_replaced BEFORE INSERT ON entry
    WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM entry)
        OR NEW.previous IS NOT (SELECT hash FROM entry ORDER BY seq DESC LIMIT 1)
        OR EXISTS (SELECT 1 FROM entry WHERE hash = NEW.hash)
    BEGIN SELECT raise(ABORT, 'an entry must follow the last one'); END
    """,
)
MIGRATIONS = (_VERSION_1,)
"""What leads from one version of the log file to the next; version N is reached by the first N. Never edit one that was released."""


class Logbook:
    """An append-only log in a folder of its own; safe to use from several threads and processes at once.

    Opening makes the folder where there is none, and brings a log of an older version up to date. Every entry that is
    returned was checked against its hash.
    """

    def __init__(self, folder: str | Path) -> None:
        """Open the logbook in `folder`.

        Raises `UsageError` when the folder holds something else or a newer log, `NotWritten` when it cannot be made,
        `EvidenceBroken` when the log is damaged.
        """
        self.folder = Path(folder)
        self.photos = PhotoStore(self.folder / PHOTO_FOLDER)
        with explained("open the log", self.folder):
            _refuse_other_folder(self.folder)
            make_folder(self.folder)
            with closing(self._connect()) as connection:
                self._refuse_other_database(connection)
                migrate(connection)

    def append(self, kind: str, body: Mapping[str, Any], photo: bytes | None = None, *, recorded_at: dt.datetime) -> Entry:
        """Add an entry and return it; when this returns, entry and photo are on the disk.

        `body` is plain JSON data, `photo` the bytes as received, `recorded_at` the time of receipt with its offset.
        Raises `NotWritten` when the entry was not added.
        """
        photo_sha256 = None if photo is None else self.photos.put(photo)
        with explained("add an entry to the log", self.folder), closing(self._connect()) as connection:
            connection.execute("BEGIN IMMEDIATE")
            seq, previous = connection.execute("SELECT seq, hash FROM entry ORDER BY seq DESC LIMIT 1").fetchone() or (0, None)
            entry = seal(seq + 1, previous, kind, body, recorded_at=recorded_at, photo_sha256=photo_sha256)
            row = (entry.seq, entry.previous, entry.record, entry.hash)
            connection.execute("INSERT INTO entry (seq, previous, record, hash) VALUES (?, ?, ?, ?)", row)
            connection.execute("COMMIT")
        return entry

    def entries(self, limit: int) -> list[Entry]:
        """Return the `limit` newest entries, newest first; raises `EvidenceBroken` naming one that is not what was written."""
        return self._select("ORDER BY seq DESC LIMIT ?", limit)

    def entry(self, seq: int) -> Entry:
        """Return one entry; raises `UsageError` when there is none, `EvidenceBroken` when it is not what was written."""
        found = self._select("WHERE seq = ?", seq)
        if not found:
            raise UsageError(f"there is no entry {seq} in the log {self.folder}", "list the entries to see their numbers")
        return found[0]

    def _select(self, clause: str, parameter: int) -> list[Entry]:
        with explained("read the log", self.folder), closing(self._connect()) as connection:
            rows = connection.execute(f"SELECT seq, previous, record, hash FROM entry {clause}", (parameter,)).fetchall()
        return [self._unsealed(*row) for row in rows]

    def _unsealed(self, seq: int, previous: object, record: object, sealed: object) -> Entry:
        try:
            return unseal(seq, previous, record, sealed)
        except ValueError as error:
            raise EvidenceBroken(f"entry {seq} of the log {self.folder} is not what was written: {error}", KEEP) from error

    def _connect(self) -> sqlite3.Connection:
        return connect(self.folder / LOG_FILE)

    def _refuse_other_database(self, connection: sqlite3.Connection) -> None:
        empty = not connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
        if empty and self.photos.folder.exists():
            raise EvidenceBroken(f"the log {self.folder} is empty although there are photos", KEEP)
        if not empty and _pragma(connection, "application_id") != APPLICATION_ID:
            raise UsageError(f"{self.folder / LOG_FILE} is not a logbook", _CURE)
        if _pragma(connection, "user_version") > len(MIGRATIONS):
            raise UsageError(f"the log {self.folder} was written by a newer version of this program", "update lastwet")


def connect(log_file: Path) -> sqlite3.Connection:
    """Open the database with the settings that durability rests on; the caller begins and commits by hand, and closes."""
    connection = sqlite3.connect(log_file, timeout=BUSY_S, isolation_level=None)
    # A damaged byte must not hide the row that it damaged: no hash matches the surrogate that it becomes.
    connection.text_factory = lambda text: text.decode(errors="surrogateescape")
    try:
        for setting in ("journal_mode = DELETE", "synchronous = EXTRA", "foreign_keys = ON", "recursive_triggers = ON"):
            connection.execute(f"PRAGMA {setting}")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def migrate(connection: sqlite3.Connection, steps: Sequence[Sequence[str]] = MIGRATIONS) -> None:
    """Bring the log file up to the version that `steps` lead to, each in a transaction of its own."""
    for version, statements in enumerate(steps, start=1):
        if _pragma(connection, "user_version") >= version:
            continue
        connection.execute("BEGIN IMMEDIATE")
        if _pragma(connection, "user_version") < version:  # another process may have been first
            for statement in (*statements, f"PRAGMA user_version = {version}"):
                connection.execute(statement)
        connection.execute("COMMIT")


def _pragma(connection: sqlite3.Connection, name: str) -> int:
    return int(connection.execute(f"PRAGMA {name}").fetchone()[0])


def _refuse_other_folder(folder: Path) -> None:
    if not folder.exists():
        return
    if not folder.is_dir():
        raise UsageError(f"{folder} is not a folder", _CURE)
    names = {path.name for path in folder.iterdir()}
    if names and LOG_FILE not in names:
        raise UsageError(f"{folder} is not a logbook: it holds other files and no {LOG_FILE}", _CURE)

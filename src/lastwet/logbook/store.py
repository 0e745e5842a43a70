"""The logbook: a folder with `log.sqlite3` for the entries and `photos` for the bytes they speak of.

A photo is durable before the row that names it: a crash leaves at worst a photo without an entry, never the reverse.
"""

from __future__ import annotations

import datetime as dt
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

from lastwet.errors import EvidenceBroken, UsageError
from lastwet.logbook.database import APPLICATION_ID, MIGRATIONS, connect, migrate, pragma
from lastwet.logbook.durable import make_folder
from lastwet.logbook.entry import Entry, seal, unseal
from lastwet.logbook.faults import KEEP, explained
from lastwet.logbook.find import Filter, clauses
from lastwet.logbook.photostore import PhotoStore

LOG_FILE = "log.sqlite3"
PHOTO_FOLDER = "photos"

_CURE = "choose an empty or a new folder for the log"


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

    def append(
        self, kind: str, body: Mapping[str, Any], photo: bytes | None = None, *, recorded_at: dt.datetime, more: Iterable[bytes] = ()
    ) -> Entry:
        """Add an entry and return it; when this returns, entry and photos are on the disk.

        `body` is plain JSON data, `photo` the bytes as received, `more` those of further photos that belong to the entry, `recorded_at`
        the time of receipt with its offset. Raises `NotWritten` when the entry was not added.
        """
        photo_sha256 = None if photo is None else self.photos.put(photo)
        further = [sha256 for sha256 in dict.fromkeys(map(self.photos.put, more)) if sha256 != photo_sha256]
        with explained("add an entry to the log", self.folder), closing(self._connect()) as connection:
            connection.execute("BEGIN IMMEDIATE")
            seq, previous = connection.execute("SELECT seq, hash FROM entry ORDER BY seq DESC LIMIT 1").fetchone() or (0, None)
            entry = seal(seq + 1, previous, kind, body, recorded_at=recorded_at, photo_sha256=photo_sha256, more_photos=further)
            row = (entry.seq, entry.previous, entry.record, entry.hash)
            connection.execute("INSERT INTO entry (seq, previous, record, hash) VALUES (?, ?, ?, ?)", row)
            connection.execute("COMMIT")
        return entry

    def entries(self, limit: int) -> list[Entry]:
        """Return the `limit` newest entries, newest first; raises `EvidenceBroken` naming one that is not what was written."""
        return self._select("ORDER BY seq DESC LIMIT :limit", {"limit": limit})

    def entry(self, seq: int) -> Entry:
        """Return one entry; raises `UsageError` when there is none, `EvidenceBroken` when it is not what was written."""
        found = self._select("WHERE seq = :seq", {"seq": seq})
        if not found:
            raise UsageError(f"there is no entry {seq} in the log {self.folder}", "list the entries to see their numbers")
        return found[0]

    def find(self, wanted: Filter, limit: int, *, before: int | None = None) -> list[Entry]:
        """Return the `limit` newest entries that `wanted` lets through, newest first; with `before`, only those of lower numbers.

        Where it asks for what stands, some may have been corrected to something else: see `clauses`.
        """
        found: dict[int, Entry] = {}
        for clause, values in clauses(wanted, before):
            # the numbers first, as SQLite would sort whole rows
            newest = f"SELECT seq FROM entry {clause} ORDER BY seq DESC LIMIT :limit"
            entries = self._select(f"WHERE seq IN ({newest})", {**values, "limit": limit})
            found |= {entry.seq: entry for entry in entries}
        return [found[seq] for seq in sorted(found, reverse=True)[:limit]]

    def concerning(self, seqs: Iterable[int]) -> list[Entry]:
        """Return the entries that concern these, and those that concern them in turn, in the order of the log."""
        found: dict[int, Entry] = {}
        wanted = set(seqs)
        while wanted:
            listed = ",".join(map(str, sorted(wanted)))
            entries = self._select(f"WHERE concerns IN ({listed})")
            wanted = {entry.seq for entry in entries} - found.keys()
            found |= {entry.seq: entry for entry in entries}
        return [found[seq] for seq in sorted(found)]

    def all_entries(self) -> Iterator[Entry]:
        """Yield every entry in the order of the log, as the log stands now; raises as `entry` does."""
        newest, last = 0, self.head()
        while last is not None and newest < last.seq:
            page = self._select("WHERE seq > :newest AND seq <= :last ORDER BY seq LIMIT 500", {"newest": newest, "last": last.seq})
            if not page:
                return
            yield from page
            newest = page[-1].seq

    def head(self) -> Entry | None:
        """Return the newest entry, whose hash seals all the others; None where there is none yet."""
        return next(iter(self.entries(1)), None)

    def _select(self, clause: str, values: Mapping[str, object] | None = None) -> list[Entry]:
        with explained("read the log", self.folder), closing(self._connect()) as connection:
            rows = connection.execute(f"SELECT seq, previous, record, hash FROM entry {clause}", values or {}).fetchall()
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
        if not empty and pragma(connection, "application_id") != APPLICATION_ID:
            raise UsageError(f"{self.folder / LOG_FILE} is not a logbook", _CURE)
        if pragma(connection, "user_version") > len(MIGRATIONS):
            raise UsageError(f"the log {self.folder} was written by a newer version of this program", "update lastwet")


def _refuse_other_folder(folder: Path) -> None:
    if not folder.exists():
        return
    if not folder.is_dir():
        raise UsageError(f"{folder} is not a folder", _CURE)
    names = {path.name for path in folder.iterdir()}
    if names and LOG_FILE not in names:
        raise UsageError(f"{folder} is not a logbook: it holds other files and no {LOG_FILE}", _CURE)

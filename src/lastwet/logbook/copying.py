"""A second copy of a logbook, whole and checked, also while the first is written to."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing, suppress
from pathlib import Path
from uuid import uuid4

from lastwet.errors import EvidenceBroken, NotWritten, UsageError
from lastwet.logbook.database import connect
from lastwet.logbook.durable import PART, make_folder, sync_folder, write_once
from lastwet.logbook.faults import KEEP, explained
from lastwet.logbook.photostore import PhotoStore
from lastwet.logbook.store import LOG_FILE, PHOTO_FOLDER

_ELSEWHERE = "name an empty or a new folder, or an earlier backup of this log"

_PHOTOS = """
    SELECT json_extract(record, '$.photo_sha256') FROM entry
    UNION SELECT value FROM entry, json_each(record, '$.more_photos')
"""


def copy_log(source: Path, target: Path) -> int:
    """Copy the logbook in folder `source` into `target`, which is empty or an earlier copy of the same log; return the entries copied.

    The entries are those at one moment. Photos that are missing are left out: `verify` of the copy names them. The log file comes
    last, so that a copy that was broken off is not taken for a logbook. Raises `UsageError` for a target that holds something
    else, `EvidenceBroken` for one that holds entries which the log does not, `NotWritten` when there is no room.
    """
    with explained("copy the log", target):
        _refuse_other_target(source, target)
        make_folder(target)
        part = target / f".{uuid4().hex}{PART}"
        try:
            count = _snapshot(source / LOG_FILE, part)
            _copy_photos(part, PhotoStore(source / PHOTO_FOLDER), PhotoStore(target / PHOTO_FOLDER))
            part.replace(target / LOG_FILE)
        finally:
            part.unlink(missing_ok=True)
        sync_folder(target)
    return count


def _refuse_other_target(source: Path, target: Path) -> None:
    if target.exists() and not target.is_dir():
        raise UsageError(f"{target} is not a folder", _ELSEWHERE)
    if target.exists() and target.samefile(source):
        raise UsageError(f"{target} is the log itself", _ELSEWHERE)
    names = {path.name for path in target.iterdir() if not path.name.endswith(PART)} if target.is_dir() else set()
    if LOG_FILE in names:
        _refuse_other_log(source, target)
    elif names - {PHOTO_FOLDER}:  # the photos of a copy that was broken off
        raise UsageError(f"{target} holds other files", _ELSEWHERE)


def _refuse_other_log(source: Path, target: Path) -> None:
    """The newest entry of the earlier copy seals all before it, so one look tells whether the log goes on from there."""
    with closing(connect(target / LOG_FILE)) as copy, closing(connect(source / LOG_FILE)) as log:
        newest = copy.execute("SELECT seq, hash FROM entry ORDER BY seq DESC LIMIT 1").fetchone()
        if newest and log.execute("SELECT seq, hash FROM entry WHERE seq = ?", newest[:1]).fetchone() != newest:
            raise EvidenceBroken(f"entry {newest[0]} of the copy in {target} is not in the log {source}", f"{KEEP}; copy to a new folder")


def _snapshot(log_file: Path, part: Path) -> int:
    """Copy the database as it stands at one moment, and flush it."""
    with closing(connect(log_file)) as log, closing(sqlite3.connect(part)) as copy:
        log.backup(copy)
        count = int(copy.execute("SELECT count(*) FROM entry").fetchone()[0])
    with part.open("rb+") as file:
        os.fsync(file.fileno())
    return count


def _copy_photos(log_file: Path, photos: PhotoStore, target: PhotoStore) -> None:
    make_folder(target.folder)
    with closing(connect(log_file)) as copy:
        names = copy.execute(_PHOTOS).fetchall()
    for (sha256,) in names:
        if sha256 is None or target.path(sha256).exists():
            continue
        with suppress(FileNotFoundError):
            content = photos.path(sha256).read_bytes()
            write_once(target.path(sha256), content)


def restore_log(backup: Path, target: Path) -> int:
    """Copy a backup into an empty or new folder, to go on from there; return the entries. Raises as `copy_log` does."""
    if not (backup / LOG_FILE).is_file():
        raise UsageError(f"{backup} is not a backup of a log: it has no {LOG_FILE}", "name the folder that `lastwet log backup` wrote")
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise NotWritten(f"{target} is not empty", "restore into an empty or a new folder, so that nothing is overwritten")
    return copy_log(backup, target)

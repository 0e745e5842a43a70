"""What the operating system or SQLite reports, as an error with a cure."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from lastwet.errors import EvidenceBroken, LastwetError, NotWritten

KEEP = "keep the folder as it is, and compare it with a backup"
"""The cure for every log that is not what was written: no repair, which would cover the traces."""

READ_ERRORS = (OSError, sqlite3.Error, UnicodeDecodeError)
"""What reading can meet; the last where SQLite quotes damaged text in a message."""

_FULL = "free some space on that disk, then try again"
_CLOSED = "make the folder writable, or choose another one for the log"
_BUSY = "wait until the other command has ended, then try again"
_OTHER = "check that disk, then try again"

_SYSTEM_CURES = {
    errno.ENOSPC: _FULL,
    errno.EDQUOT: _FULL,
    errno.EFBIG: _FULL,
    errno.EACCES: _CLOSED,
    errno.EPERM: _CLOSED,
    errno.EROFS: _CLOSED,
    errno.ENOTDIR: _CLOSED,
}
_SQLITE_CURES = {
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_READONLY: _CLOSED,
    sqlite3.SQLITE_CANTOPEN: _CLOSED,
    sqlite3.SQLITE_PERM: _CLOSED,
    sqlite3.SQLITE_BUSY: _BUSY,
}
# The plain error too: the statements are always the same, so one that SQLite cannot run tells of a file that is not ours any more.
_SQLITE_BROKEN = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CONSTRAINT, sqlite3.SQLITE_ERROR)


@contextmanager
def explained(doing: str, where: Path) -> Iterator[None]:
    """Turn `READ_ERRORS` inside into `NotWritten` or `EvidenceBroken`; `doing` completes "could not"."""
    try:
        yield
    except READ_ERRORS as error:
        raise _explanation(error, doing, where) from error


def _explanation(error: Exception, doing: str, where: Path) -> LastwetError:
    if isinstance(error, OSError):
        return NotWritten(f"could not {doing} in {where} ({error.strerror or error})", _SYSTEM_CURES.get(error.errno or 0, _OTHER))
    if isinstance(error, UnicodeDecodeError):
        return EvidenceBroken(f"could not {doing} in {where}: the log is damaged", KEEP)
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_IOERR) & 0xFF  # the low byte is the primary code of an extended one
    if code in _SQLITE_BROKEN:
        return EvidenceBroken(f"could not {doing} in {where}: the log is damaged ({error})", KEEP)
    return NotWritten(f"could not {doing} in {where} ({error})", _SQLITE_CURES.get(code, _OTHER))

"""Let the nth call of one step of an append fail, or end the process there as a crash would.

`python -m tests.logbook.injection FOLDER STEP NTH before|after` appends an entry and dies at that call.
"""

from __future__ import annotations

import datetime as dt
import functools
import itertools
import os
import sqlite3
import sys
from collections.abc import Callable
from typing import Any

PHOTO = b"a photo that was on its way" * 1000
DEATH = 9
"""Exit status of a process that died as planned."""

POINTS = [  # (step, nth call) in the order of an append that makes the photo folder and stores a photo
    *(("open", nth) for nth in (1, 2, 3)),  # log folder to sync, photo file, photo folder to sync
    *(("fsync", nth) for nth in (1, 2, 3)),
    ("link", 1),
    ("unlink", 1),
    ("BEGIN IMMEDIATE", 1),
    ("INSERT", 1),
    ("COMMIT", 1),
]

Patch = Callable[[Any, str, Any], None]


def inject(patch: Patch, step: str, nth: int, act: Callable[[], None], *, after: bool = False) -> None:
    """Call `act` before, or `after`, the nth call of `step`: a function of `os`, or the start of an SQL statement."""
    calls = itertools.count(1)

    def wrapped(real: Callable[..., Any], *args: Any, **options: Any) -> Any:
        due = next(calls) == nth
        if due and not after:
            act()
        result = real(*args, **options)
        if due and after:
            act()
        return result

    class Connection(sqlite3.Connection):
        def execute(self, sql: str, *parameters: Any) -> sqlite3.Cursor:
            real = super().execute
            return wrapped(real, sql, *parameters) if sql.startswith(step) else real(sql, *parameters)

    if hasattr(os, step):
        patch(os, step, functools.partial(wrapped, getattr(os, step)))
    else:
        patch(sqlite3, "connect", functools.partial(sqlite3.connect, factory=Connection))


def main(folder: str, step: str, nth: str, when: str) -> None:
    """Append an entry and die on the way."""
    from lastwet.logbook.store import Logbook

    book = Logbook(folder)
    inject(setattr, step, int(nth), lambda: os._exit(DEATH), after=when == "after")
    book.append("reading", {"crash": step}, PHOTO, recorded_at=dt.datetime.now(dt.UTC))


if __name__ == "__main__":
    main(*sys.argv[1:])

"""Times as people write them, on this computer's clock unless they say otherwise."""

from __future__ import annotations

import datetime as dt

from lastwet.errors import UsageError

_DAY = len("2026-03-02")


def begin_of(text: str) -> dt.datetime:
    """Return the time, or the beginning of the day; raises `UsageError`."""
    try:
        return dt.datetime.fromisoformat(text.strip()).astimezone()
    except (ValueError, OverflowError, OSError):
        raise UsageError(f"'{text}' is not a time", "write it as in 2026-03-02, 2026-03-02T14:00 or 2026-03-02T14:00+01:00") from None


def end_of(text: str) -> dt.datetime:
    """Return the time, or the end of the day, which is the beginning of the next; raises `UsageError`."""
    begin = begin_of(text)
    if len(text.strip()) > _DAY:
        return begin
    following = begin.date() + dt.timedelta(days=1)  # by the calendar: a day may have 23 or 25 hours
    return dt.datetime.combine(following, dt.time()).astimezone()


def now() -> dt.datetime:
    """Return the time, with its offset from UTC."""
    return dt.datetime.now().astimezone()

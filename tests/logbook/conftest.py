"""Logbooks to break."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from lastwet.logbook.store import Logbook

NOON = dt.datetime(2026, 3, 4, 12, 0, tzinfo=dt.timezone(dt.timedelta(hours=1)))


@pytest.fixture
def noon() -> dt.datetime:
    """A time of receipt."""
    return NOON


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    """An empty logbook."""
    return Logbook(tmp_path / "log")


@pytest.fixture
def full(book: Logbook) -> Logbook:
    """A logbook of five entries; all but the third have a photo, the second and the fourth the same one."""
    for number, photo in enumerate([b"photo one", b"photo two", None, b"photo two", b"photo five"], start=1):
        book.append("reading", {"number": number, "wet": {"low_um": 110.0, "high_um": None}}, photo, recorded_at=NOON)
    return book

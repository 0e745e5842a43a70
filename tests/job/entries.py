"""Entries of boards for tests, sealed as the log seals them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from lastwet.film.coating import Coating, coating_json
from lastwet.job.board import Board, boards
from lastwet.logbook.entry import Entry, seal
from lastwet.logbook.view import standings
from tests.film.cards import HALF

T0 = dt.datetime(2026, 3, 2, 8, 0, tzinfo=dt.UTC)
GAUGE = {"name": "bench", "unit": "um", "sides": {"fine": [85, 110, 140, 175], "coarse": [50, 200, 400]}}

Said = tuple[str, Mapping[str, Any]]
"""Kind and body."""


def begin(name: str = "a", work: str = "scrap", card: Coating = HALF, aim_um: float = 125.0) -> Said:
    return "board", {"board": name, "work": work, "coating": card.name, "card": coating_json(card), "aim_um": aim_um, "by": "t"}


def coat(name: str = "a", *, minutes: float = 0, settings: Mapping[str, Any] | None = None, **paint: Any) -> Said:
    applied_at = (T0 + dt.timedelta(minutes=minutes)).isoformat()
    return "coat", {"board": name, "applied_at": applied_at, "settings": settings or {"speed_mm_s": 400}, "paint": paint, "by": "t"}


def dip(coat_entry: int, low: float, high: float | None, spot: str = "1", name: str = "a", **more: Any) -> Said:
    wet = {"low_um": low, "high_um": high}
    said = {"board": name, "coat_entry": coat_entry, "spot": spot, "seconds": None, "wet": wet, "method": "eye"}
    return "dip", {**said, **more}


def sealed(*said: Said) -> list[Entry]:
    """Seal entries one after the other, numbered from 1."""
    entries: list[Entry] = []
    for kind, body in said:
        previous = entries[-1].hash if entries else None
        entries.append(seal(len(entries) + 1, previous, kind, body, recorded_at=T0))
    return entries


def folded(*said: Said) -> list[Board]:
    """Put together the boards that these entries tell of."""
    entries = sealed(*said)
    return boards(standings(entries, [entry for entry in entries if "concerns" in entry.body]))

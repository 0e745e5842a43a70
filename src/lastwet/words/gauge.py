"""Gauges in words."""

from __future__ import annotations

from collections.abc import Iterator

from lastwet.gauge import Gauge
from lastwet.reading.strip import FEWEST, MOST, countable


def cautions(gauge: Gauge) -> Iterator[str]:
    """Yield which sides photos are never read of, though the file is right: they are for readings by eye."""
    for side in gauge.sides:
        count = len(side.teeth)
        if not countable(count):
            yield f"side {side.id} has {count} teeth, and only rows of {FEWEST} to {MOST} are read from photos: read this side by eye"

"""A coating card for tests of the film room, and how to vary it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

from lastwet.film.coating import Coating, MaximumBuild, Source

HALF = Coating(
    name="Half (invented)",
    volume_solids=0.5,
    volume_solids_tolerance=0.0,
    wet_range_um=(100, 150),
    dry_range_um=(50, 75),
    maximum_build=MaximumBuild(160, "dry"),
    thinner_max=0.1,
    source=Source("Invented sheet", dt.date(2026, 1, 31)),
)
"""Half of it stays: sums are easily done in the head."""


def half(**changes: Any) -> Coating:
    """HALF with other values."""
    return replace(HALF, **changes)

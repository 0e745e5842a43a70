"""Gauges in words."""

from __future__ import annotations

from collections.abc import Iterator

from lastwet.gauge import LEAST_REACH_UM, LEAST_UM, MOST_UM, Gauge
from lastwet.reading.strip import FEWEST, MOST, countable


def cautions(gauge: Gauge) -> Iterator[str]:
    """Yield what is odd about a gauge though its file is right: a unit that it can hardly have, and sides that no photo is read of."""
    if odd := _odd_unit(gauge):
        yield odd
    for side in gauge.sides:
        count = len(side.teeth)
        if not countable(count):
            yield f"side {side.id} has {count} teeth, and only rows of {FEWEST} to {MOST} are read from photos: read this side by eye"


def _odd_unit(gauge: Gauge) -> str | None:
    """Say that the teeth are thinner or thicker than those of notched gauges, as where mil was written for um; None where they are not."""
    teeth_um = [value for side in gauge.sides for value in side.teeth_um]
    thin = min(teeth_um) < LEAST_UM or max(teeth_um) < LEAST_REACH_UM
    if not thin and max(teeth_um) <= MOST_UM:
        return None
    teeth = [value for side in gauge.sides for value in side.teeth]
    found = f"teeth from {min(teeth):g} to {max(teeth):g} {gauge.unit} are {'thinner' if thin else 'thicker'} than those of notched gauges"
    usual = f"the thinnest from {LEAST_UM:g} um, the thickest {LEAST_REACH_UM:g} to {MOST_UM:g} um, a rule of thumb"
    meant = {("um", True): "are they mil", ("mil", False): "are they micrometres"}.get((gauge.unit, thin), "are the numbers right")
    return f"{found} ({usual}): {meant}? Compare them with the gauge"

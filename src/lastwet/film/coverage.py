"""How far paint goes and how much to order.

One litre covers one square metre 1000 um thick, wet. Loss is the percentage of the paint that does not end on the work; the words
"loss factor" are used in the trade for the part lost and for the part that remains, so they are not used here.
"""

from __future__ import annotations

from dataclasses import dataclass

from lastwet.errors import UsageError
from lastwet.film.coating import Coating
from lastwet.film.dry import dry_fraction
from lastwet.film.quantity import L_PER_US_GALLON, M2_PER_FT2


@dataclass(frozen=True, slots=True)
class SpreadingRate:
    """How far one litre goes, in square metres."""

    theoretical_m2_l: float
    """With nothing lost."""
    practical_m2_l: float
    """With the loss."""


@dataclass(frozen=True, slots=True)
class Quantities:
    """What a job takes."""

    mixed_l: float
    """Mixed paint before thinning, with the loss, litres."""
    thinner_l: float
    parts_l: tuple[float, ...]
    """The mixed paint by its parts, base first; one part for a one-component paint."""
    rate: SpreadingRate
    """Of the mixed paint, for one coat."""


def spreading_rate(dry_um: float, solids: float, loss: float = 0.0) -> SpreadingRate:
    """Return how far one litre of mixed, unthinned paint goes at a dry film of `dry_um`; `loss` a fraction below 1."""
    if not 0 < dry_um < float("inf"):
        raise UsageError(f"a film of {dry_um:g} um covers nothing", "give a thickness above 0")
    if not 0 <= loss < 1:
        raise UsageError(f"a loss of {loss * 100:g} % is not possible", "give the part of the paint that misses the work, below 100 %")
    theoretical = 1000 * dry_fraction(solids) / dry_um
    return SpreadingRate(theoretical, theoretical * (1 - loss))


def quantities(coating: Coating, area_m2: float, wet_um: float, coats: int = 1, loss: float = 0.0, thinner: float = 0.0) -> Quantities:
    """Return what `coats` coats, each `wet_um` thick as sprayed with `thinner` in it, take on `area_m2`."""
    if area_m2 <= 0 or coats < 1:
        raise UsageError("there is nothing to coat", "give an area above 0 and at least one coat")
    rate = spreading_rate(wet_um * dry_fraction(coating.volume_solids, thinner), coating.volume_solids, loss)
    mixed = area_m2 * coats / rate.practical_m2_l
    parts = coating.mix_parts or (1.0,)
    return Quantities(mixed, mixed * thinner, tuple(mixed * part / sum(parts) for part in parts), rate)


def ft2_per_gallon(m2_per_l: float) -> float:
    """Convert a spreading rate from m2/L to square feet for a US gallon."""
    return m2_per_l * L_PER_US_GALLON / M2_PER_FT2

"""The plan: how many coats, and how wet each, for a wanted dry film."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from lastwet.errors import UsageError
from lastwet.film.build import ROUNDING
from lastwet.film.coating import Coating
from lastwet.film.dry import dry_fraction, dry_range_caution

MOST_COATS = 50
"""More than this is a wrong unit, not a plan."""


@dataclass(frozen=True, slots=True)
class CoatPlan:
    """One way to come to the wanted film: equal coats."""

    coats: int
    wet_aim_um: float
    """Wet film to aim for in each coat."""
    dry_each_um: float
    """What each coat dries to, before sanding."""
    total_range_um: tuple[float, float]
    """Dry film of all coats after sanding, with the tolerance of the volume solids."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What can be done about a wanted dry film."""

    ways: tuple[CoatPlan, ...]
    """All that keep within wet range and maximum build, fewest coats first; empty where there are none.

    Further coats of which more is sanded off than is left are not among them: any number would do, most of it dust."""
    best: CoatPlan | None
    """The way whose wet aim lies nearest to the middle of the wet range, where it is least easily missed."""
    forbidden_by: str | None
    """Which limit forbids it; None where there is a way."""
    caution: str | None = None
    """What the best way comes near to; None where nothing is to be said."""


def plan(coating: Coating, total_um: float, thinner: float = 0.0, sanding_um: float = 0.0) -> Plan:
    """Plan equal coats whose dry film adds up to `total_um`, less what is sanded off between them.

    `thinner` is a fraction of the mixed paint's volume, `sanding_um` what is lost after each coat but the last: one coat loses
    nothing. Reckoned with the volume solids as the card has them; their tolerance is shown in the result. Raises `UsageError`
    for impossible numbers.
    """
    if not 0 < total_um < float("inf") or not 0 <= sanding_um < float("inf"):
        raise UsageError("a film to plan for is above 0, and what is sanded off it is not below 0", "correct the two numbers")
    share = dry_fraction(coating.volume_solids, thinner)
    thinnest, thickest = (limit * share for limit in coating.wet_range_um)
    if total_um > thickest * (1 + ROUNDING) and sanding_um >= thickest:
        return _forbidden(f"sanding: {sanding_um:g} um after each coat take away all of the thickest coat that the wet range allows")
    fewest = _fewest(total_um, thickest, sanding_um)
    if fewest > MOST_COATS:
        raise UsageError(f"{total_um:g} um would take {fewest} coats and more", "look up the unit of the wanted film")
    tried = [_way(coating, coats, total_um, thinner, sanding_um) for coats in range(fewest, MOST_COATS + 1)]
    all_ways = [way for way in tried if way.dry_each_um >= thinnest * (1 - ROUNDING) and _worth_it(way, fewest, sanding_um)]
    if not all_ways:
        return _forbidden(_between(coating, fewest - 1, thinnest, thickest, sanding_um))
    ways = tuple(way for way in all_ways if _within_maximum(coating, way, total_um))
    if not ways:
        return _forbidden(_maximum(coating, all_ways[0], total_um))
    middle = sum(coating.wet_range_um) / 2
    best = min(ways, key=lambda way: abs(way.wet_aim_um - middle))
    return Plan(ways, best, None, _caution(coating, best))


def _fewest(total_um: float, thickest_um: float, sanding_um: float) -> int:
    """Return the fewest coats that come to the total; each but the last loses, so n of them leave n x (dry - sanding) + sanding."""
    if total_um <= thickest_um * (1 + ROUNDING):
        return 1
    return ceil((total_um - sanding_um) / (thickest_um - sanding_um) * (1 - ROUNDING))


def _worth_it(way: CoatPlan, fewest: int, sanding_um: float) -> bool:
    """Tell whether no more of a coat is sanded off than is left of it, or there are no fewer coats that do."""
    return way.coats == fewest or way.dry_each_um >= 2 * sanding_um * (1 - ROUNDING)


def _way(coating: Coating, coats: int, total_um: float, thinner: float, sanding_um: float) -> CoatPlan:
    lost = (coats - 1) * sanding_um
    dry_each = (total_um + lost) / coats
    share = coating.volume_solids_tolerance / coating.volume_solids
    least, most = (max(0.0, (total_um + lost) * factor - lost) for factor in (1 - share, 1 + share))
    return CoatPlan(coats, dry_each / dry_fraction(coating.volume_solids, thinner), dry_each, (least, most))


def _within_maximum(coating: Coating, way: CoatPlan, total_um: float) -> bool:
    if coating.maximum_build is None:
        return True
    reached = total_um if coating.maximum_build.of == "dry" else way.coats * way.wet_aim_um
    return reached <= coating.maximum_build.thickness_um * (1 + ROUNDING)


def _between(coating: Coating, coats: int, thinnest: float, thickest: float, sanding_um: float) -> str:
    low, high = (f"{limit:g}" for limit in coating.wet_range_um)
    if coats < 1:
        return f"wet range: one coat at its lower limit, {low} um, already leaves {thinnest:.3g} um dry"
    return (
        f"wet range: {coats} coat{'s' if coats > 1 else ''} at its upper limit, {high} um, leave{'' if coats > 1 else 's'} only "
        f"{_left(coats, thickest, sanding_um):.3g} um dry, and {coats + 1} at its lower limit, {low} um, already "
        f"{_left(coats + 1, thinnest, sanding_um):.3g} um"
    )


def _left(coats: int, dry_um: float, sanding_um: float) -> float:
    return coats * dry_um - (coats - 1) * sanding_um


def _maximum(coating: Coating, way: CoatPlan, total_um: float) -> str:
    assert coating.maximum_build is not None
    limit = f"{coating.maximum_build.thickness_um:g} um {coating.maximum_build.of}"
    wet = f", and {way.coats * way.wet_aim_um:.4g} um wet are needed" if coating.maximum_build.of == "wet" else ""
    return f"maximum build: the sheet allows {limit} over all coats, {total_um:.4g} um dry are wanted{wet}"


def _caution(coating: Coating, way: CoatPlan) -> str | None:
    said = [words for words in (_maximum_caution(coating, way), _each_caution(coating, way)) if words]
    return "; and ".join(said) or None


def _maximum_caution(coating: Coating, way: CoatPlan) -> str | None:
    build = coating.maximum_build
    if build is None or build.of == "wet" or way.total_range_um[1] <= build.thickness_um * (1 + ROUNDING):
        return None
    return f"with the tolerance of its solids the film may come to {way.total_range_um[1]:.4g} um, above the maximum build"


def _each_caution(coating: Coating, way: CoatPlan) -> str | None:
    """Hold one coat against the dry range for one coat."""
    share = coating.volume_solids_tolerance / coating.volume_solids
    told = dry_range_caution((way.dry_each_um * (1 - share), way.dry_each_um * (1 + share)), coating.dry_range_um)
    return f"in each coat {told}" if told else None


def _forbidden(limit: str) -> Plan:
    return Plan((), None, limit)

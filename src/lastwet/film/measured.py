"""Dry film as measured on the cured film: its summary, the sheet's range, acceptance rules on metal, and the shop's own ratio.

A measurement is what a prediction is not. Which rule was applied, and with which limits, is part of each result.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, sqrt

from lastwet.errors import UsageError
from lastwet.film.build import ROUNDING
from lastwet.film.dry import dry_to_wet_ratio
from lastwet.film.estimate import Estimate
from lastwet.units import Bracket

READINGS_PER_SPOT = 3
"""SSPC-PA 2: a spot measurement is the mean of at least three gage readings in a circle of 4 cm."""
PA2_SPOTS = 5
"""Spots of each area of about 10 m2 (100 ft2), or part of one: SSPC-PA 2, at second hand."""
PA2_EACH, PA2_TEN = 3, 10
"""Up to three such areas, each is measured; up to ten, three of them; beyond, one more of each further ten or part of them. SSPC-PA 2, at
second hand (a trade journal's account; another has 12,500 ft2 take 15 areas, 75 spots)."""
PA2_DEFAULT = (0.80, 1.20)
"""Spots of 80 % of the specified minimum to 120 % of the specified maximum: the default restriction level of SSPC-PA 2."""
ISO_LEAST_UM = 40.0
"""ISO 19840:2012 is not for a nominal dry film below this (its scope)."""
ISO_SINGLE = 0.80
"""No single reading below this share of the nominal dry film."""
ISO_FEW = 0.20
"""Fewer than this share of all readings between 80 % and 100 % of the nominal dry film."""
ISO_READINGS = ((1.0, 5), (3.0, 10), (10.0, 15), (30.0, 20), (100.0, 30))
"""Area in m2 up to which so many readings are the fewest: the sampling plan of ISO 19840:2012, from memory, so look it up."""
ISO_MORE = (100.0, 10)
"""For each further area of so many m2, or part of it, so many readings more: likewise from memory."""
ISO_MAXIMUM = 3.0
"""Default maximum, times the nominal dry film, where none is specified; a common choice."""
SOURCE = "as known here at second hand; the standard decides"
"""Said with the number of readings that a rule takes: somebody may sign for it, and reads no documentation."""
COVERAGE_FACTOR = 2.0
"""Expanded uncertainty = 2 standard uncertainties: about 95 % (JCGM 100:2008, 6.2)."""


@dataclass(frozen=True, slots=True)
class Summary:
    """Readings of a dry film, micrometres."""

    count: int
    minimum_um: float
    mean_um: float
    maximum_um: float
    sd_um: float | None
    """Standard deviation, n - 1 in its divisor; None for one reading."""


@dataclass(frozen=True, slots=True)
class Check:
    """The outcome of one rule."""

    rule: str
    """Which rule, with the limits that it came to."""
    passed: bool
    failures: tuple[str, ...]
    """What was outside, or too little, in words; empty when it passed."""
    enough: bool | None = None
    """Whether the readings are as many as the rule asks for; None where that hangs on an area whose size is not known, or where it asks for
    no number."""

    @property
    def said(self) -> str:
        """The outcome, worded."""
        return "passed" if self.passed else "not passed"


@dataclass(frozen=True, slots=True)
class ShopRatio:
    """Dry over wet film as this shop gets it with this coating: a figure of its own, not the volume solids."""

    value: float | None
    """Mean dry over mean wet; None where the wet readings have no upper end, or where it would be above 1, as no film's is."""
    uncertainty: float | None
    """Expanded, about 95 %; None where there is no value, or where one dry reading shows no scatter."""
    bounds: tuple[float, float]
    """Lowest and highest for the interval of the wet mean, and the dry mean as it is; never above 1."""
    caution: str | None = None
    """What is wrong with the readings; None where nothing is to be said."""


def summarise(readings_um: Sequence[float]) -> Summary:
    """Return least, mean, greatest and standard deviation; raises `UsageError` for none or for what is no film."""
    if not readings_um:
        raise UsageError("there is no dry film reading", "give at least one")
    if not all(0 < reading < float("inf") for reading in readings_um):
        raise UsageError("a dry film reading is not above 0", "leave out what is no film")
    count, mean = len(readings_um), sum(readings_um) / len(readings_um)
    sd = sqrt(sum((reading - mean) ** 2 for reading in readings_um) / (count - 1)) if count > 1 else None
    return Summary(count, min(readings_um), mean, max(readings_um), sd)


def sheet_range(readings_um: Sequence[float], range_um: tuple[float, float]) -> Check:
    """Check every reading against the data sheet's dry range."""
    low, high = range_um
    failures = [f"{reading:.4g} um" for reading in readings_um if not low <= reading <= high]
    outside = (f"{len(failures)} of {len(readings_um)} outside: {', '.join(failures)}",) if failures else ()
    return Check(f"every reading within the data sheet's dry range, {low:.4g} to {high:.4g} um", not outside, outside)


def pa2_spots(areas: float) -> int:
    """Return how many spots SSPC-PA 2 takes of a surface of `areas` times 10 m2, or 100 ft2, which count apart as the standard has both."""
    count = _up(areas) if areas <= PA2_EACH + ROUNDING else PA2_EACH + _up(max(0.0, areas - PA2_TEN) / PA2_TEN)
    return PA2_SPOTS * count


def iso_readings(area_m2: float) -> int:
    """Return how many readings ISO 19840 takes of an area, at the least; from memory."""
    most_m2, most = ISO_READINGS[-1]
    further = ISO_MORE[1] * _up(max(0.0, area_m2 - most_m2) / ISO_MORE[0])
    return next((fewest for limit_m2, fewest in ISO_READINGS if area_m2 <= limit_m2), most) + further


def _up(value: float) -> int:
    """Round up, but for what binary fractions add."""
    return ceil(value - ROUNDING)


def pa2_default(spots_um: Sequence[Sequence[float]], specified_um: tuple[float, float], areas: float | None = None) -> Check:
    """Check spots, each of at least three readings, by SSPC-PA 2 at its default level; for metal.

    Each spot is the mean of its readings and lies within 80 % of the specified minimum and 120 % of the maximum; the mean of the
    spots of an area lies within the specified range. Single readings are not restricted. (One source has 120 % of the minimum;
    the standard has it of the maximum.) `areas` is the size of the surface, as for `pa2_spots`; None where it is not known.
    Where that is more than one area, the spots are taken by fives, one area after the other.
    """
    if any(len(spot) < READINGS_PER_SPOT for spot in spots_um):
        raise UsageError("SSPC-PA 2 takes the mean of at least three readings for each spot", "give each spot its three readings")
    least, most = (share * limit for share, limit in zip(PA2_DEFAULT, specified_um, strict=True))
    means = [summarise(spot).mean_um for spot in spots_um]
    failures = [f"spot {number}: {mean:.4g} um" for number, mean in enumerate(means, 1) if not least <= mean <= most]
    several = areas is not None and areas > 1 + ROUNDING
    for number, spots in enumerate(_by_area(means) if several else [means], 1):
        area = summarise(spots).mean_um
        if not specified_um[0] <= area <= specified_um[1]:
            failures.append(f"{f'area {number}' if several else 'area'} mean: {area:.4g} um")
    rule = (
        f"SSPC-PA 2, default level 80/120, on metal: spot means within {least:.4g} to {most:.4g} um, "
        f"area mean within {specified_um[0]:.4g} to {specified_um[1]:.4g} um"
    )
    return _counted(rule, failures, len(means), "spot", PA2_SPOTS, None if areas is None else pa2_spots(areas))


def _by_area(spots_um: Sequence[float]) -> list[Sequence[float]]:
    """Put spots together by fives, as the areas were measured one after the other; what is over belongs to the last."""
    last = PA2_SPOTS * max(0, len(spots_um) // PA2_SPOTS - 1)
    return [*(spots_um[first : first + PA2_SPOTS] for first in range(0, last, PA2_SPOTS)), spots_um[last:]]


def _counted(rule: str, failures: Sequence[str], count: int, what: str, fewest: int, needed: int | None) -> Check:
    """Return the outcome of a rule that asks for a number of readings: `needed` for the area, None where its size is not known.

    Fewer than the `fewest` that any area takes are too few even then.
    """
    told, takes = f"{count} {what}{'s' if count > 1 else ''}", f"takes {needed or fewest}, {SOURCE}"
    if count < (needed or fewest):
        few = f"{told}, where {'an area of this size' if needed else 'even the smallest area'} {takes}"
        return Check(f"{rule}; from {told}", False, (*failures, few), False)
    unchecked = "the number was not checked against the area, whose size was not stated"
    of_area = f"an area of this size {takes}" if needed else unchecked
    return Check(f"{rule}; from {told}, {of_area}", not failures, tuple(failures), True if needed else None)


def iso_19840(readings_um: Sequence[float], nominal_um: float, maximum_um: float | None = None, area_m2: float | None = None) -> Check:
    """Check single readings against a nominal dry film by ISO 19840; for blasted metal, not below 40 um nominal.

    Mean at least nominal, each reading at least 80 % of it, fewer than 20 % of them between 80 % and 100 %, none above the maximum, and as
    many as the area takes; None where its size is not known.
    """
    if nominal_um < ISO_LEAST_UM:
        raise UsageError(f"ISO 19840 is not for a nominal dry film of {nominal_um:.3g} um", f"it begins at {ISO_LEAST_UM:g} um")
    most, summary = maximum_um or ISO_MAXIMUM * nominal_um, summarise(readings_um)
    between = sum(ISO_SINGLE * nominal_um <= reading < nominal_um for reading in readings_um)
    found = (
        (summary.mean_um < nominal_um, f"mean {summary.mean_um:.4g} um"),
        (summary.minimum_um < ISO_SINGLE * nominal_um, f"lowest reading {summary.minimum_um:.4g} um"),
        (between >= ISO_FEW * summary.count, f"{between} of {summary.count} readings between 80 % and 100 %"),
        (summary.maximum_um > most, f"highest reading {summary.maximum_um:.4g} um"),
    )
    failures = tuple(words for failed, words in found if failed)
    rule = (
        f"ISO 19840, on metal, nominal {nominal_um:.4g} um: mean at least that, every reading at least {ISO_SINGLE * nominal_um:.4g} um, "
        f"fewer than 20 % of them below nominal, none above {most:.4g} um"
    )
    needed = None if area_m2 is None else iso_readings(area_m2)
    return _counted(rule, failures, summary.count, "reading", ISO_READINGS[0][1], needed)


def shop_ratio(wet: Estimate, dry_um: Sequence[float]) -> ShopRatio:
    """Return the dry-to-wet ratio from a coat's wet readings and the dry film measured on it; raises `UsageError` if impossible.

    Standard uncertainties are combined as for a quotient (JCGM 100:2008, 5.1.6): of the wet mean, its standard error or else its
    bounds taken as a rectangle (4.3.7); of the dry mean, standard deviation / sqrt(n).
    """
    dry, (low, high) = summarise(dry_um), wet.mean_interval_um
    bounds = dry_to_wet_ratio(Bracket(low, high), dry.mean_um)
    if wet.mean_um is None or high is None:
        return ShopRatio(None, None, bounds)
    value = dry.mean_um / wet.mean_um
    if value > 1:
        return ShopRatio(None, None, bounds, _thicker_than_wet(dry.mean_um, wet.mean_um))
    if dry.sd_um is None:
        return ShopRatio(value, None, bounds)
    wet_uncertainty = (high - low) / sqrt(12) if wet.mean_se_um is None else wet.mean_se_um
    relative = sqrt((wet_uncertainty / wet.mean_um) ** 2 + (dry.sd_um / sqrt(dry.count) / dry.mean_um) ** 2)
    return ShopRatio(value, COVERAGE_FACTOR * relative * value, bounds)


def _thicker_than_wet(dry_um: float, wet_um: float) -> str:
    return (
        f"the dry film, {dry_um:.3g} um, is thicker than the mean wet film, {wet_um:.3g} um, which no film can be: no ratio is told; "
        "look up both readings and their units; a late dip reads low"
    )

"""Wet film to dry film and back, and the verdict of a wet bracket against a data sheet's range.

The dry film left when the carrier has gone is DFT = WFT x VS / (1 + T), with VS the volume solids of the mixed paint before
thinning and T the thinner added, as a fraction of the mixed paint's volume (MIL-HDBK-1110 / UFC 3-190-06, 2.1.5 and
Procedure 13; with thinner: Metal Finishing, Organic Finishing Guidebook 2012-2013, p. 615). It is a prediction, not a
measurement: see docs/film.md. `PREDICTION` says so wherever one is shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import ceil, inf

from lastwet.errors import UsageError
from lastwet.units import Bracket, show_bracket, show_length

PREDICTION = "predicted from wet readings, not a dry film measurement: for adjusting the gun, not for acceptance"
"""What stands beside every predicted dry film."""
RECKONED = "reckoned from the volume solids as stated: for adjusting the gun, not for acceptance"
"""What stands beside a wet film to aim for, of which nothing was read yet."""

LIMIT_TOLERANCE = 0.02
"""A limit within this fraction of a tooth's value counts as that value.

Data sheets and gauges print 1 mil as 25 um where 25.4 is exact, so one and the same limit differs by 1.6 % between the two
scales; ASTM D4414 7.1.2 prints 6 mil as 150 um and 10 mil as 250 um, by the same step. 2 % covers that and is well below the
step between two teeth.
"""


class Verdict(StrEnum):
    """Where a bracket lies against a range."""

    BELOW = "below"
    INSIDE = "inside"
    ABOVE = "above"
    STRADDLES = "straddles"


@dataclass(frozen=True, slots=True)
class Judgement:
    """A verdict, and the limits that the bracket cannot decide."""

    verdict: Verdict
    straddled_um: tuple[float, ...] = ()
    """The limits that lie between the ends of the bracket, as the range gives them, rising; empty unless it straddles."""


def dry_fraction(solids: float, thinner: float = 0.0) -> float:
    """Return the part of the wet film that stays, 0..1.

    Parameters
    ----------
    solids
        Volume solids of the mixed paint before thinning, a fraction above 0 and up to 1.
    thinner
        Volume of thinner over volume of mixed paint, a fraction from 0.

    Raises
    ------
    UsageError
        When either is outside its range.
    """
    if not 0 < solids <= 1:
        raise UsageError(f"volume solids of {solids:.4g} as a fraction are not possible", "give more than 0 % and at most 100 %")
    if not 0 <= thinner < float("inf"):
        raise UsageError(f"thinner of {thinner:.4g} as a fraction is not possible", "give 0 % or more, by volume of the mixed paint")
    return solids / (1 + thinner)


def predict_dry(wet: Bracket, solids: float, thinner: float = 0.0, tolerance: float = 0.0) -> Bracket:
    """Predict the dry film from a wet bracket, both in micrometres.

    Arguments as in `dry_fraction`; `tolerance` is plus or minus on `solids` and widens the bracket at both ends. An open
    bracket stays open.
    """
    least, most = _dry_fractions(solids, thinner, tolerance)
    return Bracket(wet.low_um * least, None if wet.high_um is None else wet.high_um * most)


def wet_for_dry(dry: Bracket, solids: float, thinner: float = 0.0, tolerance: float = 0.0) -> Bracket:
    """Return the wet film that may have dried to `dry`: the inverse of `predict_dry`, but for `tolerance`, which widens here too.

    For a film to aim at, see `wet_within`.
    """
    least, most = _dry_fractions(solids, thinner, tolerance)
    return Bracket(dry.low_um / most, None if dry.high_um is None else dry.high_um / least)


def wet_within(dry_um: tuple[float, float], solids: float, thinner: float = 0.0, tolerance: float = 0.0) -> tuple[float, float]:
    """Return the wet film, least and most, that surely dries to within `dry_um`: `tolerance` narrows it at both ends.

    Raises `UsageError` where the tolerance alone is wider than the wanted film, so that no wet film surely does.
    """
    least, most = _dry_fractions(solids, thinner, tolerance)
    low, high = dry_um[0] / least, dry_um[1] / most
    if low > high:
        apart = ceil(100 * most / least) / 100
        raise UsageError(
            f"no wet film surely dries to {dry_um[0]:.4g} to {dry_um[1]:.4g} um, since the volume solids have a tolerance",
            f"want a range whose upper end is at least {apart:g} times the lower one, or a single length, for which the spread is told",
        )
    return low, high


def show_thinner(thinner: float | None) -> str:
    """Word the thinner, as volume over volume of mixed paint; None where it was not stated."""
    return "no thinner stated" if thinner is None else f"{thinner * 100:g} % thinner"


def reckoned_thinner(thinner: float | None) -> float:
    """Return the thinner that is reckoned with: none where none was stated."""
    return thinner or 0.0


def thinner_caution(thinner: float, most: float | None, coating: str | None) -> str | None:
    """Say that there is more thinner than the card of that name allows; both as volume over volume of mixed paint."""
    if most is None or thinner <= most * (1 + 1e-9):  # a share of the base is converted, and not exact
        return None
    return f"{thinner * 100:g} % thinner is more than {coating} allows, {most * 100:.3g} %"


def dry_range_caution(dry_um: tuple[float, float | None], range_um: tuple[float, float] | None) -> str | None:
    """Say that a predicted dry film lies wholly or partly outside the data sheet's dry range; None where it lies within, or there is none.

    `dry_um` is its least and most, in micrometres; None for no upper end. A wet film inside the wet range may dry to less than the
    dry range, as one with thinner in it does. A limit that is passed by no more than `LIMIT_TOLERANCE` counts as kept.
    """
    if range_um is None:
        return None
    least, most = dry_um[0], inf if dry_um[1] is None else dry_um[1]
    below, above = least < range_um[0] * (1 - LIMIT_TOLERANCE), most > range_um[1] * (1 + LIMIT_TOLERANCE)
    if not below and not above:
        return None
    wholly = most < range_um[0] or least > range_um[1]
    place = "outside" if below and above else "below" if below else "above"
    cure = "" if below and above else "; more wet film brings it up" if below else "; less wet film brings it down"
    dried = f"{show_length(least, 'um')} um" if least == most else show_bracket(Bracket(*dry_um), "um")
    wanted = show_bracket(Bracket(*range_um), "um")
    return f"the predicted dry film, {dried}, lies {'' if wholly else 'partly '}{place} the dry range of the data sheet, {wanted}{cure}"


def _dry_fractions(solids: float, thinner: float, tolerance: float) -> tuple[float, float]:
    if not 0 <= tolerance < solids:
        raise UsageError(f"a tolerance of {tolerance:.4g} on volume solids of {solids:.4g} is not possible", "give less than the solids")
    dry_fraction(solids, thinner)  # raises where the value itself is impossible; with its tolerance it may touch the whole volume
    return dry_fraction(solids - tolerance, thinner), dry_fraction(min(solids + tolerance, 1.0), thinner)


def dry_to_wet_ratio(wet: Bracket, dry_um: float) -> tuple[float, float]:
    """Return the dry-to-wet ratio of one film whose wet bracket and measured dry thickness are known, (lowest, highest).

    This is a shop's own figure for one paint, thinning and way of spraying. It is not the volume solids: readings of a notched
    gauge are not to be used to verify those (ASTM D4414, 4.2). A ratio over 1 is not possible and is cut off there; raises
    `UsageError` where the whole bracket is thinner than the dry film.
    """
    if not 0 < dry_um < float("inf"):
        raise UsageError(f"a dry film of {dry_um:g} um is not possible", "give a thickness above 0")
    least = 0.0 if wet.high_um is None else dry_um / wet.high_um
    if least >= 1:
        raise UsageError("the dry film is thicker than the wet film was", "look up both readings, and their units")
    return least, min(1.0, dry_um / wet.low_um) if wet.low_um else 1.0


def verdict(wet: Bracket, range_um: tuple[float, float]) -> Judgement:
    """Judge a bracket against a range whose limits are in micrometres, lower limit first.

    Below: the bracket ends at or under the lower limit. Above: it begins at or over the upper limit. Inside: it lies
    within both. Otherwise it straddles one limit or both: the gauge cannot say on which side the film is. A limit within
    `LIMIT_TOLERANCE` of an end of the bracket counts as that end. An open bracket is never inside.
    """
    lower, upper = (_as_tooth(limit, wet) for limit in range_um)
    low, high = wet.low_um, float("inf") if wet.high_um is None else wet.high_um
    if high <= lower:
        return Judgement(Verdict.BELOW)
    if low >= upper:
        return Judgement(Verdict.ABOVE)
    if low >= lower and high <= upper:
        return Judgement(Verdict.INSIDE)
    compared = zip(range_um, (lower, upper), strict=True)
    return Judgement(Verdict.STRADDLES, tuple(given for given, limit in compared if low < limit < high))


def _as_tooth(limit_um: float, wet: Bracket) -> float:
    """Return the end of the bracket that `limit_um` stands for, else the limit itself."""
    ends = (wet.low_um,) if wet.high_um is None else (wet.low_um, wet.high_um)
    nearest = min(ends, key=lambda end: abs(end - limit_um))
    return nearest if abs(nearest - limit_um) <= LIMIT_TOLERANCE * nearest else limit_um

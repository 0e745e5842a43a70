"""Film in words: micrometres first, mil beside them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import floor, log10

from lastwet.film.dialin import Advice, Lever
from lastwet.film.dry import Verdict
from lastwet.film.estimate import Chance, Estimate
from lastwet.film.measured import Check
from lastwet.units import Bracket, Unit, show_bracket, show_length

Line = tuple[str, str]
"""A term and what is said of it."""

UNITS: tuple[Unit, Unit] = ("um", "mil")


def length(value_um: float) -> str:
    """Print a length in both units."""
    own, other = (f"{show_length(value_um, unit)} {unit}" for unit in UNITS)
    return f"{own} ({other})"


def bracket(of: Bracket) -> str:
    """Print a bracket in both units."""
    own, other = (show_bracket(of, unit) for unit in UNITS)
    return f"{own} ({other})"


def span(ends_um: tuple[float, float | None]) -> str:
    """Print what lies between two lengths in both units; None for no upper end."""
    low, high = ends_um
    own, other = (
        f"{show_length(low, unit)} {unit} or more" if high is None else f"{show_length(low, unit)} to {show_length(high, unit)} {unit}"
        for unit in UNITS
    )
    return f"{own} ({other})"


def fixed(value: float) -> str:
    """Print a number to three digits or all before the point, never with an exponent: "1691", "22.0", "0.0550"."""
    decimals = max(0, 2 - floor(log10(value))) if value > 0 else 0
    return f"{value:.{decimals}f}"


def factor(ends: tuple[float, float | None]) -> str:
    """Print a factor that is only known to lie between two ends."""
    low, high = ends
    if high is None:
        return f"{low:.2f} or more"
    return f"{low:.2f} to {high:.2f}" if low else f"at most {high:.2f}"


def advice_lines(advice: Advice) -> Iterator[Line]:
    """Say what to change before the next pass."""
    yield "aim", f"{length(advice.aim_um)}; the film is {factor(advice.times_aim)} x that"
    if advice.judgement.verdict is Verdict.INSIDE and any(advice.outside):
        below, above = advice.outside
        yield "next pass", f"lay it down more evenly: spots below the range {below}, above {above}, though their mean is inside"
        yield "", "mind overlap, pace and distance rather than flow, and read again"
    elif advice.judgement.verdict is Verdict.INSIDE:
        yield "next pass", "change nothing, and read again"
    elif not advice.levers:
        yield "next pass", "no bracket here is narrow enough to tell: read with a side that has closer teeth"
    else:
        yield "next pass", " or ".join(_lever(lever) for lever in advice.levers) + "; one at a time, then read again"
        yield "", "flow changes the transfer efficiency as well, so the film need not follow it exactly"


def _lever(lever: Lever) -> str:
    to = f" (to {_ends(lever.to)} {lever.unit})" if lever.to else ""
    return f"{lever.name} x {factor(lever.factor)}{to}"


def _ends(ends: tuple[float, float | None]) -> str:
    low, high = ends
    if high is None:
        return f"{fixed(low)} or more"
    return f"{fixed(low)} to {fixed(high)}" if low else f"at most {fixed(high)}"


def verdict_words(advice: Advice) -> str:
    """Say where the film lies against the range."""
    limits = " and ".join(length(limit) for limit in advice.judgement.straddled_um)
    return f"straddles {limits}" if limits else advice.judgement.verdict.value


def check_lines(checks: Iterable[Check]) -> Iterator[Line]:
    """Say what each rule says of a measured film."""
    for each in checks:
        yield each.said, each.rule
        for failure in each.failures:
            yield "", failure


def estimate_lines(found: Estimate, odds: Chance | None) -> Iterator[Line]:
    """Say what several readings come to."""
    if found.mean_um is not None:
        how = "the middle of the two ends below" if found.confidence is None else "the most likely, of spots spread normally"
        yield "mean", f"{length(found.mean_um)}, {how}"
    if found.confidence is None:
        yield "mean between", f"{span(found.mean_interval_um)}, for the spots that were read"
        floor = f"; the gauge's own step / sqrt(12) is {length(found.floor_um)}" if found.floor_um else ""
        yield "spread", f"cannot be estimated from these readings{floor}"
        return
    yield "mean between", f"{span(found.mean_interval_um)}, {found.confidence * 100:g} %"
    if found.spread_um is not None and found.spread_interval_um is not None:
        yield "spread", f"{length(found.spread_um)} standard deviation between spots, {span(found.spread_interval_um)}"
    if odds:
        yield "in the range", f"the mean with probability {odds.mean:.2f}, one more spot with {odds.spot:.2f}"

"""Dialling in: what to change for the next pass, and when the gun is set.

Deposit of one pass, from a volume balance over the area that the gun covers in a second:

    wet film = flow x transfer efficiency / (speed x fan width x (1 - overlap)) x passes

That closer or slower makes a thicker film, farther or faster a thinner one: TM 1-1500-344-23-2 / NAVAIR 01-1A-509-2 (2009), A-8.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields

from lastwet.errors import UsageError
from lastwet.film.dry import Judgement, Verdict, reckoned_thinner, verdict
from lastwet.units import Bracket

READINGS_IN_A_ROW = 3
"""Readings inside the range, settings unchanged, after which the gun counts as dialled in.

Three readings at different places are common practice; the number is this project's choice.
"""


@dataclass(frozen=True, slots=True)
class Settings:
    """How the gun was set and moved; what is not known is None."""

    tip: str | None = None
    """Tip or needle, as its maker numbers it."""
    fluid_pressure_bar: float | None = None
    air_pressure_bar: float | None = None
    """Atomising air."""
    distance_mm: float | None = None
    """Gun to work."""
    speed_mm_s: float | None = None
    """Pace of the gun along the work."""
    flow_ml_min: float | None = None
    """Fluid through the gun."""
    fan_mm: float | None = None
    """Width of the fan on the work."""
    overlap: float | None = None
    """Share of the fan that lies on the stroke before, 0 to below 1."""
    passes: int | None = None
    """Strokes laid over each place, such as 2 for crossed passes."""
    other: Mapping[str, str] = field(default_factory=dict)
    """Whatever else was set, by its name."""

    def __post_init__(self) -> None:
        """Raise `UsageError` for what no gun can be set to."""
        for each in fields(self):
            value = getattr(self, each.name)
            if isinstance(value, int | float) and each.name != "overlap" and not 0 < value < float("inf"):
                raise UsageError(f"{_words(each.name)} of {value:g} is not possible", "give a number above 0")
        if self.overlap is not None and not 0 <= self.overlap < 1:
            raise UsageError(f"an overlap of {self.overlap * 100:g} % is not possible", "give 0 % or more, below 100 %")


def _words(name: str) -> str:
    """Turn the name of a field into words with its unit."""
    name = name.replace("_bar", " in bar").replace("_mm_s", " in mm/s").replace("_mm", " in mm").replace("_ml_min", " in ml/min")
    return name.replace("_", " ")


def deposit_um(
    flow_ml_min: float, transfer_efficiency: float, speed_mm_s: float, fan_mm: float, overlap: float = 0.0, passes: int = 1
) -> float:
    """Return the wet film that the deposit relation gives; the transfer efficiency is a fraction of the paint's volume."""
    mm3_s = flow_ml_min * 1000 / 60
    return mm3_s * transfer_efficiency / (speed_mm_s * fan_mm * (1 - overlap)) * passes * 1000


def transfer(wet: Bracket, settings: Settings) -> tuple[float, float | None] | None:
    """Return the transfer efficiency that the deposit relation makes of a wet film, (least, most), as a fraction of the volume.

    None where a setting that it needs was not stated. Above 1 a setting or the reading is wrong: nothing lays down more paint
    than leaves the gun.
    """
    gun = settings
    if gun.flow_ml_min is None or gun.speed_mm_s is None or gun.fan_mm is None or gun.overlap is None or gun.passes is None:
        return None
    all_of_it_um = deposit_um(gun.flow_ml_min, 1.0, gun.speed_mm_s, gun.fan_mm, gun.overlap, gun.passes)
    return wet.low_um / all_of_it_um, None if wet.high_um is None else wet.high_um / all_of_it_um


@dataclass(frozen=True, slots=True)
class Lever:
    """One thing to change, all others as they are."""

    name: str
    unit: str
    factor: tuple[float, float | None]
    """Multiply by this, (lowest, highest); None for no upper end."""
    to: tuple[float, float | None] | None
    """What it then is; None where its value now is not known."""


@dataclass(frozen=True, slots=True)
class Advice:
    """What to change before the next pass: any one lever, not all of them."""

    judgement: Judgement
    """Where the film lies against the wet range."""
    aim_um: float
    times_aim: tuple[float, float | None]
    """Wet film over the aim; a range, because a reading is a bracket. None for no upper end."""
    levers: tuple[Lever, ...]
    """Empty where nothing is to be changed, and where the bracket covers the whole range: the gauge is too coarse to tell.

    A film that may be too thick is made thinner or left, never thicker, and the other way round: factors end at 1 there."""
    outside: tuple[int, int] = (0, 0)
    """How many single spots lie below the wet range, and how many above, whatever their mean."""


def advise(
    wet: Bracket,
    wet_range_um: tuple[float, float],
    aim_um: float | None = None,
    settings: Settings | None = None,
    spots: Sequence[Bracket] = (),
) -> Advice:
    """Advise on the next pass from the wet film of the last one.

    `wet` is a reading or the bounds of a coat's mean, `aim_um` the wanted wet film, by default the middle of the range, `spots` the
    readings of which it is the mean. A film inside the range is left alone. Flow also changes the transfer efficiency, and distance
    the fan: read again after any change.
    """
    aim = sum(wet_range_um) / 2 if aim_um is None else aim_um
    if not wet_range_um[0] <= aim <= wet_range_um[1]:
        raise UsageError(f"the aim of {aim:g} um lies outside the wet range", "aim within it")
    judged = verdict(wet, wet_range_um)
    times = (wet.low_um / aim, None if wet.high_um is None else wet.high_um / aim)
    leave = judged.verdict is Verdict.INSIDE or len(judged.straddled_um) > 1
    each = [verdict(spot, wet_range_um).verdict for spot in spots]
    outside = each.count(Verdict.BELOW), each.count(Verdict.ABOVE)
    levers = () if leave else tuple(_levers(_one_way(times, judged, wet_range_um), settings or Settings()))
    return Advice(judged, aim, times, levers, outside)


def _one_way(times: tuple[float, float | None], judged: Judgement, wet_range_um: tuple[float, float]) -> tuple[float, float | None]:
    """Cut the range of factors at 1 on the side that would bring the film farther over the limit that it may have passed."""
    low, high = times
    if judged.verdict is Verdict.ABOVE or judged.straddled_um == (wet_range_um[1],):
        return max(1.0, low), high
    return low, None if high is None else min(1.0, high)


def _levers(times: tuple[float, float | None], now: Settings) -> Iterable[Lever]:
    low, high = times
    inverse = (0.0 if high is None else 1 / high, 1 / low if low else None)
    yield Lever("speed", "mm/s", times, _scaled(now.speed_mm_s, times))
    yield Lever("flow", "ml/min", inverse, _scaled(now.flow_ml_min, inverse))


def _scaled(value: float | None, factor: tuple[float, float | None]) -> tuple[float, float | None] | None:
    return None if value is None else (value * factor[0], None if factor[1] is None else value * factor[1])


@dataclass(frozen=True, slots=True)
class Attempt:
    """One reading and how the gun was set for it."""

    settings: Settings
    wet: Bracket
    thinner: float | None = None
    """Volume of thinner over volume of mixed paint: thinner paint is another setting. None where it was not stated, taken as none."""
    coat: int | None = None
    """Which coat was read, where that is known."""

    def as_set(self, other: Attempt) -> bool:
        """Tell whether nothing was changed between this attempt and the other.

        Two coats of which nothing was stated need not have been sprayed alike; two readings of one coat were.
        """
        if self.coat != other.coat and self.settings == Settings():
            return False
        return (self.settings, reckoned_thinner(self.thinner)) == (other.settings, reckoned_thinner(other.thinner))


def inside_in_a_row(attempts: Sequence[Attempt], wet_range_um: tuple[float, float]) -> int:
    """Count the latest attempts, back from the last, that have its settings and lie inside the range with their whole bracket."""
    count = 0
    for attempt in reversed(attempts):
        if not attempt.as_set(attempts[-1]) or verdict(attempt.wet, wet_range_um).verdict is not Verdict.INSIDE:
            break
        count += 1
    return count


def dialled_in(attempts: Sequence[Attempt], wet_range_um: tuple[float, float], needed: int = READINGS_IN_A_ROW) -> bool:
    """Tell whether the last attempts satisfy the rule: `needed` readings in a row, settings unchanged, each whole bracket inside."""
    return inside_in_a_row(attempts, wet_range_um) >= needed


def recall(attempts: Sequence[Attempt], wet_range_um: tuple[float, float], needed: int = READINGS_IN_A_ROW) -> Attempt | None:
    """Return the last attempt with which the rule was satisfied, though later ones may fail it; None where there is none."""
    ends = range(len(attempts), needed - 1, -1)
    return next((attempts[end - 1] for end in ends if dialled_in(attempts[:end], wet_range_um, needed)), None)


def can_decide(brackets: Iterable[Bracket], wet_range_um: tuple[float, float]) -> bool:
    """Tell whether a gauge's side has a bracket that lies inside the range; without one it never shows a gauge to be dialled in."""
    return any(verdict(bracket, wet_range_um).verdict is Verdict.INSIDE for bracket in brackets)

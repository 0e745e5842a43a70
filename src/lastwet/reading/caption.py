"""What stands below the picture of an outcome: the bracket in both units, or why the photo was not read and what to do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from lastwet.gauge import Gauge
from lastwet.reading.outcome import Outcome, Reading, Refusal
from lastwet.units import Unit, from_um, to_um

Weight = Literal["first", "body", "cure", "last"]
"""What a line is, from which its type and tone follow: the outcome, what is to be said of it, what to do, and of which gauge."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the caption."""

    text: str
    weight: Weight
    beside: str = ""
    """Printed smaller after the text, on the same line."""


def caption_lines(outcome: Outcome, gauge: Gauge) -> tuple[Line, ...]:
    """Word the caption: the bracket in both units, or why the photo was not read and what to do."""
    lines = _reading_lines(outcome) if isinstance(outcome, Reading) else _refusal_lines(outcome)
    side = f", side {outcome.side.id}" if outcome.side else ""
    return (*lines, Line(f"{gauge.name}{side}", "last"))


def _reading_lines(reading: Reading) -> list[Line]:
    other: Unit = "um" if reading.side.unit == "mil" else "mil"
    return [
        Line(bracket_text(reading, reading.side.unit), "first", beside=bracket_text(reading, other)),
        Line(f"Wet film. {_deciding_text(reading)}", "body"),
    ]


def bracket_text(reading: Reading, unit: Unit) -> str:
    """Print the wet bracket: stamped values as they stand in the side's own unit, converted ones rounded."""
    side, last_wet = reading.side, reading.last_wet
    low, high = (None if value is None else _number(value, side.unit, unit) for value in _ends(side.teeth, last_wet))
    if high is None:
        return f"{low} {unit} or more"
    return f"{low} to {high} {unit}" if low else f"below {high} {unit}"


def _ends(teeth: tuple[float, ...], last_wet: int) -> tuple[float | None, float | None]:
    ends = (None, *teeth, None)
    return ends[last_wet], ends[last_wet + 1]


def _number(value: float, stamped: Unit, unit: Unit) -> str:
    if stamped == unit:
        return f"{value:g}"
    converted = from_um(to_um(value, stamped), unit)
    return f"{converted:.0f}" if converted >= 100 else f"{converted:.1f}" if converted >= 10 or unit == "um" else f"{converted:.2f}"


def _deciding_text(reading: Reading) -> str:
    low, high = _ends(reading.side.teeth, reading.last_wet)
    if low is None:
        return f"No tooth is wet. Compare {high:g} with the lowest number stamped on this side."
    if high is None:
        return f"Every tooth is wet: turn to the next side up. Compare {low:g} with the highest number stamped on this side."
    return f"Last wet tooth {low:g}, to be compared with the number stamped there."


def _refusal_lines(refusal: Refusal) -> list[Line]:
    reasons = [line for reason in refusal.reasons for line in (Line(reason.message, "body"), Line(reason.cure, "cure"))]
    return [Line("Not read", "first"), *reasons]

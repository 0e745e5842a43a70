"""Lengths of film: micrometres inside, mil and micrometre at the borders."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from lastwet.errors import UsageError

Unit = Literal["mil", "um"]

MIL_UM = 25.4
"""Micrometres in one mil (0.001 in), exact since the inch is 25.4 mm by definition."""

_UM_PER_UNIT: dict[str, float] = {"um": 1.0, "µm": 1.0, "μm": 1.0, "micron": 1.0, "microns": 1.0, "mil": MIL_UM, "mils": MIL_UM}
_NUMBER = r"\d+(?:\.\d+)?"
_LENGTH = re.compile(rf"\s*({_NUMBER})\s*([a-zµμ]+)\s*", re.IGNORECASE)
_RANGE = re.compile(rf"\s*({_NUMBER})\s*(?:-|–|to)\s*({_NUMBER})\s*([a-zµμ]+)\s*", re.IGNORECASE)

_OPEN = re.compile(r"(.*[a-zµμ])\s*(?:\+|or more)\s*", re.IGNORECASE)
_BELOW = re.compile(r"\s*(?:below|under)\s(.*)", re.IGNORECASE)


def to_um(value: float, unit: str) -> float:
    """Convert a length to micrometres; raises `UsageError` for an unknown unit."""
    try:
        return value * _UM_PER_UNIT[unit.lower()]
    except KeyError:
        raise UsageError(f"'{unit}' is not a unit of film thickness", "write um or mil") from None


def from_um(value_um: float, unit: Unit) -> float:
    """Convert micrometres to `unit`."""
    return value_um / _UM_PER_UNIT[unit]


def parse_length_um(text: str) -> float:
    """Read "100 um" or "4mil" as micrometres; raises `UsageError` without a number and a unit."""
    match = _LENGTH.fullmatch(text)
    if not match:
        raise UsageError(f"'{text}' is not a film thickness", "write a number and its unit, as in 100um or 4mil")
    return to_um(float(match[1]), match[2])


def parse_range_um(text: str) -> tuple[float, float]:
    """Read "110-150um" or "3 to 5 mil" as (low, high) micrometres; raises `UsageError` when it is upside down."""
    match = _RANGE.fullmatch(text)
    if not match:
        raise UsageError(f"'{text}' is not a range of film thickness", "write low-high and the unit, as in 110-150um or 3-5mil")
    low, high = to_um(float(match[1]), match[3]), to_um(float(match[2]), match[3])
    if low >= high:
        raise UsageError(f"the range '{text}' is upside down or empty", "write the lower limit first")
    return low, high


@dataclass(frozen=True, slots=True)
class Bracket:
    """A film thickness known only to lie in [low, high): all that a notched gauge can say."""

    low_um: float
    """Clearance of the last wet tooth, 0 where none is wet; micrometres."""
    high_um: float | None
    """Clearance of the next tooth; None where every tooth is wet, so no upper end is known."""

    def __post_init__(self) -> None:
        if self.low_um < 0 or (self.high_um is not None and self.high_um <= self.low_um):
            raise ValueError(f"empty bracket [{self.low_um}, {self.high_um})")

    def scaled(self, factor: float) -> Bracket:
        """Return the bracket with both ends multiplied by a positive `factor`."""
        return Bracket(self.low_um * factor, None if self.high_um is None else self.high_um * factor)


def parse_bracket(text: str) -> Bracket:
    """Read a bracket as `show_bracket` prints it, or shorter: "110-140um", "below 40um" or "0-40um", "215um or more" or "215um+".

    Raises `UsageError`; a single value is no bracket.
    """
    if match := _OPEN.fullmatch(text):
        return Bracket(parse_length_um(match[1]), None)
    if match := _BELOW.fullmatch(text):
        return Bracket(0.0, _above_zero(text, parse_length_um(match[1])))
    if _LENGTH.fullmatch(text):
        raise UsageError(f"'{text}' is one value, and a notched gauge gives two", "write last wet tooth-next tooth, as in 110-140um")
    return Bracket(*parse_range_um(text))


def _above_zero(text: str, length_um: float) -> float:
    if not length_um:
        raise UsageError(f"'{text}' is no film", "give a thickness above 0")
    return length_um


def show_length(value_um: float, unit: Unit) -> str:
    """Print a length in `unit`, rounded to what a film gauge can mean, without the unit."""
    value = from_um(value_um, unit)
    decimals = 0 if value >= 100 else 1 if value >= 10 or unit == "um" else 2
    return f"{round(value, decimals):g}"


def show_bracket(bracket: Bracket, unit: Unit) -> str:
    """Print a bracket in `unit`: "5.51 to 6.89 mil", "below 1 mil", "215 um or more"."""
    if bracket.high_um is None:
        return f"{show_length(bracket.low_um, unit)} {unit} or more"
    high = f"{show_length(bracket.high_um, unit)} {unit}"
    return f"{show_length(bracket.low_um, unit)} to {high}" if bracket.low_um else f"below {high}"

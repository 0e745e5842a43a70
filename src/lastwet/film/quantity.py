"""Quantities as people and data sheets write them, each with its unit: durations, shares, temperatures, areas, mix ratios.

Inside, a duration is seconds, a share a fraction, a temperature degrees Celsius, an area square metres.
"""

from __future__ import annotations

import re

from lastwet.errors import UsageError

Span = tuple[float, float | None]
"""From and until, in seconds; None for no end."""

M2_PER_FT2 = 0.09290304
"""Square metres in one square foot, exact since the foot is 0.3048 m."""
L_PER_US_GALLON = 3.785411784
"""Litres in one US gallon, exact: 231 cubic inches."""

LEAST_PERCENT = 1.0
"""Where a whole number of percent is usual, less than this is a fraction written for a percentage: 0.57 for 57 %; our choice."""

_NUMBER = r"(\d+(?:\.\d+)?)"
_PERCENT = re.compile(rf"\s*{_NUMBER}\s*%\s*")
_SOLIDS = re.compile(rf"\s*{_NUMBER}\s*(?:(?:\+/-|±)\s*{_NUMBER}\s*)?%\s*")
_DURATION = re.compile(rf"\s*{_NUMBER}\s*(s|min|h|d)\s*")
_OPEN_SPAN = re.compile(r"(.*[a-z])\s*(?:\+|or more)\s*")
_TEMPERATURE = re.compile(r"\s*(-?\d+(?:\.\d+)?)\s*°?\s*([CF])\s*")
_AREA = re.compile(rf"\s*{_NUMBER}\s*(m2|m²|ft2|ft²|sq ft)\s*")
_MIX = re.compile(r"\s*(\d+(?:\.\d+)?(?:\s*:\s*\d+(?:\.\d+)?)+)\s*by volume\s*")

_SCALED = re.compile(rf"\s*{_NUMBER}\s*(\S+)\s*")

_BAR = {"bar": 1.0, "kPa": 0.01, "psi": 0.06894757}
_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4}
_MM_S = {"mm/s": 1.0, "cm/s": 10.0, "m/s": 1000.0, "in/s": 25.4}
_ML_MIN = {"ml/min": 1.0, "floz/min": 29.5735295625}
_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}


def share_of(percent: float, what: str) -> float:
    """Return a percentage as a fraction; raises `UsageError` for what looks like a fraction typed in its place.

    Not for thinner, of which half a percent may well be meant. The range of `what` is for its own function to check.
    """
    if 0 < percent < LEAST_PERCENT:
        raise UsageError(f"{what} of {percent:g} % cannot be meant", f"write percent, as in {percent * 100:g} for {percent * 100:g} %")
    return percent / 100


def parse_share(text: str) -> float:
    """Read "10 %" as a fraction."""
    match = _PERCENT.fullmatch(text)
    if not match:
        raise UsageError(f"'{text}' is not a percentage", "write a number and its sign, as in 10 %")
    return float(match[1]) / 100


def parse_solids(text: str) -> tuple[float, float]:
    """Read volume solids, "34 %" or "34 +/- 1 %", as fractions (value, tolerance)."""
    match = _SOLIDS.fullmatch(text)
    if not match:
        raise UsageError(f"'{text}' is not a percentage", "write a number and its sign, as in 34 % or 34 +/- 1 %")
    solids, tolerance = float(match[1]) / 100, float(match[2] or 0) / 100
    if not tolerance < solids <= 1:
        raise UsageError(f"'{text}' cannot be volume solids", "give more than 0 % and at most 100 %, the tolerance smaller than the value")
    return solids, tolerance


def parse_duration_s(text: str) -> float:
    """Read "45 min", "2 h" or "1 d" as seconds."""
    match = _DURATION.fullmatch(text)
    if not match or not float(match[1]):
        raise UsageError(f"'{text}' is not a duration", "write a number and its unit, s, min, h or d, as in 45 min")
    return float(match[1]) * _SECONDS[match[2]]


def parse_span_s(text: str) -> Span:
    """Read "45 min - 24 h", "1-24 h" or "2 h or more" as seconds (from, until)."""
    if match := _OPEN_SPAN.fullmatch(text):
        return parse_duration_s(match[1]), None
    first, dash, last = text.replace("–", "-").replace(" to ", "-").partition("-")
    if not dash:
        raise UsageError(f"'{text}' is not a span of time", "write from and until, as in 45 min - 24 h, or 2 h or more")
    if first.strip() and first.strip()[-1].isdigit():  # "1-24 h": the unit stands once
        first += last.strip().lstrip("0123456789. ")
    low, high = parse_duration_s(first), parse_duration_s(last)
    if low >= high:
        raise UsageError(f"the span '{text}' is upside down or empty", "write the earlier time first")
    return low, high


def parse_temperature_c(text: str) -> float:
    """Read "20 C" or "68 F" as degrees Celsius."""
    match = _TEMPERATURE.fullmatch(text)
    if not match:
        raise UsageError(f"'{text}' is not a temperature", "write a number and C or F, as in 20C or 68F")
    value = float(match[1])
    return value if match[2] == "C" else (value - 32) / 1.8


def parse_area_m2(text: str) -> float:
    """Read "12 m2" or "130 ft2" as square metres."""
    match = _AREA.fullmatch(text)
    if not match or not float(match[1]):
        raise UsageError(f"'{text}' is not an area", "write a number above 0 and its unit, as in 12m2 or 130ft2")
    return float(match[1]) * (1 if match[2].startswith("m") else M2_PER_FT2)


def parse_areas(text: str) -> float:
    """Read an area as so many times 10 m2 or, where it is in square feet, so many times 100 ft2."""
    in_m2 = parse_area_m2(text)
    return in_m2 / (100 * M2_PER_FT2) if "ft" in text else in_m2 / 10


def parse_mix(text: str) -> tuple[float, ...]:
    """Read "4:1 by volume" as parts, the base first."""
    match = _MIX.fullmatch(text)
    if not match:
        raise UsageError(f"'{text}' is not a mix ratio by volume", "write the parts, base first, as in 4:1 by volume; weights do not serve")
    parts = tuple(float(part) for part in match[1].split(":"))
    if not all(parts):
        raise UsageError(f"'{text}' has a part of nothing", "leave out what is not in the mix")
    return parts


def parse_pressure_bar(text: str) -> float:
    """Read "2 bar", "200 kPa" or "30 psi" as bar."""
    return _scaled(text, _BAR, "a pressure", "2bar or 30psi")


def parse_distance_mm(text: str) -> float:
    """Read "200 mm", "20 cm" or "8 in" as millimetres."""
    return _scaled(text, _MM, "a distance", "200mm or 8in")


def parse_speed_mm_s(text: str) -> float:
    """Read "400 mm/s", "0.4 m/s" or "16 in/s" as millimetres a second."""
    return _scaled(text, _MM_S, "a speed", "400mm/s or 16in/s")


def parse_flow_ml_min(text: str) -> float:
    """Read "200 ml/min" or "7 floz/min" (US) as millilitres a minute."""
    return _scaled(text, _ML_MIN, "a flow", "200ml/min or 7floz/min")


def _scaled(text: str, units: dict[str, float], what: str, example: str) -> float:
    match = _SCALED.fullmatch(text)
    if not match or match[2] not in units or not float(match[1]):
        raise UsageError(f"'{text}' is not {what}", f"write a number above 0 and its unit, as in {example}")
    return float(match[1]) * units[match[2]]


def show_duration(seconds: float) -> str:
    """Print a duration in the largest unit that leaves no long fraction: "45 min", "2 h", "1.5 d"."""
    for unit, size in (("d", 86400.0), ("h", 3600.0), ("min", 60.0)):
        if seconds >= (2 * size if unit == "d" else size):
            return f"{seconds / size:.3g} {unit}"
    return f"{seconds:.3g} s"

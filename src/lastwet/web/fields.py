"""The gun's settings, the paint and the air around it, as fields of a form."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import inf, isfinite
from typing import Any

from lastwet.errors import UsageError
from lastwet.film.dialin import Settings
from lastwet.film.quantity import parse_distance_mm, parse_flow_ml_min, parse_pressure_bar, parse_speed_mm_s, parse_temperature_c, share_of
from lastwet.job.board import Paint


@dataclass(frozen=True, slots=True)
class Field:
    """One field: a number with its unit beside it, or a text."""

    name: str
    label: str
    units: tuple[str, ...]
    """To choose from, the first by default; empty for a text."""
    value: str
    unit: str


_SCALED: Mapping[str, tuple[str, tuple[str, ...], Callable[[str], float]]] = {
    "speed_mm_s": ("Pace", ("mm/s", "in/s"), parse_speed_mm_s),
    "flow_ml_min": ("Flow", ("ml/min", "floz/min"), parse_flow_ml_min),
    "fan_mm": ("Fan width", ("mm", "in"), parse_distance_mm),
    "distance_mm": ("Gun to work", ("mm", "in"), parse_distance_mm),
    "fluid_pressure_bar": ("Fluid pressure", ("bar", "psi"), parse_pressure_bar),
    "air_pressure_bar": ("Atomising air", ("bar", "psi"), parse_pressure_bar),
}
_AIR = {"air_c": "Air", "surface_c": "Surface", "material_c": "Paint"}
_TEMPERATURES = ("C", "F")


def settings_fields(settings: Settings, paint: Paint, values: Mapping[str, str]) -> list[Field]:
    """Return the fields with what was put in, or else with what was stated for the last coat."""
    fields = [Field("tip", "Tip or needle", (), settings.tip or "", "")]
    fields += [Field(key, label, units, _number(getattr(settings, key)), units[0]) for key, (label, units, _) in _SCALED.items()]
    fields += [
        Field("overlap", "Overlap", ("%",), _number(settings.overlap, 100), "%"),
        Field("passes", "Passes", ("strokes",), _number(settings.passes), "strokes"),
        Field("thinner", "Thinner, by volume of the mix", ("%",), _number(paint.thinner, 100), "%"),
        Field("batch", "Batch", (), paint.batch or "", ""),
    ]
    fields += [Field(key, f"{label} temperature", _TEMPERATURES, "", "C") for key, label in _AIR.items()]
    fields += [Field("humidity", "Relative humidity", ("%",), "", "%")]
    return [Field(f.name, f.label, f.units, values.get(f.name, f.value), values.get(f"{f.name}_unit", f.unit)) for f in fields]


def _number(value: float | None, times: float = 1) -> str:
    return "" if value is None else f"{value * times:.4g}"


def settings_of(form: Mapping[str, str]) -> Settings:
    """Read how the gun was set; raises `UsageError` naming the field."""
    scaled: dict[str, Any] = {key: parsed(form, key, label, parse, units[0]) for key, (label, units, parse) in _SCALED.items()}
    overlap, passes = share(form, "overlap", "Overlap"), parsed(form, "passes", "Passes", _whole, "")
    return Settings(tip=form.get("tip", "").strip() or None, overlap=overlap, passes=None if passes is None else int(passes), **scaled)


def paint_of(form: Mapping[str, str]) -> Paint:
    """Read paint and air; raises `UsageError` naming the field."""
    air: dict[str, Any] = {key: parsed(form, key, f"{label} temperature", parse_temperature_c, "C") for key, label in _AIR.items()}
    thinner = parsed(_alone(form, "thinner"), "thinner", "Thinner", _percent, "")  # of which half a percent may well be meant
    return Paint(thinner=thinner, batch=form.get("batch", "").strip() or None, humidity=share(form, "humidity", "Relative humidity"), **air)


def parsed(form: Mapping[str, str], name: str, label: str, parse: Callable[[str], float], unit: str) -> float | None:
    """Read a number with its unit; None where nothing was put in."""
    text = form.get(name, "").strip().replace(",", ".")
    if not text:
        return None
    try:
        return parse(f"{text} {form.get(f'{name}_unit', unit)}".strip())
    except UsageError as error:
        raise UsageError(f"{label}: {error.message}", error.cure) from error


def share(form: Mapping[str, str], name: str, label: str) -> float | None:
    """Read a percentage as a fraction; less than one percent is a fraction typed by mistake."""
    return parsed(_alone(form, name), name, label, _whole_percent, "")


def _alone(form: Mapping[str, str], name: str) -> Mapping[str, str]:
    """Return a field without its unit."""
    return {name: form.get(name, "")}


def _percent(text: str) -> float:
    value = number(text)
    if not 0 <= value <= 100:
        raise UsageError(f"'{text}' is not a percentage", "write a number from 0 to 100")
    return value / 100


def _whole_percent(text: str) -> float:
    """Read a percentage of which less than one is a fraction typed by mistake."""
    _percent(text)
    return share_of(number(text), "a share")


def _whole(text: str) -> float:
    value = number(text)
    if value != int(value):
        raise UsageError(f"'{text}' is not a whole number", "write it as in 2")
    return value


def number(text: str) -> float:
    """Read a number; raises `UsageError` for what is none."""
    try:
        value = float(text)
    except ValueError:
        value = inf
    if not isfinite(value):
        raise UsageError(f"'{text}' is not a number", "write digits alone")
    return value


def given(form: Mapping[str, str], name: str, unit: str | None = None) -> str:
    """Return what was put in, with its unit where there is one; raises `UsageError` for nothing."""
    text = form.get(name, "").strip().replace(",", ".")
    if not text:
        raise UsageError("a number is missing", "fill in all fields that have no default")
    return text if unit is None else f"{text} {form.get(f'{name}_unit') or unit}"

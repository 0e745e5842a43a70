"""Coating cards: the values of a paint's data sheet that the film arithmetic needs, read from TOML.

    name = "Nosuch clear (invented)"
    volume_solids = "34 +/- 1 %"        the tolerance, in the same percent, may be left out
    wet_range = "90-125 um"
    dry_range = "30-43 um"              optional
    [maximum_build]                     optional
    thickness = "140 um"
    of = "dry"                          or "wet"
    [thinner]                           optional
    max = "10 %"
    of = "mixed paint by volume"
    [source]
    sheet = "where the values stand"
    date = 2026-02-02
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, Literal, TypeVar, get_args

from lastwet.errors import UsageError
from lastwet.units import parse_length_um, parse_range_um

FilmKind = Literal["dry", "wet"]
Range = tuple[float, float]
_T = TypeVar("_T")

THINNER_BASIS = "mixed paint by volume"
"""What the percentage of thinner is a percentage of; the only basis for which DFT = WFT x VS / (1 + T) holds as it stands."""

_NUMBER = r"\s*(\d+(?:\.\d+)?)\s*"
_PERCENT = re.compile(rf"{_NUMBER}%\s*")
_SOLIDS = re.compile(rf"{_NUMBER}(?:(?:\+/-|±){_NUMBER})?%\s*")


@dataclass(frozen=True, slots=True)
class MaximumBuild:
    """The thickness that all coats together must not pass."""

    thickness_um: float
    of: FilmKind
    """Whether the sheet states it as dry or as wet film."""


@dataclass(frozen=True, slots=True)
class Source:
    """Where the values of a card come from."""

    sheet: str
    """Title and number of the data sheet."""
    date: dt.date
    """Date of issue of that sheet."""


@dataclass(frozen=True, slots=True)
class Coating:
    """One coating as its data sheet describes it."""

    name: str
    volume_solids: float
    """Volume of the dry film over volume of the mixed, unthinned paint, a fraction above 0 and up to 1."""
    volume_solids_tolerance: float
    """Plus or minus on `volume_solids`, a fraction of the volume too; 0 where the sheet gives none."""
    wet_range_um: Range
    """Wet film for one coat, lower and upper limit."""
    dry_range_um: Range | None
    """Dry film for one coat; None where the sheet gives none."""
    maximum_build: MaximumBuild | None
    """None where the sheet gives none."""
    thinner_max: float | None
    """Most thinner allowed, as a fraction of the mixed paint's volume; None where the sheet says nothing."""
    source: Source


def coating_names() -> tuple[str, ...]:
    """Return the names of the cards that ship with the package, sorted."""
    return tuple(sorted(_stem(card) for card in _shipped().iterdir() if card.name.endswith(".toml")))


def load_coating(name_or_path: str | Path) -> Coating:
    """Load a card by the name of a shipped one or by its path; raises `UsageError` naming file, key and cure."""
    name = str(name_or_path)
    card = _shipped() / f"{name}.toml" if name in coating_names() else Path(name_or_path)
    return _coating(_Table(_parse(card, name), name))


def _shipped() -> Traversable:
    return resources.files("lastwet") / "data" / "coatings"


def _stem(card: Traversable) -> str:
    return card.name.removesuffix(".toml")


def _parse(card: Traversable, name: str) -> Mapping[str, Any]:
    try:
        return tomllib.loads(card.read_text("utf-8"))
    except FileNotFoundError:
        known = ", ".join(coating_names())
        raise UsageError(f"there is no coating card '{name}'", f"give the path of a card, or one of {known}") from None
    except OSError as error:
        raise UsageError(f"the coating card '{name}' cannot be read ({error.strerror})", "give the path of a TOML file") from error
    except ValueError as error:  # tomllib's own error and UnicodeDecodeError
        raise UsageError(f"{name} is not a TOML file ({error})", "correct that line") from error


def _coating(card: _Table) -> Coating:
    card.only("name", "volume_solids", "wet_range", "dry_range", "maximum_build", "thinner", "source")
    solids, tolerance = card.read("volume_solids", _solids)
    coating = Coating(
        name=card.text("name"),
        volume_solids=solids,
        volume_solids_tolerance=tolerance,
        wet_range_um=card.read("wet_range", parse_range_um),
        dry_range_um=card.read("dry_range", parse_range_um) if "dry_range" in card else None,
        maximum_build=_maximum_build(card.table("maximum_build")) if "maximum_build" in card else None,
        thinner_max=_thinner_max(card.table("thinner")) if "thinner" in card else None,
        source=_source(card.table("source")),
    )
    _refuse_contradiction(card, coating)
    return coating


def _maximum_build(table: _Table) -> MaximumBuild:
    table.only("thickness", "of")
    of = table.one_of("of", get_args(FilmKind))
    return MaximumBuild(table.read("thickness", parse_length_um), "dry" if of == "dry" else "wet")


def _thinner_max(table: _Table) -> float:
    table.only("max", "of")
    table.one_of("of", (THINNER_BASIS,))
    return table.read("max", _percent)


def _source(table: _Table) -> Source:
    table.only("sheet", "date")
    date = table.value("date")
    if type(date) is not dt.date:  # a TOML date-time is a date to isinstance
        raise table.fault("date", "is not a date", "write it without quotes, as in date = 2026-02-02")
    return Source(table.text("sheet"), date)


def _refuse_contradiction(card: _Table, coating: Coating) -> None:
    """Refuse a maximum that the thinnest allowed coat already passes."""
    build = coating.maximum_build
    if build is None:
        return
    one_coat = coating.dry_range_um if build.of == "dry" else coating.wet_range_um
    if one_coat and build.thickness_um < one_coat[0]:
        raise card.fault("maximum_build", f"is less than the lower limit of {build.of}_range", "look both up in the data sheet")


def _percent(text: str) -> float:
    """Read "10 %" as a fraction."""
    match = _PERCENT.fullmatch(text)
    if not match:
        raise UsageError(f"'{text}' is not a percentage", "write a number and its sign, as in 10 %")
    return float(match[1]) / 100


def _solids(text: str) -> tuple[float, float]:
    """Read "34 %" or "34 +/- 1 %" as fractions (value, tolerance)."""
    match = _SOLIDS.fullmatch(text)
    if not match:
        raise UsageError(f"'{text}' is not a percentage", "write a number and its sign, as in 34 % or 34 +/- 1 %")
    solids, tolerance = float(match[1]) / 100, float(match[2] or 0) / 100
    if not tolerance < solids <= 1:
        raise UsageError(f"'{text}' cannot be volume solids", "give more than 0 % and at most 100 %, the tolerance smaller than the value")
    return solids, tolerance


@dataclass(frozen=True, slots=True)
class _Table:
    """A table of the card that knows where it stands, so that each fault names file and key."""

    values: Mapping[str, Any]
    file: str
    prefix: str = ""

    def __contains__(self, key: str) -> bool:
        return key in self.values

    def fault(self, key: str, what: str, cure: str) -> UsageError:
        return UsageError(f"{self.file}: {self.prefix}{key} {what}", cure)

    def only(self, *keys: str) -> None:
        for key in sorted(self.values.keys() - set(keys)):
            raise self.fault(key, "is not a key of a coating card", f"use only {', '.join(self.prefix + known for known in keys)}")

    def value(self, key: str) -> Any:
        if key not in self.values:
            raise self.fault(key, "is missing", "add it from the data sheet")
        return self.values[key]

    def text(self, key: str) -> str:
        value = self.value(key)
        if not isinstance(value, str) or not value.strip():
            raise self.fault(key, "is not a text", 'write it in quotes, and a quantity with its unit, as in "34 %" or "90-125 um"')
        return value

    def read(self, key: str, parse: Callable[[str], _T]) -> _T:
        text = self.text(key)
        try:
            return parse(text)
        except UsageError as error:
            raise self.fault(key, f"is wrong: {error.message}", error.cure) from error

    def one_of(self, key: str, choices: Sequence[str]) -> str:
        value = self.text(key)
        if value not in choices:
            raise self.fault(key, f"is '{value}'", "write " + " or ".join(f'"{choice}"' for choice in choices))
        return value

    def table(self, key: str) -> _Table:
        value = self.value(key)
        if not isinstance(value, dict):
            raise self.fault(key, "is not a table", f"write [{key}] on a line of its own, and its keys below")
        return _Table(value, self.file, f"{self.prefix}{key}.")

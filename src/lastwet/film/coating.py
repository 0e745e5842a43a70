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
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, get_args

from lastwet.card import Table, card_names, read_card
from lastwet.errors import UsageError
from lastwet.units import parse_length_um, parse_range_um

FilmKind = Literal["dry", "wet"]
Range = tuple[float, float]

THINNER_BASIS = "mixed paint by volume"
"""What the percentage of thinner is a percentage of; the only basis for which DFT = WFT x VS / (1 + T) holds as it stands."""

_NUMBER = r"\s*(\d+(?:\.\d+)?)\s*"
_PERCENT = re.compile(rf"{_NUMBER}%\s*")
_SOLIDS = re.compile(rf"{_NUMBER}(?:(?:\+/-|±){_NUMBER})?%\s*")

_RANGE_CURE = 'write both limits and the unit, as in "90-125 um"'


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
    return card_names("coating")


def load_coating(name_or_path: str | Path) -> Coating:
    """Load a card by the name of a shipped one or by its path; raises `UsageError` naming file, key and cure."""
    card = read_card("coating", str(name_or_path))
    card.only("name", "volume_solids", "wet_range", "dry_range", "maximum_build", "thinner", "source")
    solids, tolerance = card.parsed("volume_solids", _solids, 'write the part of the volume that stays, as in "34 %"')
    coating = Coating(
        name=card.text("name", 'write name = "..."'),
        volume_solids=solids,
        volume_solids_tolerance=tolerance,
        wet_range_um=card.parsed("wet_range", parse_range_um, _RANGE_CURE),
        dry_range_um=card.parsed("dry_range", parse_range_um, _RANGE_CURE) if "dry_range" in card else None,
        maximum_build=_maximum_build(card.table("maximum_build", _table_cure("maximum_build"))) if "maximum_build" in card else None,
        thinner_max=_thinner_max(card.table("thinner", _table_cure("thinner"))) if "thinner" in card else None,
        source=_source(card.table("source", _table_cure("source"))),
    )
    _refuse_contradiction(card, coating)
    return coating


def _table_cure(key: str) -> str:
    return f"write [{key}] on a line of its own, and its keys below"


def _maximum_build(table: Table) -> MaximumBuild:
    table.only("thickness", "of")
    of = table.one_of("of", get_args(FilmKind))
    thickness_um = table.parsed("thickness", parse_length_um, 'write it with its unit, as in "140 um"')
    return MaximumBuild(thickness_um, "dry" if of == "dry" else "wet")


def _thinner_max(table: Table) -> float:
    table.only("max", "of")
    table.one_of("of", (THINNER_BASIS,))
    return table.parsed("max", _percent, 'write the most that the sheet allows, as in "10 %"')


def _source(table: Table) -> Source:
    table.only("sheet", "date")
    cure = "write the day of issue without quotes, as in date = 2026-02-02"
    date = table.value("date", cure)
    if type(date) is not dt.date:  # a TOML date-time is a date to isinstance
        raise table.fault("date", "is not a date", cure)
    return Source(table.text("sheet", "write the title of the data sheet in quotes"), date)


def _refuse_contradiction(card: Table, coating: Coating) -> None:
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

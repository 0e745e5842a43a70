"""Coating cards: the values of a paint's data sheet that the film arithmetic needs, read from TOML.

name = "Nosuch clear (invented)"
volume_solids = "34 +/- 1 %"        as mixed, before thinning; the tolerance, in the same percent, may be left out
wet_range = "90-125 um"
dry_range = "30-43 um"              optional
mix_ratio = "4:1 by volume"         optional; base first
pot_life = "4 h"                    optional
recoat_window = "45 min - 24 h"     optional; or "2 h or more"
[maximum_build]                     optional
thickness = "140 um"
of = "dry"                          or "wet"
[thinner]                           optional
max = "10 %"
of = "mixed paint by volume"        or "base by volume"
[source]
sheet = "where the values stand"
date = 2026-02-02
"""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Literal, get_args

from lastwet.card import Table, card_names, read_card
from lastwet.film.quantity import Span, parse_duration_s, parse_mix, parse_share, parse_solids, parse_span_s
from lastwet.units import parse_length_um, parse_range_um

FilmKind = Literal["dry", "wet"]
Range = tuple[float, float]
ThinnerBasis = Literal["mixed paint by volume", "base by volume"]
"""What the percentage of thinner is a percentage of."""

SHEET_TOLERANCE = 0.20
"""Wet range x solids and dry range of one sheet may differ by this fraction before it is told; our choice."""
SHEET_ROUNDING = 0.05
"""Sheets print whole mils and tens of micrometres: limits this near to each other are the same limit; our choice."""

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
    thinner_of: ThinnerBasis = "mixed paint by volume"
    """What the sheet's own percentage refers to; `thinner_max` is converted."""
    mix_parts: tuple[float, ...] = ()
    """Parts by volume, base first; empty for a one-component paint."""
    pot_life_s: float | None = None
    """Usable time after mixing, at the sheet's temperature; None where the sheet gives none."""
    recoat_window_s: Span | None = None
    """When the next coat may follow without further preparation, at the sheet's temperature; None where the sheet gives none."""


def coating_names() -> tuple[str, ...]:
    """Return the names of the cards that ship with the package, sorted."""
    return card_names("coating")


def load_coating(name_or_path: str | Path) -> Coating:
    """Load a card by the name of a shipped one or by its path; raises `UsageError` naming file, key and cure."""
    return _coating(read_card("coating", str(name_or_path)))


def parse_coating(text: str, file: str) -> Coating:
    """Read a card from its text, which is or will be in `file`; raises `UsageError` as `load_coating` does."""
    return _coating(Table(tomllib.loads(text), file, "coating"))


def _coating(card: Table) -> Coating:
    card.only(
        "name",
        "volume_solids",
        "wet_range",
        "dry_range",
        "mix_ratio",
        "pot_life",
        "recoat_window",
        "maximum_build",
        "thinner",
        "source",
    )
    solids, tolerance = card.parsed("volume_solids", parse_solids, 'write the part of the volume that stays, as in "34 %"')
    mix = card.parsed("mix_ratio", parse_mix, 'write the parts, base first, as in "4:1 by volume"') if "mix_ratio" in card else ()
    share, basis = _thinner(card.table("thinner", _table_cure("thinner"))) if "thinner" in card else (None, None)
    base = mix[0] / sum(mix) if mix and basis == "base by volume" else 1.0
    coating = Coating(
        name=card.text("name", 'write name = "..."'),
        volume_solids=solids,
        volume_solids_tolerance=tolerance,
        wet_range_um=card.parsed("wet_range", parse_range_um, _RANGE_CURE),
        dry_range_um=card.parsed("dry_range", parse_range_um, _RANGE_CURE) if "dry_range" in card else None,
        maximum_build=_maximum_build(card.table("maximum_build", _table_cure("maximum_build"))) if "maximum_build" in card else None,
        thinner_max=None if share is None else share * base,
        source=_source(card.table("source", _table_cure("source"))),
        thinner_of=basis or "mixed paint by volume",
        mix_parts=mix,
        pot_life_s=card.parsed("pot_life", parse_duration_s, 'write it with its unit, as in "4 h"') if "pot_life" in card else None,
        recoat_window_s=_recoat_window(card) if "recoat_window" in card else None,
    )
    _refuse_contradiction(card, coating)
    return coating


def _table_cure(key: str) -> str:
    return f"write [{key}] on a line of its own, and its keys below"


def _recoat_window(card: Table) -> Span:
    return card.parsed("recoat_window", parse_span_s, 'write from and until, as in "45 min - 24 h", or "2 h or more"')


def _maximum_build(table: Table) -> MaximumBuild:
    table.only("thickness", "of")
    of = table.one_of("of", get_args(FilmKind))
    thickness_um = table.parsed("thickness", parse_length_um, 'write it with its unit, as in "140 um"')
    if not thickness_um:
        raise table.fault("thickness", "is 0, which allows no coat at all", "leave [maximum_build] out where the data sheet gives none")
    return MaximumBuild(thickness_um, "dry" if of == "dry" else "wet")


def _thinner(table: Table) -> tuple[float, ThinnerBasis]:
    table.only("max", "of")
    of = table.one_of("of", get_args(ThinnerBasis))
    share = table.parsed("max", parse_share, 'write the most that the sheet allows, as in "10 %"')
    return share, "base by volume" if of == "base by volume" else "mixed paint by volume"


def _source(table: Table) -> Source:
    table.only("sheet", "date")
    cure = "write the day of issue without quotes, as in date = 2026-02-02"
    date = table.value("date", cure)
    if type(date) is not dt.date:  # a TOML date-time is a date to isinstance
        raise table.fault("date", "is not a date", cure)
    return Source(table.text("sheet", "write the title of the data sheet in quotes"), date)


def _refuse_contradiction(card: Table, coating: Coating) -> None:
    """Refuse a maximum that the thinnest allowed coat already passes, and a dry film thicker than the wet one it comes from."""
    dry, wet = coating.dry_range_um, coating.wet_range_um
    if dry and any(dried > applied for dried, applied in zip(dry, wet, strict=True)):
        raise card.fault("dry_range", "is thicker than wet_range, which no film can be", "look both up in the data sheet, and their units")
    build = coating.maximum_build
    if build is None:
        return
    one_coat = dry if build.of == "dry" else wet
    if one_coat and build.thickness_um < one_coat[0]:
        raise card.fault("maximum_build", f"is less than the lower limit of {build.of}_range", "look both up in the data sheet")
    thinnest_um = wet[0] * (coating.volume_solids - coating.volume_solids_tolerance)
    if not one_coat and build.thickness_um < thinnest_um * (1 - SHEET_ROUNDING):
        what = f"is less than the lower limit of wet_range leaves, {thinnest_um:.3g} um dry"
        raise card.fault("maximum_build", what, "look both up in the data sheet, and their units")


def cautions(coating: Coating) -> Iterator[str]:
    """Yield what on a card does not agree with itself, though it need not be wrong."""
    if coating.dry_range_um is None:
        return
    ratios = [wet * coating.volume_solids / dry for wet, dry in zip(coating.wet_range_um, coating.dry_range_um, strict=True) if dry]
    if all(ratio > 1 + SHEET_ROUNDING for ratio in ratios):
        yield (
            f"wet range x solids lies {' to '.join(dict.fromkeys(_percent(ratio - 1) for ratio in sorted(ratios)))} above the dry range: "
            "were solids by weight typed in? They are usually higher than volume solids, and must not be used"
        )
    elif any(abs(ratio - 1) > SHEET_TOLERANCE for ratio in ratios):
        farthest = max(ratios, key=lambda ratio: abs(ratio - 1))
        yield f"wet range x solids is {farthest:.2f} x the dry range at one limit: look up all three in the data sheet"


def coating_json(card: Coating) -> dict[str, Any]:
    """Return a card as plain data."""
    return {**asdict(card), "source": {"sheet": card.source.sheet, "date": card.source.date.isoformat()}}


def coating_from_json(values: Mapping[str, Any]) -> Coating:
    """Return the card that `coating_json` made plain."""
    build, dry = values["maximum_build"], values["dry_range_um"]
    window = values["recoat_window_s"]
    source = Source(values["source"]["sheet"], dt.date.fromisoformat(values["source"]["date"]))
    ranges = {"wet_range_um": tuple(values["wet_range_um"]), "dry_range_um": None if dry is None else tuple(dry)}
    lists = {"mix_parts": tuple(values["mix_parts"]), "recoat_window_s": None if window is None else tuple(window)}
    return Coating(**{**values, **ranges, **lists, "maximum_build": None if build is None else MaximumBuild(**build), "source": source})


def _percent(share: float) -> str:
    return f"{share * 100:.0f} %"


def card_text(
    *,
    name: str,
    volume_solids: str,
    wet_range: str,
    sheet: str,
    sheet_date: dt.date,
    dry_range: str | None = None,
    mix_ratio: str | None = None,
    pot_life: str | None = None,
    recoat_window: str | None = None,
    maximum_build: tuple[str, FilmKind] | None = None,
    thinner_max: tuple[str, ThinnerBasis] | None = None,
) -> str:
    """Write the text of a card; the quantities are as a card has them, and are checked where the text is read."""
    values = {
        "name": name,
        "volume_solids": volume_solids,
        "wet_range": wet_range,
        "dry_range": dry_range,
        "mix_ratio": mix_ratio,
        "pot_life": pot_life,
        "recoat_window": recoat_window,
    }
    lines = [f"{key} = {_quoted(value)}{_COMMENTS.get(key, '')}" for key, value in values.items() if value is not None]
    if maximum_build:
        lines += ["", "[maximum_build]", f"thickness = {_quoted(maximum_build[0])}", f"of = {_quoted(maximum_build[1])}"]
    if thinner_max:
        lines += ["", "[thinner]", f"max = {_quoted(thinner_max[0])}", f"of = {_quoted(thinner_max[1])}"]
    lines += ["", "[source]", f"sheet = {_quoted(sheet)}", f"date = {sheet_date}"]
    return "\n".join(lines) + "\n"


_COMMENTS = {
    "volume_solids": "  # by volume, as mixed, before thinning; never the weight solids",
    "wet_range": "  # per coat",
    "dry_range": "  # per coat",
}


def _quoted(text: str) -> str:
    """Write a TOML basic string; what may not stand in one is escaped, as TOML 1.0 asks."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04x}" for c in escaped) + '"'

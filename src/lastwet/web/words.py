"""What the page says of a reading, from its log entry."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from lastwet.film.dry import verdict
from lastwet.gauge import Gauge
from lastwet.job.board import dip_photos
from lastwet.logbook.kinds import Status
from lastwet.logbook.view import Standing
from lastwet.reading.outcome import Code
from lastwet.service.bench import MOST_TOGETHER
from lastwet.service.replay import gauge_of
from lastwet.units import Bracket, Unit, show_bracket, show_length

VERDICTS = {
    "inside": "inside the range",
    "below": "too thin",
    "above": "too thick",
    "straddles": "on a limit",
}


NOT_THE_PHOTO = frozenset({Code.END_TAB_DRY, Code.GAP, Code.DIRTY, Code.PHOTOS_DISAGREE, Code.SIDE_UNCLEAR})
"""Refusals that no other photo of the same dip may undo: what is wrong is the dip or the gauge, or something must be asked."""


@dataclass(frozen=True, slots=True)
class Tooth:
    """One tooth of the row as the page draws it."""

    value: str
    wet: bool
    deciding: bool


@dataclass(frozen=True, slots=True)
class Shown:
    """A reading, worded."""

    seq: int
    state: Status
    wet: str | None
    """The bracket in the shop's unit."""
    wet_other: str | None
    dry: str | None
    verdict: str | None
    """below, inside, above or straddles."""
    verdict_words: str
    straddled: str
    """The limits that the bracket lies across; empty where there are none."""
    limits: str | None
    check: str
    """What to compare with the gauge."""
    side: str | None
    teeth: tuple[Tooth, ...]
    last_wet: int | None
    all_wet: bool
    reasons: tuple[Mapping[str, str], ...]
    by_eye: bool
    confirmed_by: tuple[str, ...]
    corrected: bool
    read_by: str
    """Who entered what stands."""
    void: bool
    clean: bool
    """Whether it was held against a photo of the clean gauge."""
    photos: int
    """How many of the dip there are."""
    gauge: Gauge

    @property
    def headline(self) -> str:
        """The outcome in a line, for the title of the page."""
        if self.wet:
            return f"{self.wet}, {self.verdict_words}" if self.verdict else self.wet
        return "Not read"

    @property
    def side_unclear(self) -> bool:
        """Whether the side must be asked for."""
        return any(reason["code"] == Code.SIDE_UNCLEAR for reason in self.reasons)

    @property
    def may_add(self) -> bool:
        """Whether another photo of the same dip may settle it."""
        blamed = {reason["code"] for reason in self.reasons}
        return self.state is Status.REFUSED and 0 < self.photos < MOST_TOGETHER and not NOT_THE_PHOTO & blamed

    @property
    def next_side(self) -> str | None:
        """The side with the next thicker teeth; None where this is the last."""
        ids = [side.id for side in self.gauge.sides]
        if self.side not in ids or ids.index(self.side) + 1 == len(ids):
            return None
        return ids[ids.index(self.side) + 1]


def shown(standing: Standing, unit: Unit | None) -> Shown:
    """Word a reading as it stands; `unit` is the shop's, None for the gauge's own."""
    body, reading = standing.entry.body, standing.reading or {}
    gauge = gauge_of(body["gauge"])
    own: Unit = unit or gauge.unit
    other: Unit = "um" if own == "mil" else "mil"
    wet, dry, limits = _bracket(reading.get("wet")), _bracket(reading.get("dry")), reading.get("wet_range_um")
    side = gauge.side(reading["side"]) if reading.get("side") else None
    last_wet, values = reading.get("last_wet"), side.teeth if side else ()
    return Shown(
        seq=standing.entry.seq,
        state=Status(reading["outcome"]),
        wet=show_bracket(wet, own) if wet else None,
        wet_other=show_bracket(wet, other) if wet else None,
        dry=f"{show_bracket(dry, own)} ({show_bracket(dry, other)})" if dry else None,
        verdict=reading.get("verdict"),
        verdict_words=VERDICTS.get(reading.get("verdict") or "", ""),
        straddled=_straddled(wet, limits, own),
        limits=_span(limits, own) if limits else None,
        check=_check(values, last_wet),
        side=reading.get("side"),
        teeth=tuple(Tooth(f"{v:g}", place < (last_wet or 0), place == (last_wet or 0) - 1) for place, v in enumerate(values)),
        last_wet=last_wet,
        all_wet=last_wet is not None and last_wet == len(values),
        reasons=tuple(reading.get("refusals", ())),
        by_eye=standing.by_eye,
        confirmed_by=tuple(dict.fromkeys(str(entry.body["by"]) for entry in standing.confirmations)),
        corrected=bool(standing.corrections),
        read_by=str(standing.statement.body.get("by") or "nobody named"),
        void=standing.void is not None,
        photos=len(dip_photos(standing.entry)),
        clean=bool(reading.get("clean")),
        gauge=gauge,
    )


def _bracket(ends: Mapping[str, Any] | None) -> Bracket | None:
    return Bracket(ends["low_um"], ends["high_um"]) if ends else None


def _straddled(wet: Bracket | None, limits_um: tuple[float, float] | None, unit: Unit) -> str:
    if wet is None or limits_um is None:
        return ""
    return " and ".join(f"{show_length(limit, unit)} {unit}" for limit in verdict(wet, (limits_um[0], limits_um[1])).straddled_um)


def _span(limits_um: tuple[float, float], unit: Unit) -> str:
    return f"{show_length(limits_um[0], unit)} to {show_length(limits_um[1], unit)} {unit}"


def _check(values: tuple[float, ...], last_wet: int | None) -> str:
    if last_wet is None or not values:
        return ""
    if last_wet == 0:
        return f"No tooth is wet; {values[0]:g} is the lowest. Is that the number stamped on the first tooth?"
    return f"{values[last_wet - 1]:g} is the last wet tooth. Is that the number stamped on it?"

"""Boards and their coats, as the log has them: entries in, records out, nothing else.

A board is one test piece or one work piece with its coats. Nothing of it is stored but entries:

    board      the piece, and the coating card as it was then
    coat       one coat: settings, paint, people, conditions
    reading    what came of a photo, or of several of one dip, with the keys `board`, `coat_entry`, `spot`, `seconds` and `touched_up` added
    dip        a reading typed in, without a photo; the same keys. A correction of it has `wet`, `side` and `last_wet` as it has
    sanding    what was taken off a coat before the next one
    measured   the dry film of the piece as measured when cured

`board` is the piece's name in all of them, `job` the job it belongs to, `coat_entry` the number of the coat's entry. Entries that
were made void do not count, and a reading is what stands of it after corrections.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, fields, replace
from enum import StrEnum
from typing import Any

from lastwet.errors import UsageError
from lastwet.film.coating import Coating, coating_from_json
from lastwet.film.dialin import Settings
from lastwet.film.dry import reckoned_thinner
from lastwet.film.measured import Check
from lastwet.film.quantity import LEAST_PERCENT
from lastwet.logbook.entry import Entry
from lastwet.logbook.kinds import Kind, thinner_of
from lastwet.logbook.view import Standing
from lastwet.units import Bracket, to_um


class JobKind(StrEnum):
    """Kinds of entries that boards add to those of `lastwet.logbook.kinds`."""

    BOARD = "board"
    COAT = "coat"
    DIP = "dip"
    SANDING = "sanding"
    MEASURED = "measured"


class Work(StrEnum):
    """What a board is."""

    SCRAP = "scrap"
    """A test piece, which a dip may mark."""
    PIECE = "work piece"
    """A dip marks it, and the mark must be touched up while the film is wet."""


@dataclass(frozen=True, slots=True)
class Paint:
    """The material in the gun for one coat, the people and the air around it; what was not stated is None."""

    thinner: float | None = None
    """Volume of thinner over volume of mixed paint."""
    viscosity_s: float | None = None
    """Efflux time from `cup`."""
    cup: str | None = None
    material_c: float | None = None
    batch: str | None = None
    mix: str | None = None
    """As it was mixed, such as "10:1 by volume"."""
    mixed_at: dt.datetime | None = None
    applicator: str | None = None
    air_c: float | None = None
    surface_c: float | None = None
    humidity: float | None = None
    """Relative humidity, a fraction."""

    @property
    def thinned(self) -> float:
        """The thinner that is reckoned with: none where none was stated."""
        return reckoned_thinner(self.thinner)


def refuse_impossible(paint: Paint) -> None:
    """Raise `UsageError` for what no paint and no air can be; what was logged once is read all the same."""
    if not 0 <= paint.thinned < float("inf"):
        raise UsageError(f"{paint.thinned * 100:g} % thinner is not possible", "give 0 % or more, by volume of the mixed paint")
    if paint.humidity is not None and not LEAST_PERCENT / 100 <= paint.humidity <= 1:
        raise UsageError(f"a relative humidity of {paint.humidity * 100:g} % is not possible", "give it in percent, such as 55")


@dataclass(frozen=True, slots=True)
class Dip:
    """One reading of a coat, from a photo or typed in."""

    entry: int
    """Number of its log entry."""
    spot: str
    """Where on the piece; readings of one spot on several sides have the same name."""
    wet: Bracket | None
    """None where the photo was refused and nobody has read it by eye yet."""
    by_eye: bool
    seconds: float | None
    """From spraying to the dip; None where it was not stated."""
    side: tuple[Bracket, ...]
    """All brackets that the pressed side can show; empty where the side is not known."""
    photos: tuple[str, ...] = ()
    """SHA-256 of all its photos; empty for one that was typed in."""


@dataclass(frozen=True, slots=True)
class Coat:
    """One coat."""

    entry: int
    applied_at: dt.datetime
    settings: Settings
    paint: Paint
    dips: tuple[Dip, ...] = ()
    sanded_um: tuple[float, float] = (0.0, 0.0)
    """Dry film that was sanded off before the next coat, least and most."""


@dataclass(frozen=True, slots=True)
class Measured:
    """Dry film readings that were made of a cured piece together."""

    coats: int
    """How many coats were on it."""
    readings_um: tuple[float, ...]
    checks: tuple[Check, ...] = ()
    """What the rules said that they were held against when they were logged."""


@dataclass(frozen=True, slots=True)
class Board:
    """One piece."""

    name: str
    entry: int
    work: Work
    coating: Coating
    aim_um: float
    """Wet film to aim for in each coat."""
    job: str | None = None
    coats: tuple[Coat, ...] = ()
    measured: tuple[Measured, ...] = ()

    @property
    def measured_um(self) -> tuple[float, ...]:
        """Dry film readings that were made with all its coats on it."""
        return tuple(value for each in self.measured if each.coats == len(self.coats) for value in each.readings_um)

    def after_coats(self, coats: int) -> str:
        """Word that a film was measured with `coats` of its coats on it; empty for all of them."""
        return "" if coats == len(self.coats) else f" after {coats} of {len(self.coats)} coats"


def boards(standings: Iterable[Standing]) -> list[Board]:
    """Put together the boards that the entries, in the order of the log, speak of; in the order in which they were begun."""
    found: dict[str, Board] = {}
    for standing in standings:
        body = standing.entry.body
        if standing.void or not isinstance(name := body.get("board"), str):
            continue
        if standing.entry.kind == JobKind.BOARD:
            found.setdefault(_key(name), begun(standing.entry.seq, body))
        elif board := found.get(_key(name)):
            found[_key(name)] = _with(board, standing)
    return list(found.values())


def _key(name: str) -> str:
    """Names of boards differ by more than the case of letters, as the log finds them."""
    return name.casefold()


def begun(entry: int, body: Mapping[str, Any]) -> Board:
    """Return the board that an entry began."""
    return Board(body["board"], entry, Work(body["work"]), coating_from_json(body["card"]), body["aim_um"], body.get("job"))


def _with(board: Board, standing: Standing) -> Board:
    """Return the board with what one more entry says of it."""
    entry, body = standing.entry, standing.entry.body
    match entry.kind:
        case JobKind.COAT:
            return replace(board, coats=(*board.coats, _coat(entry.seq, body)))
        case Kind.READING | JobKind.DIP:
            return _changed(board, body, lambda coat: replace(coat, dips=(*coat.dips, _dip(standing))))
        case JobKind.SANDING:
            return _changed(board, body, lambda coat: replace(coat, sanded_um=_sum(coat.sanded_um, body["sanded_um"])))
        case JobKind.MEASURED:
            measured = Measured(len(board.coats), tuple(body["readings_um"]), checks_of(body))
            return replace(board, measured=(*board.measured, measured))
        case _:  # a note or an attachment
            return board


def checks_of(body: Mapping[str, Any]) -> tuple[Check, ...]:
    """Return what the rules said of measured film, as it was logged; an early version logged none of it."""
    return tuple(Check(each["rule"], each["passed"], tuple(each["failures"]), each["enough"]) for each in body.get("checks", ()))


def _changed(board: Board, body: Mapping[str, Any], change: Any) -> Board:
    """Change the coat that `body` names; where that coat is void, nothing of it counts."""
    return replace(board, coats=tuple(change(coat) if coat.entry == body.get("coat_entry") else coat for coat in board.coats))


def _sum(before: tuple[float, float], more: Any) -> tuple[float, float]:
    return before[0] + more[0], before[1] + more[1]


def _coat(entry: int, body: Mapping[str, Any]) -> Coat:
    return Coat(entry, dt.datetime.fromisoformat(body["applied_at"]), Settings(**body["settings"]), paint_from_json(body["paint"]))


def _dip(standing: Standing) -> Dip:
    body, reading = standing.entry.body, standing.finding
    wet, seconds = reading.get("wet"), body.get("seconds")
    return Dip(
        standing.entry.seq,
        body["spot"],
        Bracket(wet["low_um"], wet["high_um"]) if wet else None,
        reading.get("method") == "eye",
        seconds,
        _side(body.get("gauge"), reading.get("side")),
        dip_photos(standing.entry),
    )


def dip_photos(entry: Entry) -> tuple[str, ...]:
    """Return the SHA-256 of each photo of the dip that a reading kept; that of the clean gauge shows no dip."""
    clean = entry.body.get("reading", {}).get("clean", {}).get("sha256")
    return tuple(sha256 for sha256 in entry.photos if sha256 != clean)


def _side(gauge: Mapping[str, Any] | None, side: str | None) -> tuple[Bracket, ...]:
    """Return all that a side can show, from the gauge as it was logged."""
    if not gauge or side not in gauge["sides"]:
        return ()
    ends = [0.0, *(to_um(value, gauge["unit"]) for value in gauge["sides"][side]), None]
    return tuple(Bracket(low, high) for low, high in zip(ends, ends[1:], strict=False) if low is not None)


def settings_json(settings: Settings) -> dict[str, Any]:
    """Return settings as plain data, only those that were stated."""
    return {key: value for key, value in asdict(settings).items() if value is not None and value != {}}


def paint_json(paint: Paint) -> dict[str, Any]:
    """Return paint and conditions as plain data, only what was stated."""
    values = {key: value for key, value in asdict(paint).items() if value is not None}
    stated = {} if paint.thinner is None else {"thinner_stated": True}
    return {**values, **stated, **({"mixed_at": paint.mixed_at.isoformat()} if paint.mixed_at else {})}


def paint_from_json(values: Mapping[str, Any]) -> Paint:
    """Return what `paint_json` made plain; keys of a newer version are left out."""
    known = {each.name: values[each.name] for each in fields(Paint) if each.name in values}
    mixed_at = values.get("mixed_at")
    return Paint(**{**known, "thinner": thinner_of(values), "mixed_at": dt.datetime.fromisoformat(mixed_at) if mixed_at else None})

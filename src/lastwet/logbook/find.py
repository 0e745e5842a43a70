"""Which entries are wanted, and how SQLite is asked for them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from lastwet.logbook.kinds import Kind

_BY_NAME = ("kind", "person", "board", "job", "coating", "gauge")
_AS_IT_STANDS = ("outcome", "verdict")

Asked = tuple[str, dict[str, object]]
"""A WHERE clause and its values."""


@dataclass(frozen=True, slots=True)
class Filter:
    """What entries must have; None asks for nothing. Names are compared whole, in any case of letters."""

    since: dt.datetime | None = None
    """Received at this time or later; needs its offset."""
    until: dt.datetime | None = None
    """Received before this time; needs its offset."""
    kind: str | None = None
    person: str | None = None
    """Who read, confirmed, corrected, ..."""
    board: str | None = None
    job: str | None = None
    coating: str | None = None
    gauge: str | None = None
    outcome: str | None = None
    """Outcome and verdict are those that stand, after corrections; asking for them leaves the corrections themselves out."""
    verdict: str | None = None

    @property
    def asks_what_stands(self) -> bool:
        """Whether it asks for what a correction may have changed."""
        return self.outcome is not None or self.verdict is not None


def clauses(wanted: Filter, before: int | None = None) -> list[Asked]:
    """Return what to ask: the answers together hold every wanted entry.

    Where a correction may have changed what is asked for, the answers hold readings that said so at first, and readings of which
    a correction says so; `lastwet.logbook.view` tells of which it stands.
    """
    terms, values = ["1"], dict[str, object]()
    for name, sign, time in (("since", ">=", wanted.since), ("until", "<", wanted.until)):
        if time is not None:
            terms.append(f"recorded_utc COLLATE NOCASE {sign} :{name}")
            values[name] = _utc(time)
    if before is not None:
        terms.append("seq < :before")
        values["before"] = before
    terms += _same(wanted, _BY_NAME, values)
    if not wanted.asks_what_stands:
        return [(_where(terms), values)]
    # The plus keeps SQLite from going by these, which most entries share, where it can go by a name.
    sign = "+" if len(terms) > 1 else ""
    stands = [sign + term for term in _same(wanted, _AS_IT_STANDS, values)]
    # INDEXED BY, as the corrections are few and those that say so are many, which SQLite does not know.
    corrections = f"SELECT concerns FROM entry INDEXED BY entry_by_kind {_where(['kind = :correction COLLATE NOCASE', *stands])}"
    values["correction"] = Kind.CORRECTION
    return [(_where([*terms, "kind != :correction", *stands]), values), (_where([*terms, f"seq IN ({corrections})"]), values)]


def _same(wanted: Filter, names: Iterable[str], values: dict[str, object]) -> list[str]:
    asked = {name: getattr(wanted, name) for name in names if getattr(wanted, name) is not None}
    values |= asked
    return [f"{name} = :{name} COLLATE NOCASE" for name in asked]


def _where(terms: Iterable[str]) -> str:
    return "WHERE " + " AND ".join(terms)


def _utc(time: dt.datetime) -> str:
    """Write a time as the column `recorded_utc` has it, so that text order is time order."""
    return time.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%S.") + f"{time.microsecond // 1000:03d}"

"""Times, lengths and other small words, the same everywhere in a report."""

from __future__ import annotations

import datetime as dt

from lastwet.report.model import Reading
from lastwet.units import Bracket, Unit, show_bracket, show_length

_SIDE_SOURCES = {"stated": "stated", "count": "by tooth count", "geometry": "by shape", "numerals": "by its numerals in the photo"}


def moment(time: dt.datetime) -> str:
    """Write a time to the minute, with its offset from UTC."""
    return f"{time:%Y-%m-%d %H:%M} {offset(time)}"


def stacked_moment(time: dt.datetime) -> str:
    """Write the date above the time, for a narrow column."""
    return f"{time:%Y-%m-%d}\n{time:%H:%M} {offset(time)}"


def offset(time: dt.datetime) -> str:
    """Write the offset from UTC as RFC 3339 does."""
    return time.isoformat()[-6:]


def length(value_um: float) -> str:
    """Write a film thickness in both units."""
    return f"{show_length(value_um, 'um')} \u00b5m ({show_length(value_um, 'mil')} mil)"


def both(bracket: Bracket) -> str:
    """Write a bracket in micrometres, and in mil beside it."""
    return f"{span(bracket, 'um')} ({span(bracket, 'mil')})"


def stacked(bracket: Bracket | None) -> str:
    """Write a bracket in micrometres, and in mil below it."""
    return "-" if bracket is None else f"{span(bracket, 'um')}\n{span(bracket, 'mil')}"


def span(bracket: Bracket, unit: Unit) -> str:
    """Write a bracket in one unit."""
    return show_bracket(bracket, unit).replace(" um", " \u00b5m")


def side_words(reading: Reading) -> str:
    """Name the side, and how it is known."""
    if reading.side is None:
        return "unknown"
    answered = reading.by_eye or reading.confirmed_by
    source = "by a person" if answered else _SIDE_SOURCES.get(reading.side_source or "", "source unknown")
    return f"{reading.side}, {source}"


def how_read(reading: Reading) -> str:
    """Say who or what read, and what became of it."""
    who = f"by eye, {reading.by or 'nobody named'}" if reading.by_eye else f"by machine, for {reading.by or 'nobody named'}"
    corrected = f"; corrected in entry {reading.corrected_in}" if reading.corrected_in else ""
    confirmed = f"; confirmed by {', '.join(reading.confirmed_by)}" if reading.confirmed_by else ""
    return who + corrected + confirmed


def sentence(words: str) -> str:
    """End a sentence."""
    return words if words.endswith((".", "?", "!")) else words + "."

"""What entries say: the kinds of this program, and how an entry refers to another.

Whoever adds a kind of entry chooses its name and its body. Where the body has one of these keys, it means this, and entries are
found by it:

    by         who did it, a name
    concerns   number of the entry that this one is about
    board      the board or work piece, and `job` the job
    coating    name of the coating, or `film.coating`
    reading    the object of docs/reading.schema.json
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Any


class Kind(StrEnum):
    """Kinds of entries; a log may hold others."""

    READING = "reading"
    """What came of a photo: read, refused or unusable, by the machine or by eye (`method`)."""
    CONFIRMATION = "confirmation"
    """Somebody compared bracket and side with gauge or photo, and agrees."""
    CORRECTION = "correction"
    """Somebody reads otherwise; `supersedes` is the entry whose reading stood until then."""
    VOID = "void"
    """The entry concerned is not to be used; it stays."""
    NOTE = "note"
    """Text, about an entry or about none."""
    ATTACHMENT = "attachment"
    """A document or picture, about an entry or about none; its bytes lie with the photos."""
    REPORT = "report"
    """A report was issued: its id, what it covers, and the hash of its file."""


class Status(StrEnum):
    """What a photo came to: the `outcome` of a reading, and the column `status` of an export."""

    READ = "read"
    REFUSED = "refused"
    UNUSABLE = "unusable"
    """The file is no photo."""


def thinner_of(paint: Mapping[str, Any]) -> float | None:
    """Return the thinner, a fraction, of a paint as it was logged; None where none was stated.

    An early version logged 0 for that as well, and no `thinner_stated`, so that its 0 says nothing.
    """
    thinner: float | None = paint.get("thinner")
    return thinner if thinner or paint.get("thinner_stated") else None

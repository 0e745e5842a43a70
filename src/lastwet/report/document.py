"""A report as a sequence of blocks: all that a renderer has to know. Renderers decide nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

NOT_STATED = "not stated"
"""Stands where nobody said anything: an empty box could be filled in later, and a missing line would not be missed."""


@dataclass(frozen=True, slots=True)
class Words:
    """Paragraphs."""

    paragraphs: Sequence[str]
    caution: bool = False
    """Set off from the rest."""


@dataclass(frozen=True, slots=True)
class Facts:
    """Terms, and what is said of each."""

    rows: Sequence[tuple[str, str]]
    caption: str | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a heading row, which is repeated on each page."""

    caption: str
    head: Sequence[str]
    rows: Sequence[Sequence[str]]
    widths: Sequence[float]
    """Of the columns, in relation to each other."""


@dataclass(frozen=True, slots=True)
class Card:
    """A picture and what is said of it."""

    title: str
    lines: Sequence[str]
    picture: bytes | None
    """JPEG without metadata; None where there is none, for which the lines give the reason."""
    alt: str
    """What the picture shows, for who cannot see it."""


@dataclass(frozen=True, slots=True)
class Gallery:
    """Cards, side by side."""

    cards: Sequence[Card]
    caption: str | None = None


@dataclass(frozen=True, slots=True)
class Chart:
    """A drawing as SVG text with a title and a description of its own."""

    svg: str


@dataclass(frozen=True, slots=True)
class Signatures:
    """Lines to sign on: a role, and the name where it is known."""

    roles: Sequence[tuple[str, str]]


Block = Words | Facts | Table | Gallery | Chart | Signatures


@dataclass(frozen=True, slots=True)
class Section:
    """A numbered section."""

    title: str
    blocks: Sequence[Block]


@dataclass(frozen=True, slots=True)
class Document:
    """A report, ready to be rendered."""

    title: str
    report_id: str
    organisation: str
    """Stands at the head of each page."""
    summary: Sequence[tuple[str, str]]
    """Terms and words below the title."""
    sections: Sequence[Section]
    seal: str
    """Stands at the foot of each page: what ties it to the log."""
    issued: str
    """RFC 3339."""

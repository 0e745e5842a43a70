"""Film in words, and as plain data, the same for every command."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

import typer

from lastwet.cli import visible
from lastwet.units import Bracket
from lastwet.words.film import Line, advice_lines, bracket, check_lines, estimate_lines, factor, length, span, verdict_words

__all__ = [
    "Line",
    "advice_lines",
    "bracket",
    "check_lines",
    "ends",
    "estimate_lines",
    "factor",
    "length",
    "pair",
    "rounded",
    "show",
    "show_json",
    "span",
    "verdict_words",
]


def show(heading: str, lines: Iterable[Line]) -> None:
    """Print a heading and a line for each fact."""
    typer.echo("\n".join(map(visible, [heading, *(f"  {term:<15} {words}".rstrip() for term, words in lines)])))


def show_json(schema: str, values: Mapping[str, Any]) -> None:
    """Print one JSON object, and nothing else."""
    typer.echo(json.dumps({"schema": f"lastwet.{schema}/1", **values}))


def pair(ends_um: tuple[float, float | None] | None) -> list[float | None] | None:
    """Return two ends as a list for JSON, to a nanometre."""
    return None if ends_um is None else [None if end is None else round(end, 3) for end in ends_um]


def rounded(values_um: Iterable[float]) -> list[float]:
    """Return lengths for JSON, to a nanometre."""
    return [round(value, 3) for value in values_um]


def ends(of: Bracket) -> list[float | None] | None:
    """Return a bracket's ends as a list for JSON."""
    return pair((of.low_um, of.high_um))

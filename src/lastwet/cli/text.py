"""Results as lines of text."""

from __future__ import annotations

from lastwet.cli import visible
from lastwet.result import Result
from lastwet.service import Kept
from lastwet.words.result import facts, heading


def result_text(result: Result, kept: Kept) -> str:
    """Write a result as a heading and a line for each fact."""
    lines = [heading(result), *(f"  {term:<15} {words}" for term, words in facts(result, kept))]
    return "\n".join(map(visible, lines))

"""A page of readings in one self-contained HTML file."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass

from jinja2 import Environment, PackageLoader, StrictUndefined


@dataclass(frozen=True, slots=True)
class Row:
    """One photo on the page."""

    heading: str
    facts: Sequence[tuple[str, str]]
    """Terms and what is said of each."""
    picture: bytes | None
    """The annotated picture, JPEG."""


def render_summary(title: str, note: str, rows: Sequence[Row]) -> str:
    """Render the page; whatever stands in the texts is shown as text."""
    environment = Environment(loader=PackageLoader("lastwet.report"), autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    environment.filters["base64"] = lambda data: base64.b64encode(data).decode()
    return environment.get_template("summary.html").render(title=title, note=note, rows=rows)

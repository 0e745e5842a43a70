"""A document as one HTML file that holds everything, prints well and asks for nothing."""

from __future__ import annotations

import base64

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from lastwet.report.document import Block, Document


def render_html(document: Document) -> str:
    """Render a document; whatever stands in its texts is shown as text."""
    environment = Environment(
        loader=PackageLoader("lastwet.report"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["base64"] = lambda data: base64.b64encode(data).decode()
    environment.filters["drawing"] = Markup  # charts are SVG of our own making, with their texts escaped
    environment.tests["block"] = _is_block
    return environment.get_template("report.html").render(document=document)


def _is_block(block: Block, name: str) -> bool:
    return type(block).__name__ == name

"""The HTML report: whole in one file, accessible by what can be checked of it, and safe whatever stands in the texts.

WCAG 2.2: 1.1.1 text alternatives, 1.3.1 headings and header cells, 1.4.3 contrast 4.5:1, 2.1.1 keyboard,
3.1.1 language.
"""

from __future__ import annotations

import base64
import re
from html.parser import HTMLParser
from io import BytesIO

import pytest
from PIL import Image

from lastwet.report.compose import compose
from lastwet.report.html import render_html
from lastwet.report.model import Details
from tests.report.reports import LONG, ODD, picture, reading, refused, report

VOID_TAGS = {"col", "meta", "img", "br", "hr", "link", "input"}


class Page(HTMLParser):
    """Collects elements, and complains of what is not closed."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.text = ""
        self.feed(html)
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID_TAGS:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] not in {"style"}:
            self.text += data

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.elements if name == tag]


@pytest.fixture(scope="module")
def html() -> str:
    return render_html(compose(report(reading(1, picture=picture()), reading(2, picture=picture()), refused(3))))


def test_one_file_that_asks_for_nothing(html: str) -> None:
    page = Page(html)
    assert not {"script", "link", "iframe", "object"} & {tag for tag, _ in page.elements}
    addresses = [
        value or "" for _, attrs in page.elements for name, value in attrs.items() if name in {"src", "href", "srcset", "xlink:href"}
    ]
    assert len(addresses) == 2
    assert all(address.startswith("data:image/jpeg;base64,") for address in addresses)
    assert not re.search(r"url\(|@import", html)
    (policy,) = [attrs["content"] for attrs in page.all("meta") if attrs.get("http-equiv") == "Content-Security-Policy"]
    assert policy == "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


def test_pictures_have_alternatives_and_no_metadata(html: str) -> None:
    for image in Page(html).all("img"):
        assert "85 to 110 \u00b5m" in (image["alt"] or "")
        content = base64.b64decode((image["src"] or "").partition(",")[2])
        with Image.open(BytesIO(content)) as opened:
            assert not opened.getexif()
            assert not {"exif", "icc_profile", "comment", "xmp"} & set(opened.info)


def test_headings_go_down_by_one_and_the_language_is_stated(html: str) -> None:
    page = Page(html)
    levels = [int(tag[1]) for tag, _ in page.elements if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(deeper <= level + 1 for level, deeper in zip(levels, levels[1:], strict=False))
    assert page.all("html")[0]["lang"] == "en"
    assert {"header", "main", "footer"} <= {tag for tag, _ in page.elements}


def test_tables_name_their_columns_and_rows_and_can_be_scrolled_by_keyboard(html: str) -> None:
    page = Page(html)
    assert len(page.all("caption")) == len(page.all("table")) > 0
    assert all(cell.get("scope") in {"col", "row"} for cell in page.all("th"))
    scrolled = [attrs for attrs in page.all("div") if attrs.get("class") == "scroll"]
    assert all(attrs["tabindex"] == "0" and attrs["aria-label"] for attrs in scrolled)


def test_charts_have_a_title_and_a_description(html: str) -> None:
    page = Page(html)
    assert len(page.all("svg")) == len(page.all("desc")) == 1
    assert all(attrs["role"] == "img" for attrs in page.all("svg"))


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_is_known_to_be_measured_right() -> None:
    """Black on white is 21:1 by definition; #767676 on white is the lightest grey that passes at 4.54:1 (WCAG techniques, G18)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


def test_every_text_colour_stands_out_from_every_ground(html: str) -> None:
    colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", html))
    for text in ("ink", "quiet", "accent"):
        for ground in ("paper", "tint", "warn"):
            assert contrast(colours[text], colours[ground]) >= 4.5, (text, ground)


def test_nothing_in_the_texts_becomes_markup_or_is_lost() -> None:
    odd = reading(1, by=ODD, gauge=ODD, spot=ODD)
    page = Page(render_html(compose(report(odd, reading(2), details=Details(organisation=ODD, job=LONG), issued_by=ODD))))
    assert not page.all("script")
    assert page.text.count("<script>alert(1)</script>") >= 5
    assert LONG.strip() in page.text


def test_three_hundred_readings_are_all_there() -> None:
    page = Page(render_html(compose(report(*(reading(entry) for entry in range(1, 301))))))
    assert len(page.all("figure")) == 300
    assert page.text.count("no picture") == 300

"""The page of readings: whole in one file, and what stands in the texts stays text."""

from __future__ import annotations

import base64
from html.parser import HTMLParser

from lastwet.report.summary import Row, render_summary


class Page(HTMLParser):
    """Collects tags, addresses and text."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.addresses: list[str] = []
        self.text = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.addresses += [value or "" for name, value in attrs if name in {"src", "href"}]

    def handle_data(self, data: str) -> None:
        self.text += data


def test_the_page_holds_its_pictures_and_asks_for_nothing() -> None:
    page = Page(render_summary("title", "note", [Row("a.jpg", [("verdict", "inside")], b"\xff\xd8picture"), Row("b.jpg", [], None)]))
    assert page.addresses == ["data:image/jpeg;base64," + base64.b64encode(b"\xff\xd8picture").decode()]
    assert not {"script", "link"} & set(page.tags)
    assert all(words in page.text for words in ("title", "note", "a.jpg", "verdict", "inside", "b.jpg"))


def test_the_name_of_a_photo_cannot_become_markup() -> None:
    name = '"><script>alert(1)</script>.jpg'
    page = Page(render_summary("t", "n", [Row(name, [(name, name)], b"x")]))
    assert "script" not in page.tags
    assert page.text.count(name) == 3

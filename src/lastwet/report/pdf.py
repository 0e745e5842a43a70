"""A document as PDF, by fpdf2, on A4 or Letter; fonts are embedded."""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Sequence
from importlib.resources import as_file, files
from io import BytesIO
from typing import Any, Literal

from lastwet.errors import UsageError
from lastwet.report.document import Block, Card, Chart, Document, Facts, Gallery, Section, Signatures, Table, Words

Paper = Literal["a4", "letter"]

MARGIN_MM, FOOT_MM = 17.0, 20.0
CARD_MM, PICTURE_MM, GAP_MM = 4.0, 58.0, 6.0
"""Line height in a card, greatest height of its picture, and space between cards: two rows fit a page of Letter."""

TOGETHER = 2
"""Sections at the end that stand on one page, so that nobody signs a page with nothing else on it."""

_INK, _QUIET, _RULE, _TINT, _ACCENT, _WARN = (22, 33, 31), (77, 91, 88), (185, 196, 193), (238, 243, 241), (11, 90, 76), (251, 243, 228)
_FAMILY = "report"


def render_pdf(document: Document, paper: Paper = "a4") -> bytes:
    """Render a document; raises `UsageError` when the extra `pdf` is not installed."""
    try:
        from fpdf import FPDF
    except ImportError:
        raise UsageError("PDF support is not installed", "pip install 'lastwet[pdf]', or write FILE.html") from None
    logging.getLogger("fpdf.svg").setLevel(logging.ERROR)  # it says that it does not print a drawing's title, which it need not
    logging.getLogger("fontTools").setLevel(logging.ERROR)

    class Pages(FPDF):
        """Head and foot of each page."""

        def header(self) -> None:
            _head(self, document)

        def footer(self) -> None:
            _foot(self, document)

    pages = Pages(format=paper)
    _set_up(pages, document)
    _title(pages, document)
    sections = list(enumerate(document.sections, 1))
    for number, section in sections[:-TOGETHER]:
        _section(pages, number, section)
    with pages.offset_rendering() as tried:
        _close(tried, sections[-TOGETHER:], document)
    if tried.page_break_triggered:
        pages.add_page()
    _close(pages, sections[-TOGETHER:], document)
    return bytes(pages.output())


def _section(pages: Any, number: int, section: Section) -> None:
    _heading(pages, f"{number}. {section.title}", _room(pages, section.blocks[0]))
    for block in section.blocks:
        _block(pages, block)


def _close(pages: Any, sections: Sequence[tuple[int, Section]], document: Document) -> None:
    for number, section in sections:
        _section(pages, number, section)
    _end(pages, document)


def _set_up(pages: Any, document: Document) -> None:
    pages.set_margins(MARGIN_MM, MARGIN_MM)
    pages.set_auto_page_break(True, FOOT_MM)
    for style, name in (("", "DejaVuSansCondensed.ttf"), ("B", "DejaVuSansCondensed-Bold.ttf")):
        with as_file(files("lastwet.report") / "fonts" / name) as font:
            pages.add_font(_FAMILY, style, font)
    pages.set_title(f"{document.title} {document.report_id}")
    pages.set_author(_known(pages, document.organisation))
    pages.set_lang("en")
    pages.set_creator("lastwet")
    pages.set_creation_date(dt.datetime.fromisoformat(document.issued))
    pages.alias_nb_pages()
    pages.add_page()


def _type(pages: Any, size: float, style: str = "", colour: tuple[int, int, int] = _INK) -> None:
    pages.set_font(_FAMILY, style, size)
    pages.set_text_color(*colour)


def _known(pages: Any, text: str) -> str:
    """Write a character that the font lacks by its code point, rather than as an empty box."""
    glyphs = pages.fonts[_FAMILY].cmap
    return "".join(c if c == "\n" or ord(c) in glyphs else f"[U+{ord(c):04X}]" for c in text)


def _fitting(pages: Any, text: str, width: float) -> str:
    """Shorten a text that does not fit on its line."""
    text = _known(pages, text)
    if pages.get_string_width(text) <= width:
        return text
    while text and pages.get_string_width(text + "\u2026") > width:
        text = text[:-1]
    return text + "\u2026"


# --- every page


def _head(pages: Any, document: Document) -> None:
    pages.set_fill_color(*_ACCENT)
    pages.rect(MARGIN_MM, 10, pages.epw, 1.4, "F")
    pages.set_xy(MARGIN_MM, 12.4)
    _type(pages, 8, colour=_QUIET)
    pages.cell(pages.epw - 50, 5, _fitting(pages, document.organisation, pages.epw - 52))
    pages.cell(50, 5, document.report_id, align="R", new_x="LMARGIN", new_y="NEXT")
    pages.ln(3)


def _foot(pages: Any, document: Document) -> None:
    pages.set_y(-15)
    pages.set_draw_color(*_RULE)
    pages.line(MARGIN_MM, pages.h - 15.5, pages.w - MARGIN_MM, pages.h - 15.5)
    _type(pages, 8, colour=_QUIET)
    pages.cell(pages.epw - 40, 5, _known(pages, document.seal))
    # {nb} is replaced at the end, when the right edge has long been set: so the words start where they will fit
    pages.set_x(pages.w - MARGIN_MM - pages.get_string_width(f"page {pages.page_no()} of 000"))
    pages.cell(40, 5, f"page {pages.page_no()} of {{nb}}")


# --- blocks


def _title(pages: Any, document: Document) -> None:
    _type(pages, 21, "B")
    pages.cell(0, 11, document.title, new_x="LMARGIN", new_y="NEXT")
    pages.ln(1)
    _facts(pages, document.summary, tinted=True)


def _room(pages: Any, first: Block) -> float:
    """Return the height that must be left below a heading, in mm, so that it does not stand alone at the foot of a page."""
    if isinstance(first, Gallery):
        return _pair_height(pages, first.cards[:2])
    return 30.0 if isinstance(first, Table | Signatures) else 20.0


def _heading(pages: Any, words: str, room: float) -> None:
    if pages.will_page_break(16 + room):
        pages.add_page()
    pages.ln(5)
    _type(pages, 12.5, "B", _ACCENT)
    pages.multi_cell(0, 6.5, _known(pages, words), new_x="LMARGIN", new_y="NEXT")
    pages.set_draw_color(*_ACCENT)
    pages.set_line_width(0.5)
    pages.line(MARGIN_MM, pages.get_y() + 0.4, pages.w - MARGIN_MM, pages.get_y() + 0.4)
    pages.set_line_width(0.2)
    pages.ln(2.5)


def _block(pages: Any, block: Block) -> None:
    match block:
        case Facts():
            if block.caption:
                _caption(pages, block.caption)
            _facts(pages, block.rows)
        case Words():
            _words(pages, block)
        case Table():
            _table(pages, block)
        case Gallery():
            if block.caption:
                _caption(pages, block.caption, _pair_height(pages, block.cards[:2]))
            _gallery(pages, block.cards)
        case Chart():
            _chart(pages, block)
        case Signatures():
            _signatures(pages, block)
    pages.ln(2.5)


def _facts(pages: Any, rows: Sequence[tuple[str, str]], *, tinted: bool = False) -> None:
    from fpdf.enums import TableBordersLayout
    from fpdf.fonts import FontFace

    _type(pages, 9)
    pages.set_draw_color(*_RULE)
    terms = FontFace(color=_QUIET, fill_color=_TINT if tinted else None)
    said = FontFace(color=_INK, fill_color=_TINT if tinted else None)
    pages.set_fill_color(255, 255, 255)  # what a cell without a fill of its own gets
    layout = {"borders_layout": TableBordersLayout.HORIZONTAL_LINES, "line_height": 4.6, "padding": (0.8, 1.5), "v_align": "TOP"}
    with pages.table(col_widths=(27, 73), text_align="LEFT", first_row_as_headings=False, **layout) as table:
        for term, words in rows:
            row = table.row()
            row.cell(_known(pages, term), style=terms)
            row.cell(_known(pages, words), style=said)


def _words(pages: Any, block: Words) -> None:
    _type(pages, 9)
    for paragraph in block.paragraphs:
        text = _known(pages, paragraph)
        if block.caution:
            pages.set_fill_color(*_WARN)
        pages.multi_cell(0, 4.7, text, fill=block.caution, padding=(1, 2) if block.caution else 0, align="L", new_x="LMARGIN", new_y="NEXT")
        if not block.caution:
            pages.ln(1.2)


def _table(pages: Any, block: Table) -> None:
    from fpdf.enums import TableBordersLayout
    from fpdf.fonts import FontFace

    _caption(pages, block.caption)
    _type(pages, 8)
    pages.set_draw_color(*_RULE)
    heading = FontFace(emphasis="BOLD", color=_INK, fill_color=_TINT)
    layout = {"borders_layout": TableBordersLayout.HORIZONTAL_LINES, "line_height": 4.1, "padding": (0.7, 1), "v_align": "TOP"}
    with pages.table(col_widths=tuple(block.widths), text_align="LEFT", headings_style=heading, **layout) as table:
        for cells in (block.head, *block.rows):
            row = table.row()
            for cell in cells:
                row.cell(_known(pages, cell))


def _caption(pages: Any, words: str, room: float = 22) -> None:
    if pages.will_page_break(6 + room):
        pages.add_page()
    _type(pages, 9.5, "B")
    pages.multi_cell(0, 5.5, _known(pages, words), align="L", new_x="LMARGIN", new_y="NEXT")


def _chart(pages: Any, block: Chart) -> None:
    svg = _known(pages, block.svg).replace('font-family="sans-serif"', f'font-family="{_FAMILY}"').replace("currentColor", "#16211f")
    width, height = _svg_size(svg)
    wide = min(pages.epw, width * 0.2)  # 14 px of type become about 8 pt
    tall = wide * height / width
    if pages.will_page_break(tall):
        pages.add_page()
    pages.image(BytesIO(svg.encode()), x=MARGIN_MM, w=wide, h=tall)


def _svg_size(svg: str) -> tuple[float, float]:
    _, _, width, height = svg.partition('viewBox="')[2].partition('"')[0].split()
    return float(width), float(height)


def _gallery(pages: Any, cards: Sequence[Card]) -> None:
    width = _card_width(pages)
    for start in range(0, len(cards), 2):
        pair = cards[start : start + 2]
        height = _pair_height(pages, pair)
        if pages.will_page_break(height):
            pages.add_page()
        top = pages.get_y()
        for column, card in enumerate(pair):
            _card(pages, card, MARGIN_MM + column * (width + GAP_MM), top, width, height)
        pages.set_xy(MARGIN_MM, top + height + GAP_MM)


def _pair_height(pages: Any, pair: Sequence[Card]) -> float:
    return max(_card_height(pages, card, _card_width(pages)) for card in pair)


def _card_width(pages: Any) -> float:
    return float((pages.epw - GAP_MM) / 2)


def _picture_size(card: Card, width: float) -> tuple[float, float]:
    """Return width and height in mm; a card without a picture has a low box in its place."""
    if card.picture is None:
        return width, 14.0
    from PIL import Image

    with Image.open(BytesIO(card.picture)) as picture:
        scale = min(width / picture.width, PICTURE_MM / picture.height)
        return picture.width * scale, picture.height * scale


def _card_lines(pages: Any, card: Card, width: float) -> list[str]:
    _type(pages, 7.6)
    found: list[str] = []
    for line in card.lines:
        found += pages.multi_cell(
            width, CARD_MM, _known(pages, line), dry_run=True, output="LINES", wrapmode="CHAR" if " " not in line else "WORD"
        )
    return found


def _title_lines(pages: Any, card: Card, width: float) -> list[str]:
    _type(pages, 9, "B")
    return list(pages.multi_cell(width, CARD_MM, _known(pages, card.title), dry_run=True, output="LINES"))


def _card_height(pages: Any, card: Card, width: float) -> float:
    lines = len(_title_lines(pages, card, width - 4)) * 4.8 + len(_card_lines(pages, card, width - 4)) * CARD_MM
    return _picture_size(card, width - 4)[1] + lines + 7


def _card(pages: Any, card: Card, left: float, top: float, width: float, height: float) -> None:
    pages.set_draw_color(*_RULE)
    pages.rect(left, top, width, height)
    wide, tall = _picture_size(card, width - 4)
    if card.picture is None:
        pages.set_fill_color(*_TINT)
        pages.rect(left + 2, top + 2, wide, tall, "F")
        pages.set_xy(left + 2, top + 2)
        _type(pages, 8, colour=_QUIET)
        pages.cell(wide, tall, "no picture", align="C")
    else:
        pages.image(BytesIO(card.picture), x=left + (width - wide) / 2, y=top + 2, w=wide, h=tall, alt_text=card.alt)
    y = top + tall + 4
    parts = ((_title_lines(pages, card, width - 4), 9, "B", 4.8), (_card_lines(pages, card, width - 4), 7.6, "", CARD_MM))
    for lines, size, style, step in parts:
        _type(pages, size, style)
        for line in lines:
            pages.set_xy(left + 2, y)
            pages.cell(width - 4, step, line)
            y += step


def _signatures(pages: Any, block: Signatures) -> None:
    width = (pages.epw - GAP_MM * (len(block.roles) - 1)) / len(block.roles)
    top = pages.get_y() + 18
    pages.set_draw_color(*_INK)
    for place, (role, name) in enumerate(block.roles):
        left = MARGIN_MM + place * (width + GAP_MM)
        _type(pages, 9)
        pages.set_xy(left, top - 5.5)
        pages.cell(width, 5, _fitting(pages, name, width))
        pages.line(left, top, left + width, top)
        _type(pages, 8, colour=_QUIET)
        pages.set_xy(left, top + 0.8)
        pages.cell(width, 4, f"{role}: name, position, date, signature")
    pages.set_xy(MARGIN_MM, top + 8)


def _end(pages: Any, document: Document) -> None:
    _type(pages, 8, colour=_QUIET)
    pages.cell(0, 5, f"End of report {document.report_id}", align="C", new_x="LMARGIN", new_y="NEXT")

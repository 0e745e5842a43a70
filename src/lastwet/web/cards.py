"""Gauges and coatings: what can be chosen, and what the shop adds."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping

from starlette.responses import Response

from lastwet.errors import UsageError
from lastwet.film.coating import card_text
from lastwet.film.coating import cautions as card_cautions
from lastwet.gauge import Side
from lastwet.web.desk import Visit, see_other
from lastwet.words.coating import card_lines
from lastwet.words.gauge import cautions as gauge_cautions

MOST_SIDES = 6

Values = Mapping[str, str]


def cards(visit: Visit) -> Response:
    """List gauges and coatings."""
    own = visit.desk.cards
    return visit.page("cards.html", gauges=own.gauges(), coatings=own.titles())


def gauge(visit: Visit) -> Response:
    """Show a gauge, and which of its sides photos cannot be read of."""
    found = visit.desk.cards.gauge(visit.path["name"])
    sides = [(side.id, _teeth_words(side)) for side in found.sides]
    return visit.page("gauge.html", gauge=found, sides=sides, cautions=list(gauge_cautions(found)))


def _teeth_words(side: Side) -> str:
    return " ".join(f"{value:g}" for value in side.teeth)


def coating(visit: Visit) -> Response:
    """Show a coating's card, and what is odd about it."""
    found = visit.desk.cards.coating(visit.path["name"])
    return visit.page("coating.html", card=found, lines=list(card_lines(found)), cautions=list(card_cautions(found)))


# --- new cards


def new_gauge(visit: Visit) -> Response:
    """Offer to enter a gauge."""
    return _gauge_form(visit, {}, {})


def _gauge_form(visit: Visit, values: Values, errors: Values) -> Response:
    return visit.page("new_gauge.html", 422 if errors else 200, values=values, errors=errors, sides=range(1, MOST_SIDES + 1))


def add_gauge(visit: Visit) -> Response:
    """Check a gauge and keep it."""
    form = visit.form
    name = form.get("name", "").strip()
    try:
        visit.desk.cards.add_gauge(name, _gauge_text(form))
    except UsageError as error:
        return _gauge_form(visit, form, {_gauge_field(error.message): str(error)})
    visit.who.gauge, visit.who.side = name, None
    return see_other(f"/gauges/{name}")


def _gauge_text(form: Values) -> str:
    """Write the gauge as TOML; what was put in for the teeth is taken as numbers, or refused."""
    lines = [f"name = {_quoted(form.get('name', '').strip())}", f"unit = {_quoted(form.get('unit', 'um'))}"]
    for number in range(1, MOST_SIDES + 1):
        side, teeth = form.get(f"side{number}", "").strip(), form.get(f"teeth{number}", "").replace(",", " ").split()
        if not side and not teeth:
            continue
        wrong = [value for value in teeth if not re.fullmatch(r"\d+(\.\d+)?", value)]
        if wrong or not side:
            told = f"'{wrong[0]}' is not the value of a tooth" if wrong else "the side has no name"
            raise UsageError(f"side {number}, {told}", "write the numbers as they are stamped, with blanks between")
        lines += ["[[side]]", f"id = {_quoted(side)}", f"teeth = [{', '.join(teeth)}]"]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    """Write a TOML basic string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04x}" for c in escaped) + '"'


def _gauge_field(message: str) -> str:
    """Tell which field of the form a message speaks of."""
    side = re.search(r"side (\d+), ", message)
    return f"teeth{side[1]}" if side else "teeth1" if "side" in message else "name"


def new_coating(visit: Visit) -> Response:
    """Offer to enter a coating."""
    return _coating_form(visit, {}, {})


def _coating_form(visit: Visit, values: Values, errors: Values) -> Response:
    return visit.page("new_coating.html", 422 if errors else 200, values=values, errors=errors)


def add_coating(visit: Visit) -> Response:
    """Check a coating's card and keep it."""
    form = visit.form
    title = form.get("name", "").strip()
    name = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")
    try:
        visit.desk.cards.add_coating(name, _coating_text(form, title))
    except UsageError as error:
        key = re.match(r"\S+: (?:(\w+)\.)?(\w+)", error.message)
        field = (key[1] or key[2]) if key else "name"
        return _coating_form(visit, form, {field if field in _COATING_FIELDS else "name": str(error)})
    visit.who.coating = name
    return see_other(f"/coatings/{name}")


_COATING_FIELDS = ("name", "volume_solids", "wet_range", "dry_range", "maximum_build", "thinner", "mix_ratio", "pot_life", "source")


def _coating_text(form: Values, title: str) -> str:
    unit, stated = form.get("unit", "um"), {key: value.strip() for key, value in form.items() if value.strip()}
    try:
        date = dt.date.fromisoformat(stated.get("sheet_date", ""))
    except ValueError:
        raise UsageError("card: source.date is not a day", "write it as in 2026-02-02") from None
    tolerance = f" +/- {stated['tolerance']}" if "tolerance" in stated else ""
    most = (f"{stated['maximum_build']} {unit}", "wet" if form.get("maximum_of") == "wet" else "dry") if "maximum_build" in stated else None
    basis = "base by volume" if form.get("thinner_of") == "base" else "mixed paint by volume"
    return card_text(
        name=title,
        volume_solids=f"{stated.get('volume_solids', '')}{tolerance} %",
        wet_range=f"{stated.get('wet_low', '')}-{stated.get('wet_high', '')} {unit}",
        sheet=stated.get("sheet", ""),
        sheet_date=date,
        dry_range=f"{stated.get('dry_low', '')}-{stated.get('dry_high', '')} {unit}" if {"dry_low", "dry_high"} & stated.keys() else None,
        mix_ratio=f"{stated['mix_ratio']} by volume" if "mix_ratio" in stated else None,
        pot_life=f"{stated['pot_life']} h" if "pot_life" in stated else None,
        recoat_window=_window(stated),
        maximum_build=most,  # type: ignore[arg-type]
        thinner_max=(f"{stated['thinner']} %", basis) if "thinner" in stated else None,  # type: ignore[arg-type]
    )


def _window(stated: Values) -> str | None:
    if "recoat_from" not in stated:
        return None
    return f"{stated['recoat_from']} h - {stated['recoat_to']} h" if "recoat_to" in stated else f"{stated['recoat_from']} h or more"

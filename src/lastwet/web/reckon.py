"""Plans, quantities, conversions: the arithmetic of film on numbers that are put in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.responses import Response

from lastwet.errors import UsageError
from lastwet.film.climate import climate
from lastwet.film.coating import Coating
from lastwet.film.coverage import quantities
from lastwet.film.dry import PREDICTION, dry_range_caution, predict_dry
from lastwet.film.plan import plan
from lastwet.film.quantity import parse_area_m2, parse_temperature_c, share_of
from lastwet.service import film
from lastwet.units import parse_bracket, parse_length_um
from lastwet.web.desk import Visit
from lastwet.web.fields import given, number
from lastwet.words import film as words
from lastwet.words import reckoning
from lastwet.words.film import Line

Values = Mapping[str, str]


def reckon(visit: Visit) -> Response:
    """Show the forms, and what was asked for."""
    asked, names = visit.query, visit.desk.cards.coatings()
    said: dict[str, Any] = {"heading": None, "lines": [], "error": None, "what": asked.get("what")}
    if asked.get("what") in _RECKONED:
        try:
            said["heading"], said["lines"] = _RECKONED[asked["what"]](visit, asked)
        except UsageError as error:
            said["error"] = str(error)
    chosen = asked.get("coating") or visit.who.coating or names[0]
    coatings = visit.desk.cards.titles()
    return visit.page("reckon.html", 422 if said["error"] else 200, asked=asked, coatings=coatings, chosen=chosen, said=said)


def _percent(asked: Values, name: str) -> float:
    return number(asked.get(name, "").strip().replace(",", ".") or "0")


def _thinned(card: Coating, asked: Values) -> tuple[float, list[Line]]:
    """Read the thinner as a fraction, and tell more than the card allows."""
    paint = film(card, None, _percent(asked, "thinner"), None)
    return paint.thinned, [("caution", paint.caution)] if paint.caution else []


def _dry(visit: Visit, asked: Values) -> tuple[str, list[Line]]:
    card, unit = visit.desk.cards.coating(asked.get("coating", "")), asked.get("wet_unit", "um")
    low, high = given(asked, "wet_low"), asked.get("wet_high", "").strip()
    wet = parse_bracket(f"{low}-{high} {unit}" if high else f"{low} {unit}+")
    thinner, told = _thinned(card, asked)
    dry = predict_dry(wet, card.volume_solids, thinner, card.volume_solids_tolerance)
    outside = dry_range_caution((dry.low_um, dry.high_um), card.dry_range_um)
    cautions = [*told, *([("caution", outside)] if outside else [])]
    return f"{words.bracket(dry)} dry", [("wet film", words.bracket(wet)), *cautions, ("note", PREDICTION)]


def _plan(visit: Visit, asked: Values) -> tuple[str, list[Line]]:
    card, total_um = visit.desk.cards.coating(asked.get("coating", "")), parse_length_um(given(asked, "total", "um"))
    sanded = asked.get("sanding", "").strip() or "0"
    unit = asked.get("total_unit", "um")
    thinner, told = _thinned(card, asked)
    made = plan(card, total_um, thinner, parse_length_um(f"{sanded} {unit}"))
    return reckoning.plan_heading(made, total_um, card), [*reckoning.plan_lines(made), *told]


def _quantities(visit: Visit, asked: Values) -> tuple[str, list[Line]]:
    card, coats = visit.desk.cards.coating(asked.get("coating", "")), given(asked, "coats")
    if not coats.isdecimal() or len(coats) > 4:
        raise UsageError(f"'{coats}' is not a number of coats", "write it as in 2")
    loss, area_m2, wet_um = (
        share_of(_percent(asked, "loss"), "a loss"),
        parse_area_m2(given(asked, "area", "m2")),
        parse_length_um(given(asked, "each", "um")),
    )
    thinner, told = _thinned(card, asked)
    needed = quantities(card, area_m2, wet_um, int(coats), loss, thinner)
    return f"{reckoning.volume(needed.mixed_l)} of mixed paint", [*reckoning.quantities_lines(needed, card, loss), *told]


def _dew_point(_: Visit, asked: Values) -> tuple[str, list[Line]]:
    surface = parse_temperature_c(given(asked, "surface", "C")) if asked.get("surface", "").strip() else None
    damp = share_of(_percent(asked, "humidity"), "a relative humidity")
    found = climate(parse_temperature_c(given(asked, "air", "C")), damp, surface)
    return reckoning.climate_heading(found), list(reckoning.climate_lines(found))


def _convert(_: Visit, asked: Values) -> tuple[str, list[Line]]:
    return words.length(parse_length_um(given(asked, "length", "um"))), []


_RECKONED = {"dry": _dry, "plan": _plan, "quantities": _quantities, "dew-point": _dew_point, "convert": _convert}

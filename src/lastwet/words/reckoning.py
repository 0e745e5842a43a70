"""Plans, quantities and the air, in words."""

from __future__ import annotations

from collections.abc import Iterator

from lastwet.film.climate import Climate
from lastwet.film.coating import Coating
from lastwet.film.coverage import Quantities, ft2_per_gallon
from lastwet.film.plan import CoatPlan, Plan
from lastwet.film.quantity import L_PER_US_GALLON
from lastwet.words.film import Line, fixed, length, span

_SHOWN = 8
"""Ways of a plan that are told; where the wet range begins near 0 there may be as many as a plan has coats."""


def plan_heading(made: Plan, total_um: float, card: Coating) -> str:
    """Say what was asked for, and whether it can be made."""
    return f"{length(total_um)} dry of {card.name}" + ("" if made.best else " cannot be made")


def plan_lines(made: Plan) -> Iterator[Line]:
    """Say how many coats, and how wet each."""
    if made.best is None:
        yield "forbidden by", made.forbidden_by or ""
        return
    shown = max(_SHOWN, made.ways.index(made.best) + 1)
    for way in made.ways[:shown]:
        best = ", nearest to the middle of the wet range" if way is made.best else ""
        yield f"{way.coats} coat{'s' if way.coats > 1 else ''}", f"aim {length(way.wet_aim_um)} wet each{best}"
    if made.ways[shown:]:
        yield "more coats", f"up to {made.ways[-1].coats}, thinner each"
    yield "total", _total(made.best)
    if made.caution:
        yield "caution", made.caution


def _total(way: CoatPlan) -> str:
    least, most = way.total_range_um
    return f"{length(least)} dry" if least == most else f"{span((least, most))} dry, with the tolerance of the volume solids"


def quantities_lines(needed: Quantities, card: Coating, loss: float) -> Iterator[Line]:
    """Say what a job takes, by its parts, and how far the paint goes; `loss` is a fraction."""
    if needed.thinner_l:
        yield "thinner", volume(needed.thinner_l)
    if len(needed.parts_l) > 1:
        ratio = ":".join(f"{part:g}" for part in card.mix_parts)
        yield "parts", f"{' + '.join(volume(part) for part in needed.parts_l)}, base first, {ratio} by volume"
    for name, rate in (("theoretical", needed.rate.theoretical_m2_l), ("practical", needed.rate.practical_m2_l)):
        yield name, f"{fixed(rate)} m2/L ({fixed(ft2_per_gallon(rate))} ft2/US gal) of mixed paint for one coat"
    yield "loss", f"{loss * 100:g} % of the paint does not end on the work; measure your own"


def volume(litres: float) -> str:
    """Print a volume in litres and US gallons."""
    return f"{fixed(litres)} L ({fixed(litres / L_PER_US_GALLON)} US gal)"


def climate_heading(found: Climate) -> str:
    """Say the dew point."""
    return f"dew point {found.dew_point_c:.1f} C ({found.dew_point_c * 1.8 + 32:.0f} F)"


def climate_lines(found: Climate) -> Iterator[Line]:
    """Say how far the surface is above the dew point."""
    assumed = ", taken to be as warm as the air; cold parts are not" if found.surface_assumed else ""
    yield "surface", f"{found.margin_words} C {'above' if found.margin_c > 0 else 'below'} the dew point{assumed}"
    if found.caution:
        yield "caution", found.caution
    else:
        yield "rule", "at least 3 C above it is kept; the data sheet has the last word"

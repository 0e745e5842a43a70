"""`lastwet film`: the arithmetic of wet and dry film, on numbers typed in."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Any

import typer

from lastwet.cli import complain
from lastwet.errors import ExitCode, UsageError

if TYPE_CHECKING:
    from lastwet.cli.wording import Line
    from lastwet.film.coating import Coating
    from lastwet.film.dialin import Advice
    from lastwet.film.estimate import Chance, Estimate
    from lastwet.film.measured import Check, ShopRatio, Summary
    from lastwet.result import Film
    from lastwet.units import Bracket

app = typer.Typer(help="Reckon with wet and dry film: numbers typed in, no photo needed.", no_args_is_help=True)

Card = Annotated[str | None, typer.Option("--coating", metavar="NAME|FILE", help="The paint: see `lastwet coating list`.")]
NeededCard = Annotated[str, typer.Option("--coating", metavar="NAME|FILE", help="The paint: see `lastwet coating list`.")]
Solids = Annotated[float | None, typer.Option(metavar="PERCENT", help="Volume solids before thinning.")]
Thinner = Annotated[float, typer.Option(metavar="PERCENT", help="Thinner added, by volume of the mixed paint.")]
Cured = Annotated[list[str], typer.Argument(metavar="LENGTH...", help="Gauge readings of the cured film, as in 38um.")]
Pa2 = Annotated[
    str | None, typer.Option("--pa2", metavar="LOW-HIGH", help="Check by SSPC-PA 2 (metal): readings by threes, one spot each.")
]
Iso19840 = Annotated[
    str | None, typer.Option("--iso-19840", metavar="LENGTH", help="Check by ISO 19840 (metal) against this nominal dry film.")
]
Area = Annotated[
    str | None,
    typer.Option("--area", metavar="AREA", help="What was measured, as in 12m2 or 130ft2: enough readings by those rules, as known here?"),
]
CheckRules = Annotated[bool, typer.Option("--check", help="Exit 5 when a rule is not met.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object, and nothing else.")]
WetRange = Annotated[str | None, typer.Option(metavar="LOW-HIGH", help="Wet range to judge by, as in 110-150um or 3-5mil.")]

NO_SOLIDS = "the dry film depends on the volume solids"
SOLIDS_CURE = "give --solids or --coating"


@app.command()
def dry(
    wet: Annotated[str, typer.Argument(metavar="BRACKET", help="Wet film, as in 110-140um, 'below 40um' or 215um+.")],
    coating: Card = None,
    solids: Solids = None,
    thinner: Thinner = 0.0,
    as_json: AsJson = False,
) -> None:
    """Predict the dry film from a wet bracket."""
    from lastwet.cli import wording
    from lastwet.film.dry import PREDICTION, predict_dry
    from lastwet.units import parse_bracket

    bracket, card = parse_bracket(wet), _card(coating)
    film = _film(card, solids, thinner)
    predicted = predict_dry(bracket, _solids(film), film.thinned, film.solids_tolerance)
    caution = _dry_caution(predicted, card)
    if as_json:
        ends = {"wet_um": wording.ends(bracket), "dry_um": wording.ends(predicted)}
        wording.show_json("dry", {**ends, **_recipe(film), "caution": caution, "note": PREDICTION})
        return
    lines = [("wet film", wording.bracket(bracket)), ("from", _recipe_words(film)), *_caution_line(caution), ("note", PREDICTION)]
    wording.show(f"{wording.bracket(predicted)} dry", lines)


@app.command()
def wet(
    dry: Annotated[str, typer.Argument(metavar="LENGTH|LOW-HIGH", help="Wanted dry film, as in 40um or 1.5-2mil.")],
    coating: Card = None,
    solids: Solids = None,
    thinner: Thinner = 0.0,
    as_json: AsJson = False,
) -> None:
    """Return the wet film that dries to a wanted film: for a range, what surely dries to within it."""
    from lastwet.cli import wording
    from lastwet.film.dry import RECKONED

    wanted, film = length_or_range(dry), _film(_card(coating), solids, thinner)
    needed = _needed_wet(wanted, film)
    if as_json:
        wording.show_json("wet", {"dry_um": wording.pair(wanted), "wet_um": wording.pair(needed), **_recipe(film), "note": RECKONED})
        return
    wet, dried = (wording.length(ends[0]) if ends[0] == ends[1] else wording.span(ends) for ends in (needed, wanted))
    if film.solids_tolerance and wanted[0] == wanted[1]:
        wet = f"{wet} wet, depending on the solids"
    else:
        wet, dried = f"{wet} wet", f"{dried}, whatever the solids within their tolerance" if film.solids_tolerance else dried
    wording.show(wet, [("dry film", dried), ("from", _recipe_words(film)), ("note", RECKONED)])


def _needed_wet(wanted_um: tuple[float, float], film: Film) -> tuple[float, float]:
    """Return least and most wet film: for one length what it takes depending on the solids, for a range what surely keeps it."""
    from lastwet.film.dry import wet_for_dry, wet_within
    from lastwet.units import Bracket

    recipe = _solids(film), film.thinned, film.solids_tolerance
    if wanted_um[0] < wanted_um[1]:
        return wet_within(wanted_um, *recipe)
    thinnest, thickest = wet_for_dry(Bracket(wanted_um[0], None), *recipe), wet_for_dry(Bracket(0.0, wanted_um[1]), *recipe)
    return thinnest.low_um, thickest.high_um or 0.0


@app.command()
def estimate(
    brackets: Annotated[list[str], typer.Argument(metavar="BRACKET...", help="One for each spot, as in 110-140um.")],
    coating: Card = None,
    wet_range: WetRange = None,
    solids: Solids = None,
    thinner: Thinner = 0.0,
    as_json: AsJson = False,
) -> None:
    """Estimate mean and spread of a coat from several brackets, and say what to change."""
    from lastwet.cli import wording
    from lastwet.film.dialin import advise
    from lastwet.film.dry import PREDICTION, predict_dry
    from lastwet.film.estimate import chance, mean_bounds
    from lastwet.film.estimate import estimate as estimated
    from lastwet.units import parse_bracket

    read, card = [parse_bracket(text) for text in brackets], _card(coating)
    found, film = estimated(read), _film(card, solids, thinner, wet_range)
    odds = chance(found, film.wet_range_um) if film.wet_range_um else None
    advice = advise(mean_bounds(read), film.wet_range_um, spots=read) if film.wet_range_um else None
    dried = predict_dry(mean_bounds(read), film.solids, film.thinned, film.solids_tolerance) if film.solids else None
    caution = _dry_caution(dried, card)
    if as_json:
        dry_um = {"dry_um": wording.ends(dried) if dried else None, "caution": caution}
        wording.show_json("estimate", {**estimate_json(found), **chance_json(odds), **(advice_json(advice) if advice else {}), **dry_um})
        return
    lines = list(_estimate_lines(found, odds, advice))
    if dried:
        told = f"{wording.bracket(dried)}, the mean of the spots, from {_recipe_words(film)}"
        lines += [("dry film", told), *_caution_line(caution), ("note", PREDICTION)]
    wording.show(f"{len(read)} reading{'s' if len(read) > 1 else ''}", lines)


@app.command()
def plan(
    coating: NeededCard,
    total: Annotated[str, typer.Option(metavar="LENGTH", help="Wanted dry film of all coats, as in 100um or 4mil.")],
    thinner: Thinner = 0.0,
    sanding: Annotated[str, typer.Option(metavar="LENGTH", help="Dry film sanded off after each coat but the last.")] = "0um",
    as_json: AsJson = False,
) -> None:
    """Plan how many coats, and how wet each, for a wanted dry film; exit 2 and the limit that forbids it where it cannot be made."""
    from dataclasses import asdict

    from lastwet.cli import wording
    from lastwet.film.plan import plan as planned
    from lastwet.units import parse_length_um
    from lastwet.words.reckoning import plan_heading, plan_lines

    card, total_um = _needed(coating), parse_length_um(total)
    made = planned(card, total_um, _film(card, None, thinner).thinned, parse_length_um(sanding))
    if as_json:
        wording.show_json("plan", {"coating": card.name, "total_um": total_um, **asdict(made)})
    elif made.best:
        wording.show(plan_heading(made, total_um, card), plan_lines(made))
    if made.best is None:  # what was asked for must change, as where `wet` finds no film
        cure = "change --total, --thinner or --sanding, or take another coating"
        raise UsageError(f"{plan_heading(made, total_um, card)}, forbidden by {made.forbidden_by}", cure)


@app.command()
def quantities(
    coating: NeededCard,
    area: Annotated[str, typer.Option(metavar="AREA", help="What is coated, as in 12m2 or 130ft2.")],
    wet: Annotated[str, typer.Option(metavar="LENGTH", help="Wet film of each coat, as in 110um.")],
    coats: Annotated[int, typer.Option(min=1, help="How many.")] = 1,
    loss: Annotated[float, typer.Option(metavar="PERCENT", help="Percentage of the paint that does not end on the work.")] = 0.0,
    thinner: Thinner = 0.0,
    as_json: AsJson = False,
) -> None:
    """Reckon how much to mix for an area."""
    from dataclasses import asdict

    from lastwet.cli import wording
    from lastwet.film.coverage import quantities as reckoned
    from lastwet.film.quantity import parse_area_m2, share_of
    from lastwet.units import parse_length_um
    from lastwet.words.reckoning import quantities_lines, volume

    card, area_m2, lost = _needed(coating), parse_area_m2(area), share_of(loss, "a loss")
    needed = reckoned(card, area_m2, parse_length_um(wet), coats, lost, _film(card, None, thinner).thinned)
    if as_json:
        wording.show_json("quantities", {"coating": card.name, "area_m2": area_m2, "loss": lost, **asdict(needed)})
        return
    wording.show(f"{volume(needed.mixed_l)} of mixed paint", quantities_lines(needed, card, lost))


@app.command("dew-point")
def dew_point(
    air: Annotated[str, typer.Option(metavar="TEMPERATURE", help="Of the air, as in 20C or 68F.")],
    humidity: Annotated[float, typer.Option(metavar="PERCENT", help="Relative humidity.")],
    surface: Annotated[
        str | None, typer.Option(metavar="TEMPERATURE", help="Of the surface; default as warm as the air, which cold parts are not.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Find the dew point, and whether the surface is far enough above it."""
    from lastwet.cli import wording
    from lastwet.film.climate import climate
    from lastwet.film.quantity import parse_temperature_c, share_of
    from lastwet.words.reckoning import climate_heading, climate_lines

    damp = share_of(humidity, "a relative humidity")
    found = climate(parse_temperature_c(air), damp, None if surface is None else parse_temperature_c(surface))
    if as_json:
        named = {
            "air_c": found.air_c,
            "humidity": found.humidity,
            "surface_c": found.surface_c,
            "surface_assumed": found.surface_assumed,
            "caution": found.caution,
        }
        wording.show_json("dew-point", {**named, "dew_point_c": round(found.dew_point_c, 2), "margin_c": round(found.margin_c, 2)})
        return
    wording.show(climate_heading(found), climate_lines(found))


@app.command()
def measured(
    readings: Cured,
    coating: Card = None,
    wet: Annotated[list[str] | None, typer.Option(metavar="BRACKET", help="Wet reading of the same coat; may be given again.")] = None,
    thinner: Thinner = 0.0,
    pa2: Pa2 = None,
    iso_19840: Iso19840 = None,
    area: Area = None,
    check: CheckRules = False,
    as_json: AsJson = False,
) -> None:
    """Summarise a measured dry film, check it, and compare it with the wet readings."""
    from lastwet.cli import wording
    from lastwet.film.estimate import estimate as estimated
    from lastwet.film.estimate import mean_bounds
    from lastwet.film.measured import shop_ratio, summarise
    from lastwet.units import parse_bracket, parse_length_um

    dry_um, card = [parse_length_um(text) for text in readings], _card(coating)
    brackets, summary = [parse_bracket(text) for text in wet or []], summarise(dry_um)
    checks = [*sheet_checks(dry_um, card), *rule_checks(dry_um, pa2, iso_19840, area)]
    if check and not checks:
        raise UsageError("--check needs a rule", "add --pa2 or --iso-19840, or a --coating that has a dry range")
    ratio, film = shop_ratio(estimated(brackets), dry_um) if brackets else None, _film(card, None, thinner) if card else None
    predicted = film.dry(mean_bounds(brackets)) if film and brackets else None
    if as_json:
        wording.show_json("measured", measured_json(summary, checks, ratio, predicted))
    else:
        heading = f"{wording.length(summary.mean_um)} mean of {summary.count} dry film readings"
        wording.show(heading, measured_lines(summary, checks, ratio, predicted))
    if check and not all(each.passed for each in checks):
        raise typer.Exit(ExitCode.OUT_OF_SPECIFICATION)


def sheet_checks(dry_um: list[float], card: Coating | None) -> list[Check]:
    """Apply the data sheet's dry range, where there is one."""
    from lastwet.film.measured import sheet_range

    return [sheet_range(dry_um, card.dry_range_um)] if card and card.dry_range_um else []


def rule_checks(dry_um: list[float], pa2: str | None, nominal: str | None, area: str | None) -> list[Check]:
    """Apply the rules asked for; raises `UsageError` for an area without them."""
    from lastwet.film.measured import READINGS_PER_SPOT, iso_19840, pa2_default
    from lastwet.film.quantity import parse_area_m2, parse_areas
    from lastwet.units import parse_length_um, parse_range_um

    if area is not None and not pa2 and not nominal:
        raise UsageError("no rule asks for the area", "add --pa2 or --iso-19840, or leave --area out")
    checks = []
    if pa2:
        spots = [dry_um[first : first + READINGS_PER_SPOT] for first in range(0, len(dry_um), READINGS_PER_SPOT)]
        checks.append(pa2_default(spots, parse_range_um(pa2), None if area is None else parse_areas(area)))
    if nominal:
        checks.append(iso_19840(dry_um, parse_length_um(nominal), area_m2=None if area is None else parse_area_m2(area)))
    return checks


def measured_json(summary: Summary, checks: list[Check], ratio: ShopRatio | None, predicted: Bracket | None) -> dict[str, Any]:
    """Return a measured dry film as plain data."""
    from dataclasses import asdict

    from lastwet.cli import wording

    return {
        **asdict(summary),
        "checks": [asdict(each) for each in checks],
        "ratio": asdict(ratio) if ratio else None,
        "predicted_um": wording.ends(predicted) if predicted else None,
    }


def measured_lines(summary: Summary, checks: list[Check], ratio: ShopRatio | None, predicted: Bracket | None) -> Iterator[Line]:
    """Say what was measured, by which rules, and how it compares with what was predicted."""
    from lastwet.cli import wording

    yield "least and most", wording.span((summary.minimum_um, summary.maximum_um))
    yield from wording.check_lines(checks)
    if predicted:
        high = predicted.high_um
        place = "below" if summary.mean_um < predicted.low_um else "above" if high is not None and summary.mean_um >= high else "inside"
        yield "predicted", f"{wording.bracket(predicted)}; the measured mean lies {place}"
    if ratio:
        yield "dry to wet", f"{_ratio_words(ratio)}; your own figure for this coating, not its volume solids"
        if ratio.caution:
            yield "caution", ratio.caution


def _ratio_words(ratio: ShopRatio) -> str:
    if ratio.value is None and ratio.bounds[0]:
        return f"between {ratio.bounds[0]:.3f} and {ratio.bounds[1]:.3f}"
    if ratio.value is None:
        return f"at most {ratio.bounds[1]:.3f}"
    if ratio.uncertainty is None:
        return f"{ratio.value:.3f}, between {ratio.bounds[0]:.3f} and {ratio.bounds[1]:.3f}; one dry reading shows no scatter"
    return f"{ratio.value:.3f} +/- {ratio.uncertainty:.3f} (about 95 %)"


def _card(coating: str | None) -> Coating | None:
    return None if coating is None else _needed(coating)


def _needed(coating: str) -> Coating:
    """Load a coating by its name, the shop's own beside the usual log first, or by its path."""
    from lastwet.service.cards import cards_beside

    return cards_beside(None).find_coating(coating)


def _film(card: Coating | None, solids: float | None, thinner: float, wet_range: str | None = None) -> Film:
    """Gather what is known of the paint; tell more thinner than its card allows."""
    from lastwet import service

    film = service.film(card, solids, thinner, wet_range)
    if film.caution:
        complain(film.caution)
    return film


def _dry_caution(dry: Bracket | None, card: Coating | None) -> str | None:
    from lastwet.film.dry import dry_range_caution

    return dry_range_caution((dry.low_um, dry.high_um), card.dry_range_um) if dry and card else None


def _caution_line(caution: str | None) -> list[Line]:
    return [("caution", caution)] if caution else []


def _solids(film: Film) -> float:
    if film.solids is None:
        raise UsageError(NO_SOLIDS, SOLIDS_CURE)
    return film.solids


def length_or_range(text: str) -> tuple[float, float]:
    """Read one length, or a range, as two ends in micrometres."""
    from lastwet.units import parse_length_um, parse_range_um

    try:
        one = parse_length_um(text)
    except UsageError:
        return parse_range_um(text)
    if not one:
        raise UsageError(f"'{text}' is no film", "give a thickness above 0")
    return one, one


def _recipe(film: Film) -> dict[str, Any]:
    return {"volume_solids": film.solids, "volume_solids_tolerance": film.solids_tolerance, "thinner": film.thinned}


def _recipe_words(film: Film) -> str:
    tolerance = f" +/- {film.solids_tolerance * 100:g}" if film.solids_tolerance else ""
    return f"{(film.solids or 0) * 100:g}{tolerance} % volume solids and {film.thinned * 100:g} % thinner"


def _estimate_lines(found: Estimate, odds: Chance | None, advice: Advice | None) -> Iterator[Line]:
    from lastwet.cli import wording

    yield from wording.estimate_lines(found, odds)
    if advice:
        yield "verdict", f"the mean: {wording.verdict_words(advice)}"
        yield from wording.advice_lines(advice)


def estimate_json(found: Estimate) -> dict[str, Any]:
    """Return an estimate as plain data."""
    from lastwet.cli import wording

    return {
        "readings": found.readings,
        "mean_um": found.mean_um,
        "mean_interval_um": wording.pair(found.mean_interval_um),
        "spread_um": found.spread_um,
        "spread_interval_um": wording.pair(found.spread_interval_um),
        "floor_um": found.floor_um,
        "confidence": found.confidence,
    }


def chance_json(odds: Chance | None) -> dict[str, Any]:
    """Return probabilities as plain data."""
    return {"probability_in_range": {"mean": odds.mean, "spot": odds.spot} if odds else None}


def advice_json(advice: Advice) -> dict[str, Any]:
    """Return advice as plain data."""
    from dataclasses import asdict

    from lastwet.cli import wording

    return {
        "verdict": advice.judgement.verdict.value,
        "straddled_um": list(advice.judgement.straddled_um),
        "aim_um": advice.aim_um,
        "times_aim": wording.pair(advice.times_aim),
        "levers": [asdict(lever) for lever in advice.levers],
        "spots_outside": dict(zip(("below", "above"), advice.outside, strict=True)),
    }

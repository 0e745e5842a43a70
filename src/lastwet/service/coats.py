"""Coats and boards, as a report tells them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import asdict

from lastwet.errors import UsageError
from lastwet.film.build import headroom
from lastwet.film.climate import climate
from lastwet.film.coating import Coating
from lastwet.film.dry import show_thinner
from lastwet.film.measured import Check, sheet_range, summarise
from lastwet.job.board import Coat, Measured
from lastwet.job.state import BoardState, running
from lastwet.report.charts import Step, build_chart
from lastwet.report.model import Addition, Amendment
from lastwet.report.phrases import length, moment

Fact = tuple[str, str]

_SETTINGS = {
    "tip": ("Tip or needle", "{}"),
    "fluid_pressure_bar": ("Fluid pressure", "{:g} bar"),
    "air_pressure_bar": ("Atomising air", "{:g} bar"),
    "distance_mm": ("Distance", "{:g} mm"),
    "speed_mm_s": ("Pace", "{:g} mm/s"),
    "flow_ml_min": ("Flow", "{:g} ml/min"),
    "fan_mm": ("Fan", "{:g} mm"),
    "passes": ("Passes", "{}"),
}


def coat_facts(coat: Coat) -> Iterator[Fact]:
    """Yield when and how a coat was sprayed."""
    yield "Sprayed", f"{moment(coat.applied_at)}, by {coat.paint.applicator or 'applicator not stated'}"
    yield "Gun settings", "; ".join(_settings(coat)) or "not stated"
    yield "Paint", "; ".join(_mixed(coat))
    yield "Conditions", "; ".join(_conditions(coat)) or "not stated"
    if any(coat.sanded_um):
        least, most = coat.sanded_um
        yield "Sanded off before the next coat", f"{length(most)}" if least == most else f"{length(least)} to {length(most)}, dry"


def _settings(coat: Coat) -> Iterator[str]:
    values = asdict(coat.settings)
    for name, (words, form) in _SETTINGS.items():
        if values[name] is not None:
            yield f"{words.lower()} {form.format(values[name])}"
    if values["overlap"] is not None:
        yield f"overlap {values['overlap'] * 100:g} %"
    yield from (f"{name} {value}" for name, value in values["other"].items())


def _mixed(coat: Coat) -> Iterator[str]:
    paint = coat.paint
    yield f"batch {paint.batch or 'not stated'}"
    if paint.mix is not None:
        yield f"mixed {paint.mix}"
    yield show_thinner(paint.thinner)
    if paint.viscosity_s is not None:
        yield f"viscosity {paint.viscosity_s:g} s" + (f" in {paint.cup}" if paint.cup else "")
    if paint.material_c is not None:
        yield f"material {paint.material_c:g} \u00b0C"
    if paint.mixed_at is not None:
        yield f"mixed {moment(paint.mixed_at)}"


def _conditions(coat: Coat) -> Iterator[str]:
    paint = coat.paint
    for words, value, unit in (("air", paint.air_c, "\u00b0C"), ("surface", paint.surface_c, "\u00b0C")):
        if value is not None:
            yield f"{words} {value:g} {unit}"
    if paint.humidity is not None:
        yield f"relative humidity {paint.humidity * 100:g} %"
    if paint.air_c is not None and paint.humidity is not None:
        yield from _dew(paint.air_c, paint.humidity, paint.surface_c)


def _dew(air_c: float, humidity: float, surface_c: float | None) -> Iterator[str]:
    """Yield the dew point, and how the surface stands to it where it was measured; nothing of air that cannot be."""
    with suppress(UsageError):
        found = climate(air_c, humidity, surface_c)
        side = "above" if found.margin_c >= 0 else "below"
        surface = "" if surface_c is None else f", surface {abs(found.margin_c):.1f} K {side} it"
        yield f"dew point {found.dew_point_c:.1f} \u00b0C{surface}"


# --- boards


def addition(state: BoardState, noted: Sequence[Amendment]) -> Iterator[Addition]:
    """Yield what the coats of a board come to, what was measured, noted and attached, and what to beware of."""
    if state.coats or state.board.measured or noted:
        facts = [*_board_facts(state), *map(_noted, noted)]
        yield Addition(f"Build and dry film of board {state.board.name}", facts, _cautions(state), list(_charts(state)))


def _noted(said: Amendment) -> Fact:
    why = f": {said.reason}" if said.reason else ""
    return f"Entry {said.entry}, on entry {said.concerns}", f"{said.words}, by {said.by or 'nobody named'}, {moment(said.at)}{why}"


def _board_facts(state: BoardState) -> Iterator[Fact]:
    board, card = state.board, state.board.coating
    yield "Board", f"{board.name}, {board.work.value}, {len(board.coats)} coat{'s' if len(board.coats) != 1 else ''} of {card.name}"
    if board.job:
        yield "Job", board.job
    yield "Aim for each coat", f"{length(board.aim_um)} wet"
    if state.build:
        yield "Predicted total dry film", f"{_ends(state.build.dry_um)}, predicted, not measured"
    elif state.at_least:
        yield "Predicted total dry film", f"{_ends((state.at_least.dry_um[0], None))}, predicted, as not every coat has a reading"
    elif state.coats:
        yield "Predicted total dry film", "not known, since no coat has a reading"
    if card.maximum_build:
        fit = f"; the build {state.headroom.fit.value}" if state.headroom else ""
        yield "Maximum build", f"{length(card.maximum_build.thickness_um)} {card.maximum_build.of}{fit}"
    yield from _measured(state)


def _measured(state: BoardState) -> Iterator[Fact]:
    """Tell the dry film as measured, what was measured with fewer coats on it by itself."""
    board = state.board
    if not board.measured:
        yield "Measured dry film", "not measured, or not logged"
    for coats in sorted({each.coats for each in board.measured}):
        readings_um = [value for each in board.measured if each.coats == coats for value in each.readings_um]
        found = summarise(readings_um)
        least, mean, most = (length(value) for value in (found.minimum_um, found.mean_um, found.maximum_um))
        yield f"Measured dry film{board.after_coats(coats)}", f"{found.count} readings: least {least}, mean {mean}, most {most}"
        yield from _against_the_sheet(readings_um, max(1, coats), board.coating)
    yield from _by_the_rules(board.measured)


def _against_the_sheet(readings_um: Sequence[float], coats: int, card: Coating) -> Iterator[Fact]:
    """Hold readings against the sheet's dry range, which is for one coat."""
    if card.dry_range_um is None:
        return
    least_um, most_um = card.dry_range_um
    check = sheet_range(readings_um, (least_um * coats, most_um * coats))
    yield "Against the data sheet", _said(check, f", for {coats} coat{'s' if coats != 1 else ''}")


def _by_the_rules(measured: Sequence[Measured]) -> Iterator[Fact]:
    """Tell what each rule said of the readings that were held against it."""
    for each in measured:
        for check in each.checks:
            yield f"Acceptance, {len(each.readings_um)} readings", _said(check)
    if measured and not any(each.checks for each in measured):
        yield "Acceptance", "no rule of acceptance was logged with the measured film"


def _said(check: Check, of: str = "") -> str:
    told = "; ".join(check.failures)
    return f"{check.rule}{of}: {check.said}{': ' if told else ''}{told}".replace(" um", " \u00b5m")


def _cautions(state: BoardState) -> list[str]:
    return [f"Caution: {words}." for words in state.cautions]


def _charts(state: BoardState) -> Iterator[str]:
    card, built = state.board.coating, list(running(state.coats))
    if not built:
        return
    wet = card.maximum_build is not None and card.maximum_build.of == "wet"
    steps = []
    for number, build in enumerate(built, 1):
        room, ends = headroom(build, card), build.wet_um if wet else build.dry_um
        steps.append(Step(f"coat {number}", ends[0], ends[1], room.fit.value if room else None))
    most = card.maximum_build.thickness_um if card.maximum_build else None
    yield build_chart(steps, "\u00b5m", most, f"Build of board {state.board.name}, {'wet' if wet else 'predicted dry'} film")


def _ends(ends_um: tuple[float, float | None]) -> str:
    low, high = ends_um
    return f"{length(low)} or more" if high is None else f"{length(low)} to {length(high)}"

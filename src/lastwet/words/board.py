"""Boards in words: coats, readings, advice, build."""

from __future__ import annotations

from collections.abc import Iterator

from lastwet.film.dialin import READINGS_IN_A_ROW, Settings
from lastwet.film.dry import PREDICTION, show_thinner
from lastwet.film.measured import summarise
from lastwet.film.quantity import show_duration
from lastwet.job.board import Board, settings_json
from lastwet.job.state import BoardState, CoatState
from lastwet.words import film as wording
from lastwet.words.film import Line


def coat_lines(state: CoatState) -> Iterator[Line]:
    """Say what the readings of a coat come to."""
    for spot in state.spots:
        yield f"spot {spot.name}", f"{wording.bracket(spot.wet)} wet, {spot.verdict}{', dipped late' if spot.late else ''}"
    if not state.estimate or not state.advice or not state.layer:
        yield "readings", "none yet"
        return
    if len(state.spots) > 1:
        yield from wording.estimate_lines(state.estimate, state.chance)
        yield "verdict", f"the mean: {wording.verdict_words(state.advice)}"
    yield from wording.advice_lines(state.advice)
    if state.transfer:
        yield "transfer", f"{wording.factor(state.transfer)} of the paint landed, by the settings as stated"
    yield "dry film", f"{wording.bracket(state.layer.dry)}, predicted"
    if state.layer.sanded_um != (0, 0):
        yield "sanded off", wording.span(state.layer.sanded_um)


def row_lines(state: BoardState) -> Iterator[Line]:
    """Say how near the gun is to being dialled in."""
    row, needed = state.in_a_row, READINGS_IN_A_ROW
    rule = "readings in a row, settings unchanged, each whole bracket inside the wet range"
    if state.dialled_in:
        yield "dialled in", f"yes: {row} {rule}; {needed} are asked for"
    else:
        yield "dialled in", f"not yet: {row} of {needed} {rule}"
        if state.recalled:
            yield "recalled", f"dialled in before with {gun_words(state.recalled.settings)}{_thinned(state.recalled.thinner)}"


def note_lines() -> Iterator[Line]:
    """Say what the predicted film is good for."""
    yield "note", f"the dry film is {PREDICTION}"


def build_lines(state: BoardState) -> Iterator[Line]:
    """Say what was built and measured, what room there is, and when the next coat may follow."""
    if state.build:
        yield "build", f"{wording.span(state.build.dry_um)} dry predicted, {wording.span(state.build.wet_um)} wet, all coats"
    elif state.at_least:
        least = (state.at_least.dry_um[0], None)
        yield "build", f"{wording.span(least)} dry predicted, as not every coat has a reading"
    yield from _measured_lines(state.board)
    yield from _room_lines(state)
    if state.recoat:
        left = state.recoat.changes_in_s
        changes = "" if left is None else f", {'opens' if state.recoat.state == 'not yet' else 'closes'} in {show_duration(left)}"
        yield "recoat window", f"{state.recoat.state}{changes}"
    if state.pot_life_left_s is not None:
        over, left_s = state.pot_life_left_s < 0, abs(state.pot_life_left_s)
        yield "pot life", f"over since {show_duration(left_s)}" if over else f"{show_duration(left_s)} left"


def _measured_lines(board: Board) -> Iterator[Line]:
    for each in board.measured:
        found = summarise(each.readings_um)
        yield "measured", f"{wording.length(found.mean_um)} mean of {found.count} dry film readings{board.after_coats(each.coats)}"
        yield from wording.check_lines(each.checks)


def _room_lines(state: BoardState) -> Iterator[Line]:
    maximum = state.board.coating.maximum_build
    if maximum is None:
        yield "maximum", "the card states none"
        return
    if state.headroom:
        of_mean = ", by the mean of the spots" if any(len(each.spots) > 1 for each in state.coats) else ""
        yield "maximum", f"{wording.length(maximum.thickness_um)} {maximum.of}: the build {state.headroom.fit}{of_mean}"
    if state.wettest_next_um is not None:
        thinner = state.coats[-1].coat.paint.thinned if state.coats else 0.0
        thinned = f", with {thinner * 100:g} % thinner again" if thinner else ""
        yield "next coat", f"{_next_words(state.wettest_next_um, state.board)}{thinned}"


def _next_words(wettest_um: float, board: Board) -> str:
    least_um, most_um = board.coating.wet_range_um
    if wettest_um >= most_um:
        return "any within the wet range fits"
    if wettest_um < least_um:
        return "none within the wet range surely fits"
    return f"at most {wording.length(wettest_um)} wet, or it may pass the maximum"


def settings_words(state: CoatState) -> str:
    """Say when a coat was sprayed, and how."""
    return f"{state.coat.applied_at:%Y-%m-%d %H:%M}, {gun_words(state.coat.settings)}{_thinned(state.coat.paint.thinner)}"


def _thinned(thinner: float | None) -> str:
    return "" if thinner is None else f", {show_thinner(thinner)}"


def gun_words(settings: Settings) -> str:
    """Say how the gun was set: "speed 400 mm/s, flow 200 ml/min"."""
    values = settings_json(settings)
    stated = {_LABELS[key]: value for key, value in values.items() if key not in ("other", "overlap")}
    words = [f"{label} {value:g} {unit}".strip() if unit else f"{label} {value}" for (label, unit), value in stated.items()]
    overlap = [f"overlap {settings.overlap * 100:g} %"] if settings.overlap is not None else []
    return ", ".join([*words, *overlap, *(f"{key} {value}" for key, value in settings.other.items())]) or "settings not stated"


_LABELS = {
    "tip": ("tip", ""),
    "fluid_pressure_bar": ("fluid", "bar"),
    "air_pressure_bar": ("air", "bar"),
    "distance_mm": ("distance", "mm"),
    "speed_mm_s": ("speed", "mm/s"),
    "flow_ml_min": ("flow", "ml/min"),
    "fan_mm": ("fan", "mm"),
    "passes": ("passes", ""),
}

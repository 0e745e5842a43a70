"""Boards: where they stand, with charts, and what is logged of them away from the gun."""

from __future__ import annotations

from collections.abc import Iterator

from starlette.responses import Response

from lastwet.film.build import headroom
from lastwet.job.state import BoardState, running
from lastwet.report.charts import Point, Step, build_chart, run_chart
from lastwet.service import boards
from lastwet.units import Unit, from_um, parse_length_um
from lastwet.web.bench import board_name
from lastwet.web.desk import Visit, see_other
from lastwet.web.fields import given
from lastwet.words.board import build_lines, coat_lines, note_lines, row_lines, settings_words
from lastwet.words.coating import card_lines

MOST_BOARDS = 40
"""On one page."""


def board_list(visit: Visit) -> Response:
    """List the boards, newest first."""
    return visit.page("boards.html", boards=boards.all_boards(visit.logbook, newest=MOST_BOARDS)[::-1])


def board(visit: Visit) -> Response:
    """Show where a board stands, with its charts."""
    seq = visit.seq
    state = boards.state(visit.logbook, board_name(visit, seq))
    coats = [(each, settings_words(each), list(coat_lines(each))) for each in state.coats[::-1]]
    return visit.page(
        "board.html",
        state=state,
        entry=seq,
        coats=coats,
        card=list(card_lines(state.board.coating)),
        facts=[*row_lines(state), *build_lines(state)],
        notes=list(note_lines()),
        charts=list(_charts(state, visit.who.unit or "um")),
    )


def _charts(state: BoardState, shop: Unit) -> Iterator[str]:
    """Draw the readings in their order, and the build over the coats, in the shop's unit."""
    card, name = state.board.coating, state.board.name

    def to(value_um: float | None) -> float | None:
        return None if value_um is None else from_um(value_um, shop)

    said = "mil" if shop == "mil" else "\u00b5m"
    points = [
        Point(f"{each.number}, spot {spot.name}", to(spot.wet.low_um) or 0.0, to(spot.wet.high_um), spot.verdict.value)
        for each in state.coats
        for spot in each.spots
    ]
    limits = (from_um(card.wet_range_um[0], shop), from_um(card.wet_range_um[1], shop))
    if points:
        yield run_chart(points, said, limits, f"Wet film readings of {name}")
    wet = card.maximum_build is not None and card.maximum_build.of == "wet"
    steps = []
    for number, build in enumerate(running(state.coats), 1):
        room, ends = headroom(build, card), build.wet_um if wet else build.dry_um
        steps.append(Step(f"coat {number}", to(ends[0]) or 0.0, to(ends[1]), room.fit.value if room else None))
    if steps:
        most = to(card.maximum_build.thickness_um) if card.maximum_build else None
        yield build_chart(steps, said, most, f"Build of {name}, {'wet' if wet else 'predicted dry'} film")


def sand(visit: Visit) -> Response:
    """Log what was sanded off the last coat."""
    seq, form = visit.seq, visit.form
    off = parse_length_um(given(form, "off", "um"))
    boards.sand(visit.logbook, board_name(visit, seq), (off, off), visit.who.by)
    return see_other(f"/boards/{seq}")


def measure(visit: Visit) -> Response:
    """Log dry film readings of the cured piece."""
    seq, form = visit.seq, visit.form
    unit = form.get("dry_unit", "um")
    readings = [parse_length_um(f"{value} {unit}") for value in given(form, "dry").split()]
    boards.measure(visit.logbook, board_name(visit, seq), readings, visit.who.by)
    return see_other(f"/boards/{seq}")

"""The bench: a board, a photo, what it shows, and what a person says to it."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any, BinaryIO

from starlette.responses import Response

from lastwet.errors import UsageError
from lastwet.film.dialin import Settings
from lastwet.gauge import Gauge
from lastwet.job.board import JobKind, Paint, Work
from lastwet.job.state import BoardState, CoatState, next_coat_cautions
from lastwet.service import amend, boards
from lastwet.service.bench import Dip
from lastwet.service.log import named
from lastwet.service.times import now
from lastwet.web.desk import Visit, see_other
from lastwet.web.fields import paint_of, settings_fields, settings_of
from lastwet.web.words import shown
from lastwet.words import film as words
from lastwet.words.board import build_lines, row_lines


def bench(visit: Visit) -> Response:
    """Show the board on the bench, ready for the next photo; without a board, offer to begin one."""
    device = visit.who
    first, device.cautioned = not device.cautioned, True
    if device.board is None:
        return _begin(visit, {}, {}, cautions=first)
    try:
        state = _state(visit, device.board)
    except UsageError:  # it was made void
        device.board = None
        return _begin(visit, {}, {})
    gauge = _gauge(visit)
    ids = [side.id for side in gauge.sides]
    if device.side not in ids:
        device.side = ids[0] if len(ids) == 1 else None
    return visit.page("bench.html", **_of_bench(visit, state, gauge), cautions=first)


def _of_bench(visit: Visit, state: BoardState, gauge: Gauge) -> dict[str, Any]:
    device = visit.who
    return {
        "state": state,
        "entry": device.board,
        "gauge": gauge,
        "gauges": visit.desk.cards.gauges(),
        "gauge_name": device.gauge or visit.desk.cards.gauges()[0],
        "side": device.side,
        "spot": device.spot,
        "range": words.span(state.board.coating.wet_range_um),
        "piece": state.board.work is Work.PIECE,
    }


def _gauge(visit: Visit) -> Gauge:
    device, cards = visit.who, visit.desk.cards
    try:
        return cards.gauge(device.gauge or cards.gauges()[0])
    except UsageError:  # gone, or spoilt since it was chosen
        device.gauge = cards.shipped_gauge()
        return cards.gauge(device.gauge)


def choose_gauge(visit: Visit) -> Response:
    """Take another gauge, or another side of it."""
    device = visit.who
    name = visit.form.get("gauge", device.gauge or "")
    gauge = visit.desk.cards.gauge(name)
    side = visit.text("side")
    if side is not None:
        gauge.side(side)  # raises
    device.gauge, device.side = name, side
    return see_other("/")


# --- boards


def new_board(visit: Visit) -> Response:
    """Offer to begin a board."""
    return _begin(visit, {}, {})


def _begin(visit: Visit, values: dict[str, str], errors: dict[str, str], *, cautions: bool = False, status: int = 200) -> Response:
    device, names = visit.who, visit.desk.cards.coatings()
    last = boards.all_boards(visit.logbook, newest=1)
    return visit.page(
        "new.html",
        status,
        coatings=visit.desk.cards.titles(),
        chosen=values.get("coating") or device.coating or names[0],
        name=values.get("name") or following(last[-1].name if last else "board-0"),
        work=values.get("work", "scrap"),
        aim=values.get("aim", ""),
        aim_unit=values.get("aim_unit", "um"),
        job=values.get("job", (getattr(last[-1], "job", None) or "") if last else ""),
        errors=errors,
        cautions=cautions,
        others=boards.all_boards(visit.logbook, newest=6)[::-1],
    )


def following(name: str) -> str:
    """Return the name of the next board: its last number counted up."""
    match = re.fullmatch(r"(.*?)(\d+)(\D*)", name, re.DOTALL)
    if not match:
        return f"{name}-2"
    return f"{match[1]}{int(match[2]) + 1:0{len(match[2])}d}{match[3]}"


def begin_board(visit: Visit) -> Response:
    """Begin a board with its first coat, and put it on the bench."""
    device, form = visit.who, dict(visit.form)
    try:
        coating = visit.desk.cards.coating(form.get("coating", ""))
        aim = visit.text("aim")
        aim_um = None if aim is None else _length(aim, form.get("aim_unit", "um"))
        work = Work.PIECE if form.get("work") == "piece" else Work.SCRAP
        entry = boards.new_board(visit.logbook, form.get("name", ""), coating, work, device.by, aim_um, **_job(visit))
    except UsageError as error:
        if device.board and board_name(visit, device.board) == form.get("name", "").strip():  # a second tap
            return see_other("/")
        return _begin(visit, form, {_field(error.message): str(error)}, status=422)
    name = str(entry.body["board"])
    settings, paint = _last_of(visit, name)
    boards.new_coat(visit.logbook, name, settings, paint, device.by)
    device.board, device.coating, device.spot = entry.seq, form["coating"], None
    return see_other("/")


def _job(visit: Visit) -> dict[str, Any]:
    job = visit.text("job")
    return {} if job is None else {"job": job}


def _length(number: str, unit: str) -> float:
    from lastwet.units import parse_length_um

    return parse_length_um(f"{number.replace(',', '.')} {unit}")


def _field(message: str) -> str:
    """Tell which field of the form a message speaks of."""
    return "aim" if "aim" in message or "thickness" in message else "coating" if "coating" in message else "name"


def _last_of(visit: Visit, name: str) -> tuple[Settings, Paint]:
    """Return how the gun was set and the paint mixed for the last coat of this coating; nothing stated where there was none."""
    board = boards.find_board(visit.logbook, name)
    coats = [coat for each in boards.all_boards(visit.logbook, board.coating.name, boards.RECENT) for coat in each.coats]
    if not coats:
        return Settings(), Paint()
    last = max(coats, key=lambda coat: coat.entry)
    return last.settings, last.paint


def put_on_bench(visit: Visit) -> Response:
    """Take a board that there is to the bench."""
    device, seq = visit.who, visit.seq
    board_name(visit, seq)
    device.board, device.spot = seq, None
    return see_other("/")


def board_name(visit: Visit, seq: int) -> str:
    """Return the name of the board that an entry began; raises `UsageError` for another entry."""
    entry = visit.logbook.entry(seq)
    if entry.kind != JobKind.BOARD:
        raise UsageError(f"entry {seq} did not begin a board", "choose one of the boards")
    return str(entry.body["board"])


def _state(visit: Visit, seq: int) -> BoardState:
    return boards.state(visit.logbook, board_name(visit, seq))


# --- coats


def new_coat(visit: Visit) -> Response:
    """Offer to begin the next coat, with what speaks against it and how the gun was set for the last one."""
    return _coat_form(visit, {}, None)


def _coat_form(visit: Visit, values: dict[str, str], error: str | None) -> Response:
    state = _state(visit, visit.seq)
    settings, paint = _last_of(visit, state.board.name)
    against = list(next_coat_cautions(state, paint, now()))
    fields = settings_fields(settings, paint, values)
    entry = visit.seq
    return visit.page("coat.html", 422 if error else 200, state=state, entry=entry, fields=fields, against=against, error=error)


def begin_coat(visit: Visit) -> Response:
    """Log the next coat, as sprayed now."""
    device, seq = visit.who, visit.seq
    name = board_name(visit, seq)
    begun, _ = _last_of(visit, name)
    try:
        settings = replace(settings_of(visit.form), other=begun.other)
        number = _whole(visit.form.get("number", ""), "coat")
        visit.desk.bench.begin_coat(name, number, settings, paint_of(visit.form), device.by)
    except UsageError as error:
        return _coat_form(visit, dict(visit.form), str(error))
    device.board, device.spot = seq, None
    return see_other("/")


# --- dips


def dip(visit: Visit) -> Response:
    """Read the photo of a dip and log it, once however often it is sent."""
    device, form = visit.who, visit.form
    name, file = _sent(visit)
    seq = _whole(form.get("board", ""), "board")
    side = visit.text("side")
    place = boards.Place(visit.text("spot"), _seconds(visit.text("seconds")), _touched(form.get("touched_up")))
    gauge = visit.desk.cards.gauge(form.get("gauge", ""))
    coat = _whole(form.get("coat", ""), "coat")
    clean = None if visit.clean is None else (visit.clean[0], visit.clean[1].read())
    entry = visit.desk.bench.dip(Dip(board_name(visit, seq), coat, file.read(), name, gauge, side, place, clean), device.by)
    device.board, device.gauge, device.side, device.spot = seq, form["gauge"], side, None
    return see_other(f"/readings/{entry.seq}")


def _sent(visit: Visit) -> tuple[str, BinaryIO]:
    """Return the photo that came in, with its name."""
    if visit.photo is None:
        raise UsageError("there was no photo in the form", "take one, or choose one, then send it")
    return visit.photo


def add_photo(visit: Visit) -> Response:
    """Read a refused dip again together with one more photo of it, once however often that is sent."""
    name, file = _sent(visit)
    entry = visit.desk.bench.add_photo(visit.seq, name, file.read(), visit.who.by)
    return see_other(f"/readings/{entry.seq}")


def _whole(text: str, what: str) -> int:
    if not text.isdecimal() or len(text) > 12:
        raise UsageError(f"the form names no {what}", "go back to the bench, and send it from there")
    return int(text)


def _seconds(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise UsageError(f"'{text}' is not a number of seconds", "write it as in 10, or leave it out") from None


def _touched(text: str | None) -> bool | None:
    return {"yes": True, "no": False}.get(text or "")


def reading(visit: Visit) -> Response:
    """Show what a photo shows, and what to do."""
    seq = visit.seq
    stands = amend.standing(visit.logbook, seq)
    if stands.reading is None:
        raise UsageError(f"entry {seq} is not a reading", "look it up in the log")
    found = shown(stands, visit.who.unit)
    state = _board_of(visit, stands.entry.body)
    coat = _coat_of(state, stands.entry.body)
    return visit.page(
        "reading.html",
        found=found,
        state=state,
        coat=coat,
        spot=stands.entry.body.get("spot"),
        advice=list(words.advice_lines(coat.advice)) if coat and coat.advice and found.wet and not found.void else [],
        build=list(build_lines(state)) if state else [],
        row=list(row_lines(state)) if state else [],
        adds=bool(found.may_add and state and coat is state.coats[-1]),
    )


def _board_of(visit: Visit, body: Any) -> BoardState | None:
    return boards.state(visit.logbook, body["board"]) if body.get("board") else None


def _coat_of(state: BoardState | None, body: Any) -> CoatState | None:
    return next((coat for coat in state.coats if coat.coat.entry == body.get("coat_entry")), None) if state else None


def confirm(visit: Visit) -> Response:
    """Log that a person agrees with a reading, or reads otherwise."""
    seq, form = visit.seq, visit.form
    last_wet = _whole(form.get("last_wet", ""), "tooth")
    visit.desk.bench.confirm(seq, last_wet, visit.who.by, visit.text("side"), visit.text("reason"))
    return see_other(f"/readings/{seq}")


def correct(visit: Visit) -> Response:
    """Ask which tooth is the last wet one."""
    seq = visit.seq
    found = shown(amend.standing(visit.logbook, seq), visit.who.unit)
    asked = visit.query.get("side") or found.side
    sides = [side for side in found.gauge.sides if side.id == asked] or ([found.gauge.sides[0]] if len(found.gauge.sides) == 1 else [])
    return visit.page("correct.html", found=found, side=sides[0] if sides else None)


def state_side(visit: Visit) -> Response:
    """Read a refused photo again with the side that was pressed."""
    side = visit.text("side")
    if side is None:
        raise UsageError("no side was named", "choose the side that was pressed")
    entry = visit.desk.bench.read_again(visit.seq, side, visit.who.by)
    visit.who.side = side
    return see_other(f"/readings/{entry.seq}")


def retake(visit: Visit) -> Response:
    """Take a reading out of use since the photo is taken again, at the same spot."""
    seq = visit.seq
    stands = amend.standing(visit.logbook, seq)
    if stands.void is None:
        amend.void(visit.logbook, stands.entry.seq, named(visit.who.by), "the photo is taken again")
    visit.who.spot = stands.entry.body.get("spot")
    return see_other("/")


def turn(visit: Visit) -> Response:
    """Expect the next photo of the same dip on the next side."""
    stands = amend.standing(visit.logbook, visit.seq)
    found = shown(stands, None)
    if found.next_side is None:
        raise UsageError("there is no side with thicker teeth", "take a gauge that reaches higher")
    visit.who.side, visit.who.spot = found.next_side, stands.entry.body.get("spot")
    return see_other("/")

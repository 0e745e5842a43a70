"""Boards and their coats: each thing that is done on one is an entry in the log, and what it shows is worked out from the entries."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from lastwet.errors import UsageError
from lastwet.film.coating import Coating, coating_json
from lastwet.film.dialin import Settings
from lastwet.film.estimate import intersect
from lastwet.film.measured import Check, summarise
from lastwet.gauge import Gauge
from lastwet.job.board import Board, Coat, JobKind, Paint, Work, boards, paint_json, refuse_impossible, settings_json
from lastwet.job.state import BoardState, board_state, next_coat_cautions
from lastwet.logbook.entry import Entry
from lastwet.logbook.find import Filter
from lastwet.logbook.store import Logbook
from lastwet.logbook.view import standings
from lastwet.result import Clean, Film, Result, Task, typed_json
from lastwet.service.amend import read_by_eye
from lastwet.service.burst import read_burst
from lastwet.service.log import append, film_json, gauge_json, log_result, named
from lastwet.service.photos import Fetch, fetch_file, load_clean, read_photo
from lastwet.units import Bracket

MOST = 1_000_000
"""Entries looked at for one board: all there are."""
RECENT = 100
"""Boards of a coating, the newest, among which settings that were dialled in are looked for."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where and how a coat was dipped."""

    spot: str | None = None
    """Name of the spot; None for a new one, which gets the next number."""
    seconds: float | None = None
    """From spraying to the dip."""
    touched_up: bool | None = None
    """Whether the mark of the dip was touched up; must be said of a work piece."""


def new_board(
    logbook: Logbook, name: str, coating: Coating, work: Work, by: str, aim_um: float | None = None, job: str | None = None
) -> Entry:
    """Begin a board; raises `UsageError` for a name that is taken, an empty job, or an aim outside the wet range."""
    if not name.strip():
        raise UsageError("a board needs a name", "name it as it is marked, such as door-1")
    if _put_together(logbook, name):
        raise UsageError(f"there is a board '{name.strip()}' already", "give this one another name")
    if job is not None and not job.strip():
        raise UsageError("the name of the job is empty", "name it, or leave it out")
    low, high = coating.wet_range_um
    aim = (low + high) / 2 if aim_um is None else aim_um
    if not low <= aim <= high:
        raise UsageError(f"the aim of {aim:g} um lies outside the wet range, {low:.4g} to {high:.4g} um", "aim within it")
    of_job = {} if job is None else {"job": job.strip()}
    said = {"board": name.strip(), **of_job, "work": work.value, "coating": coating.name, "card": coating_json(coating), "aim_um": aim}
    return append(logbook, JobKind.BOARD, {**said, "by": named(by)})


def all_boards(logbook: Logbook, coating: str | None = None, newest: int = MOST, job: str | None = None) -> list[Board]:
    """Return the boards in the log, or the newest, or those of one coating or job, in the order in which they were begun."""
    begun = logbook.find(Filter(kind=JobKind.BOARD, coating=coating, job=job), newest)
    names = dict.fromkeys(entry.body["board"] for entry in reversed(begun))
    return [board for name in names for board in _put_together(logbook, name)]


def find_board(logbook: Logbook, name: str) -> Board:
    """Return the board of that name; raises `UsageError` naming those there are."""
    found = _put_together(logbook, name)
    if not found:
        known = ", ".join(each.name for each in all_boards(logbook))
        raise UsageError(f"there is no board '{name.strip()}'", f"begin it by board new, or name one of: {known}" if known else "begin it")
    return found[0]


def _put_together(logbook: Logbook, name: str) -> list[Board]:
    """Return the board of that name; none where there is none."""
    entries = logbook.find(Filter(board=name.strip()), MOST)[::-1]
    return boards(standings(entries, logbook.concerning(entry.seq for entry in entries)))


def state(logbook: Logbook, name: str, at: dt.datetime | None = None) -> BoardState:
    """Return where a board stands now; its recoat window and pot life as they are `at` another time, where one is given."""
    board = find_board(logbook, name)
    return board_state(board, all_boards(logbook, board.coating.name, RECENT), at or _now())


def new_coat(
    logbook: Logbook, name: str, settings: Settings, paint: Paint, by: str, applied_at: dt.datetime | None = None
) -> tuple[Entry, list[str]]:
    """Log a further coat; return its entry, and what spoke against it.

    Raises `UsageError` for a coat that lies in the future, or before the one under it.
    """
    before, at = state(logbook, name), applied_at or _now()
    refuse_impossible(paint)
    if at > _now():
        raise UsageError("the coat lies in the future", "look up its time, and the clock of this computer")
    if before.board.coats and at < before.board.coats[-1].applied_at:
        raise UsageError("the coat lies before the coat under it", "log the coats in their order")
    if paint.mixed_at and paint.mixed_at > at:
        raise UsageError("the paint was mixed after it was sprayed", "look up both times")
    cautions = list(next_coat_cautions(before, paint, at))
    sprayed = {"applied_at": at.isoformat(), "settings": settings_json(settings), "paint": paint_json(paint)}
    return append(logbook, JobKind.COAT, {**_of(before.board), **sprayed, "cautions": cautions, "by": named(by)}), cautions


def gun_of(logbook: Logbook, name: str, which: str) -> tuple[Settings, float | None]:
    """Return settings and thinner (a fraction, if stated) of the last coat of the board's coating, or those that were dialled in.

    Raises `UsageError` for none.
    """
    board = find_board(logbook, name)
    if which == "dialled-in":
        recalled = state(logbook, name).recalled
        if recalled is None:
            raise UsageError(f"nothing was dialled in yet for {board.coating.name}", "state the settings, or begin from the last ones")
        return recalled.settings, recalled.thinner
    coats = [coat for each in all_boards(logbook, board.coating.name, RECENT) for coat in each.coats]
    if not coats:
        raise UsageError(f"there is no coat of {board.coating.name} yet", "state the settings")
    latest = max(coats, key=lambda coat: coat.entry)
    return latest.settings, latest.paint.thinner


def dip_photo(
    logbook: Logbook,
    name: str,
    photos: Sequence[str],
    gauge: Gauge,
    side_id: str | None,
    place: Place,
    by: str,
    last_wet: int | None = None,
    fetch: Fetch = fetch_file,
    clean: str | None = None,
) -> tuple[Result, Entry | None]:
    """Read a dip into the board's last coat, as `read_dip` does, and log it; one that is refused is logged too.

    The entry is None where the file could not be read at all.
    """
    result = read_dip(logbook, name, photos, gauge, side_id, place, last_wet, fetch, clean)
    return result, log_dip(logbook, name, result, place, by) if result.sha256 else None


def read_dip(
    logbook: Logbook,
    name: str,
    photos: Sequence[str],
    gauge: Gauge,
    side_id: str | None,
    place: Place,
    last_wet: int | None = None,
    fetch: Fetch = fetch_file,
    clean: str | Clean | None = None,
) -> Result:
    """Read a dip for the board's last coat from a photo, from several together, or by eye with `last_wet`; nothing is logged yet.

    `clean` is a photo of the wiped gauge before the dip, or its name. Raises `UsageError` for a reading by eye with more than its one
    photo, and as `load_clean` does.
    """
    board, coat = _last_coat(logbook, name, place)
    task = Task(gauge, side_id, _film(board, coat))
    if last_wet is not None:
        if len(photos) != 1 or clean:
            raise UsageError("a reading by eye takes one photo", "give one --photo, without --clean")
        return read_by_eye(photos[0], task, last_wet, fetch)
    wiped = load_clean(clean, fetch) if isinstance(clean, str) else clean
    return read_burst(photos, task, fetch, clean=wiped) if len(photos) > 1 else read_photo(photos[0], task, fetch, clean=wiped)


def log_dip(logbook: Logbook, name: str, result: Result, place: Place, by: str) -> Entry:
    """Log what came of a photo of a dip of the board's last coat; without the name of a spot, it gets the next number."""
    board, coat = _last_coat(logbook, name, place)
    return log_result(logbook, result, named(by), _where(board, coat, place))


def dip_typed(
    logbook: Logbook,
    name: str,
    wet: Bracket,
    place: Place,
    by: str,
    read_with: tuple[Gauge, str, int] | None = None,
) -> Entry:
    """Log a reading that was typed in, without a photo; `read_with` is gauge, side and number of wet teeth, where it was so typed."""
    board, coat = _last_coat(logbook, name, place)
    _refuse_contradiction(coat, place.spot, wet)
    film = _film(board, coat)
    said = {**_where(board, coat, place), "film": film_json(film), "by": named(by)}
    if read_with is None:
        return append(logbook, JobKind.DIP, {**said, **typed_json(wet, film, "um")})
    gauge, side, last_wet = read_with
    return append(logbook, JobKind.DIP, {**said, "gauge": gauge_json(gauge), **typed_json(wet, film, gauge.unit, side, last_wet)})


def sand(logbook: Logbook, name: str, sanded_um: tuple[float, float], by: str) -> Entry:
    """Log what was sanded off the last coat, least and most; raises `UsageError` without a coat, or for nothing."""
    board = find_board(logbook, name)
    if not board.coats:
        raise UsageError(f"there is no coat on {board.name} to sand", "log the coat first")
    if not 0 <= sanded_um[0] <= sanded_um[1] or not sanded_um[1]:
        raise UsageError("nothing was sanded off", "give a thickness above 0, or least and most")
    body = {**_of(board), "coat_entry": board.coats[-1].entry, "sanded_um": list(sanded_um)}
    return append(logbook, JobKind.SANDING, {**body, "by": named(by)})


def measure(logbook: Logbook, name: str, readings_um: list[float], by: str, checks: Sequence[Check] = ()) -> Entry:
    """Log dry film readings of the cured piece, and what the rules say that they were held against.

    Raises `UsageError` for what is no film.
    """
    board = find_board(logbook, name)
    summarise(readings_um)  # raises
    said = [asdict(each) for each in checks]
    return append(logbook, JobKind.MEASURED, {**_of(board), "readings_um": readings_um, "checks": said, "by": named(by)})


def _of(board: Board) -> dict[str, Any]:
    """Return what each entry of a board says of it, so that it is found by it."""
    return {"board": board.name, **({} if board.job is None else {"job": board.job}), "coating": board.coating.name}


def _last_coat(logbook: Logbook, name: str, place: Place) -> tuple[Board, Coat]:
    board = find_board(logbook, name)
    if not board.coats:
        raise UsageError(f"there is no coat on {board.name} yet", "log the coat first, by board coat")
    if board.work is Work.PIECE and place.touched_up is None:
        raise UsageError(
            f"a dip marks the film, and {board.name} is a work piece", "touch it up while it is wet; say --touched-up or --not-touched-up"
        )
    if place.seconds is not None and not 0 <= place.seconds < float("inf"):
        raise UsageError(f"a dip {place.seconds:g} s after spraying is not possible", "give the seconds from spraying to the dip")
    if place.spot is not None and not place.spot.strip():
        raise UsageError("the name of the spot is empty", "name it, or leave it out")
    return board, board.coats[-1]


def _where(board: Board, coat: Coat, place: Place) -> Mapping[str, Any]:
    spot = place.spot.strip() if place.spot else _next_spot(coat)
    said = {"coat_entry": coat.entry, "spot": spot, "seconds": place.seconds, "touched_up": place.touched_up}
    return {**_of(board), **said}


def _next_spot(coat: Coat) -> str:
    """Return the lowest number that names no spot yet."""
    taken = {dip.spot for dip in coat.dips}
    return next(str(number) for number in range(1, len(taken) + 2) if str(number) not in taken)


def _refuse_contradiction(coat: Coat, spot: str | None, wet: Bracket) -> None:
    if spot is not None:
        here = spot.strip().casefold()
        intersect([*(dip.wet for dip in coat.dips if dip.spot.casefold() == here and dip.wet is not None), wet])


def _film(board: Board, coat: Coat) -> Film:
    card = board.coating
    return Film(
        coating=card.name,
        solids=card.volume_solids,
        thinner=coat.paint.thinner,
        wet_range_um=card.wet_range_um,
        solids_tolerance=card.volume_solids_tolerance,
        thinner_max=card.thinner_max,
    )


def _now() -> dt.datetime:
    return dt.datetime.now().astimezone()

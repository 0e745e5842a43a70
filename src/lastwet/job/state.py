"""Where a board stands: what its readings come to, what to change, what was built, what may follow, what to beware of."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from lastwet.errors import UsageError
from lastwet.film.build import (
    Build,
    Fit,
    Headroom,
    Layer,
    Recoat,
    RecoatState,
    build_up,
    coat_layer,
    headroom,
    pot_life_left_s,
    recoat,
    wettest_next,
)
from lastwet.film.climate import climate
from lastwet.film.coating import Coating
from lastwet.film.dialin import READINGS_IN_A_ROW, Advice, Attempt, Settings, advise, can_decide, inside_in_a_row, recall, transfer
from lastwet.film.dry import Verdict, dry_range_caution, thinner_caution, verdict
from lastwet.film.estimate import Chance, Estimate, chance, estimate, intersect, mean_bounds
from lastwet.film.quantity import show_duration
from lastwet.job.board import Board, Coat, Dip, Paint
from lastwet.units import Bracket, show_length

LATE_S = 30.0
"""A dip this long after spraying may read low, since solvent has gone. Sources say "at once", one article within 10 s; our choice."""


@dataclass(frozen=True, slots=True)
class Spot:
    """What all readings of one spot say together."""

    entry: int
    """Number of the log entry of its last reading."""
    name: str
    wet: Bracket
    verdict: Verdict
    late: bool
    """Whether any of its dips was late."""


@dataclass(frozen=True, slots=True)
class CoatState:
    """One coat."""

    number: int
    """1 for the first coat on the piece."""
    coat: Coat
    spots: tuple[Spot, ...]
    estimate: Estimate | None
    """None without readings, as are the next three."""
    chance: Chance | None
    advice: Advice | None
    layer: Layer | None
    transfer: tuple[float, float | None] | None = None
    """Part of the paint that landed, by the deposit relation; None where a setting that it needs was not stated."""
    as_laid: tuple[str, ...] = ()
    """What spoke against the coat when it was laid: its paint, the air, the time."""


@dataclass(frozen=True, slots=True)
class BoardState:
    """A board at one moment."""

    board: Board
    coats: tuple[CoatState, ...]
    build: Build | None
    """None where a coat has no reading, so that the sum is not known, and before the first coat."""
    at_least: Build | None
    """The coats that were read; None where none was."""
    headroom: Headroom | None
    wettest_next_um: float | None
    """Thickest wet coat that still fits, thinned as the last one; None where nothing can be promised."""
    recoat: RecoatState | None
    pot_life_left_s: float | None
    in_a_row: int
    """Readings of this coating in a row that were inside the range, the gun set as for the board's last coat; late dips are left out."""
    dialled_in: bool
    recalled: Attempt | None
    """How the gun was set when it was last dialled in for this coating, where that was stated."""
    cautions: tuple[str, ...]


def board_state(board: Board, siblings: Sequence[Board], now: dt.datetime) -> BoardState:
    """Work out where a board stands at `now`; `siblings` are the boards of its coating, itself too."""
    coats = tuple(_coat_state(board, number, coat) for number, coat in enumerate(board.coats, 1))
    build = _build(coats)
    attempts, limits_um = list(_attempts(siblings)), board.coating.wet_range_um
    latest = board.coats[-1] if board.coats else None
    row = inside_in_a_row(attempts, limits_um) if latest is None or _as_set_last(latest, attempts) else 0
    return BoardState(
        board,
        coats,
        build,
        _at_least(coats),
        headroom(build, board.coating) if build else None,
        _wettest_next(board, build, latest.paint.thinned if latest else 0.0),
        _recoat(board, latest, now),
        _pot_life_left_s(board, latest, now),
        row,
        row >= READINGS_IN_A_ROW,
        recall([attempt for attempt in attempts if attempt.settings != Settings()], limits_um),
        tuple(_cautions(board, coats, build)),
    )


def spots(coat: Coat, limits_um: tuple[float, float]) -> list[Spot]:
    """Put the readings of each spot together; a spot whose readings contradict each other is left out."""
    found = []
    for name, dips in _by_spot(coat).items():
        try:
            wet = intersect([dip.wet for dip in dips if dip.wet is not None])
        except UsageError:
            continue
        found.append(Spot(dips[-1].entry, name, wet, verdict(wet, limits_um).verdict, any(late(dip) for dip in dips)))
    return found


def late(dip: Dip) -> bool:
    """Tell whether a dip came so late that it may read low."""
    return dip.seconds is not None and dip.seconds > LATE_S


def _by_spot(coat: Coat) -> dict[str, list[Dip]]:
    """Put the dips that count together by their spot, named as it was first written."""
    grouped: dict[str, list[Dip]] = {}
    again = [later for _, later in same_photo(coat.dips)]
    for dip in coat.dips:
        if dip.wet is not None and dip not in again:
            grouped.setdefault(dip.spot.casefold(), []).append(dip)
    return {dips[0].spot: dips for dips in grouped.values()}


def _coat_state(board: Board, number: int, coat: Coat) -> CoatState:
    limits_um, read = board.coating.wet_range_um, spots(coat, board.coating.wet_range_um)
    under = board.coats[number - 2] if number > 1 else None
    as_laid = tuple(_laid_cautions(board, under, coat.paint, coat.applied_at))
    if not read:
        return CoatState(number, coat, (), None, None, None, None, None, as_laid)
    brackets = [spot.wet for spot in read]
    estimated, mean = estimate(brackets), mean_bounds(brackets)
    advice = advise(mean, limits_um, board.aim_um, coat.settings, brackets)
    layer = coat_layer(mean, board.coating, coat.paint.thinned, coat.sanded_um)
    odds, landed = chance(estimated, limits_um), transfer(mean, coat.settings)
    return CoatState(number, coat, tuple(read), estimated, odds, advice, layer, landed, as_laid)


def _build(coats: Sequence[CoatState]) -> Build | None:
    return _at_least(coats) if all(state.layer for state in coats) else None


def _at_least(coats: Sequence[CoatState]) -> Build | None:
    layers = [state.layer for state in coats if state.layer]
    return build_up(layers) if layers else None


def _where_thickest(board: Board, coats: Sequence[CoatState]) -> Build:
    """Return the build where the thickest spots of all coats lie over one another."""
    thickest = [(max(state.spots, key=_thickness).wet, state.coat) for state in coats]
    return build_up([coat_layer(wet, board.coating, coat.paint.thinned, coat.sanded_um) for wet, coat in thickest])


def _thickness(spot: Spot) -> tuple[float, float]:
    return float("inf") if spot.wet.high_um is None else spot.wet.high_um, spot.wet.low_um


def _wettest_next(board: Board, build: Build | None, thinner: float) -> float | None:
    """Return the thickest wet coat that still fits; None where a coat has no reading."""
    built = build if board.coats else build_up([])
    return wettest_next(built, board.coating, thinner) if built else None


def running(coats: Sequence[CoatState]) -> Iterator[Build]:
    """Yield the build after each coat, up to the first that has no reading."""
    for count in range(1, len(coats) + 1):
        build = _build(coats[:count])
        if build is None:
            return
        yield build


def _attempts(siblings: Iterable[Board]) -> Iterator[Attempt]:
    """Yield what was tried with a coating in the order of the log, one spot after the other.

    Late dips prove nothing, as they read low; but one that is above the range even so is.
    """
    coats = [(coat, board.coating.wet_range_um) for board in siblings for coat in board.coats]
    read = [(coat, spot) for coat, limits_um in coats for spot in spots(coat, limits_um)]
    for coat, spot in sorted(read, key=lambda each: each[1].entry):
        if not spot.late or spot.verdict is Verdict.ABOVE:
            yield Attempt(coat.settings, spot.wet, coat.paint.thinner, coat.entry)


def _as_set_last(coat: Coat, attempts: Sequence[Attempt]) -> bool:
    """Tell whether the gun was set for a coat as for the last attempt; what another setting came to says nothing of this coat."""
    return bool(attempts) and Attempt(coat.settings, attempts[-1].wet, coat.paint.thinner, coat.entry).as_set(attempts[-1])


def _recoat(board: Board, latest: Coat | None, now: dt.datetime) -> RecoatState | None:
    if latest is None or board.coating.recoat_window_s is None:
        return None
    return recoat(board.coating.recoat_window_s, max(0.0, (now - latest.applied_at).total_seconds()))


def _pot_life_left_s(board: Board, latest: Coat | None, now: dt.datetime) -> float | None:
    if latest is None or latest.paint.mixed_at is None or board.coating.pot_life_s is None:
        return None
    return pot_life_left_s(board.coating.pot_life_s, max(0.0, (now - latest.paint.mixed_at).total_seconds()))


def _cautions(board: Board, coats: Sequence[CoatState], build: Build | None) -> Iterator[str]:
    for state in coats:
        yield from (f"coat {state.number}, as it was laid: {words}" for words in state.as_laid)
        yield from _reading_cautions(state, board.coating.wet_range_um)
        yield from _thinned_cautions(state, board.coating)
    yield from _build_cautions(board, coats, build)


def _build_cautions(board: Board, coats: Sequence[CoatState], build: Build | None) -> Iterator[str]:
    least = _at_least(coats)
    room = headroom(least, board.coating) if least else None
    if room is None:
        return
    if room.fit is Fit.PASSES:
        yield "the build passes the maximum" if build else "the coats that were read pass the maximum build by themselves"
    elif build and room.fit is Fit.MAY_PASS:
        yield "the build may pass the maximum"
    elif build and (thickest := headroom(_where_thickest(board, coats), board.coating)) and thickest.fit is not Fit.FITS:
        yield "the build fits by the mean of the spots; where the thickest spots of all coats meet, it may pass the maximum"


def _reading_cautions(state: CoatState, limits_um: tuple[float, float]) -> Iterator[str]:
    coat = f"coat {state.number}"
    if not state.spots:
        yield f"{coat} has no reading, so the build is not known"
    for dip in state.coat.dips:
        if dip.wet is None:
            yield from (f"{coat}, spot {dip.spot}: {words}" for words in _unread(state, dip))
        elif late(dip):
            yield f"{coat}, spot {dip.spot}: dipped {dip.seconds:g} s after spraying, may read low, and the build and the advice with it"
    if state.layer and state.layer.dry.high_um is not None and state.coat.sanded_um[0] > state.layer.dry.high_um:
        had = f"{show_length(state.layer.dry.high_um, 'um')} um"
        yield f"{coat}: {show_length(state.coat.sanded_um[0], 'um')} um was sanded off, and it had {had} at most; look up the unit"
    for first, again in same_photo(state.coat.dips):
        yield f"{coat}: entries {first.entry} and {again.entry} have the same photo, which shows one dip only; the later does not count"
    for name in _by_spot(state.coat).keys() - {spot.name for spot in state.spots}:
        yield f"{coat}, spot {name}: its readings contradict each other, so it does not count; make the wrong one void"
    if state.transfer and state.transfer[0] > 1:
        yield f"{coat}: more paint on the work than left the gun; look up flow, speed, fan, overlap and passes"
    coarse = [dip for dip in state.coat.dips if dip.side and not can_decide(dip.side, limits_um)]
    if coarse and len(coarse) == len(state.coat.dips):
        yield f"{coat}: no bracket of this side lies inside the wet range, so it can never show the gun to be dialled in"


def _unread(state: CoatState, refused: Dip) -> Iterator[str]:
    """Say that a dip was not read: nothing where its spot was since, and no more than that it was not where the coat was, elsewhere.

    What was dipped late, or does not count, takes no place. Elsewhere says nothing of this spot, which may be the thin one, so it is told.
    """
    since = [dip for dip in _counting(state) if dip.entry > refused.entry and not late(dip)]
    here = [dip for dip in since if dip.spot.casefold() == refused.spot.casefold()]
    told = f"the photo of entry {refused.entry} was not read"
    if since and not here:
        yield f"{told} and does not count; entry {min(dip.entry for dip in since)} of this coat was read since"
    elif not any(_same_side(dip, refused) for dip in here):
        yield f"{told}; read it by eye, or dip again"


def _counting(state: CoatState) -> list[Dip]:
    """Return the dips whose readings count, in no order."""
    names = {spot.name for spot in state.spots}
    return [dip for name, dips in _by_spot(state.coat).items() if name in names for dip in dips]


def _same_side(one: Dip, other: Dip) -> bool:
    """Tell whether two dips show the same side, as far as both are known."""
    return one.side == other.side or not one.side or not other.side


def _thinned_cautions(state: CoatState, coating: Coating) -> Iterator[str]:
    """Say that thinned paint, though wet as the sheet wants it, dries to another film: the sheet's wet range is for paint as it comes."""
    if state.layer and state.coat.paint.thinner:
        told = dry_range_caution((state.layer.dry.low_um, state.layer.dry.high_um), coating.dry_range_um)
        yield from [f"coat {state.number}: {told}"] if told else []


def same_photo(dips: Sequence[Dip]) -> Iterator[tuple[Dip, Dip]]:
    """Yield each reading of a photo that was read for an earlier dip already, after that dip."""
    first: dict[str, Dip] = {}
    for dip in dips:
        known = [first.setdefault(sha256, dip) for sha256 in dip.photos] if dip.wet else []
        if earlier := next((other for other in known if other is not dip), None):
            yield earlier, dip


def paint_cautions(board: Board, paint: Paint) -> Iterator[str]:
    """Say what is wrong with the paint in the gun or the air around it."""
    if told := thinner_caution(paint.thinned, board.coating.thinner_max, board.coating.name):
        yield told
    if paint.air_c is not None and paint.humidity is not None and (dew := _dew(paint.air_c, paint.humidity, paint.surface_c)):
        yield dew


def _dew(air_c: float, humidity: float, surface_c: float | None) -> str | None:
    """Say what is wrong with the air; also where an older version logged what no air can be."""
    try:
        return climate(air_c, humidity, surface_c).caution
    except UsageError as error:
        return error.message


def next_coat_cautions(state: BoardState, paint: Paint, at: dt.datetime) -> Iterator[str]:
    """Say, before a further coat is laid at `at`, what speaks against it."""
    board = state.board
    yield from _laid_cautions(board, board.coats[-1] if board.coats else None, paint, at)
    yield from _room_cautions(board, _wettest_next(board, state.build, paint.thinned))


def _laid_cautions(board: Board, under: Coat | None, paint: Paint, at: dt.datetime) -> Iterator[str]:
    """Say what speaks against a coat that is laid at `at` on the coat `under`: its paint, the air, the time."""
    yield from paint_cautions(board, paint)
    if paint.mixed_at and board.coating.pot_life_s is not None:
        left_s = pot_life_left_s(board.coating.pot_life_s, max(0.0, (at - paint.mixed_at).total_seconds()))
        if left_s < 0:
            yield f"the pot life ended {show_duration(-left_s)} ago"
    window = _recoat(board, under, at)
    if window and window.state is Recoat.NOT_YET:
        yield f"the recoat window opens in {show_duration(window.changes_in_s or 0)}"
    if window and window.state is Recoat.MISSED:
        yield "the recoat window is missed: see the data sheet for what to do first, such as sanding"


def _room_cautions(board: Board, wettest_um: float | None) -> Iterator[str]:
    least_um, most_um = board.coating.wet_range_um
    if board.coating.maximum_build is None:
        return
    if wettest_um is None:
        yield "how much room is left to the maximum build is not known, since a reading is missing or has no upper end"
    elif wettest_um < least_um:
        fits = f"at most {show_length(wettest_um, 'um')} um wet" if wettest_um > 0 else "nothing"
        yield f"another coat may pass the maximum build: {fits} surely fits, and the wet range begins at {show_length(least_um, 'um')} um"
    elif wettest_um < most_um:
        yield f"keep this coat under {show_length(wettest_um, 'um')} um wet, or it may pass the maximum build"

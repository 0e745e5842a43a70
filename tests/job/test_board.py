"""Boards put together from entries: what counts, what is void, what a correction changes."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastwet.errors import UsageError
from lastwet.film.coating import coating_from_json, coating_json, coating_names, load_coating
from lastwet.film.dialin import Settings
from lastwet.job.board import Paint, Work, paint_from_json, paint_json, refuse_impossible, settings_json
from lastwet.units import Bracket
from tests.film.cards import HALF
from tests.job.entries import GAUGE, T0, begin, coat, dip, folded


def test_a_board_is_put_together_from_its_entries() -> None:
    (board,) = folded(
        begin("door", "work piece"),
        coat("door", settings={"speed_mm_s": 400.0, "other": {"cap": "b"}}, thinner=0.05, batch="7"),
        dip(2, 110, 140, "left", "door", seconds=4),
        ("sanding", {"board": "door", "coat_entry": 2, "sanded_um": [3, 5]}),
        ("sanding", {"board": "door", "coat_entry": 2, "sanded_um": [1, 1]}),
        coat("door", minutes=90),
        dip(6, 85, None, "left", "door"),
        ("measured", {"board": "door", "readings_um": [98.0, 101.0]}),
        ("note", {"board": "door", "text": "dust"}),
    )
    assert (board.name, board.work, board.coating, board.aim_um, board.entry) == ("door", Work.PIECE, HALF, 125, 1)
    first, second = board.coats
    assert (first.settings, first.paint) == (Settings(speed_mm_s=400, other={"cap": "b"}), Paint(thinner=0.05, batch="7"))
    assert first.sanded_um == (4, 6)
    assert [(each.spot, each.wet, each.seconds, each.by_eye) for each in first.dips] == [("left", Bracket(110, 140), 4, True)]
    assert (second.applied_at, second.dips[0].wet) == (T0 + dt.timedelta(minutes=90), Bracket(85, None))
    assert board.measured_um == (98, 101)


def test_boards_do_not_mix_and_keep_their_order() -> None:
    found = folded(begin("b"), begin("a"), coat("a"), coat("b"), dip(3, 110, 140), dip(4, 85, 110, name="b"))
    assert [(board.name, board.coats[0].dips[0].wet) for board in found] == [("b", Bracket(85, 110)), ("a", Bracket(110, 140))]


def test_names_are_the_same_in_any_case_of_letters_as_the_log_finds_them() -> None:
    (board,) = folded(begin("Door"), coat("door"))
    assert len(board.coats) == 1


def test_what_was_made_void_does_not_count() -> None:
    (board,) = folded(
        begin(), coat(), dip(2, 110, 140), dip(2, 175, None, "2"), coat(), ("void", {"concerns": 4}), ("void", {"concerns": 5})
    )
    assert [each.entry for each in board.coats] == [2]
    assert [each.entry for each in board.coats[0].dips] == [3]


def test_a_dip_of_a_void_coat_moves_to_no_other_coat() -> None:
    (board,) = folded(begin(), coat(), dip(2, 110, 140), ("void", {"concerns": 2}), coat(), dip(5, 85, 110))
    assert [(each.entry, [one.entry for one in each.dips]) for each in board.coats] == [(5, [6])]


def photo(outcome: str, wet: dict[str, float] | None) -> tuple[str, dict[str, object]]:
    reading = {"outcome": outcome, "method": "photo", "side": "fine", "wet": wet, "last_wet": 2 if wet else None}
    return "reading", {"board": "a", "coat_entry": 2, "spot": "1", "seconds": 5, "gauge": GAUGE, "reading": reading}


def test_a_reading_counts_as_it_stands_after_a_correction() -> None:
    corrected = {"outcome": "read", "method": "eye", "side": "fine", "wet": {"low_um": 140, "high_um": 175}, "last_wet": 3}
    for said in (photo("read", {"low_um": 110, "high_um": 140}), photo("refused", None)):
        (board,) = folded(begin(), coat(), said, ("correction", {"concerns": 3, "supersedes": 3, "reading": corrected}))
        (found,) = board.coats[0].dips
        assert (found.wet, found.by_eye, found.seconds) == (Bracket(140, 175), True, 5)


def test_a_reading_typed_in_counts_as_it_stands_after_a_correction() -> None:
    right = {"wet": {"low_um": 85, "high_um": 110}, "side": "fine", "last_wet": 1, "method": "eye", "unit": "um"}
    typed = dip(2, 110, 140, gauge=GAUGE, side="coarse", last_wet=2)
    correction = ("correction", {"concerns": 3, "supersedes": 3, "by": "t", "reason": "miscounted", **right})
    (board,) = folded(begin(), coat(), typed, correction)
    (found,) = board.coats[0].dips
    assert (found.wet, found.entry, found.side[1]) == (Bracket(85, 110), 3, Bracket(85, 110))
    (board,) = folded(begin(), coat(), typed, correction, ("void", {"concerns": 4, "by": "t", "reason": "it was right"}))
    assert board.coats[0].dips[0].wet == Bracket(110, 140)


def test_a_refused_photo_is_a_dip_without_a_bracket() -> None:
    (board,) = folded(begin(), coat(), photo("refused", None))
    (found,) = board.coats[0].dips
    assert (found.wet, found.by_eye) == (None, False)


def test_the_brackets_of_the_pressed_side_are_known_from_the_logged_gauge() -> None:
    (board,) = folded(begin(), coat(), photo("read", {"low_um": 110, "high_um": 140}))
    ends = [0, 85, 110, 140, 175, None]
    assert board.coats[0].dips[0].side == tuple(Bracket(low or 0, high) for low, high in zip(ends, ends[1:], strict=False))


def test_entries_of_a_board_that_was_never_begun_are_left_alone() -> None:
    assert folded(coat(), dip(1, 110, 140)) == []


def test_cards_survive_the_log() -> None:
    for card in (HALF, *map(load_coating, coating_names())):
        assert coating_from_json(coating_json(card)) == card


paints = st.builds(
    Paint,
    thinner=st.none() | st.floats(0, 1),
    viscosity_s=st.none() | st.floats(1, 99),
    cup=st.none() | st.text(),
    batch=st.none() | st.text(),
    mixed_at=st.none() | st.datetimes(timezones=st.just(dt.UTC)),
    air_c=st.none() | st.floats(-5, 40),
    humidity=st.none() | st.floats(0.1, 1),
)


@given(paints)
def test_paint_survives_the_log(paint: Paint) -> None:
    assert paint_from_json(paint_json(paint)) == paint
    assert paint_from_json({**paint_json(paint), "of_a_later_version": 1}) == paint


@given(st.none() | st.floats(1, 1000), st.none() | st.floats(0, 0.9), st.dictionaries(st.text(), st.text()))
def test_settings_survive_the_log(speed: float | None, overlap: float | None, other: dict[str, str]) -> None:
    settings = Settings(speed_mm_s=speed, overlap=overlap, other=other)
    assert Settings(**settings_json(settings)) == settings


def test_what_was_measured_before_a_further_coat_is_kept_apart() -> None:
    said = [("measured", {"board": "a", "readings_um": values}) for values in ([55.0], [60.0, 62.0], [118.0])]
    (board,) = folded(begin(), coat(), said[0], said[1], coat(minutes=90), said[2])
    assert [(each.coats, each.readings_um) for each in board.measured] == [(1, (55,)), (1, (60, 62)), (2, (118,))]
    assert board.measured_um == (118,)
    assert [board.after_coats(each.coats) for each in board.measured] == [" after 1 of 2 coats", " after 1 of 2 coats", ""]


@pytest.mark.parametrize(
    "paint",
    [
        {"thinner": -0.1},
        {"thinner": float("nan")},
        {"thinner": float("inf")},
        {"humidity": 1.5},
        {"humidity": 0.006},
        {"humidity": float("nan")},
    ],
)
def test_paint_and_air_that_cannot_be_are_refused(paint: dict[str, float]) -> None:
    with pytest.raises(UsageError, match="is not possible"):
        refuse_impossible(Paint(**paint))  # type: ignore[arg-type]
    refuse_impossible(Paint(thinner=0.1, humidity=0.55))

"""Where a board stands. Half of the wet film dries (`tests.film.cards.HALF`: wet range 100 to 150 um, maximum 160 um dry)."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from lastwet.film.build import Fit, Recoat
from lastwet.film.coating import Coating
from lastwet.film.dialin import Attempt, Settings
from lastwet.film.dry import Verdict
from lastwet.job.board import Board, Paint
from lastwet.job.state import BoardState, board_state, next_coat_cautions, running
from lastwet.units import Bracket
from tests.film.cards import half
from tests.job.entries import GAUGE, T0, Said, begin, coat, dip, folded

HOUR = 3600.0
NOW = T0 + dt.timedelta(hours=2)
WINDOW = half(recoat_window_s=(HOUR, 6 * HOUR), pot_life_s=4 * HOUR)


def state_of(*said: Said, now: dt.datetime = NOW) -> BoardState:
    """State of the last board."""
    found = folded(*said)
    return board_state(found[-1], found, now)


def test_a_new_board_has_nothing_but_room() -> None:
    state = state_of(begin())
    assert (state.coats, state.build, state.headroom, state.recoat) == ((), None, None, None)
    assert (state.wettest_next_um, state.in_a_row, state.dialled_in, state.recalled, state.cautions) == (150, 0, False, None, ())


def test_readings_of_a_coat_give_estimate_advice_and_layer() -> None:
    state = state_of(begin(), coat(), dip(2, 150, 175, "1"), dip(2, 175, 200, "2"))
    (found,) = state.coats
    assert found.estimate and found.advice and found.layer
    assert found.estimate.mean_interval_um == (162.5, 187.5)
    assert found.advice.judgement.verdict is Verdict.ABOVE
    assert found.advice.times_aim == (1.3, 1.5)
    assert found.advice.levers[0].to == pytest.approx((520, 600))  # 400 mm/s now
    assert found.layer.dry == Bracket(81.25, 93.75)


def test_several_sides_in_one_spot_are_one_reading() -> None:
    state = state_of(begin(), coat(), dip(2, 100, 150, "Edge"), dip(2, 120, None, "edge"), dip(2, 110, 140, "2"))
    assert [(spot.name, spot.wet) for spot in state.coats[0].spots] == [("Edge", Bracket(120, 150)), ("2", Bracket(110, 140))]
    assert state.in_a_row == 2


def test_a_spot_that_contradicts_itself_does_not_count_and_is_told() -> None:
    state = state_of(begin(), coat(), dip(2, 100, 125, "1"), dip(2, 125, 150, "1"), dip(2, 110, 140, "2"))
    assert [spot.name for spot in state.coats[0].spots] == ["2"]
    assert any("spot 1: its readings contradict each other" in caution for caution in state.cautions)


def test_the_build_adds_coats_and_sanding_and_tells_what_still_fits() -> None:
    state = state_of(
        begin(),
        coat(),
        dip(2, 110, 140),
        ("sanding", {"board": "a", "coat_entry": 2, "sanded_um": [4, 6]}),
        coat(minutes=70),
        dip(5, 100, 150),
    )
    assert state.build and state.headroom
    assert (state.build.dry_um, state.build.wet_um) == ((99, 141), (210, 290))
    assert (state.headroom.fit, state.headroom.left_um) == (Fit.FITS, (19, 61))
    assert state.wettest_next_um == 38
    assert [build.dry_um for build in running(state.coats)] == [(49, 66), (99, 141)]


def test_a_build_that_may_pass_the_maximum_is_told() -> None:
    assert "the build may pass the maximum" in state_of(begin(), coat(), dip(2, 300, 330)).cautions
    assert "the build passes the maximum" in state_of(begin(), coat(), dip(2, 330, 350)).cautions


def test_a_coat_without_a_reading_leaves_the_build_unknown() -> None:
    state = state_of(begin(), coat(), dip(2, 110, 140), coat(minutes=70))
    assert (state.build, state.headroom, state.wettest_next_um) == (None, None, None)
    assert "coat 2 has no reading, so the build is not known" in state.cautions
    assert [build.dry_um for build in running(state.coats)] == [(55, 70)]


def refused(spot: str = "1", side: str | None = "fine") -> Said:
    reading = {"outcome": "refused", "method": "photo", "side": side, "wet": None}
    return "reading", {"board": "a", "coat_entry": 2, "spot": spot, "seconds": None, "gauge": GAUGE, "reading": reading}


UNREAD = "coat 1, spot 1: the photo of entry 3 was not read"


def test_a_refused_photo_is_told_until_it_is_read() -> None:
    assert f"{UNREAD}; read it by eye, or dip again" in state_of(begin(), coat(), refused()).cautions


FINE = {"gauge": GAUGE, "side": "fine"}
COARSE = {"gauge": GAUGE, "side": "coarse"}


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (refused(), dip(2, 110, 140, **FINE)),
        (refused("Edge"), dip(2, 110, 140, "edge", **FINE)),
        (refused(side=None), dip(2, 110, 140, **FINE)),  # which side was pressed was the doubt
        (refused(), dip(2, 110, 140)),  # typed in, without its side
    ],
)
def test_a_refused_photo_is_not_told_once_its_spot_was_dipped_again_and_read(before: Said, after: Said) -> None:
    assert state_of(begin(), coat(), before, after).cautions == ()


def test_a_refused_photo_is_history_once_another_spot_was_read() -> None:
    assert state_of(begin(), coat(), refused(), dip(2, 110, 140, "2"), dip(2, 110, 140, "3")).cautions == (
        f"{UNREAD} and does not count; entry 4 of this coat was read since",
    )


@pytest.mark.parametrize(
    "after",
    [
        [dip(2, 110, 140, "2", seconds=31)],  # reads low, perhaps
        [dip(2, 110, 140, seconds=31, **FINE)],
        [dip(2, 110, 140, "2"), dip(2, 140, 175, "2")],  # contradict each other
        [refused()],
        [dip(2, 50, 200, **COARSE)],  # the finer side says more
        [dip(2, 50, 200, **COARSE), dip(2, 110, 140, "2")],
    ],
)
def test_a_dip_that_settles_nothing_leaves_a_refused_photo_to_be_read(after: list[Said]) -> None:
    assert f"{UNREAD}; read it by eye, or dip again" in state_of(begin(), coat(), refused(), *after).cautions


def test_a_refused_photo_is_told_though_its_spot_was_read_before() -> None:
    told = "coat 1, spot 1: the photo of entry 4 was not read; read it by eye, or dip again"
    assert told in state_of(begin(), coat(), dip(2, 110, 140, **FINE), refused()).cautions


def test_a_reading_that_was_made_void_takes_no_place_of_a_refused_photo() -> None:
    void = ("void", {"concerns": 4, "by": "t", "reason": "slipped"})
    assert f"{UNREAD}; read it by eye, or dip again" in state_of(begin(), coat(), refused(), dip(2, 110, 140, **FINE), void).cautions


def test_a_refused_photo_of_one_coat_is_told_whatever_was_read_of_the_next() -> None:
    told = state_of(begin(), coat(), refused(), coat(minutes=70), dip(4, 110, 140, **FINE)).cautions
    assert f"{UNREAD}; read it by eye, or dip again" in told


RIGHT = [dip(2, 110, 140, spot) for spot in "123"]


def test_three_readings_in_a_row_dial_the_gun_in() -> None:
    assert not state_of(begin(), coat(), *RIGHT[:2]).dialled_in
    state = state_of(begin(), coat(), *RIGHT)
    assert (state.in_a_row, state.dialled_in) == (3, True)
    assert state.recalled == Attempt(Settings(speed_mm_s=400), Bracket(110, 140), None, 2)


def test_readings_of_the_coatings_other_boards_count_and_their_settings_are_recalled() -> None:
    other = [begin("b"), coat("b", settings={"speed_mm_s": 300}), dip(7, 150, 175, name="b")]
    state = state_of(begin(), coat(), *RIGHT, *other)
    assert (state.board.name, state.in_a_row, state.dialled_in) == ("b", 0, False)
    assert state.recalled and state.recalled.settings == Settings(speed_mm_s=400)


@pytest.mark.parametrize("how", [{"settings": {"speed_mm_s": 900}}, {"thinner": 0.1}])
def test_a_coat_that_is_sprayed_otherwise_is_not_dialled_in_by_what_another_showed(how: dict[str, Any]) -> None:
    other = [begin("b"), coat("b", **how)]
    state = state_of(begin(), coat(), *RIGHT, *other)
    assert (state.in_a_row, state.dialled_in) == (0, False)
    assert state.recalled and state.recalled.settings == Settings(speed_mm_s=400)
    assert state_of(begin(), coat(), *RIGHT, begin("b"), coat("b")).dialled_in
    assert state_of(begin(), coat(), *RIGHT, begin("b")).dialled_in  # nothing is sprayed otherwise yet


def test_a_late_dip_above_the_range_ends_the_row() -> None:
    """It reads low, if anything, and is above even so."""
    late = [dip(2, *wet, "4", seconds=60) for wet in ((150, 175), (85, 110), (50, 85))]
    assert [state_of(begin(), coat(), *RIGHT, each).in_a_row for each in late] == [0, 3, 3]


def test_settings_that_were_not_stated_cannot_be_recalled() -> None:
    state = state_of(begin(), ("coat", {**coat()[1], "settings": {}}), *RIGHT)
    assert (state.dialled_in, state.recalled) == (True, None)


def test_more_paint_than_left_the_gun_is_told() -> None:
    """300 ml/min at 50 cm/s with a fan of 25 cm, half overlapped, lay down 80 um where all of it lands."""
    gun = {"flow_ml_min": 300, "speed_mm_s": 500, "fan_mm": 250, "overlap": 0.5, "passes": 1}
    state = state_of(begin(), coat(settings=gun), dip(2, 110, 140))
    assert state.coats[0].transfer == pytest.approx((110 / 80, 140 / 80))
    assert any("more paint on the work than left the gun" in caution for caution in state.cautions)
    assert not any(
        "left the gun" in caution for caution in state_of(begin(), coat(settings={**gun, "passes": 2}), dip(2, 110, 140)).cautions
    )


def test_a_late_dip_is_flagged_and_proves_nothing() -> None:
    """It may read low (ASTM D1212, 3.1: as quickly as possible, to reduce shrinkage due to solvent loss)."""
    state = state_of(begin(), coat(), *RIGHT[:2], dip(2, 110, 140, "3", seconds=45))
    assert state.in_a_row == 2
    assert "coat 1, spot 3: dipped 45 s after spraying, may read low, and the build and the advice with it" in state.cautions
    assert state.coats[0].spots[2].late
    assert state_of(begin(), coat(), *RIGHT[:2], dip(2, 110, 140, "3", seconds=30)).dialled_in


def test_one_photo_in_two_places_counts_once_and_is_told() -> None:
    state = state_of(begin(), coat(), dip(2, 110, 140, "1"), dip(2, 110, 140, "2"))
    assert not state.cautions
    (sprayed,) = state.board.coats
    alike = replace(sprayed, dips=tuple(replace(each, photos=("ab",)) for each in sprayed.dips))
    (caution,) = board_state(replace(state.board, coats=(alike,)), [], NOW).cautions
    assert caution == "coat 1: entries 3 and 4 have the same photo, which shows one dip only; the later does not count"
    (counted,) = board_state(replace(state.board, coats=(alike,)), [], NOW).coats
    assert [spot.name for spot in counted.spots] == ["1"]


def test_photos_of_a_dip_that_share_one_with_another_dip_show_one_dip() -> None:
    """The third shares none with the first, yet by the second it is of the same dip."""
    (sprayed,) = state_of(begin(), coat(), *(dip(2, 110, 140, spot) for spot in "123")).board.coats
    dips = tuple(replace(each, photos=photos) for each, photos in zip(sprayed.dips, (("a", "b"), ("c", "b"), ("c",)), strict=True))
    state = board_state(replace(folded(begin(), coat())[0], coats=(replace(sprayed, dips=dips),)), [], NOW)
    assert [caution[:23] for caution in state.cautions] == ["coat 1: entries 3 and 4", "coat 1: entries 4 and 5"]
    assert [spot.name for spot in state.coats[0].spots] == ["1"]


def test_a_side_too_coarse_for_the_range_is_told() -> None:
    coarse = dip(2, 50, 200, gauge=GAUGE, side="coarse")
    assert any("no bracket of this side lies inside" in caution for caution in state_of(begin(), coat(), coarse).cautions)
    fine = dip(2, 110, 140, gauge=GAUGE, side="fine")
    assert not any("no bracket" in caution for caution in state_of(begin(), coat(), fine).cautions)


@pytest.mark.parametrize(("hours", "expected"), [(0.5, Recoat.NOT_YET), (3, Recoat.OPEN), (7, Recoat.MISSED)])
def test_the_recoat_window_runs_from_the_last_coat(hours: float, expected: Recoat) -> None:
    state = state_of(begin(card=WINDOW), coat(minutes=-600), coat(), now=T0 + dt.timedelta(hours=hours))
    assert state.recoat and state.recoat.state is expected


def test_pot_life_runs_from_mixing() -> None:
    mixed_at = (T0 - dt.timedelta(hours=1)).isoformat()
    assert state_of(begin(card=WINDOW), coat(mixed_at=mixed_at)).pot_life_left_s == HOUR
    assert state_of(begin(card=WINDOW), coat()).pot_life_left_s is None


def cautions(paint: Paint, *said: Said, hours: float = 2, card: Coating = WINDOW) -> list[str]:
    at = T0 + dt.timedelta(hours=hours)
    return list(next_coat_cautions(state_of(begin(card=card), *said, now=at), paint, at))


@pytest.mark.parametrize(
    ("paint", "said", "hours", "words"),
    [
        (Paint(thinner=0.15), [], 2, "15 % thinner is more than Half (invented) allows, 10 %"),
        (Paint(air_c=20, humidity=0.6, surface_c=14), [], 2, "only 2.0 C above the dew point"),
        (Paint(mixed_at=T0 - dt.timedelta(hours=3)), [], 2, "the pot life ended 1 h ago"),
        (Paint(), [coat(), dip(2, 110, 140)], 0.5, "the recoat window opens in 30 min"),
        (Paint(), [coat(), dip(2, 110, 140)], 7, "the recoat window is missed"),
        (Paint(), [coat()], 2, "how much room is left to the maximum build is not known"),
        (Paint(), [coat(), dip(2, 200, 240)], 2, "another coat may pass the maximum build: at most 80 um wet surely fits"),
        (Paint(), [coat(), dip(2, 300, 330)], 2, "another coat may pass the maximum build: nothing surely fits"),
        (Paint(), [coat(), dip(2, 150, 200)], 2, "keep this coat under 120 um wet, or it may pass the maximum build"),
    ],
)
def test_what_speaks_against_a_coat_is_said_before_it_is_laid(paint: Paint, said: list[Said], hours: float, words: str) -> None:
    (caution,) = cautions(paint, *said, hours=hours)
    assert words in caution


def test_nothing_is_said_where_nothing_speaks_against_it() -> None:
    fine = Paint(thinner=0.1, air_c=20, humidity=0.5, mixed_at=T0)
    assert cautions(fine) == []
    assert cautions(fine, coat(), dip(2, 100, 125)) == []


def test_thinning_and_sanding_of_each_coat_count_in_its_layer() -> None:
    state = state_of(begin(), coat(thinner=0.25), dip(2, 100, 125))
    assert state.coats[0].layer and state.coats[0].layer.dry == Bracket(40, 50)


def test_the_state_depends_on_nothing_but_its_arguments() -> None:
    (board,) = folded(begin(), coat(), *RIGHT)
    once: Any = board_state(board, [board], NOW)
    assert once == board_state(replace(board), [board], NOW)
    assert isinstance(once.board, Board)


def test_a_coat_without_a_reading_hides_no_build_that_is_too_thick() -> None:
    """The coats that were read are 165 to 180 um dry, and 160 um is the most of all."""
    state = state_of(begin(), coat(), coat(minutes=70), dip(3, 330, 360))
    assert (state.build, state.headroom) == (None, None)
    assert state.at_least and state.at_least.dry_um == (165, 180)
    assert "the coats that were read pass the maximum build by themselves" in state.cautions
    assert not any("maximum" in words for words in state_of(begin(), coat(), coat(minutes=70), dip(3, 300, 310)).cautions)


def test_where_the_thickest_spots_meet_the_maximum_counts_too() -> None:
    """Twice a spot of 150 to 175 um and two of 50 to 85 um wet: 41 to 58 um dry a coat by their mean, 75 to 87 um where it is thickest."""
    spots = [("1", 150, 175), ("2", 50, 85), ("3", 50, 85)]
    coats = [coat(), *(dip(2, low, high, name) for name, low, high in spots)]
    twice = [*coats, coat(minutes=70), *(dip(6, low, high, name) for name, low, high in spots)]
    once, both = state_of(begin(), *coats), state_of(begin(), *twice)
    assert both.headroom and both.headroom.fit is Fit.FITS
    assert "the build fits by the mean of the spots; where the thickest spots of all coats meet, it may pass the maximum" in both.cautions
    assert not once.cautions


def test_the_room_for_a_coat_is_that_of_its_own_thinner() -> None:
    """After 157 um dry of 160 um there is room for 3 um: 6 um wet, or with a tenth of thinner 6.7 um."""
    said = [begin(), coat(thinner=0.1), dip(2, 345.4 * 0.95, 345.4)]
    before = state_of(*said)
    assert before.wettest_next_um == pytest.approx(3 / 0.5 * 1.1)
    told = [" ".join(next_coat_cautions(before, Paint(thinner=share), NOW)) for share in (0.1, 0.0)]
    assert "at most 6.6 um wet" in told[0] and "at most 6 um wet" in told[1]


def test_more_sanded_off_than_there_was_is_told() -> None:
    sanded = ("sanding", {"board": "a", "coat_entry": 2, "sanded_um": [127, 127]})
    told = "coat 1: 127 um was sanded off, and it had 70 um at most; look up the unit"
    assert told in state_of(begin(), coat(), dip(2, 110, 140), sanded).cautions
    through = ("sanding", {"board": "a", "coat_entry": 2, "sanded_um": [60, 80]})  # which may be what was left of it
    assert not state_of(begin(), coat(), dip(2, 110, 140), through).cautions


def test_air_that_an_older_version_logged_and_cannot_be_is_told_and_nothing_else_is_lost() -> None:
    state = state_of(begin(), coat(air_c=20, humidity=1.5), dip(2, 110, 140))
    assert "coat 1, as it was laid: a relative humidity of 150 % is not possible" in state.cautions and state.build


def test_what_spoke_against_each_coat_as_it_was_laid_stays_told() -> None:
    """The first: too much thinner, mixed five hours before, for four. The second: half an hour after it, for an hour at least."""
    mixed = (T0 - dt.timedelta(hours=5)).isoformat()
    laid = [coat(thinner=0.2, mixed_at=mixed), dip(2, 110, 140), coat(minutes=30), dip(4, 110, 140)]
    state = state_of(begin(card=WINDOW), *laid)
    assert state.cautions == (
        "coat 1, as it was laid: 20 % thinner is more than Half (invented) allows, 10 %",
        "coat 1, as it was laid: the pot life ended 1 h ago",
        "coat 1: the predicted dry film, 45.8 to 58.3 um, lies partly below the dry range of the data sheet, 50 to 75 um; "
        "more wet film brings it up",
        "coat 2, as it was laid: the recoat window opens in 30 min",
    )
    assert [len(each.as_laid) for each in state.coats] == [2, 1]


def test_thinned_paint_that_dries_to_too_little_is_told() -> None:
    """Half of 100 to 110 um is 50 to 55 um and the sheet wants 50 to 75 um; with a tenth of thinner it is 45.5 to 50 um."""
    thinned, plain = (state_of(begin(), coat(thinner=share), dip(2, 100, 110)) for share in (0.1, 0.0))
    assert [words for words in thinned.cautions if "lies partly below the dry range" in words and words.startswith("coat 1: ")]
    assert thinned.coats[0].spots[0].verdict is Verdict.INSIDE and not plain.cautions

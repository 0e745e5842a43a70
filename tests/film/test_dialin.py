"""Dialling in: the deposit relation by hand, advice as ranges, the rule, and what is recalled."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastwet.errors import UsageError
from lastwet.film.dialin import Attempt, Settings, advise, can_decide, deposit_um, dialled_in, inside_in_a_row, recall, transfer
from lastwet.film.dry import Verdict
from lastwet.film.estimate import mean_bounds
from lastwet.units import MIL_UM, Bracket
from lastwet.words.film import advice_lines

RANGE = (110.0, 150.0)
SLOW, FAST = Settings(speed_mm_s=300, flow_ml_min=200), Settings(speed_mm_s=400, flow_ml_min=200)
THICK, THIN, RIGHT = Bracket(175, 215), Bracket(60, 85), Bracket(110, 140)


def test_the_deposit_relation_by_hand() -> None:
    """300 mL/min, 65 % transfer, 50 cm/s, fan 25 cm, half overlapped: 5000 mm3/s x 0.65 / (500 x 125) mm2/s = 52.0 um, 2.05 mil."""
    one = deposit_um(300, 0.65, 500, 250, 0.5)
    assert round(one, 1) == 52.0
    assert round(one / MIL_UM, 2) == 2.05
    assert deposit_um(300, 0.65, 1000, 250, 0.5) == pytest.approx(one / 2)
    assert deposit_um(300, 0.65, 500, 250, 0.0) == pytest.approx(one / 2)  # half overlap doubles the single stroke
    assert deposit_um(300, 0.65, 500, 250, 0.5, 2) == pytest.approx(2 * one)


def test_the_transfer_efficiency_follows_from_settings_and_film() -> None:
    """The same example, the other way round."""
    gun = Settings(flow_ml_min=300, speed_mm_s=500, fan_mm=250, overlap=0.5, passes=1)
    assert transfer(Bracket(52, 80), gun) == pytest.approx((0.65, 1.0))
    assert transfer(Bracket(52, None), gun) == (pytest.approx(0.65), None)
    assert transfer(Bracket(52, 80), Settings(flow_ml_min=300, speed_mm_s=500)) is None


def test_advice_is_a_range_because_a_reading_is_a_bracket() -> None:
    found = advise(Bracket(156, 195), RANGE, settings=FAST)
    assert (found.judgement.verdict, found.aim_um) == (Verdict.ABOVE, 130)
    assert found.times_aim == pytest.approx((1.2, 1.5))
    speed, flow = found.levers
    assert speed.factor == pytest.approx((1.2, 1.5)) and speed.to == pytest.approx((480, 600))
    assert flow.factor == pytest.approx((1 / 1.5, 1 / 1.2)) and flow.to == pytest.approx((400 / 3, 500 / 3))


def test_open_brackets_give_open_advice() -> None:
    speed, flow = advise(Bracket(195, None), RANGE).levers
    assert (speed.factor, flow.factor) == ((1.5, None), (0.0, pytest.approx(1 / 1.5)))
    speed, flow = advise(Bracket(0, 65), RANGE).levers
    assert (speed.factor, flow.factor) == ((0, 0.5), (2, None))
    assert speed.to is None


def test_a_mean_inside_of_spots_outside_asks_for_an_even_coat() -> None:
    """By hand: 60 to 85 and 140 to 175 um have their mean between 100 and 130 um, and no spot is inside."""
    spots = [Bracket(60, 85), Bracket(140, 175)]
    advice = advise(mean_bounds(spots), (90, 130), spots=spots)
    assert (advice.judgement.verdict, advice.outside, advice.levers) == (Verdict.INSIDE, (1, 1), ())
    words = dict(advice_lines(advice))
    assert words["next pass"] == "lay it down more evenly: spots below the range 1, above 1, though their mean is inside"
    even = [Bracket(90, 110), Bracket(110, 130)]
    assert dict(advice_lines(advise(mean_bounds(even), (90, 130), spots=even)))["next pass"] == "change nothing, and read again"


@pytest.mark.parametrize("wet", [RIGHT, Bracket(100, 175)])
def test_inside_nothing_is_changed_and_a_bracket_over_the_whole_range_cannot_advise(wet: Bracket) -> None:
    assert advise(wet, RANGE).levers == ()


@pytest.mark.parametrize(
    ("wet", "speed", "flow"),
    [
        (Bracket(100, 140), (1, 140 / 107.5), (107.5 / 140, 1)),  # may be 140: no slower, and no more paint
        (Bracket(100, None), (1, None), (0, 1)),
        (Bracket(75, 115), (75 / 107.5, 1), (1, 107.5 / 75)),  # may be 75: no faster, and no less paint
    ],
)
def test_a_film_that_may_be_too_thick_is_not_made_thicker(
    wet: Bracket, speed: tuple[float, float | None], flow: tuple[float, float | None]
) -> None:
    """By hand, with the aim in the middle of 90 to 125 um; that slower makes thicker: TM 1-1500-344-23-2 / NAVAIR 01-1A-509-2, A-8."""
    found = advise(wet, (90, 125))
    assert found.judgement.verdict is Verdict.STRADDLES
    assert [lever.factor for lever in found.levers] == [pytest.approx(speed), pytest.approx(flow)]
    assert found.times_aim[0] == pytest.approx(wet.low_um / 107.5)  # what the film is stays a bracket


def test_an_aim_outside_the_range_is_refused() -> None:
    with pytest.raises(UsageError, match="outside the wet range"):
        advise(RIGHT, RANGE, 160)


@given(st.floats(1, 400), st.floats(5, 60), st.floats(110, 150), st.floats(100, 900))
def test_following_the_advice_brings_the_film_to_the_aim(low: float, step: float, aim: float, speed: float) -> None:
    """By the deposit relation itself: the factor that fits the true film, which lies in the bracket, lies in the factor's range.

    A film that is on the other side of the aim than the limit which it may have passed is left as it is.
    """
    found = advise(Bracket(low, low + step), RANGE, aim, Settings(speed_mm_s=speed))
    thick = found.judgement.verdict is Verdict.ABOVE or found.judgement.straddled_um == (RANGE[1],)
    for lever in found.levers:
        for film in (low, low + step / 2, low + step * 0.999):
            if (film < aim) if thick else (film > aim):
                continue
            needed = film / aim if lever.name == "speed" else aim / film
            assert lever.factor[0] <= needed * (1 + 1e-9)
            assert lever.factor[1] is None or needed <= lever.factor[1] * (1 + 1e-9)
            if lever.name == "speed":
                flow_ml_min = film * speed * 100 / 1e3 / 0.65 * 60 / 1000  # lays `film` at `speed` with a fan of 100 mm
                assert deposit_um(flow_ml_min, 0.65, speed * needed, 100) == pytest.approx(aim)


def attempts(*each: tuple[Settings, Bracket]) -> list[Attempt]:
    return [Attempt(settings, wet) for settings, wet in each]


@pytest.mark.parametrize(
    ("tries", "in_a_row"),
    [
        ([], 0),
        ([(FAST, RIGHT)], 1),
        ([(FAST, RIGHT)] * 3, 3),
        ([(SLOW, RIGHT), (FAST, RIGHT), (FAST, RIGHT)], 2),  # settings changed
        ([(FAST, RIGHT), (FAST, THICK), (FAST, RIGHT)], 1),
        ([(FAST, RIGHT), (FAST, RIGHT), (FAST, Bracket(140, 175))], 0),  # straddles: not the whole bracket
        ([(FAST, RIGHT), (FAST, RIGHT), (FAST, Bracket(140, None))], 0),
        ([(Settings(other={"nozzle": "a"}), RIGHT), (Settings(other={"nozzle": "b"}), RIGHT)], 1),
    ],
)
def test_the_rule_counts_readings_in_a_row(tries: list[tuple[Settings, Bracket]], in_a_row: int) -> None:
    tried = attempts(*tries)
    assert inside_in_a_row(tried, RANGE) == in_a_row
    assert dialled_in(tried, RANGE) is (in_a_row >= 3)
    assert dialled_in(tried, RANGE, 1) is (in_a_row >= 1)


def test_other_thinning_is_another_setting() -> None:
    thinned = [Attempt(FAST, RIGHT, thinner) for thinner in (0.0, 0.05, 0.05)]
    assert inside_in_a_row(thinned, RANGE) == 2


def test_coats_of_which_nothing_was_stated_need_not_have_been_sprayed_alike() -> None:
    unstated = [Attempt(Settings(), RIGHT, 0.0, coat) for coat in (2, 5, 5)]
    assert inside_in_a_row(unstated, RANGE) == 2
    assert inside_in_a_row([Attempt(FAST, RIGHT, 0.0, coat) for coat in (2, 5, 5)], RANGE) == 3


def test_the_settings_that_did_it_are_recalled_though_others_were_tried_since() -> None:
    done = attempts(*[(SLOW, RIGHT)] * 3, *[(FAST, RIGHT)] * 3, (SLOW, THICK))
    assert recall(done, RANGE) == Attempt(FAST, RIGHT)
    assert recall(done[:3], RANGE) == Attempt(SLOW, RIGHT)
    assert recall(done[:2], RANGE) is None
    assert recall([], RANGE) is None


@given(st.lists(st.tuples(st.sampled_from([SLOW, FAST]), st.sampled_from([THIN, RIGHT, THICK])), max_size=10))
def test_what_is_recalled_was_dialled_in_at_some_time(tries: list[tuple[Settings, Bracket]]) -> None:
    tried = attempts(*tries)
    ever = [tried[end - 1] for end in range(1, len(tried) + 1) if dialled_in(tried[:end], RANGE)]
    assert recall(tried, RANGE) == (ever[-1] if ever else None)


def test_a_side_without_a_bracket_inside_the_range_never_shows_it() -> None:
    teeth = [Bracket(low, high) for low, high in ((85, 110), (110, 140), (140, 175))]
    assert can_decide(teeth, RANGE)
    assert not can_decide(teeth, (115, 135))


@pytest.mark.parametrize(
    "wrong", [{"speed_mm_s": 0}, {"flow_ml_min": -1}, {"passes": 0}, {"overlap": 1.0}, {"overlap": -0.1}, {"distance_mm": math.nan}]
)
def test_settings_that_no_gun_has_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(UsageError) as refused:
        Settings(**wrong)  # type: ignore[arg-type]
    assert refused.value.cure

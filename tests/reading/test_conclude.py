"""What is concluded from one photo, and in which words it is refused; sights made up by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lastwet.gauge import Gauge, Side
from lastwet.reading import refuse
from lastwet.reading.outcome import Code, Refusal
from lastwet.reading.reader import LIMITS, conclude
from lastwet.reading.strip import Row
from tests.reading.sights import GAUGE, evidence, pattern, sight


@pytest.mark.parametrize("second", [False, True])
def test_what_only_the_second_look_counted_must_be_the_surer(second: bool) -> None:
    odds = pattern("WWWDDDW")
    odds[3], odds[4] = 3.8, -5.0  # log odds: likely enough for a row that was counted at once
    outcome = conclude(replace(sight(evidence(odds)), second=second), GAUGE, LIMITS)
    assert isinstance(outcome, Refusal) == second


@pytest.mark.parametrize("pitch_px", [60.0, 30.0])
def test_small_teeth_must_be_the_surer(pitch_px: float) -> None:
    odds = pattern("WWWDDDW")
    odds[3] = -4.0  # log odds: a line of paint one pixel high looks about as dry
    shown = sight(evidence(odds))
    row = Row(*(np.asarray(points * pitch_px / 60, np.float32) for points in (shown.row.row.tips, shown.row.row.roots)))
    outcome = conclude(replace(shown, row=replace(shown.row, row=row)), GAUGE, LIMITS)
    assert isinstance(outcome, Refusal) == (pitch_px < LIMITS.small)


@pytest.mark.parametrize(("low_tab", "high_tab", "alike"), [(5.0, 5.0, False), (5.0, 3.0, False), (3.0, 5.0, True)])
def test_where_even_the_low_end_tab_is_doubtful_that_is_said_to_be_why(low_tab: float, high_tab: float, alike: bool) -> None:
    odds = pattern("WWWDDDW")
    odds[0], odds[2], odds[-1] = low_tab, 1.5, high_tab  # log odds; 3 is wet enough for a gauge that stands squarely
    outcome = conclude(sight(evidence(odds)), GAUGE, LIMITS)
    assert isinstance(outcome, Refusal)
    assert outcome.reasons[0].code is Code.UNSURE
    assert ("end tab" in outcome.reasons[0].message) == alike
    assert ("tooth 85" in outcome.reasons[0].message) != alike


@pytest.mark.parametrize(("ends", "alike"), [((5.0, 3.0), False), ((3.0, 5.0), False), ((3.0, 3.0), True)])
def test_with_every_tooth_wet_either_end_tab_may_be_the_low_one(ends: tuple[float, float], alike: bool) -> None:
    odds = pattern("WWWWWWW")
    odds[0], odds[1], odds[-1] = ends[0], 1.5, ends[1]
    outcome = conclude(sight(evidence(odds)), GAUGE, LIMITS)
    assert isinstance(outcome, Refusal)
    assert ("end tab" in outcome.reasons[0].message) == alike


@pytest.mark.parametrize(("at_px", "seen", "read"), [(100.0, 0.9, True), (50.0, 0.99, True), (50.0, 0.9, False), (380.0, 0.9, False)])
def test_where_one_more_would_be_outside_the_picture_an_end_tab_must_surely_be_one(at_px: float, seen: float, read: bool) -> None:
    """The row is 360 px long in a picture 800 px wide, and its pitch is 60 px."""
    shown = evidence(pattern("WWWDDDW"))
    outcome = conclude(sight(replace(shown, seen=np.full(7, seen)), at=(at_px, 300.0)), GAUGE, LIMITS)
    assert isinstance(outcome, Refusal) != read
    if isinstance(outcome, Refusal):
        assert outcome.reasons[0].code is Code.ROW_CUT


def test_a_tooth_of_which_no_tip_was_seen_is_hidden_whatever_its_place_in_the_strip_shows() -> None:
    shown = sight(evidence(pattern("WWWDDDW")))
    assert not isinstance(conclude(shown, GAUGE, LIMITS), Refusal)
    outcome = conclude(replace(shown, row=replace(shown.row, missing=(3,))), GAUGE, LIMITS)
    assert isinstance(outcome, Refusal)
    assert outcome.reasons[0].code is Code.ROW_COVERED
    assert "85" in outcome.reasons[0].message  # the third tooth


@pytest.mark.parametrize(
    ("shown", "unseen", "named"),
    [
        ("WWWDDDW", (0,), "the end tab beside tooth 40"),
        ("WWWDDDW", (6,), "the end tab beside tooth 140"),
        ("WDDDWWW", (0,), "the end tab beside tooth 140"),
        ("WDDDWWW", (6,), "the end tab beside tooth 40"),
        ("WWWDDDW", (5, 6), "tooth 140 and the end tab beside tooth 140"),
        ("WWWWWWW", (0,), "an end tab"),  # every tooth or none is wet: nothing tells which end is the low one
        ("WDDDDDW", (0, 6), "an end tab"),
        ("WWDDWWW", (0,), "an end tab"),  # wet from both ends
    ],
)
def test_a_hidden_end_tab_is_named_by_its_tooth_where_the_low_end_is_known(shown: str, unseen: tuple[int, ...], named: str) -> None:
    outcome = conclude(sight(evidence(pattern(shown), unseen=unseen)), GAUGE, LIMITS)
    assert isinstance(outcome, Refusal)
    assert (outcome.reasons[0].code, outcome.reasons[0].message) == (Code.ROW_COVERED, f"Not to be seen as a whole: {named}")


def test_a_hidden_end_tab_under_glare_is_named_likewise() -> None:
    outcome = conclude(sight(evidence(pattern("WWWDDDW"), burnt=(6,), unseen=(6,))), GAUGE, LIMITS)
    assert isinstance(outcome, Refusal)
    assert outcome.reasons[0].message == "Glare on the end tab beside tooth 140"


def test_a_row_without_a_wet_end_tab_is_told_so_before_its_count_and_one_with_one_after() -> None:
    def codes(shown: str) -> list[Code]:
        other = refuse.tooth_count(5, GAUGE)
        outcome = conclude(replace(sight(evidence(pattern(shown)), side=None), trouble=other), GAUGE, LIMITS)
        assert isinstance(outcome, Refusal)
        return [reason.code for reason in outcome.reasons]

    assert codes("DDDDDDD") == [Code.END_TAB_DRY, Code.TOOTH_COUNT]
    assert codes("WWWDDDD") == [Code.TOOTH_COUNT, Code.END_TAB_DRY]
    assert codes("WWWDDDW") == [Code.TOOTH_COUNT]


@pytest.mark.parametrize("teeth", [2, 5, 15])
def test_a_side_that_no_photo_is_read_of_is_to_be_read_by_eye(teeth: int) -> None:
    side = Side("odd", "um", tuple(range(40, 40 + 20 * teeth, 20)))
    cure = refuse.tooth_count(7, Gauge("odd", "um", (side,)), side).cure
    assert ("by eye" in cure) == (teeth != 5)

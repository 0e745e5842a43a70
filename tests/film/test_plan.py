"""The plan: sums done by hand, and laws."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastwet.errors import UsageError
from lastwet.film.build import build_up, coat_layer
from lastwet.film.coating import Coating, MaximumBuild
from lastwet.film.plan import plan
from lastwet.units import Bracket
from tests.film.cards import HALF, half


def test_all_ways_are_told_and_the_one_in_the_middle_is_best() -> None:
    """150 um at 50 %: 300 um wet in two coats of 150 or three of 100, both at a limit; 125 um come to two coats of 125."""
    found = plan(HALF, 150)
    assert [(way.coats, way.wet_aim_um) for way in found.ways] == [(2, 150), (3, 100)]
    best = plan(HALF, 125).best
    assert best is not None
    assert (best.coats, best.wet_aim_um, best.dry_each_um, best.total_range_um) == (2, 125, 62.5, (125, 125))


def test_thinner_takes_more_wet_film() -> None:
    """PMT (inspector training): 100 um dry at 65 % with 20 % thinner take 185 um wet, without it 154 um."""
    wide = half(volume_solids=0.65, wet_range_um=(100, 200), maximum_build=None)
    assert [round(plan(wide, 100, thinner).ways[0].wet_aim_um) for thinner in (0, 0.2)] == [154, 185]


def test_what_is_sanded_off_is_sprayed_on_top() -> None:
    """Two coats, 10 um off the first: 110 um want 120 um, so 120 um wet each."""
    best = plan(HALF, 110, 0, 10).best
    assert best is not None
    assert (best.coats, best.wet_aim_um) == (2, 120)


@pytest.mark.parametrize(
    ("card", "total", "sanding", "limit"),
    [
        (HALF, 40, 0, "wet range: one coat at its lower limit, 100 um, already leaves 50 um dry"),
        (HALF, 90, 0, "wet range: 1 coat at its upper limit, 150 um, leaves only 75 um dry, and 2 at its lower limit"),
        (HALF, 170, 0, "maximum build: the sheet allows 160 um dry over all coats, 170 um dry are wanted"),
        (half(maximum_build=MaximumBuild(290, "wet")), 150, 0, "maximum build: the sheet allows 290 um wet over all coats"),
        (HALF, 100, 75, "sanding: 75 um after each coat take away all of the thickest coat that the wet range allows"),
        (
            HALF,
            80,
            10,
            "wet range: 1 coat at its upper limit, 150 um, leaves only 75 um dry, and 2 at its lower limit, 100 um, already 90 um",
        ),
    ],
)
def test_the_limit_that_forbids_is_named(card: Coating, total: float, sanding: float, limit: str) -> None:
    found = plan(card, total, 0, sanding)
    assert (found.ways, found.best) == ((), None)
    assert found.forbidden_by is not None and found.forbidden_by.startswith(limit)


def test_one_coat_is_not_sanded_between_coats() -> None:
    """By hand: 1 to 6 mil at 30 % dry to 7.6 to 45.7 um; 40 um take 133 um wet in one coat, or (40 + 8) / 2 / 0.3 = 80 um in two."""
    thin = half(volume_solids=0.3, wet_range_um=(25.4, 152.4), maximum_build=None)
    ways = plan(thin, 40, 0, 8).ways
    assert [(way.coats, round(way.wet_aim_um, 1)) for way in ways[:2]] == [(1, 133.3), (2, 80.0)]
    assert ways[-1].coats == 4  # 8 um left of 16: in five coats more than half of each would be sanded off
    assert [way.coats for way in plan(HALF, 60, 0, 500).ways] == [1]


def test_only_where_the_thickest_coat_is_sanded_away_and_one_is_too_few_sanding_forbids() -> None:
    """By hand: 60 um off each coat but the last, three coats of 220 / 3 um leave 100; the thinnest coat has only 50."""
    assert [(way.coats, round(way.dry_each_um, 1)) for way in plan(HALF, 100, 0, 60).ways] == [(3, 73.3)]
    assert plan(HALF, 75, 0, 75).best is not None
    assert plan(HALF, 76, 0, 75).best is None


def test_a_wet_range_that_begins_at_nothing_is_not_forbidden_by_sanding() -> None:
    found = plan(half(wet_range_um=(0, 150)), 60)
    assert found.forbidden_by is None and found.ways[0].coats == 1 and found.best is not None
    assert found.best.coats == 2  # 60 um wet each, nearest to 75


def test_the_maximum_may_be_met_exactly() -> None:
    assert plan(HALF, 160).best is not None


def test_the_tolerance_of_the_solids_is_told_where_it_may_pass_the_maximum() -> None:
    assert plan(half(volume_solids_tolerance=0.02), 155).caution == (
        "with the tolerance of its solids the film may come to 161.2 um, above the maximum build"
    )
    assert plan(half(volume_solids_tolerance=0.01), 125).caution is None


def test_coats_that_dry_to_less_than_the_dry_range_are_told() -> None:
    """By hand: 112 um wet at 50 % with 25 % thinner dry to 44.8 um, and the dry range begins at 50; the wet range at 100."""
    thinned = plan(HALF, 44.8, 0.25)
    assert thinned.best is not None and thinned.best.wet_aim_um == pytest.approx(112)
    assert thinned.caution is not None and thinned.caution.startswith("in each coat the predicted dry film, 44.8 um, lies below")
    both = plan(half(maximum_build=MaximumBuild(45, "dry"), volume_solids_tolerance=0.01), 44.8, 0.25).caution
    assert both is not None and "above the maximum build; and in each coat" in both
    assert plan(HALF, 50).caution is None


@pytest.mark.parametrize(
    ("total", "sanding", "thinner"), [(0, 0, 0), (-5, 0, 0), (float("inf"), 0, 0), (100, -1, 0), (100, 0, -0.1), (1e5, 0, 0)]
)
def test_impossible_numbers_are_refused(total: float, sanding: float, thinner: float) -> None:
    with pytest.raises(UsageError):
        plan(HALF, total, thinner, sanding)


@given(st.floats(10, 800), st.floats(0, 0.3), st.floats(0, 20))
def test_every_way_keeps_the_limits_and_comes_to_the_total(total: float, thinner: float, sanding: float) -> None:
    """Laid by the build's own arithmetic, each way's coats leave what was wanted, within the wet range."""
    coating = half(maximum_build=None, wet_range_um=(100, 150))
    found = plan(coating, total, thinner, sanding)
    assert (found.best is None) is (found.forbidden_by is not None)
    for way in found.ways:
        assert 100 * (1 - 1e-6) <= way.wet_aim_um <= 150 * (1 + 1e-6)
        wet = Bracket(way.wet_aim_um, way.wet_aim_um * (1 + 1e-12))
        lost = [(sanding, sanding)] * (way.coats - 1) + [(0.0, 0.0)]
        build = build_up([coat_layer(wet, coating, thinner, each) for each in lost])
        assert build.dry_um[0] == pytest.approx(total, rel=1e-6)
    if found.best is not None:
        assert all(abs(found.best.wet_aim_um - 125) <= abs(way.wet_aim_um - 125) for way in found.ways)

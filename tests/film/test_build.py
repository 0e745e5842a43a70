"""Build, headroom, the next coat that fits, recoat window and pot life. The numbers follow from sums done by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastwet.errors import UsageError
from lastwet.film.build import Build, Fit, Recoat, build_up, coat_layer, headroom, pot_life_left_s, recoat, wettest_next
from lastwet.film.coating import Coating, MaximumBuild
from lastwet.units import Bracket
from tests.film.cards import HALF, half


def built(*wets: Bracket, sanded_um: tuple[float, float] = (0, 0)) -> Build:
    return build_up([coat_layer(wet, HALF, sanded_um=sanded_um) for wet in wets])


def test_coats_add_up_end_by_end() -> None:
    build = built(Bracket(100, 125), Bracket(110, 140))
    assert (build.wet_um, build.dry_um) == ((210, 265), (105, 132.5))


def test_sanding_takes_least_from_the_upper_and_most_from_the_lower_end() -> None:
    assert built(Bracket(100, 125), sanded_um=(5, 10)).dry_um == (40, 57.5)
    assert built(Bracket(0, 10), sanded_um=(8, 9)).dry_um == (0, 0)  # no more than was there


def test_an_open_coat_leaves_the_build_open() -> None:
    build = built(Bracket(100, 125), Bracket(215, None))
    assert (build.wet_um, build.dry_um) == ((315, None), (157.5, None))


def test_tolerance_and_thinner_widen_and_lower_the_build() -> None:
    layer = coat_layer(Bracket(110, 220), half(volume_solids_tolerance=0.05), 0.1)
    assert (layer.dry.low_um, layer.dry.high_um) == pytest.approx((45, 110))


@pytest.mark.parametrize(
    ("wets", "fit", "left"),
    [
        ([Bracket(100, 125)], Fit.FITS, (97.5, 110)),
        ([Bracket(100, 160), Bracket(100, 160)], Fit.FITS, (0, 60)),  # met exactly is not passed
        ([Bracket(100, 170), Bracket(100, 160)], Fit.MAY_PASS, (-5, 60)),
        ([Bracket(215, None)], Fit.MAY_PASS, (None, 52.5)),
        ([Bracket(330, 350)], Fit.PASSES, (-15, -5)),
        ([Bracket(330, None)], Fit.PASSES, (None, -5)),
    ],
)
def test_headroom_to_a_dry_maximum(wets: list[Bracket], fit: Fit, left: tuple[float | None, float]) -> None:
    room = headroom(built(*wets), HALF)
    assert room is not None
    assert (room.fit, room.left_um) == (fit, left)


def test_a_wet_maximum_is_compared_with_what_was_applied() -> None:
    room = headroom(built(Bracket(100, 125), Bracket(100, 125), sanded_um=(5, 10)), half(maximum_build=MaximumBuild(300, "wet")))
    assert room is not None
    assert room.left_um == (50, 100)


def test_without_a_maximum_there_is_no_headroom_to_speak_of() -> None:
    assert headroom(built(Bracket(100, 125)), half(maximum_build=None)) is None
    assert wettest_next(built(Bracket(100, 125)), half(maximum_build=None)) == 150


@pytest.mark.parametrize(
    ("card", "wets", "thinner", "expected"),
    [
        (HALF, [Bracket(100, 125)], 0, 150),  # 97.5 um left would take 195 um wet: the wet range ends before
        (HALF, [Bracket(150, 200)], 0, 120),
        (HALF, [Bracket(150, 200)], 0.1, 132),  # thinned, more of it goes
        (half(volume_solids_tolerance=0.1), [Bracket(150, 200)], 0, 40 / 0.6),  # 160 - 200 x 0.6 are left
        (half(maximum_build=MaximumBuild(290, "wet")), [Bracket(150, 200)], 0.1, 90),
        (HALF, [Bracket(330, 350)], 0, -15),
        (HALF, [Bracket(215, None)], 0, None),
    ],
)
def test_the_wettest_next_coat(card: Coating, wets: list[Bracket], thinner: float, expected: float | None) -> None:
    found = wettest_next(build_up([coat_layer(wet, card) for wet in wets]), card, thinner)
    assert found == (None if expected is None else pytest.approx(expected))


brackets = st.tuples(st.floats(1, 300), st.floats(1, 50)).map(lambda ends: Bracket(ends[0], ends[0] + ends[1]))


@given(st.lists(brackets, min_size=1, max_size=4), st.floats(0, 0.3), st.floats(0, 0.2))
def test_after_the_wettest_next_coat_the_maximum_is_kept(wets: list[Bracket], thinner: float, tolerance: float) -> None:
    """Whatever was said before, laying exactly that coat fits, and a hundredth more of it does not, unless the wet range ends it."""
    coating = half(volume_solids_tolerance=tolerance)
    layers = [coat_layer(wet, coating) for wet in wets]
    most = wettest_next(build_up(layers), coating, thinner)
    assert most is not None
    if most <= 1:
        return
    fits = headroom(build_up([*layers, coat_layer(Bracket(most * 0.5, most), coating, thinner)]), coating)
    assert fits is not None and fits.fit is Fit.FITS
    if most < coating.wet_range_um[1]:
        more = headroom(build_up([*layers, coat_layer(Bracket(most, most * 1.01), coating, thinner)]), coating)
        assert more is not None and more.fit is not Fit.FITS


@given(st.lists(brackets, min_size=1, max_size=4), brackets)
def test_one_more_coat_never_leaves_more_room(wets: list[Bracket], more: Bracket) -> None:
    before, after = headroom(built(*wets), HALF), headroom(built(*wets, more), HALF)
    assert before is not None and after is not None
    assert before.left_um[0] is not None and after.left_um[0] is not None
    assert after.left_um[0] < before.left_um[0] and after.left_um[1] < before.left_um[1]


HOUR = 3600.0


@pytest.mark.parametrize(
    ("window", "hours", "state", "changes_in"),
    [
        ((HOUR, 6 * HOUR), 0.5, Recoat.NOT_YET, 0.5 * HOUR),
        ((HOUR, 6 * HOUR), 1, Recoat.OPEN, 5 * HOUR),
        ((HOUR, 6 * HOUR), 6, Recoat.OPEN, 0),
        ((HOUR, 6 * HOUR), 6.01, Recoat.MISSED, None),
        ((2 * HOUR, None), 1, Recoat.NOT_YET, HOUR),
        ((2 * HOUR, None), 1000, Recoat.OPEN, None),
    ],
)
def test_the_recoat_window(window: tuple[float, float | None], hours: float, state: Recoat, changes_in: float | None) -> None:
    found = recoat(window, hours * HOUR)
    assert (found.state, found.changes_in_s) == (state, pytest.approx(changes_in) if changes_in is not None else None)


def test_pot_life_runs_out() -> None:
    assert pot_life_left_s(4 * HOUR, HOUR) == 3 * HOUR
    assert pot_life_left_s(4 * HOUR, 5 * HOUR) == -HOUR


def test_nothing_happens_before_it_happened() -> None:
    with pytest.raises(UsageError, match="future"):
        recoat((HOUR, None), -1)
    with pytest.raises(UsageError, match="future"):
        pot_life_left_s(HOUR, -1)

"""Measured dry film: published rule checks, and the shop's own ratio."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastwet.errors import UsageError
from lastwet.film.estimate import estimate
from lastwet.film.measured import SOURCE, iso_19840, iso_readings, pa2_default, pa2_spots, sheet_range, shop_ratio, summarise
from lastwet.film.quantity import parse_areas
from lastwet.units import MIL_UM, Bracket


def test_a_spot_is_the_mean_of_its_readings() -> None:
    """WPM (from SSPC "Practical Math for the Protective Coatings Industry"): 2.4, 2.6 and 2.9 mil are 2.633, so 2.6 mil."""
    found = summarise([reading * MIL_UM for reading in (2.4, 2.6, 2.9)])
    assert round(found.mean_um / MIL_UM, 3) == 2.633
    assert round(found.mean_um / MIL_UM, 1) == 2.6
    assert (found.count, found.minimum_um, found.maximum_um) == (3, 2.4 * MIL_UM, 2.9 * MIL_UM)
    assert found.sd_um == pytest.approx(0.2517 * MIL_UM, rel=1e-3)


@pytest.mark.parametrize(
    ("spots", "passed"),
    [
        ((8.0, 10.0, 12.0), True),
        ((6.5, 10.0, 14.3), True),
        ((6.3, 10.0, 14.3), False),  # below 6.4
        ((6.5, 10.0, 14.5), False),  # above 14.4
        ((6.5, 6.5, 7.0), False),  # each spot within, area mean below 8
    ],
)
def test_the_default_level_of_pa2(spots: tuple[float, ...], passed: bool) -> None:
    """A published training slide: specified 8 to 12 mil, spots 6.4 to 14.4, area means 8 to 12."""
    done = pa2_default([[spot * MIL_UM] * 3 for spot in spots] * 2, (8 * MIL_UM, 12 * MIL_UM))
    assert done.passed is passed
    assert f"spot means within {6.4 * MIL_UM:.4g} to {14.4 * MIL_UM:.4g} um" in done.rule
    assert bool(done.failures) is not passed


def test_single_readings_are_not_restricted_by_pa2() -> None:
    assert pa2_default([[40, 100, 160]] * 5, (90, 110)).passed


def test_pa2_needs_three_readings_for_a_spot() -> None:
    with pytest.raises(UsageError, match="three readings"):
        pa2_default([[100, 100, 100], [100, 100]], (80, 120))


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ([100] * 10, None),
        ([85] + [105] * 9, None),  # one of ten between 80 and 100 %
        ([85, 85] + [110] * 8, "2 of 10 readings"),  # a fifth is not fewer than a fifth
        ([79] + [110] * 9, "lowest reading 79"),
        ([99] * 10, "mean 99"),
        ([301] + [100] * 9, "highest reading 301"),
    ],
)
def test_iso_19840(readings: list[float], words: str | None) -> None:
    """As reported of ISO 19840: mean at least nominal, each at least 80 %, fewer than 20 % between, often at most 3 x nominal."""
    done = iso_19840(readings, 100)
    assert done.passed is (words is None)
    assert words is None or any(words in failure for failure in done.failures)
    assert "nominal 100 um" in done.rule


def test_iso_19840_is_not_for_thin_films() -> None:
    """ISO 19840:2012, scope: not for a nominal dry film under 40 um."""
    with pytest.raises(UsageError, match="not for a nominal dry film of 39"):
        iso_19840([40], 39)
    assert iso_19840([40] * 5, 40).passed


def test_readings_against_the_data_sheet() -> None:
    done = sheet_range([29, 30, 43, 44], (30, 43))
    assert (done.passed, done.failures) == (False, ("2 of 4 outside: 29 um, 44 um",))
    assert sheet_range([30, 43], (30, 43)).passed


def test_the_ratio_of_means_with_its_uncertainty() -> None:
    """JCGM 100:2008, 5.1.6 and 4.3.7, by hand: wet 100 to 125 um, so 112.5 with 25/sqrt(12); dry 40 with 2/sqrt(3)."""
    found = shop_ratio(estimate([Bracket(100, 125)]), [38, 40, 42])
    relative = math.hypot(25 / math.sqrt(12) / 112.5, 2 / math.sqrt(3) / 40)
    assert found.value == pytest.approx(40 / 112.5)
    assert found.uncertainty == pytest.approx(2 * relative * 40 / 112.5)
    assert found.bounds == pytest.approx((40 / 125, 40 / 100))


def test_what_a_ratio_cannot_say_is_not_said() -> None:
    assert shop_ratio(estimate([Bracket(100, 125)]), [40]).uncertainty is None  # one reading has no scatter
    unbounded = shop_ratio(estimate([Bracket(100, None)]), [40, 42])
    assert (unbounded.value, unbounded.uncertainty, unbounded.bounds) == (None, None, (0, 0.41))
    with pytest.raises(UsageError, match="thicker than the wet film"):
        shop_ratio(estimate([Bracket(30, 40)]), [50])


def test_no_ratio_above_one_is_told() -> None:
    """By hand: 50 um dry over 30 to 60 um wet lie between 50 / 60 and, since a film gains nothing in drying, 1; over 45 um it is 1.11."""
    found = shop_ratio(estimate([Bracket(30, 60)]), [50])
    assert (found.value, found.uncertainty, found.bounds) == (None, None, (50 / 60, 1.0))
    assert found.caution is not None and "the dry film, 50 um, is thicker than the mean wet film, 45 um" in found.caution
    fine = shop_ratio(estimate([Bracket(30, 60)]), [45])
    assert (fine.value, fine.caution) == (1, None)


@given(st.floats(0, 100), st.floats(1, 100), st.floats(1, 200))
def test_the_ratio_lies_within_its_bounds(low: float, step: float, dry_um: float) -> None:
    try:
        found = shop_ratio(estimate([Bracket(low, low + step)]), [dry_um])
    except UsageError:
        return
    assert found.value is None or found.bounds[0] <= found.value * (1 + 1e-9) <= found.bounds[1] * (1 + 2e-9)
    assert (found.value is None) is (found.caution is not None)


@pytest.mark.parametrize("readings", [[], [0], [-1, 3], [math.inf], [math.nan]])
def test_what_is_no_film_is_refused(readings: list[float]) -> None:
    with pytest.raises(UsageError):
        summarise(readings)


@given(st.lists(st.floats(1, 1000), min_size=1, max_size=20))
def test_mean_lies_between_least_and_most(readings: list[float]) -> None:
    found = summarise(readings)
    assert found.minimum_um <= found.mean_um * (1 + 1e-12) and found.mean_um <= found.maximum_um * (1 + 1e-12)
    assert (found.sd_um is None) is (len(readings) == 1)


@pytest.mark.parametrize(
    ("area", "spots"),
    [
        ("0.5m2", 5), ("10m2", 5), ("10.1 m2", 10), ("30m2", 15), ("31m2", 15), ("100m2", 15), ("101m2", 20), ("200m2", 20), ("201m2", 25),
        ("100ft2", 5), ("300ft2", 15), ("1000 sq ft", 15), ("12500ft2", 75),
    ],
)  # fmt: skip
def test_the_spots_that_an_area_takes(area: str, spots: int) -> None:
    """As reported of SSPC-PA 2: each of up to three areas of 10 m2 or 100 ft2 or part of one, three of up to ten, one more for each ten.

    A trade journal's example: 12,500 ft2 take 15 areas and 75 spots.
    """
    assert pa2_spots(parse_areas(area)) == spots


@pytest.mark.parametrize(
    ("area_m2", "readings"),
    [(0.2, 5), (1, 5), (1.1, 10), (3, 10), (10, 15), (10.1, 20), (30, 20), (100, 30), (101, 40), (200, 40), (201, 50)],
)
def test_the_readings_that_an_area_takes(area_m2: float, readings: int) -> None:
    """The sampling plan of ISO 19840:2012, from memory."""
    assert iso_readings(area_m2) == readings


def test_too_few_readings_for_the_area_pass_no_rule() -> None:
    few = iso_19840([61] * 14, 60, area_m2=10)
    assert (few.passed, few.enough, few.failures) == (False, False, (f"14 readings, where an area of this size takes 15, {SOURCE}",))
    enough = iso_19840([61] * 15, 60, area_m2=10)
    assert (enough.passed, enough.enough) == (True, True) and enough.rule.endswith(f"15 readings, an area of this size takes 15, {SOURCE}")
    spots = pa2_default([[31, 32, 33]] * 9, (30, 40), areas=1.2)
    assert (spots.passed, spots.enough, spots.failures) == (False, False, (f"9 spots, where an area of this size takes 10, {SOURCE}",))
    assert pa2_default([[31, 32, 33]] * 10, (30, 40), areas=1.2).enough


def test_what_is_too_few_for_any_area_passes_no_rule_though_the_area_is_not_known() -> None:
    """Five spots of the smallest area (a trade journal's account of SSPC-PA 2), five readings (ISO 19840, from memory)."""
    one = pa2_default([[31, 32, 33]], (30, 40))
    assert (one.passed, one.enough, one.failures) == (False, False, (f"1 spot, where even the smallest area takes 5, {SOURCE}",))
    assert iso_19840([61] * 4, 60).failures == (f"4 readings, where even the smallest area takes 5, {SOURCE}",)


def test_where_the_area_is_not_known_the_number_is_told_to_be_unchecked() -> None:
    for check in (pa2_default([[31, 32, 33]] * 5, (30, 40)), iso_19840([61] * 5, 60)):
        assert (check.passed, check.enough) == (True, None)
        assert check.rule.endswith("the number was not checked against the area, whose size was not stated")
    assert sheet_range([31], (30, 40)).enough is None


def test_enough_readings_outside_the_limits_do_not_pass() -> None:
    found = iso_19840([59] * 5, 60, area_m2=1)
    assert (found.passed, found.enough, found.failures) == (False, True, ("mean 59 um", "5 of 5 readings between 80 % and 100 %"))


def test_each_of_several_areas_has_a_mean_of_its_own() -> None:
    """By hand: five spots of 29 um and five of 39 um have a mean of 34 um, and the first area is under 30 um all the same."""
    spots = [[29.0] * 3] * 5 + [[39.0] * 3] * 5
    assert pa2_default(spots, (30, 40), areas=1).passed
    assert pa2_default(spots, (30, 40), areas=2).failures == ("area 1 mean: 29 um",)
    assert pa2_default([*spots[::-1], [29.0] * 3], (30, 40), areas=2).failures == ("area 2 mean: 29 um",)

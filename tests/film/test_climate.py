"""Dew points against published charts and the other constants in use, and the 3 C rule."""

from __future__ import annotations

from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastwet.errors import UsageError
from lastwet.film.climate import Climate, climate, dew_point_c
from lastwet.film.quantity import parse_temperature_c

CHARTS = [  # source, air C, humidity %, printed dew point C, tolerance; trade charts truncate and drift by 1 to 1.5 F
    ("a trade chart, 70 F and 65 %: 57 F", 21.11, 65, 13.89, 0.8),
    ("a trade chart, 75 F and 35 %: 45 F", 23.89, 35, 7.22, 0.8),
    ("a trade chart, 80 F and 50 %: 59 F", 26.67, 50, 15.0, 0.8),
    ("a trade page, 30 C and 55 %: 20 C", 30, 55, 20, 0.05),
]


@pytest.mark.parametrize(("source", "air", "humidity", "printed", "tolerance"), CHARTS)
def test_published_dew_points(source: str, air: float, humidity: float, printed: float, tolerance: float) -> None:
    assert dew_point_c(air, humidity / 100) == pytest.approx(printed, abs=tolerance), source


OTHER_CONSTANTS = [  # Alduchov and Eskridge; University of Arizona AZMET
    (17.625, 243.04),
    (17.27, 237.3),
]


@pytest.mark.parametrize(("air", "humidity"), [(20, 50), (20, 60), (20, 80), (25, 50), (25, 60), (10, 80), (30, 70)])
@pytest.mark.parametrize(("a", "b"), OTHER_CONSTANTS)
def test_the_other_constants_in_use_agree(air: float, humidity: float, a: float, b: float) -> None:
    gamma = log(humidity / 100) + a * air / (b + air)
    assert dew_point_c(air, humidity / 100) == pytest.approx(b * gamma / (a - gamma), abs=0.02)


def test_five_percent_of_humidity_are_about_one_degree() -> None:
    """Lawrence, Bull. Amer. Meteor. Soc. 2005: above 50 % the dew point falls 1 C for each 5 % of humidity."""
    for humidity in (90, 80, 70, 60):
        assert 20 - dew_point_c(20, humidity / 100) == pytest.approx((100 - humidity) / 5, abs=0.7)


@given(st.floats(-20, 50), st.floats(0.05, 0.95))
def test_dew_point_rises_with_air_and_humidity_and_is_never_above_the_air(air: float, humidity: float) -> None:
    dew = dew_point_c(air, humidity)
    assert dew <= air
    assert dew_point_c(air + 1, humidity) > dew
    assert dew_point_c(air, humidity + 0.04) > dew
    assert dew_point_c(air, 1.0) == pytest.approx(air)


@pytest.mark.parametrize(
    ("surface", "words"),
    [(20, None), (15.01, None), (14.9, "only 2.9 C above the dew point"), (11.9, "condenses"), (5, "condenses")],
)
def test_the_rule_of_three_degrees(surface: float, words: str | None) -> None:
    """FHWA-RD-98-084: surface at least 3 C above the dew point, which is 12.0 C here."""
    caution = climate(20, 0.6, surface).caution
    assert (caution is None) if words is None else (caution and words in caution and "data sheet has the last word" in caution)


def test_a_surface_not_measured_is_taken_to_be_as_warm_as_the_air() -> None:
    assert climate(20, 0.6).surface_c == 20 and climate(20, 0.6).surface_assumed and not climate(20, 0.6, 20).surface_assumed


def test_a_margin_just_too_small_is_not_rounded_to_the_rule() -> None:
    """By the rule of FHWA-RD-98-084, at least 3 C: 2.97 C are too little and must not read as 3.0."""
    for margin, words in ((2.97, "2.97"), (2.9999, "2.99"), (2.94, "2.9"), (3.0, "3.0"), (3.04, "3.0"), (-3.02, "3.0"), (-0.5, "0.5")):
        assert Climate(20, 0.5, 12 + margin, 12).margin_words == words
    told = Climate(20, 0.6, 14.97, 12).caution
    assert told is not None and "only 2.97 C above the dew point" in told


def test_a_fraction_for_a_percentage_is_never_told_to_be_safe() -> None:
    """0.6 typed for 60 %: at 20 C the dew point is 12.0 C (Magnus, WMO constants), and a surface of 14 C too cold."""
    assert climate(20, 0.6, 14).caution is not None
    caution = climate(20, 0.006, 14).caution
    assert caution is not None and "0.6 % cannot be meant" in caution and "was it 60 %?" in caution
    assert climate(20, 0.01, 14).caution is None


@pytest.mark.parametrize(("air", "humidity"), [(20, 0), (20, 1.01), (20, -0.1), (80, 0.5), (-60, 0.5)])
def test_impossible_air_is_refused(air: float, humidity: float) -> None:
    with pytest.raises(UsageError):
        dew_point_c(air, humidity)


def test_temperatures_carry_their_unit() -> None:
    assert parse_temperature_c("68 F") == pytest.approx(20)
    assert parse_temperature_c("-5°C") == -5
    for text in ("20", "twenty C", "20 K"):
        with pytest.raises(UsageError):
            parse_temperature_c(text)

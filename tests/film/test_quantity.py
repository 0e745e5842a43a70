"""Quantities as people type them, and brackets as the program prints them."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastwet.errors import UsageError
from lastwet.film.quantity import (
    parse_distance_mm,
    parse_duration_s,
    parse_flow_ml_min,
    parse_pressure_bar,
    parse_speed_mm_s,
    show_duration,
)
from lastwet.units import Bracket, parse_bracket, show_bracket

# Exact by definition: inch 25.4 mm; US fluid ounce 29.5735295625 ml; pound-force per square inch 6894.757 Pa (NIST SP 811, B.8).
READ: list[tuple[Callable[[str], float], str, float]] = [
    (parse_pressure_bar, "2bar", 2),
    (parse_pressure_bar, "200 kPa", 2),
    (parse_pressure_bar, "30 psi", 30 * 0.06894757),
    (parse_distance_mm, "8in", 203.2),
    (parse_distance_mm, "20 cm", 200),
    (parse_speed_mm_s, "0.4 m/s", 400),
    (parse_speed_mm_s, "16in/s", 406.4),
    (parse_flow_ml_min, "10floz/min", 295.735295625),
    (parse_duration_s, "45 min", 2700),
    (parse_duration_s, "1.5h", 5400),
]


@pytest.mark.parametrize(("parse", "text", "expected"), READ)
def test_quantities_with_their_units(parse: Callable[[str], float], text: str, expected: float) -> None:
    assert parse(text) == pytest.approx(expected)


@pytest.mark.parametrize("parse", [parse_pressure_bar, parse_distance_mm, parse_speed_mm_s, parse_flow_ml_min, parse_duration_s])
@pytest.mark.parametrize("text", ["", "2", "bar", "two bar", "-2 bar", "0 mm", "2 furlong", "nan mm", "1e3 mm"])
def test_what_has_no_number_or_no_unit_is_refused_in_one_sentence(parse: Callable[[str], float], text: str) -> None:
    with pytest.raises(UsageError) as refused:
        parse(text)
    assert refused.value.cure and "\n" not in str(refused.value)


@pytest.mark.parametrize(("seconds", "words"), [(30, "30 s"), (2700, "45 min"), (5400, "1.5 h"), (86400, "24 h"), (7 * 86400, "7 d")])
def test_durations_are_printed_short(seconds: float, words: str) -> None:
    assert show_duration(seconds) == words


@given(st.integers(1, 999), st.sampled_from(["s", "min", "h", "d"]))
def test_a_duration_that_is_printed_reads_back(number: int, unit: str) -> None:
    seconds = parse_duration_s(f"{number} {unit}")
    assert parse_duration_s(show_duration(seconds)) == pytest.approx(seconds, rel=0.005)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("110-140um", Bracket(110, 140)),
        ("110 to 140 um", Bracket(110, 140)),
        ("3-4 mil", Bracket(76.2, 101.6)),
        ("215um+", Bracket(215, None)),
        ("8 mil or more", Bracket(203.2, None)),
        ("below 40um", Bracket(0, 40)),
        ("0-40um", Bracket(0, 40)),
    ],
)
def test_brackets_as_they_are_typed(text: str, expected: Bracket) -> None:
    found = parse_bracket(text)
    assert (found.low_um, found.high_um) == pytest.approx((expected.low_um, expected.high_um))


@pytest.mark.parametrize("text", ["110um", "", "140-110um", "110-140", "below 0um", "110-110um", "-5-10um", "110-140 furlong", "+"])
def test_what_is_no_bracket_is_refused(text: str) -> None:
    with pytest.raises(UsageError) as refused:
        parse_bracket(text)
    assert refused.value.cure


@given(st.integers(0, 500), st.none() | st.integers(1, 100))
def test_a_bracket_that_is_printed_reads_back(low: int, step: int | None) -> None:
    bracket = Bracket(low, None if step is None else low + step)
    assert parse_bracket(show_bracket(bracket, "um")) == bracket

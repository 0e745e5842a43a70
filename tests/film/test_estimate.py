"""The estimate against published interval-censored fits, against scipy, and against its laws."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from lastwet.errors import UsageError
from lastwet.film.estimate import Chance, Estimate, chance, estimate, fit_normal, intersect, mean_bounds, spread_shows
from lastwet.film.student import t_cdf, t_quantile
from lastwet.units import Bracket

TEETH = (0.0, 40.0, 60.0, 85.0, 110.0, 140.0, 175.0, 215.0)


def reading(last_wet: int) -> Bracket:
    """The bracket of that many wet teeth of an invented side whose steps differ, open at the top."""
    ends = (*TEETH, None)
    low = ends[last_wet]
    assert low is not None
    return Bracket(low, ends[last_wet + 1])


# --- published


def test_four_intervals_of_the_scipy_test_suite() -> None:
    """scipy's test suite, whose expected values come from R: mean 0.5919990, sd 0.2868042; s.e. 0.1444432 and 0.1029451."""
    fit = fit_normal([Bracket(0.10, 0.20), Bracket(0.50, 0.55), Bracket(0.75, 0.90), Bracket(0.80, 0.95)])
    assert fit.mean_um == pytest.approx(0.5919990, abs=5e-7)
    assert fit.sd_um == pytest.approx(0.2868042, abs=5e-7)
    assert fit.mean_se_um == pytest.approx(0.1444432, abs=5e-7)
    assert fit.sd_se_um == pytest.approx(0.1029451, abs=1e-5)  # R's own step in its numerical derivative


def test_binned_sample_for_sheppards_correction() -> None:
    """stats.stackexchange 60256: bins 40-44 and so on, n = 11: mean 53.82, sd by maximum likelihood 7.69 on the n - 1 scale."""
    counts = {42: 1, 47: 2, 52: 3, 57: 4, 72: 1}
    found = estimate([Bracket(middle - 2.5, middle + 2.5) for middle, count in counts.items() for _ in range(count)])
    assert found.mean_um == pytest.approx(53.82, abs=0.005)
    assert found.spread_um == pytest.approx(7.69, abs=0.005)


EXACT = "12.6x1 12.8x2 15x3 21.5x1 23.7x1 26.1x1 26.2x1 29.1x2 30x1 35x1 43.9x1 45.7x1 47x2 49x1"
"""value, and how often."""
BETWEEN = """
0.1-20x1 3.2-12.8x1 3.2-20x1 3.2-35x1 3.2-47x2 6.4-12.8x1 6.4-25x1 6.4-30x1 12.8-15x2 12.8-20x1 12.8-25x2 15-20x1
15-25x1 15-30x1 20-25x1 20-30x3 25-30x1 25-47x1 30-35x2 30-47x1 30-50x1 35-47x1 35-55x1
"""
"""low, high, and how often."""
OVER = "0.1x5 0.23x1 3.2x3 6.4x6 12.8x10 15x7 20x8 25x5 30x10 35x2 47x3"
"""low, and how often."""


def counted(listed: str) -> Iterator[tuple[float, ...]]:
    """Yield the ends of "3.2-47x2" as often as it says."""
    for item in listed.split():
        ends, _, count = item.partition("x")
        yield from [tuple(map(float, ends.split("-")))] * int(count)


def test_salinity_tolerance_of_108_species() -> None:
    """Lognormal fit of 19 exact, 29 interval-censored and 60 right-censored values.

    Published by Delignette-Muller and Dutang, J. Stat. Softw. 64(4), 2015: meanlog 3.3854 (s.e. 0.06487), sdlog 0.4961 (0.05455),
    log-likelihood -139.1. The measured values, facts
    that the article's example reads, go back to Kefford et al., Can. J. Fish. Aquat. Sci. 63 (2006) 1865-1877. It is a normal
    fit to logarithms; these are moved up by 5, since a film is not below 0, and an exact value is an interval of 1e-4.
    """

    def moved(value: float) -> float:
        return math.log(value) + 5

    half = 5e-5
    exact = [Bracket(moved(value) - half, moved(value) + half) for (value,) in counted(EXACT)]
    between = [Bracket(moved(ends[0]), moved(ends[1])) for ends in counted(BETWEEN)]
    over = [Bracket(moved(low), None) for (low,) in counted(OVER)]
    assert (len(exact), len(between), len(over)) == (19, 29, 60)
    fit = fit_normal([*exact, *between, *over])
    assert (round(fit.mean_um - 5, 4), round(fit.sd_um, 4)) == (3.3854, 0.4961)
    assert (fit.mean_se_um, fit.sd_se_um) == pytest.approx((0.06487, 0.05455), abs=2e-5)
    densities = fit.log_likelihood - len(exact) * math.log(2 * half) - sum(math.log(value) for (value,) in counted(EXACT))
    assert round(densities, 1) == -139.1


def test_eight_readings_of_a_gauge_with_25_um_steps() -> None:
    """Computed beforehand with scipy.stats.CensoredData: 109.369 and 13.139; the last wet tooth alone would say 96.875."""
    fit = fit_normal([Bracket(75, 100)] * 2 + [Bracket(100, 125)] * 5 + [Bracket(125, 150)])
    assert (round(fit.mean_um, 3), round(fit.sd_um, 3)) == (109.369, 13.139)


# --- oracles


def scipy_fit(brackets: Sequence[Bracket]) -> tuple[float, float]:
    bounded = [(b.low_um, b.high_um) for b in brackets if b.high_um is not None]
    right = [b.low_um for b in brackets if b.high_um is None]
    data = stats.CensoredData(interval=np.array(bounded).reshape(-1, 2), right=right)
    mean, sd = stats.norm.fit(data)
    return float(mean), float(sd)


SAMPLES = [
    [2, 3, 3, 4, 5],
    [0, 2, 3, 4],
    [3, 5, 7],
    [0, 1, 3, 6, 7, 7],
    [1, 1, 1, 1, 1, 3],
    [4, 4, 4, 5, 5, 5, 5, 6, 3],
]


@pytest.mark.parametrize("last_wets", SAMPLES)
def test_open_brackets_and_unequal_steps_as_scipy_fits_them(last_wets: list[int]) -> None:
    brackets = [reading(last_wet) for last_wet in last_wets]
    fit, (mean, sd) = fit_normal(brackets), scipy_fit(brackets)
    assert (fit.mean_um, fit.sd_um) == pytest.approx((mean, sd), rel=2e-4)  # scipy's simplex stops about there
    assert fit.log_likelihood >= log_likelihood(brackets, mean, sd) - 1e-9


def test_exact_interval_and_right_censored_values_together_as_scipy_fits_them() -> None:
    """108 values drawn by numpy as a lognormal sample and fitted as logarithms: 20 exact, 30 between two bounds, 58 above one.

    Oracle: scipy.stats.CensoredData, and for the standard errors the curvature of scipy's likelihood. It stands in for the published
    fit of such a sample by Delignette-Muller and Dutang (J. Stat. Softw. 64(4), 2015), whose data come under another licence. The
    logarithms are moved up by 5, since a film is not below 0, and an exact value is an interval of 1e-4.
    """
    logs = np.random.default_rng(2).normal(3.4, 0.5, 108) + 5
    exact, between, over = logs[:20], logs[20:50], logs[50:] - np.random.default_rng(3).uniform(0, 0.8, 58)
    bounds = np.stack([np.floor(between / 0.3) * 0.3, np.floor(between / 0.3) * 0.3 + 0.3], axis=1)
    brackets = [Bracket(value - 5e-5, value + 5e-5) for value in exact]
    brackets += [Bracket(low, high) for low, high in bounds] + [Bracket(low, None) for low in over]
    fit = fit_normal(brackets)
    data = stats.CensoredData(uncensored=exact, interval=bounds, right=over)
    assert (fit.mean_um, fit.sd_um) == pytest.approx(stats.norm.fit(data), rel=2e-4)
    errors = np.sqrt(np.diag(np.linalg.inv(curvature(brackets, fit.mean_um, fit.sd_um))))
    assert (fit.mean_se_um, fit.sd_se_um) == pytest.approx(tuple(errors), rel=1e-3)


def curvature(brackets: Sequence[Bracket], mean: float, sd: float, step: float = 1e-3) -> np.ndarray:
    """Second differences of minus the logarithm of scipy's likelihood, over mean and sd."""

    def at(i: int, j: int) -> float:
        return -log_likelihood(brackets, mean + i * step, sd + j * step)

    mixed = (at(1, 1) - at(1, -1) - at(-1, 1) + at(-1, -1)) / 4
    return np.array([[at(1, 0) - 2 * at(0, 0) + at(-1, 0), mixed], [mixed, at(0, 1) - 2 * at(0, 0) + at(0, -1)]]) / step**2


def log_likelihood(brackets: Sequence[Bracket], mean: float, sd: float) -> float:
    lows = [b.low_um for b in brackets]
    highs = [math.inf if b.high_um is None else b.high_um for b in brackets]
    return float(np.log(stats.norm.cdf(highs, mean, sd) - stats.norm.cdf(lows, mean, sd)).sum())


@pytest.mark.parametrize("dof", [1, 2, 3, 4, 7, 10, 29, 30, 120])
def test_students_distribution_is_scipys(dof: int) -> None:
    for t in (-12.0, -1.0, 0.0, 0.3, 2.5, 40.0):
        assert t_cdf(t, dof) == pytest.approx(stats.t.cdf(t, dof), abs=1e-13)
    for probability in (0.025, 0.5, 0.9, 0.975, 0.995):
        assert t_quantile(probability, dof) == pytest.approx(stats.t.ppf(probability, dof), rel=1e-8, abs=1e-8)


def test_students_quantiles_as_printed() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, column 0.975 (from memory)."""
    printed = {1: 12.706, 2: 4.303, 3: 3.182, 4: 2.776, 5: 2.571, 10: 2.228, 30: 2.042}
    assert {dof: round(t_quantile(0.975, dof), 3) for dof in printed} == printed


def test_the_interval_of_the_mean_covers_the_truth_as_often_as_it_says() -> None:
    """Films drawn by numpy, read with an invented gauge, 600 coats of ten spots: at least 95 % less three standard errors."""
    rng, hits, told = np.random.default_rng(4), 0, 0
    for _ in range(600):
        mean = rng.uniform(70, 170)
        films = np.clip(rng.normal(mean, 25, 10), 0.1, None)
        found = estimate([reading(int(np.searchsorted(TEETH, film, "right")) - 1) for film in films])
        low, high = found.mean_interval_um
        told += found.confidence is not None
        hits += found.confidence is not None and high is not None and low <= mean <= high
    assert told > 550
    assert hits / told > 0.95 - 3 * math.sqrt(0.95 * 0.05 / told)


# --- what cannot be told


@pytest.mark.parametrize(
    ("last_wets", "mean", "interval"),
    [
        ([3], 97.5, (85, 110)),
        ([3, 3, 3], 97.5, (85, 110)),
        ([3, 4], 111.25, (97.5, 125)),
        ([3, 3, 4, 4, 4], 114, (100, 128)),
        ([7], None, (215, None)),
        ([0], 20, (0, 40)),
    ],
)
def test_where_the_spread_cannot_be_estimated_bounds_are_given(
    last_wets: list[int], mean: float | None, interval: tuple[float, float | None]
) -> None:
    found = estimate([reading(last_wet) for last_wet in last_wets])
    assert (found.spread_um, found.spread_interval_um, found.confidence) == (None, None, None)
    assert found.mean_um == mean
    assert found.mean_interval_um == interval
    assert chance(found, (85, 140)) is None
    with pytest.raises(ValueError, match="no maximum"):
        fit_normal([reading(last_wet) for last_wet in last_wets])


def test_two_neighbours_say_nothing_about_the_spread() -> None:
    """The best likelihood for any small spread is the same: checked with scipy, as shares 2/5 and 3/5 of a sharp step."""
    brackets = [reading(3)] * 2 + [reading(4)] * 3
    best = [max(log_likelihood(brackets, 110 + shift * sd, sd) for shift in np.linspace(-1, 1, 2001)) for sd in (0.5, 1, 2, 3)]
    assert max(best) - min(best) < 1e-4
    assert not spread_shows(brackets)


def test_the_floor_is_the_step_over_the_root_of_twelve() -> None:
    """JCGM 100:2008 (GUM) 4.3.7: 25 um give 7.22 um, half a mil 3.67 um."""
    assert estimate([Bracket(100, 125)]).floor_um == pytest.approx(7.22, abs=0.005)
    assert estimate([Bracket(0, 12.7)]).floor_um == pytest.approx(3.67, abs=0.005)
    assert estimate([Bracket(215, None)]).floor_um is None


def test_nothing_can_be_estimated_from_nothing() -> None:
    with pytest.raises(UsageError):
        estimate([])


# --- chances


def test_chances_are_students() -> None:
    """With exact readings the mean is t with n - 1 degrees of freedom, one more spot likewise with s x sqrt(1 + 1/n): scipy."""
    values = [96.0, 104.0, 99.0, 109.0, 101.0]
    found = estimate([Bracket(value - 0.001, value + 0.001) for value in values])
    n, mean, sd = len(values), float(np.mean(values)), float(np.std(values, ddof=1))
    assert (found.mean_um, found.spread_um) == pytest.approx((mean, sd), rel=1e-6)
    assert found.mean_interval_um == pytest.approx(stats.t.interval(0.95, n - 1, mean, sd / math.sqrt(n)), rel=1e-5)
    expected = [
        stats.t.cdf((105 - mean) / scale, n - 1) - stats.t.cdf((98 - mean) / scale, n - 1)
        for scale in (sd / math.sqrt(n), sd * math.sqrt(1 + 1 / n))
    ]
    odds = chance(found, (98, 105))
    assert odds is not None
    assert (odds.mean, odds.spot) == pytest.approx(expected, rel=1e-4)


# --- one spot, several sides


@pytest.mark.parametrize(
    ("brackets", "expected"),
    [
        ([Bracket(215, None), Bracket(0, 260)], Bracket(215, 260)),  # side A all wet, side B none
        ([Bracket(100, 125), Bracket(110, 140)], Bracket(110, 125)),
        ([Bracket(100, None), Bracket(120, None)], Bracket(120, None)),
    ],
)
def test_readings_of_one_spot_are_intersected(brackets: list[Bracket], expected: Bracket) -> None:
    assert intersect(brackets) == expected


def test_readings_that_contradict_each_other_are_refused() -> None:
    with pytest.raises(UsageError, match="contradict"):
        intersect([Bracket(100, 125), Bracket(125, 150)])


# --- laws

samples = st.lists(st.integers(0, 7), min_size=1, max_size=8).map(lambda counts: [reading(count) for count in counts])
bounded = st.lists(st.integers(1, 6), min_size=2, max_size=8).map(lambda counts: [reading(count) for count in counts])


@given(samples)
def test_the_mean_lies_within_the_hull_of_the_brackets(brackets: list[Bracket]) -> None:
    found = estimate(brackets)
    if found.mean_um is not None and not any(b.high_um is None for b in brackets):
        assert min(b.low_um for b in brackets) <= found.mean_um <= max(b.high_um or 0 for b in brackets)
    low, high = found.mean_interval_um
    assert low >= 0
    assert high is None or low < high


@given(bounded)
def test_doubling_every_reading_narrows_the_interval(brackets: list[Bracket]) -> None:
    assume(spread_shows(brackets))
    once, twice = estimate(brackets), estimate(brackets * 2)
    assert half_width(twice) < half_width(once)
    assert twice.mean_um == pytest.approx(once.mean_um, rel=1e-6)


def half_width(of: Estimate) -> float:
    """Half the interval of the mean, from its upper end, since the lower one is cut off at 0."""
    assert of.mean_um is not None and of.mean_interval_um[1] is not None
    return of.mean_interval_um[1] - of.mean_um


@given(samples)
def test_the_order_of_readings_does_not_matter(brackets: list[Bracket]) -> None:
    one, other = estimate(brackets), estimate(brackets[::-1])
    assert one.mean_um == pytest.approx(other.mean_um)
    assert one.spread_um == pytest.approx(other.spread_um)


@given(bounded, st.integers(0, 7))
def test_moving_one_reading_up_moves_the_mean_up(brackets: list[Bracket], place: int) -> None:
    place %= len(brackets)
    low, high = brackets[place].low_um + 20, (brackets[place].high_um or 0) + 20
    higher = [*brackets[:place], Bracket(low, high), *brackets[place + 1 :]]
    assert mean_bounds(higher).low_um > mean_bounds(brackets).low_um
    if spread_shows(brackets) and spread_shows(higher):
        assert fit_normal(higher).mean_um > fit_normal(brackets).mean_um


@given(bounded, st.floats(50, 150), st.floats(1, 80))
def test_chances_are_probabilities_and_the_spot_is_wider_than_the_mean(brackets: list[Bracket], low: float, width: float) -> None:
    found = estimate(brackets)
    odds = chance(found, (low, low + width))
    if odds is None:
        return
    assert isinstance(odds, Chance)
    assert 0 <= odds.mean <= 1 and 0 <= odds.spot <= 1
    wider = chance(found, (low - 5, low + width + 5))
    assert wider is not None and wider.mean >= odds.mean and wider.spot >= odds.spot

"""From several brackets to the mean film of a coat and the spread between spots.

One likelihood for all: each reading says that the film at its spot lay in [low, high), and the spots are taken as normally
distributed. A bracket may be open at the top (every tooth wet) and may begin at 0 (no tooth wet); steps may differ.
Neither midpoints nor Sheppard's correction are used, since the steps of a gauge change along its row.

With theta = 1 / sd and gamma = mean / sd the log-likelihood is concave (Burridge, "A note on maximum likelihood estimation for
regression models using grouped data", J. R. Stat. Soc. B 43 (1981) 41-45; from memory), so that Newton's method with halved
steps finds its one maximum.

Intervals speak of chance between spots alone. Wear and tolerance of the teeth, a leaning gauge and a late dip move all readings
together, and no number of readings makes that smaller.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import erfc, inf, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from lastwet.errors import UsageError
from lastwet.film.student import t_cdf, t_quantile
from lastwet.units import Bracket, show_bracket

CONFIDENCE = 0.95
"""Of the intervals; two-sided."""

_TOLERANCE = 1e-10
"""Newton's decrement, in log-likelihood, at which the maximum is found: far below what any interval shows."""
_MOST_STEPS = 200

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class NormalFit:
    """Maximum likelihood of a normal distribution, standard errors from the observed information."""

    mean_um: float
    sd_um: float
    """With divisor n, as maximum likelihood gives it."""
    mean_se_um: float
    sd_se_um: float
    log_likelihood: float


@dataclass(frozen=True, slots=True)
class Estimate:
    """What the readings of one coat say together."""

    readings: int
    mean_um: float | None
    """Mean film; None where every bracket is open at the top."""
    mean_interval_um: tuple[float, float | None]
    """At `confidence`; where that is None, what the mean of the spots that were read cannot leave. None for no upper end."""
    spread_um: float | None
    """Standard deviation between spots, n - 1 in its divisor; None where the readings cannot tell."""
    spread_interval_um: tuple[float, float] | None
    floor_um: float | None
    """Step / sqrt(12): the standard uncertainty of one reading from its step alone (rectangular distribution, JCGM 100:2008,
    4.3.7); None where no bracket has both ends."""
    confidence: float | None
    """Of both intervals; None where the spread cannot be estimated."""
    mean_se_um: float | None = None
    """Standard error of `mean_um`; None where the spread cannot be estimated."""


@dataclass(frozen=True, slots=True)
class Chance:
    """Probabilities that the film lies in a range."""

    mean: float
    """That the mean of the coat does."""
    spot: float
    """That one more spot, read anywhere on the coat, does."""


def intersect(brackets: Sequence[Bracket]) -> Bracket:
    """Return what readings of one spot on several sides say together; raises `UsageError` where they contradict each other.

    Side A all wet and side B none wet: from the top of A to the first tooth of B.
    """
    low = max(bracket.low_um for bracket in brackets)
    high = min((bracket.high_um for bracket in brackets if bracket.high_um is not None), default=None)
    if high is not None and high <= low:
        told = " and ".join(show_bracket(bracket, "um") for bracket in brackets)
        raise UsageError(f"readings of one spot contradict each other ({told})", "wipe the gauge, and dip again beside the old marks")
    return Bracket(low, high)


def mean_bounds(brackets: Sequence[Bracket]) -> Bracket:
    """Return the bracket that the mean over the spots that were read cannot leave, whatever the distribution."""
    if not brackets:
        raise UsageError("there is no reading to estimate from", "give at least one bracket")
    highs = [bracket.high_um for bracket in brackets if bracket.high_um is not None]
    low = sum(bracket.low_um for bracket in brackets) / len(brackets)
    return Bracket(low, sum(highs) / len(highs) if len(highs) == len(brackets) else None)


def spread_shows(brackets: Sequence[Bracket]) -> bool:
    """Tell whether the readings say anything about the spread.

    They do not where one thickness would explain all of them, and two neighbouring brackets share their common end: any small
    spread is then as likely as the next.
    """
    return max(bracket.low_um for bracket in brackets) > min(inf if bracket.high_um is None else bracket.high_um for bracket in brackets)


def estimate(brackets: Sequence[Bracket]) -> Estimate:
    """Estimate mean and spread of a coat from one bracket for each spot; raises `UsageError` for none at all.

    The mean's interval is Student's, with n - 1 degrees of freedom: exact were the readings exact, an approximation for
    brackets. The spread's is normal on its logarithm.
    """
    bounds, count = mean_bounds(brackets), len(brackets)
    steps = [bracket.high_um - bracket.low_um for bracket in brackets if bracket.high_um is not None]
    floor_um = sum(steps) / len(steps) / sqrt(12) if steps else None
    if not spread_shows(brackets):
        middle = None if bounds.high_um is None else (bounds.low_um + bounds.high_um) / 2
        return Estimate(count, middle, (bounds.low_um, bounds.high_um), None, None, floor_um, None)
    fit, small_sample = fit_normal(brackets), sqrt(count / (count - 1))
    spread, se = fit.sd_um * small_sample, fit.mean_se_um * small_sample
    reach = t_quantile((1 + CONFIDENCE) / 2, count - 1) * se
    factor = float(np.exp(1.96 * fit.sd_se_um / fit.sd_um))  # 1.96: the normal quantile for 95 %
    mean_interval = (max(0.0, fit.mean_um - reach), fit.mean_um + reach)
    return Estimate(count, fit.mean_um, mean_interval, spread, (spread / factor, spread * factor), floor_um, CONFIDENCE, se)


def chance(of: Estimate, range_um: tuple[float, float]) -> Chance | None:
    """Return how likely mean and single spot lie in a range, by Student's distribution; None where the spread is unknown."""
    if of.mean_um is None or of.spread_um is None or of.mean_se_um is None:
        return None
    spot_scale = sqrt(of.spread_um**2 + of.mean_se_um**2)
    between = [
        t_cdf((range_um[1] - of.mean_um) / scale, of.readings - 1) - t_cdf((range_um[0] - of.mean_um) / scale, of.readings - 1)
        for scale in (of.mean_se_um, spot_scale)
    ]
    return Chance(*between)


def fit_normal(brackets: Sequence[Bracket]) -> NormalFit:
    """Fit a normal distribution to brackets for which `spread_shows`; raises `ValueError` for others."""
    if not spread_shows(brackets):
        raise ValueError("these brackets have no maximum of likelihood")
    lows = np.array([bracket.low_um for bracket in brackets])
    highs = np.array([inf if bracket.high_um is None else bracket.high_um for bracket in brackets])
    ends = np.concatenate([lows, highs])
    ends = ends[np.isfinite(ends)]
    centre, scale = ends.mean(), np.ptp(ends)
    parameters, value, hessian = _maximum((lows - centre) / scale, (highs - centre) / scale)
    gamma, theta = parameters
    jacobian = np.array([[1 / theta, -gamma / theta**2], [0.0, -1 / theta**2]])  # of (mean, sd) by (gamma, theta)
    mean_se, sd_se = np.sqrt(np.diag(jacobian @ np.linalg.inv(-hessian) @ jacobian.T)) * scale
    return NormalFit(float(centre + gamma / theta * scale), float(scale / theta), float(mean_se), float(sd_se), value)


def _maximum(lows: _Array, highs: _Array) -> tuple[_Array, float, _Array]:
    """Climb the log-likelihood over (gamma, theta); return its maximum's place, value and second derivatives."""
    place = np.array([0.0, 1.0])  # mean in the middle, spread as wide as all the brackets
    value, gradient, hessian = _log_likelihood(place, lows, highs)
    for _ in range(_MOST_STEPS):
        step = np.linalg.solve(-hessian, gradient)
        decrement = float(gradient @ step)
        if decrement < _TOLERANCE:
            break
        size = 1.0
        while (place + size * step)[1] <= 0 or _log_likelihood(place + size * step, lows, highs)[0] < value + 0.1 * size * decrement:
            size /= 2
        place = place + size * step
        value, gradient, hessian = _log_likelihood(place, lows, highs)
    return place, value, hessian


def _log_likelihood(place: _Array, lows: _Array, highs: _Array) -> tuple[float, _Array, _Array]:
    """Return the log-likelihood at (gamma, theta) with its first and second derivatives."""
    gamma, theta = place
    value, first, second = 0.0, np.zeros(2), np.zeros((2, 2))
    for low, high in zip(lows, highs, strict=True):
        share = _between(theta * low - gamma, theta * high - gamma)
        if share <= 0:  # too far off to be told from impossible
            return -inf, first, second
        slope, curvature = np.zeros(2), np.zeros((2, 2))
        for end, sign in ((high, 1.0), (low, -1.0)):
            if np.isfinite(end):
                z, by = theta * end - gamma, np.array([-1.0, end])  # `by`: derivatives of z
                density = sign * np.exp(-z * z / 2) / sqrt(2 * pi)
                slope += density * by
                curvature -= density * z * np.outer(by, by)
        value += log(share)
        first += slope / share
        second += curvature / share - np.outer(slope, slope) / share**2
    return value, first, second


def _between(low: float, high: float) -> float:
    """Return the standard normal probability of [low, high), from the tail in which it does not cancel."""
    if low > 0:
        low, high = -high, -low
    return (erfc(-high / sqrt(2)) - erfc(-low / sqrt(2))) / 2

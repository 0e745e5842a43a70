"""Student's t distribution for whole degrees of freedom, in its closed form: importing scipy.stats would take over a second.

Source: Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.7.3 and 26.7.4.
"""

from __future__ import annotations

from math import atan, cos, pi, sin, sqrt


def t_cdf(t: float, dof: int) -> float:
    """Return the probability that a t variable with `dof` >= 1 degrees of freedom is below `t`."""
    return 0.5 + 0.5 * _central(abs(t), dof) * (1 if t >= 0 else -1)


def t_quantile(probability: float, dof: int) -> float:
    """Return the t below which a share `probability` in (0, 1) lies, to 1e-9 of its size."""
    if probability < 0.5:
        return -t_quantile(1 - probability, dof)
    low, high = 0.0, 1.0
    while t_cdf(high, dof) < probability:
        high *= 2
    while high - low > 1e-9 * high:
        middle = (low + high) / 2
        low, high = (middle, high) if t_cdf(middle, dof) < probability else (low, middle)
    return (low + high) / 2


def _central(t: float, dof: int) -> float:
    """Return P(|T| < t)."""
    theta = atan(t / sqrt(dof))
    term, total = (cos(theta), 0.0) if dof % 2 else (1.0, 0.0)
    for step in range(1 + dof % 2, dof, 2):  # the series has its terms at 1, 3, ... or 2, 4, ... below dof
        total += term
        term *= cos(theta) ** 2 * step / (step + 1)
    return 2 / pi * (theta + sin(theta) * total) if dof % 2 else sin(theta) * total

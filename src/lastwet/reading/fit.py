"""Fit evenly spaced teeth in perspective between two end tabs, in one dimension: shares of the way from one to the other."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from lastwet.reading.strip import FEWEST, MOST

Floats = npt.NDArray[np.float64]

CLOSE_FITS = 2
"""Numbers of teeth whose fit is refined; on calibrate renders, more change no row."""
NEAR = 0.30
"""Farthest a tip may lie from its place in an even row, in pitches."""


@dataclass(frozen=True, slots=True)
class Fit:
    """Evenly spaced teeth fitted between two end tabs."""

    teeth: int
    cost: float
    places: Floats
    """Share of the way between the end tabs at which each tooth lies."""
    matched: dict[int, int]
    """Tooth (0..N-1) to member."""
    misfit: float


_SQUEEZE = np.exp(np.linspace(-0.5, 0.5, 21))
"""How much nearer one end is than the other: perspective at 40 degrees stays within."""
_TAB_OFFSET = np.linspace(-0.35, 0.6, 20)
"""How much farther the end tab stands from its tooth than teeth from each other, in pitches."""


@cache
def _places(n: int) -> Floats:
    """Share of the way between the end tabs of each of `n` teeth, for every squeeze and tab offset; shape (n, S, D).

    NumPy is slow at the least over a short last axis, so the teeth come first.
    """
    q, d = np.meshgrid(_SQUEEZE, _TAB_OFFSET, indexing="ij")
    u = (np.arange(1, n + 1) + d[..., None]) / (n + 1 + 2 * d[..., None])
    return np.ascontiguousarray(np.moveaxis(u / (u + (1 - u) * q[..., None]), -1, 0))


@cache
def _rough_places(n: int) -> Floats:
    """Every second of the places."""
    return np.ascontiguousarray(_places(n)[:, ::2, ::2])


def counts(weight: Floats) -> range:
    """Numbers of teeth to try for members of such weight: strays may be among them, and teeth may be hidden."""
    return range(max(FEWEST, int((weight > 0.4).sum()) - 2), min(MOST, len(weight) + 3) + 1)


def best_fit(s: Floats, weight: Floats) -> Fit:
    """Fit as many evenly spaced teeth in perspective as go best with tips at shares `s` of the row.

    A tooth without a tip and a tip without a tooth both cost; a faint tip, by its `weight` (0..1), costs less.
    """
    rough = {n: _cheapest(_rough_places(n), s, weight) for n in counts(weight)}
    likeliest = sorted(rough, key=lambda n: rough[n][1])[:CLOSE_FITS]
    return min((_fit(s, weight, n, rough[n][0]) for n in likeliest), key=lambda fit: fit.cost)


def _fit(s: Floats, weight: Floats, n: int, rough: tuple[int, int]) -> Fit:
    """Fit `n` teeth about the place `rough` in the grid of every second place; tips and teeth pair one to one."""
    i, j = (2 * k for k in rough)
    about = _places(n)[:, max(i - 2, 0) : i + 3, max(j - 2, 0) : j + 3]
    at, cost = _cheapest(about, s, weight)
    places = about[:, *at]
    gap = np.abs(places[:, None] - s) * (n + 1)
    every, member, tooth = np.arange(n), gap.argmin(axis=1), gap.argmin(axis=0)
    error = gap[every, member]
    paired = np.flatnonzero((error < NEAR) & (tooth[member] == every))
    matched = dict(zip(paired.tolist(), member[paired].tolist(), strict=True))
    misfit = math.sqrt(float(np.mean(np.square(error[paired])))) if matched else 1.0
    return Fit(n, cost, places, matched, misfit)


def _cheapest(grid: Floats, s: Floats, weight: Floats) -> tuple[tuple[int, int], float]:
    """Return where in a grid of places, shape (n, S, D), the teeth fit the tips best, and at what cost."""
    n = len(grid)
    gap = grid - s[:, None, None, None]
    np.abs(gap, out=gap)
    alone = np.minimum(gap.min(axis=0) * (n + 1), NEAR) ** 2
    stray = np.minimum(gap.min(axis=1) * (n + 1), NEAR) ** 2 * weight[:, None, None]
    cost = (alone.sum(axis=0) + stray.sum(axis=0)) / (n + weight.sum())
    i, j = np.unravel_index(int(np.argmin(cost)), cost.shape)
    return (int(i), int(j)), float(cost[i, j])

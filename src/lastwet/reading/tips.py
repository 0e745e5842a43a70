"""Find the tips of teeth and end tabs in a photo: a network shows where they are, and where each shank runs.

Points are (x, y) px, origin at the centre of the top-left pixel, y down.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from lastwet.reading import networks
from lastwet.reading.middle import median
from lastwet.reading.strip import FEWEST, Row, normalise

Floats = npt.NDArray[np.float64]

NET_SIZE = (640, 480)
"""Width and height of the picture that the tip finder sees."""
REACH_PX = 32.0
"""Length in the finder's picture of an arrow of 1."""
MAPS = ("tooth of the read row", "end tab of the read row", "tip of another row", "gauge", "paint", "arrow x", "arrow y")
"""What the finder's maps show; the arrow points one pitch up the shank."""

PEAK = 0.12
"""Least heat of a tip; low, since a row is believed as a whole. Chosen on tuning renders."""
CLEAR = 0.2
"""Least heat of a tip that may stand in a chain."""
MARGIN = 2.0
"""Room left around the tips when they are looked at from nearer, in pitches; enough for an end tab missed at first.
As tried on calibrate renders."""
NEARER = 1.25
"""Least magnification that makes a nearer look worth its time; as tried on calibrate renders."""


@dataclass(frozen=True, slots=True)
class Tips:
    """Tips seen in a photo."""

    at: Floats
    """Shape (T, 2), px of the photo."""
    heat: Floats
    """Shape (T, 3): how surely it is a tooth of the read row, an end tab of the read row, a tip of another row; 0..1."""
    paint: Floats
    """Shape (T,): how surely wet paint is to be seen beside it; 0..1."""
    body: Floats
    """Shape (T,): how surely the gauge is to be seen half a pitch up the shank; 0..1."""
    up: Floats
    """Shape (T, 2): one pitch up the shank, px."""
    size: tuple[int, int]
    """Width and height of the photo."""


def find_tips(pixels: npt.NDArray[np.uint8]) -> Tips:
    """Find the tips of all toothed rows of a gauge in an upright photo, shape (H, W, 3)."""
    turned = pixels.shape[0] > pixels.shape[1]
    view = cv2.rotate(pixels, cv2.ROTATE_90_COUNTERCLOCKWISE) if turned else pixels  # `np.rot90` copies at a seventh of the speed
    scale = min(NET_SIZE[0] / view.shape[1], NET_SIZE[1] / view.shape[0])
    small = (max(1, round(view.shape[1] * scale)), max(1, round(view.shape[0] * scale)))
    canvas = np.zeros((NET_SIZE[1], NET_SIZE[0], 3), np.uint8)
    canvas[: small[1], : small[0]] = cv2.resize(view, small, interpolation=cv2.INTER_AREA)
    maps = networks.run("tips", "maps", np.ascontiguousarray(normalise(canvas).transpose(2, 0, 1)[None]))[0]
    at, heat, shown, up = _peaks(maps)
    per = np.array([view.shape[1] / small[0], view.shape[0] / small[1]])
    at, up = (at + 0.5) * per - 0.5, up * per
    if turned:  # the turn took (x, y) to (y, W - 1 - x)
        at = np.column_stack([pixels.shape[1] - 1 - at[:, 1], at[:, 0]])
        up = np.column_stack([-up[:, 1], up[:, 0]])
    return Tips(at, heat, shown[0], shown[1], up, (pixels.shape[1], pixels.shape[0]))


def find_tips_nearer(pixels: npt.NDArray[np.uint8], tips: Tips, row: Row | None = None) -> Tips | None:
    """Find the tips once more in the part of the photo (H, W, 3) where a row of `tips` is, or all of them, so that teeth are seen larger.

    None where there are too few tips to say where, or where that part is nearly the whole photo.
    """
    strong = tips.heat.max(axis=1) > CLEAR
    if row is None and strong.sum() < FEWEST + 2:
        return None
    at, up = (row.tips, row.roots - row.tips) if row else (tips.at[strong], tips.up[strong])
    room = MARGIN * float(median(np.linalg.norm(up, axis=1)))
    low = np.maximum(np.floor(at.min(axis=0) - room).astype(int), 0)
    high = np.minimum(np.ceil(at.max(axis=0) + room).astype(int), tips.size)
    whole, part = max(tips.size), max(NET_SIZE[0], *(high - low))
    if whole < NEARER * part:
        return None
    near = find_tips(pixels[low[1] : high[1], low[0] : high[0]])
    return replace(near, at=near.at + low, size=tips.size)


def _peaks(maps: npt.NDArray[np.float32]) -> tuple[Floats, Floats, Floats, Floats]:
    """Return (place (T, 2), heat (T, 3), paint and body (2, T), arrow (T, 2)) of the local maxima, in px of the finder's picture."""
    top = _shares(maps[:3].max(axis=0))
    y, x = np.nonzero((top >= cv2.dilate(top, np.ones((3, 3), np.uint8))) & (top > PEAK))
    fine = np.pad(top, 1, mode="edge")
    left, right, up, down, mid = fine[y + 1, x], fine[y + 1, x + 2], fine[y, x + 1], fine[y + 2, x + 1], fine[y + 1, x + 1]
    dx = np.clip((right - left) / (2 * (2 * mid - left - right) + 1e-6), -0.5, 0.5)
    dy = np.clip((down - up) / (2 * (2 * mid - up - down) + 1e-6), -0.5, 0.5)
    place = np.column_stack([x + dx, y + dy]) * 2 + 0.5
    arrow = maps[5:7, y, x].T.astype(float) * REACH_PX
    half = np.clip(np.rint((place + arrow / 2 - 0.5) / 2).astype(int), 0, [top.shape[1] - 1, top.shape[0] - 1])
    paint, gauge = cv2.dilate(maps[4], np.ones((5, 5), np.uint8))[y, x], maps[3, half[:, 1], half[:, 0]]
    return place, _shares(maps[:3, y, x]).T.astype(float), _shares(np.array([paint, gauge])).astype(float), arrow


def _shares(logits: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Turn logits into probabilities."""
    return np.asarray(1 / (1 + np.exp(-np.clip(logits, -30, 30))), np.float32)

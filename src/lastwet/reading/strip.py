"""The straightened strip: a row of teeth laid out in even cells, tips down, low or high end on the left.

Element i (0 and N+1 are the end tabs, 1..N the teeth) takes columns `ELEMENT_PX * i` to `ELEMENT_PX * (i + 1)`;
its tip's middle lies in the middle column at row `TIP_ROW`; one pitch up the shank is `ELEMENT_PX` rows higher. Below that follow the
same tips from nearer, `NEAR` times as high, as the least paint is a line along a tip.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float32]

ELEMENT_PX = 64
"""Width of one element's cell and length of one pitch up the shank, px of the strip."""
STRIP_HEIGHT_PX = 80
"""Height of the strip without what is shown from nearer."""
TIP_ROW = 54
"""Row of the tips: 26 rows below show what lies beyond them."""
NEAR = 2
"""How much higher the tips are shown below the strip."""
NEAR_FIRST, NEAR_LAST = 28, 68
"""Rows of the strip, the last not included, that are shown from nearer; whole fours, as the judge lays both together at a quarter."""
CUT_HEIGHT_PX = STRIP_HEIGHT_PX + NEAR * (NEAR_LAST - NEAR_FIRST)
"""Height of the strip and of what is shown from nearer below it."""
MOST_ELEMENTS = 16
"""End tabs and teeth that the networks can take: 14 teeth."""
FEWEST, MOST = 3, MOST_ELEMENTS - 2
"""Teeth of a row that can be told from chance, and that the networks can take."""
ROLE_TOOTH, ROLE_TAB = 0.5, 1.0
"""Values of the strip's fourth channel; 0 marks columns past the row."""


def countable(teeth: int) -> bool:
    """Whether photos are read of rows with so many teeth."""
    return FEWEST <= teeth <= MOST


@dataclass(frozen=True, slots=True)
class Row:
    """Where the elements of a row lie in a picture; (x, y) px, origin at the centre of the top-left pixel."""

    tips: Array
    """Middles of the tips, shape (N+2, 2); ordered so that, tips down, they run left to right."""
    roots: Array
    """The points one pitch up the shank, shape (N+2, 2)."""

    @property
    def pitch_px(self) -> float:
        """Mean distance of neighbouring tips."""
        return float(np.linalg.norm(self.tips[-1] - self.tips[0])) / (len(self.tips) - 1)


def shortened(row: Row, share: float = 0.9) -> Row:
    """Return the row with the shanks foreshortened, so that its strip shows the same tips otherwise."""
    return Row(row.tips, np.asarray(row.tips + share * (row.roots - row.tips), np.float32))


def sampling_grid(row: Row) -> Array:
    """Return where each pixel of the row's strip lies in the picture, shape (CUT_HEIGHT_PX, ELEMENT_PX * (N+2), 2).

    Each element has a view of its own, straight along the row and up its shank, as end tabs and teeth differ in length.
    """
    count = len(row.tips)
    aside = np.tile((np.arange(ELEMENT_PX) + 0.5) / ELEMENT_PX - 0.5, count)
    tip, along, up = (np.repeat(v, ELEMENT_PX, axis=0) for v in (row.tips, _pitches(row), row.roots - row.tips))
    grid = tip[None] + aside[None, :, None] * along[None] + rises()[:, None, None] * up[None]
    return np.asarray(grid, np.float32)


def rises() -> npt.NDArray[np.float64]:
    """Return how far up the shank each row of the strip lies, in pitches, shape (CUT_HEIGHT_PX,)."""
    far = np.arange(STRIP_HEIGHT_PX) + 0.5
    near = NEAR_FIRST + (np.arange(CUT_HEIGHT_PX - STRIP_HEIGHT_PX) + 0.5) / NEAR
    return np.asarray((TIP_ROW - np.concatenate([far, near])) / ELEMENT_PX, np.float64)


def _pitches(row: Row) -> npt.NDArray[np.float64]:
    """Return the vector of one pitch along the row at each element, shape (N+2, 2).

    Where the row recedes, what stands up shrinks with the distance and what runs along it with the square of the distance.
    """
    mean = (row.tips[-1] - row.tips[0]) / (len(row.tips) - 1)
    nearness = np.linalg.norm(row.roots - row.tips, axis=1) ** 2
    return np.asarray(mean * (nearness / max(float(nearness.mean()), 1e-9))[:, None], np.float64)


def roles(count: int) -> Array:
    """Return the fourth channel for a row of `count` elements, shape (CUT_HEIGHT_PX, ELEMENT_PX * count)."""
    each = np.full(count, ROLE_TOOTH, np.float32)
    each[[0, -1]] = ROLE_TAB
    return np.broadcast_to(np.repeat(each, ELEMENT_PX), (CUT_HEIGHT_PX, ELEMENT_PX * count)).astype(np.float32)


def normalise(picture: npt.NDArray[np.uint8], rows: int | None = None) -> Array:
    """Return the picture (H, W, 3) with its own mean and contrast taken out, so that a dim photo looks like a bright one.

    `rows` tells how many of its first rows say what they are; without it, all do.
    """
    scaled = picture.astype(np.float32) / 255
    part = scaled[:rows]
    return np.asarray((scaled - part.mean()) / (part.std() + CONTRAST_FLOOR), np.float32)


CONTRAST_FLOOR = 0.04
"""Added to the contrast before dividing by it, so that noise in an empty dark picture is not blown up; share of full scale."""


def cut(pixels: npt.NDArray[np.uint8], row: Row) -> npt.NDArray[np.uint8]:
    """Cut the straightened strip of a row from a photo (H, W, 3).

    Returns shape (CUT_HEIGHT_PX, ELEMENT_PX * (N+2), 3), black outside the photo.
    """
    grid, scale = sampling_grid(row), ELEMENT_PX / max(row.pitch_px, 1e-6)
    far, near = sample(pixels, grid[:STRIP_HEIGHT_PX], scale), sample(pixels, grid[STRIP_HEIGHT_PX:], NEAR * scale)
    return np.concatenate([far, near])


def sample(pixels: npt.NDArray[np.uint8], grid: Array, scale: float) -> npt.NDArray[np.uint8]:
    """Sample a photo (H, W, 3) at the points of a grid (h, w, 2), black outside the photo; shape (h, w, 3).

    `scale` is how large the photo comes out: pixels of the grid per pixel of the photo.
    """
    x, y = (np.ascontiguousarray(grid[..., k]) for k in (0, 1))  # each by itself, as NumPy is slow at the least of a short last axis
    low = np.floor([x.min(), y.min()]).astype(int) - 4
    high = np.ceil([x.max(), y.max()]).astype(int) + 5
    low, high = np.maximum(low, 0), np.minimum(high, [pixels.shape[1], pixels.shape[0]])
    if (high - low < 2).any():
        return np.zeros((*grid.shape[:2], 3), np.uint8)
    part = pixels[low[1] : high[1], low[0] : high[0]]
    x, y = x - np.float32(low[0]), y - np.float32(low[1])
    shrink = SPARE * scale
    if shrink < WORTH_IT:  # averaging first keeps fine grain from turning into coarse
        size = (max(2, round(part.shape[1] * shrink)), max(2, round(part.shape[0] * shrink)))
        per_x, per_y = np.float32(size[0] / part.shape[1]), np.float32(size[1] / part.shape[0])
        part = np.asarray(cv2.resize(part, size, interpolation=cv2.INTER_AREA), np.uint8)
        x, y = (x + 0.5) * per_x - 0.5, (y + 0.5) * per_y - 0.5
    return np.asarray(cv2.remap(part, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT), np.uint8)


SPARE = 1.3
"""How much finer than it comes out a photo is left by the averaging before it is sampled."""
WORTH_IT = 0.9
"""Size of the averaged photo, in sizes of the photo, from which it is sampled as it is instead."""

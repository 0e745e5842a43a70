"""The numerals beside the teeth: which side of the gauge they name, and on which end it is low, where they are to be read.

A small network finds single digits on the straightened shanks. Nothing is spelled freely: each side of the gauge with as many teeth, low
end left or right, numerals either way up, is weighed by how well its values explain the digits seen. Where no claim leads all others and
chance by far, the numerals say nothing. Numerals that run along the shank are not read.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from lastwet.gauge import Gauge, Side
from lastwet.reading import networks
from lastwet.reading.strip import Row, sample

Array = npt.NDArray[np.float32]
Floats = npt.NDArray[np.float64]

PITCH_PX = 48
"""Length of one pitch in the shank's picture, along the row and up the shank, px."""
LOWEST, HIGHEST = 0.42, 1.92
"""What the shank's picture shows, in pitches above the tips: from the root of most notches to beyond where numerals stand."""
MARGIN = 0.75
"""How far the shank's picture goes beyond the middles of the first and the last tooth, in pitches."""
HEIGHT_PX = 72
"""Height of the shank's picture."""
DIGIT_PX = 2
"""Pixels of the shank's picture per cell of the digit finder's answer."""
SPOT = 0.6
"""Probability from which a cell shows the middle of a digit."""
FLOOR = math.log(0.003)
"""A digit never counts for less, so that one fooled digit cannot outvote its neighbours."""
SKIP = -3.0
"""Nats that a digit costs which is seen and not expected, or expected and not seen."""
LINE = 0.22
"""How far digits of one line may stand from one another across it, in pitches."""
ASIDE = 0.25
"""How far numerals may stand beside the middles of their teeth, in pitches: perspective, or a loosely found row."""
AROUND_PX = 41
"""Size of the neighbourhood whose brightness and contrast are taken out of a pixel, px of the shank's picture."""
CONTRAST_FLOOR = 0.012
"""Added to the local contrast before dividing by it, share of full scale."""

FEWEST_READ = 3
"""Fewer numerals than this, read digit by digit, settle nothing. Wrong claims came to two at most on the photos named below."""
LEAST_SHARE = 0.6
"""Share of what the digits seen could speak for at most that must speak for one claim. Wrong claims that beat chance by `LEAST_LEAD` came
to 0.55 at most on rendered photos that were answered (seeds 1-64, 1221-1520, 1561-1900)."""
LEAST_LEAD = 10.0
"""Nats by which a claim must be likelier than any other, and than chance: odds of 22000 to 1."""


def shank(pixels: npt.NDArray[np.uint8], row: Row) -> npt.NDArray[np.uint8]:
    """Cut the straightened picture of the shanks above a row of N teeth from a photo (H, W, 3), tips down.

    Returns shape (HEIGHT_PX, PITCH_PX * (N + 0.5)), grey; black outside the photo. The middle of tooth i (1..N) lies
    `PITCH_PX * (MARGIN + i - 1)` px from the left.
    """
    colour = sample(pixels, _grid(row), PITCH_PX / max(row.pitch_px, 1e-6))
    return np.asarray(cv2.cvtColor(colour, cv2.COLOR_RGB2GRAY), np.uint8)


def _grid(row: Row) -> Array:
    """Return where each pixel of the shank's picture lies in the photo, shape (HEIGHT_PX, W, 2)."""
    n = len(row.tips) - 2
    at = 1 - MARGIN + (np.arange(round(PITCH_PX * (n - 1 + 2 * MARGIN))) + 0.5) / PITCH_PX
    up = LOWEST + (HIGHEST - LOWEST) * (1 - (np.arange(HEIGHT_PX) + 0.5) / HEIGHT_PX)
    tips, roots = _smooth(row.tips, at), _smooth(row.roots, at)
    return np.asarray(tips[None] + up[:, None, None] * (roots - tips)[None], np.float32)


def _smooth(points: Array, at: Floats) -> Floats:
    """Lay a curve through the teeth's points (N+2, 2) and return it where asked, in elements; shape (len(at), 2)."""
    teeth = np.arange(1, len(points) - 1)
    return np.column_stack([np.polyval(np.polyfit(teeth, points[1:-1, k], 2), at) for k in (0, 1)])


def flattened(grey: npt.NDArray[np.uint8]) -> Array:
    """Take the brightness and the contrast of its neighbourhood out of each pixel of a grey picture (H, W)."""
    g = grey.astype(np.float32) / 255
    mean, square = (cv2.blur(values, (AROUND_PX, AROUND_PX)) for values in (g, g * g))
    spread = np.sqrt(np.maximum(square - mean * mean, 0))
    return np.asarray((g - mean) / (spread + CONTRAST_FLOOR), np.float32)


@dataclass(frozen=True, slots=True)
class Digit:
    """A digit found on the shank, px of its picture."""

    x: float
    y: float
    odds: tuple[float, ...]
    """Log probability of each value over that of any digit, for 0 to 9; no array, as NumPy takes longer over a single number."""

    @property
    def value(self) -> int:
        """Its likeliest value."""
        return self.odds.index(max(self.odds))


Word = list[Digit]


def find_digits(shanks: list[npt.NDArray[np.uint8]]) -> list[list[Digit]]:
    """Find the digits that stand upright on each of several shanks of one size."""
    logits = networks.run("digits", "digits", np.stack([flattened(s) for s in shanks])[:, None])
    return [_digits(one) for one in logits.astype(np.float64)]


def _digits(logits: Floats) -> list[Digit]:
    """Return one digit for each spot of the answer (11, H, W) that is no blank."""
    shifted = logits - logits.max(axis=0)
    log_p = shifted - np.log(np.exp(shifted).sum(axis=0))
    heat = 1 - np.exp(log_p[0])
    count, label = cv2.connectedComponents((heat > SPOT).astype(np.uint8), connectivity=4)
    y, x = np.nonzero(label)
    which, weight = label[y, x], heat[y, x]
    total = np.bincount(which, weight, count)

    def mean(values: npt.NDArray[np.floating]) -> Floats:
        return np.asarray(np.bincount(which, weight * values, count) / np.maximum(total, 1e-9))

    at_x, at_y = mean((x + 0.5) * DIGIT_PX), mean((y + 0.5) * DIGIT_PX)
    named = np.array([mean(log_p[1 + value, y, x]) for value in range(10)])
    named -= np.log(np.exp(named).sum(axis=0))
    odds = np.maximum(named, FLOOR) + math.log(10)
    return [Digit(float(at_x[k]), float(at_y[k]), tuple(odds[:, k].tolist())) for k in range(1, count)]


def words(digits: list[Digit], teeth: int) -> list[Word]:
    """Return the digits beside each tooth, left to right: those of the line that most of them stand on."""
    if not digits:
        return [[] for _ in range(teeth)]
    x, y = (np.array([getattr(d, axis) for d in digits]) for axis in "xy")
    near = np.abs(y[:, None] - y) < LINE * PITCH_PX
    line = np.flatnonzero(near[int(near.sum(axis=1).argmax())])
    place = x[line] / PITCH_PX - MARGIN
    aside = float(np.angle(np.exp(2j * np.pi * place).sum())) / (2 * np.pi)
    tooth = np.rint(place - np.clip(aside, -ASIDE, ASIDE)).astype(int)
    return [sorted((digits[line[k]] for k in np.flatnonzero(tooth == t)), key=lambda d: d.x) for t in range(teeth)]


@dataclass(frozen=True, slots=True)
class Numerals:
    """How well one side, with its low end left or right, explains the words seen."""

    side: Side
    low_left: bool
    worth: float
    """Nats over chance."""
    read: tuple[float, ...]
    """Values that were read digit by digit, low to high."""
    share: float
    """Part of the nats that the digits seen could give at most."""


def claims(pixels: npt.NDArray[np.uint8], row: Row, sides: list[Side]) -> list[Numerals]:
    """Weigh every side with its low end left or right, numerals either way up; the likeliest first."""
    teeth = len(row.tips) - 2
    picture = shank(pixels, row)
    upright, turned = (words(found, teeth) for found in find_digits([picture, np.ascontiguousarray(picture[::-1, ::-1])]))
    each = [
        _claim(side, low_left, seen if low_left == standing else seen[::-1])
        for side in sides
        for low_left in (True, False)
        for seen, standing in ((upright, True), (turned, False))
    ]
    return sorted(each, key=lambda claim: -claim.worth)


def _claim(side: Side, low_left: bool, seen: list[Word]) -> Numerals:
    """Compare a side with the words beside its teeth, low to high."""
    compared = [_compared(word, value) for word, value in zip(seen, side.teeth, strict=True)]
    read = tuple(value for value, (_, same) in zip(side.teeth, compared, strict=True) if same)
    worth, most = sum(worth for worth, _ in compared), sum(max(digit.odds) for word in seen for digit in word)
    return Numerals(side, low_left, worth, read, worth / max(most, 1e-9))


def _compared(word: Word, value: float) -> tuple[float, bool]:
    """Return (nats over chance, whether it says just this) for the digits seen beside a tooth; the point is not looked at."""
    if not word:
        return 0.0, False
    plain = f"{value:g}".replace(".", "")
    return max(_matched(word, text) for text in {plain, plain.lstrip("0")})


def _matched(word: Word, text: str) -> tuple[float, bool]:
    """Align digits seen and digits expected."""
    wanted = [int(c) for c in text]
    best = [k * SKIP for k in range(len(wanted) + 1)]
    for digit in word:
        fresh = [worth + SKIP for worth in best]
        for k, value in enumerate(wanted):
            fresh[k + 1] = max(fresh[k + 1], best[k] + digit.odds[value], fresh[k] + SKIP)
        best = fresh
    return best[-1], [d.value for d in word] == wanted


def legible(pixels: npt.NDArray[np.uint8], row: Row, gauge: Gauge) -> Numerals | None:
    """Tell which side of the gauge the numerals beside a row name, and on which end it is low; None where they do not settle it."""
    ranked = claims(pixels, row, [side for side in gauge.sides if len(side.teeth) == len(row.tips) - 2])
    if not ranked:
        return None
    best = ranked[0]
    others = [claim.worth for claim in ranked if (claim.side, claim.low_left) != (best.side, best.low_left)]
    lead = best.worth - max(0.0, *others)
    return best if len(best.read) >= FEWEST_READ and best.share >= LEAST_SHARE and lead >= LEAST_LEAD else None

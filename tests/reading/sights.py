"""What photos show, made up by hand: rows of teeth with the evidence that a test asks for."""

from __future__ import annotations

import hashlib

import numpy as np

from lastwet.gauge import Gauge, Side
from lastwet.reading.evidence import Evidence
from lastwet.reading.locate import Located
from lastwet.reading.look import Sight
from lastwet.reading.photo import Photo
from lastwet.reading.strip import Row
from lastwet.reading.tips import Tips

SIDE = Side("fine", "um", (40, 60, 85, 110, 140))
GAUGE = Gauge("bench strip", "um", (SIDE,))
SURE = 5.0
SIZE = (800, 600)


def evidence(odds: list[float], burnt: tuple[int, ...] = (), unseen: tuple[int, ...] = (), softness: float = 0.01) -> Evidence:
    """Evidence with the given log odds of wet, end tabs included; the elements of `burnt` are white, those of `unseen` hidden."""
    n = len(odds)
    white, seen = np.zeros(n), np.ones(n)
    white[list(burnt)], seen[list(unseen)] = 0.9, 0.1
    return Evidence(np.array([odds, odds]), np.array([odds, odds]), seen, white, softness, 0.4, 0.2)


def pattern(text: str) -> list[float]:
    """Log odds from a picture such as "WWDDW": wet, dry, and ? for what looks neither."""
    return [{"W": SURE, "D": -SURE, "?": 0.0}[c] for c in text]


def sight(shown: Evidence, name: str = "a", side: Side | None = SIDE, at: tuple[float, float] = (100.0, 300.0)) -> Sight:
    """A photo of that name in which a row of that evidence was found; the first tip lies at `at`."""
    n = len(shown.seen)
    tips = np.array(at) + np.column_stack([np.arange(n) * 60.0, np.zeros(n)])
    row = Row(tips.astype(np.float32), (tips - [0, 60]).astype(np.float32))
    located = Located(row, 0.9, 0.9, 0.9, 0.9, 0.0, 1.0, (), 0.01)
    found = Tips(tips, np.ones((n, 3)), np.ones(n), np.ones(n), row.roots - tips, SIZE)
    pixels = np.zeros((SIZE[1], SIZE[0], 3), np.uint8)
    photo = Photo(pixels, SIZE, 1.0, hashlib.sha256(name.encode()).hexdigest(), "JPEG", None, name.encode())
    return Sight(photo, found, located, [], shown, side, "stated" if side else None, None, None)


def mirrored(shown: Evidence) -> Evidence:
    """The same, seen with the gauge turned round."""
    looks, again = shown.looks[:, ::-1], shown.again[:, ::-1]
    return Evidence(looks, again, shown.seen[::-1], shown.burnt[::-1], shown.softness, shown.level, shown.contrast)

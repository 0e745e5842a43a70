"""Paint spread over the first dry tooth, a share of its tip after another: the reading may move on by that one tooth, and by no more.

After the tests of tampered marks in OpenCV's own test suite: what is changed a little more at each step must lower the confidence step by
step, and never make the answer jump.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

import cv2
import numpy as np
import pytest

from fixtures.render.quick import Pixels, QuickPhoto
from fixtures.score.records import Reader
from lastwet.reading.outcome import Outcome, Reading
from lastwet.reading.reader import read
from tests.reading.test_laws import guessing, outcome_of, render

SHARES = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
"""Of the width of the tip."""
SEEDS = range(9)
SLACK = 0.05
"""How far the confidence may rise from one share to the next, as the tampered picture is no photo of anything."""


def spread(photo: QuickPhoto, share: float) -> Pixels:
    """Copy what the last wet tooth shows over a share of the first dry one's tip, beginning at the side of the wet one."""
    k, tips = photo.truth.last_wet or 0, np.array(photo.truth.teeth_tip_px)
    width, step = photo.truth.tooth_width_px or 0.0, tips[k] - tips[k - 1]
    along = step / np.linalg.norm(step)
    y, x = np.indices(photo.pixels.shape[:2], np.float32)
    off = np.stack([x - tips[k, 0], y - tips[k, 1]], axis=-1)
    aside, up = off @ along, np.abs(off @ np.array([-along[1], along[0]]))
    here = (aside > -0.6 * width) & (aside < (1.2 * share - 0.6) * width) & (up < width)
    moved = cv2.remap(photo.pixels, (x - step[0]).astype(np.float32), (y - step[1]).astype(np.float32), cv2.INTER_CUBIC)
    return np.where(here[..., None], moved, photo.pixels).astype(np.uint8)


def last_wet(outcome: Outcome) -> int | None:
    return outcome.last_wet if isinstance(outcome, Reading) else None


def confidence_of(k: int, outcome: Outcome) -> float:
    """How sure an outcome is of `k` wet teeth; nothing where it says another number or none."""
    told = outcome if isinstance(outcome, Reading) else outcome.best_guess
    return told.confidence if told is not None and told.last_wet == k else 0.0


def faults(photo: QuickPhoto, reader: Reader) -> list[str]:
    """List what a reader makes of the tampered photos that no reader may."""
    k = photo.truth.last_wet or 0
    outcomes = [outcome_of(photo, spread(photo, share), reader) for share in SHARES]
    said = [n for n in map(last_wet, outcomes) if n is not None]
    sure = [confidence_of(k, outcome) for outcome in outcomes]
    found = [f"answered {n}, true {k} or {k + 1}" for n in said if n not in (k, k + 1)]
    found += ["went back"] if said != sorted(said) else []
    return found + [f"surer of {k} with more paint: {a:.2f}, {b:.2f}" for a, b in pairwise(sure) if b > a + SLACK]


@lru_cache(maxsize=1)
def tried() -> list[QuickPhoto]:
    """Renders that are read right untouched, with a dry tooth to spread paint over and a wet one to take it from."""
    photos = [render(seed) for seed in SEEDS]
    inner = [photo for photo in photos if 0 < (photo.truth.last_wet or 0) < (photo.truth.n_teeth or 0)]
    return [photo for photo in inner if last_wet(outcome_of(photo, photo.pixels)) == photo.truth.last_wet]


def test_enough_renders_are_tampered_with() -> None:
    assert len(tried()) >= 4


def test_paint_on_the_next_tooth_moves_the_reading_by_that_tooth_alone() -> None:
    assert {photo.truth.seed: found for photo in tried() if (found := faults(photo, read))} == {}


def test_the_whole_tip_painted_is_no_more_read_as_before() -> None:
    """Otherwise nothing would have been spread."""
    assert [photo.truth.seed for photo in tried() if last_wet(outcome_of(photo, spread(photo, 1.0))) == photo.truth.last_wet] == []


@pytest.mark.parametrize("broken", [guessing])
def test_a_reader_that_guesses_is_found_out(broken: Reader) -> None:
    assert any(faults(photo, broken) for photo in tried())

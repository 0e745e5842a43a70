"""Laws of reading: whatever is done to a photo, the bracket stays the same or the photo is refused.

The laws are tried on quick renders that the reader answers; how many it must answer is a test of its own.
"""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.render.quick import Pixels, QuickPhoto, encode_jpeg, quick_photo
from fixtures.score.records import Reader
from lastwet.gauge import Gauge
from lastwet.reading.outcome import Code, Outcome, Reading, Refusal, Seen
from lastwet.reading.photo import Photo, load_photo
from lastwet.reading.reader import read
from tests.fixtures.readers import one_too_many

SEEDS = 40
LEAST_ANSWERED = 20
"""Of the undisturbed renders, so that the laws below are not empty."""

law = settings(max_examples=25, deadline=None, derandomize=True, print_blob=False)


@lru_cache(maxsize=SEEDS)
def render(seed: int) -> QuickPhoto:
    return quick_photo(seed)


def outcome_of(photo: QuickPhoto, pixels: Pixels, reader: Reader = read, quality: int = 92) -> Outcome:
    loaded = load_photo(encode_jpeg(np.ascontiguousarray(pixels), quality), photo.truth.image)
    return reader(loaded, photo.gauge, photo.truth.edge_id)


@lru_cache(maxsize=1)
def answered() -> dict[int, int]:
    """Seeds that the reader answers undisturbed, with what it answers."""
    outcomes = {seed: outcome_of(render(seed), render(seed).pixels) for seed in range(SEEDS)}
    return {seed: outcome.last_wet for seed, outcome in outcomes.items() if isinstance(outcome, Reading)}


def answered_photos() -> st.SearchStrategy[QuickPhoto]:
    return st.deferred(lambda: st.sampled_from(sorted(answered())).map(render))


def keeps(photo: QuickPhoto, pixels: Pixels, reader: Reader = read) -> bool:
    """Tell whether a disturbed photo is refused, or read as before."""
    outcome = outcome_of(photo, pixels, reader)
    return isinstance(outcome, Refusal) or outcome.last_wet == answered()[photo.truth.seed]


# --- disturbances


def blurred(pixels: Pixels, sigma_px: float) -> Pixels:
    return np.asarray(cv2.GaussianBlur(pixels, (0, 0), sigma_px), dtype=np.uint8)


def clipped(values: np.ndarray) -> Pixels:
    return (np.clip(values, 0, 255) + 0.5).astype(np.uint8)


def glaring(pixels: Pixels, spot: np.ndarray, radius_px: float, strength: float) -> Pixels:
    y, x = np.arange(pixels.shape[0])[:, None], np.arange(pixels.shape[1])
    light = strength * np.exp(-((y - spot[1]) ** 2 + (x - spot[0]) ** 2) / (2 * (radius_px / 2) ** 2))
    return clipped(pixels + light[..., None])


def rotated(pixels: Pixels, degrees: float) -> Pixels:
    """Turn about the middle, on a canvas that loses nothing, its corners filled with the photo's mean colour."""
    height, width = pixels.shape[:2]
    turn = cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), degrees, 1.0)
    side = int(np.hypot(height, width)) + 1
    turn[:, 2] += (side - width) / 2, (side - height) / 2
    return np.asarray(
        cv2.warpAffine(pixels, turn, (side, side), flags=cv2.INTER_CUBIC, borderValue=pixels.mean(axis=(0, 1)).tolist()), dtype=np.uint8
    )


# --- laws


def test_enough_renders_are_answered_and_none_wrong() -> None:
    assert len(answered()) >= LEAST_ANSWERED
    assert {
        seed: (last_wet, render(seed).truth.last_wet) for seed, last_wet in answered().items() if last_wet != render(seed).truth.last_wet
    } == {}


@law
@given(answered_photos(), st.floats(0.3, 6.0))
def test_blur(photo: QuickPhoto, sigma_px: float) -> None:
    assert keeps(photo, blurred(photo.pixels, sigma_px))


@law
@given(answered_photos(), st.floats(1.0, 45.0), st.integers(0, 2**16))
def test_noise(photo: QuickPhoto, sigma: float, seed: int) -> None:
    noise = np.random.default_rng(seed).normal(0, sigma, photo.pixels.shape)
    assert keeps(photo, clipped(photo.pixels + noise))


@law
@given(answered_photos(), st.floats(0.0, 1.0), st.floats(-0.6, 0.6), st.floats(0.3, 4.0), st.floats(60.0, 500.0))
def test_glare_on_the_row(photo: QuickPhoto, along: float, across: float, radius_teeth: float, strength: float) -> None:
    """A bright spot anywhere along the row, off it by up to half a tooth, from a third of a tooth to four teeth wide."""
    width = photo.truth.tooth_width_px or 0.0
    first, last = np.array(photo.truth.legs_px)
    normal = np.array([first[1] - last[1], last[0] - first[0]]) / np.hypot(*(last - first))
    spot = first + along * (last - first) + across * width * normal
    assert keeps(photo, glaring(photo.pixels, spot, radius_teeth * width, strength))


@law
@given(answered_photos(), st.floats(0.35, 2.8))
def test_gamma(photo: QuickPhoto, gamma: float) -> None:
    assert keeps(photo, clipped(255 * (photo.pixels / 255) ** gamma))


@law
@given(answered_photos(), st.floats(0.25, 1.6), st.tuples(*[st.floats(0.7, 1.3)] * 3))
def test_exposure_and_colour_cast(photo: QuickPhoto, exposure: float, cast: tuple[float, ...]) -> None:
    assert keeps(photo, clipped(photo.pixels * (exposure * np.array(cast))))


@law
@given(answered_photos(), st.tuples(*[st.floats(0.0, 0.45)] * 4))
def test_crop(photo: QuickPhoto, shares: tuple[float, float, float, float]) -> None:
    """Cut from each edge; where a tooth's tip is cut off, only a refusal will do."""
    height, width = photo.pixels.shape[:2]
    left, right, top, bottom = (
        round(shares[0] * width),
        round((1 - shares[1]) * width),
        round(shares[2] * height),
        round((1 - shares[3]) * height),
    )
    outcome = outcome_of(photo, photo.pixels[top:bottom, left:right])
    tips = np.array([*(photo.truth.legs_px or ()), *(photo.truth.teeth_tip_px or ())])
    whole = bool((tips >= (left, top)).all() and (tips < (right, bottom)).all())
    assert isinstance(outcome, Refusal) or (whole and outcome.last_wet == answered()[photo.truth.seed])


def without_end_tab(photo: QuickPhoto, end: int, axis: int) -> Pixels | None:
    """Cut a photo just past the tooth beside an end tab, along x (0) or y (1); None where the border would not pass between the two."""
    tab = np.array((photo.truth.legs_px or ())[end])[axis]
    others = np.array([*(photo.truth.teeth_tip_px or ()), (photo.truth.legs_px or ())[1 - end]])[:, axis]
    beyond = tab > others.mean()
    last = others.max() if beyond else others.min()
    if (tab - last) * (1 if beyond else -1) < (photo.truth.tooth_width_px or 0.0):
        return None
    border = round(last + 0.15 * (tab - last))
    kept = slice(None, border) if beyond else slice(border, None)
    return photo.pixels[:, kept] if axis == 0 else photo.pixels[kept]


def test_a_row_without_one_end_tab_is_refused_and_told_so() -> None:
    """By the border, or by the count: the next tooth then stands where the end tab should."""
    codes = []
    for photo in map(render, sorted(answered())[:6]):
        for pixels in (without_end_tab(photo, end, axis) for end in (0, 1) for axis in (0, 1)):
            if pixels is not None:
                outcome = outcome_of(photo, pixels)
                codes.append(None if isinstance(outcome, Reading) else outcome.reasons[0].code)
    assert len(codes) >= 10
    assert set(codes) <= {Code.ROW_CUT, Code.TOOTH_COUNT}


@law
@given(answered_photos(), st.integers(1, 3))
def test_quarter_turns(photo: QuickPhoto, quarters: int) -> None:
    assert keeps(photo, np.rot90(photo.pixels, quarters))


@law
@given(answered_photos(), st.floats(-180.0, 180.0))
def test_any_turn(photo: QuickPhoto, degrees: float) -> None:
    assert keeps(photo, rotated(photo.pixels, degrees))


@law
@given(answered_photos(), st.booleans())
def test_mirror(photo: QuickPhoto, upside_down: bool) -> None:
    """The wet run starts at the low end, seen in a mirror too."""
    assert keeps(photo, photo.pixels[::-1] if upside_down else photo.pixels[:, ::-1])


@law
@given(answered_photos(), st.floats(0.25, 1.8))
def test_size(photo: QuickPhoto, zoom: float) -> None:
    assert keeps(
        photo, np.asarray(cv2.resize(photo.pixels, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA if zoom < 1 else cv2.INTER_CUBIC))
    )


@law
@given(answered_photos(), st.integers(8, 95))
def test_jpeg_quality(photo: QuickPhoto, quality: int) -> None:
    outcome = outcome_of(photo, photo.pixels, quality=quality)
    assert isinstance(outcome, Refusal) or outcome.last_wet == answered()[photo.truth.seed]


# --- the laws can be broken


def guessing(photo: Photo, gauge: Gauge, side_id: str | None) -> Outcome:
    """A reader whose answer hangs on the brightness."""
    side = gauge.side(str(side_id))
    return Reading(side, "stated", int(photo.pixels.mean()) % (len(side.teeth) + 1), 0.9, Seen())


@pytest.mark.parametrize("broken", [guessing, one_too_many(read)], ids=["guessing", "one too many"])
def test_a_broken_reader_breaks_a_law(broken: Reader) -> None:
    assert not all(keeps(render(seed), blurred(render(seed).pixels, 0.3), broken) for seed in sorted(answered()))

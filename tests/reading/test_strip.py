"""The straightened strip against scikit-image's own warp (scikit-image 0.26, `skimage.transform.warp`)."""

from __future__ import annotations

import numpy as np
from skimage import data
from skimage.transform import AffineTransform, warp

from lastwet.reading.strip import (
    CUT_HEIGHT_PX,
    ELEMENT_PX,
    NEAR,
    NEAR_FIRST,
    ROLE_TAB,
    ROLE_TOOTH,
    STRIP_HEIGHT_PX,
    TIP_ROW,
    Row,
    cut,
    normalise,
    roles,
    sampling_grid,
)


def slanted_row(count: int, pitch: float, degrees: float, start: tuple[float, float]) -> Row:
    """A row of `count` elements, evenly spaced along a slant, shanks square to it."""
    a = np.radians(degrees)
    along, up = np.array([np.cos(a), np.sin(a)]), np.array([np.sin(a), -np.cos(a)])
    tips = np.array(start) + pitch * np.arange(count)[:, None] * along
    return Row(tips.astype(np.float32), (tips + pitch * up).astype(np.float32))


def test_each_tip_and_shank_lies_where_the_strip_says() -> None:
    row = slanted_row(7, 50, 20, (120, 130))
    grid = sampling_grid(row)
    assert grid.shape == (CUT_HEIGHT_PX, 7 * ELEMENT_PX, 2)
    for i in range(7):
        x = ELEMENT_PX * i + ELEMENT_PX // 2
        tip = grid[TIP_ROW - 1 : TIP_ROW + 1, x - 1 : x + 1].reshape(-1, 2).mean(axis=0)
        up = TIP_ROW - ELEMENT_PX // 2  # half a pitch up the shank; a whole one lies above the strip
        shank = grid[up - 1 : up + 1, x - 1 : x + 1].reshape(-1, 2).mean(axis=0)
        np.testing.assert_allclose(tip, row.tips[i], atol=0.02)
        np.testing.assert_allclose(shank, (row.tips[i] + row.roots[i]) / 2, atol=0.02)


def test_the_strip_is_what_another_library_cuts() -> None:
    picture = data.astronaut()
    row = slanted_row(6, ELEMENT_PX, 15, (150, 220))
    a = np.radians(15)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    offset = row.tips[0] - turn @ [ELEMENT_PX / 2 - 0.5, TIP_ROW - 0.5]
    back = AffineTransform(matrix=np.vstack([np.column_stack([turn, offset]), [0, 0, 1]]))
    expected = warp(picture, back, output_shape=(STRIP_HEIGHT_PX, 6 * ELEMENT_PX), order=1) * 255
    strip = cut(picture, row).astype(float)
    assert np.abs(strip[:STRIP_HEIGHT_PX] - expected).mean() < 1.0
    higher = AffineTransform(matrix=[[1, 0, 0], [0, 1 / NEAR, NEAR_FIRST + 0.5 / NEAR - 0.5], [0, 0, 1]])
    near = warp(picture, higher + back, output_shape=(CUT_HEIGHT_PX - STRIP_HEIGHT_PX, 6 * ELEMENT_PX), order=1) * 255
    assert np.abs(strip[STRIP_HEIGHT_PX:] - near).mean() < 1.0


def test_a_thin_line_along_a_tip_is_seen_plainer_from_nearer() -> None:
    """A line of a pixel in a photo twice as large is averaged away in the strip, and keeps most of its contrast below it."""
    pitch = NEAR * ELEMENT_PX
    picture = np.full((400, 1100, 3), 120, np.uint8)
    picture[202] = 240
    row = slanted_row(6, pitch, 0, (200, 203.5))
    strip = cut(picture, row)[:, ELEMENT_PX : 2 * ELEMENT_PX].max(axis=(1, 2)).astype(int) - 120
    assert strip[STRIP_HEIGHT_PX:].max() > 1.3 * strip[:STRIP_HEIGHT_PX].max()


def test_outside_the_photo_the_strip_is_black() -> None:
    picture = np.full((100, 100, 3), 200, np.uint8)
    assert cut(picture, slanted_row(5, 40, 0, (400, 400))).max() == 0


def test_roles_mark_tabs_and_teeth() -> None:
    each = roles(6)[0, ELEMENT_PX // 2 :: ELEMENT_PX]
    assert each.tolist() == [ROLE_TAB, *[ROLE_TOOTH] * 4, ROLE_TAB]


def test_exposure_is_taken_out() -> None:
    picture = data.astronaut()[100:180, 100:300]
    dim = (picture * 0.5).astype(np.uint8)
    assert np.abs(normalise(picture) - normalise(dim)).mean() < 0.15


def test_what_is_shown_from_nearer_has_no_say_in_the_exposure() -> None:
    strip = data.astronaut()[100 : 100 + CUT_HEIGHT_PX, 100:300]
    far = normalise(strip, STRIP_HEIGHT_PX)[:STRIP_HEIGHT_PX]
    below = strip.copy()
    below[STRIP_HEIGHT_PX:] = 255
    np.testing.assert_array_equal(far, normalise(below, STRIP_HEIGHT_PX)[:STRIP_HEIGHT_PX])
    np.testing.assert_array_equal(far, normalise(strip[:STRIP_HEIGHT_PX]))

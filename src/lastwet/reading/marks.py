"""Where the marks of the teeth stand in the picture of an outcome: off the row, on its open side, so that no mark touches a tooth.

Points are (x, y), y down. Three frames occur: the upright full-size photo (as in `outcome`), the pixels of the `Photo`,
and the picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, floor

import numpy as np
import numpy.typing as npt

from lastwet.reading.lettering import text_size
from lastwet.reading.outcome import EndTab, Outcome, Reading, Tooth
from lastwet.reading.photo import Photo

Pixels = npt.NDArray[np.uint8]
Vectors = npt.NDArray[np.float64]
Box = tuple[float, float, float, float]

WIDTH_PX = 1080
"""Width of the picture: the usual width of a phone's screen."""
MAX_HEIGHT_PX = 1300
"""Greatest height of the photo part, so that the caption below still fits a phone's screen."""
MAX_ZOOM = 6.0
"""Beyond this a small row shows only the interpolation."""
SURE = 0.9
"""Marked WET from this probability, DRY below one minus it; for the eye only, the decision is taken elsewhere."""
MARGIN_PX = 36
"""Room left at the edges of the picture."""
SHAPE_PX, PADDING_PX = 32, 7
"""Size of a label's shape, and room about what it holds."""

_SIDE_PAD_PX, _OPEN_PAD_PX, _BODY_PAD_PX = 70, 360, 190
_STAND_OFF_PX, _STEP_PX, _CLEAR_PX = 44, 6, 6
_WORD_PX, _VALUE_PX = 27, 72
_TYPE_SCALES = (1.0, 0.85, 0.7)


@dataclass(frozen=True, slots=True)
class Plate:
    """A label before it has a place: where it points to and what it says."""

    tip: tuple[float, float]
    """Middle of the tooth's tip in the picture."""
    word: str
    """WET, DRY or UNSURE."""
    heading: str = ""
    """A line above the word: TAB, or the value of the deciding tooth."""
    large: bool = False
    """The deciding tooth: its value in large type."""
    type_scale: float = 1.0
    """Shrinks the label where teeth stand close."""


@dataclass(frozen=True, slots=True)
class PlacedPlate:
    """A label in the picture."""

    plate: Plate
    box: Box
    """Left, top, right, bottom."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Where the photo and the labels stand in the picture."""

    crop: tuple[int, int, int, int]
    """Part of `Photo.pixels` shown, edges in pixels; may reach beyond them."""
    size: tuple[int, int]
    """Width and height of the photo part of the picture."""
    plates: tuple[PlacedPlate, ...] = ()


def lay_out(photo: Photo, outcome: Outcome) -> Layout:
    """Choose the crop and the zoom, and place a label for each tooth and end tab that was seen."""
    marks = _marks(outcome)
    if len(marks) < 2:
        return _whole_photo(photo)
    tips = (np.array([mark.tip for mark in marks]) + 0.5) * photo.scale
    outward = _open_side(photo.pixels, tips)
    zoom = _zoom(tips, outward)
    plates = [Plate((tip[0] * zoom, tip[1] * zoom), mark.word, mark.heading, mark.large) for mark, tip in zip(marks, tips, strict=True)]
    placed = _place(plates, outward)
    return _cropped(placed, tips * zoom, outward, zoom)


def _marks(outcome: Outcome) -> list[Plate]:
    """Name what was seen along the row, from the low end; tips still in the full-size photo."""
    seen = outcome.seen
    teeth = [_tooth_mark(tooth, position, outcome) for position, tooth in enumerate(seen.teeth)]
    return [_tab_mark(tab) for tab in seen.end_tabs[:1]] + teeth + [_tab_mark(tab) for tab in seen.end_tabs[1:]]


def _tooth_mark(tooth: Tooth, position: int, outcome: Outcome) -> Plate:
    # with no tooth wet, or every one, nothing tells at which end the row begins, so no tip gets the value
    deciding = isinstance(outcome, Reading) and position == outcome.last_wet - 1 < len(outcome.side.teeth) - 1
    return Plate(tooth.tip_px, _word(tooth.wet_probability), f"{tooth.value:g}" if deciding else "", deciding)


def _tab_mark(tab: EndTab) -> Plate:
    return Plate(tab.tip_px, _word(tab.wet_probability), "TAB")


def _word(wet_probability: float) -> str:
    return "WET" if wet_probability >= SURE else "DRY" if wet_probability <= 1 - SURE else "UNSURE"


def _whole_photo(photo: Photo) -> Layout:
    height, width = photo.pixels.shape[:2]
    zoom = min(WIDTH_PX / width, MAX_HEIGHT_PX / height)
    return Layout((0, 0, width, height), (max(1, round(width * zoom)), max(1, round(height * zoom))))


def _open_side(pixels: Pixels, tips: Vectors) -> Vectors:
    """Find the unit normal of the row that points away from the gauge's body.

    Inside the row, tooth and notch alternate at the teeth's pitch; beyond the tips the ground runs on across both.
    A wrong answer moves the labels to the other side and does no more harm.
    """
    along = (tips[-1] - tips[0]) / max(float(np.hypot(*(tips[-1] - tips[0]))), 1e-9)
    normal = np.array([-along[1], along[0]])
    pitch = float(np.linalg.norm(np.diff(tips, axis=0), axis=1).mean())
    notches = (tips[:-1] + tips[1:]) / 2
    contrast = [
        np.abs(_samples(pixels, tips[:-1], step) - _samples(pixels, notches, step)).mean()
        for step in (sign * normal * pitch for sign in (1.0, -1.0))
    ]
    return -normal if contrast[0] > contrast[1] else normal


def _samples(pixels: Pixels, points: Vectors, step: Vectors) -> Vectors:
    """Mean colour just off each point, between a quarter and half of `step`; shape (N, 3)."""
    reach = np.linspace(0.25, 0.5, 6)[:, None, None]
    x, y = np.moveaxis((points + reach * step).astype(int), -1, 0)
    colours = pixels[y.clip(0, pixels.shape[0] - 1), x.clip(0, pixels.shape[1] - 1)]
    return np.asarray(colours.mean(axis=0), dtype=np.float64)


def _zoom(tips: Vectors, outward: Vectors) -> float:
    """Greatest zoom at which the row, its labels and the stamped numbers fit, showing a whole number of the photo's pixels across."""
    pads = np.abs(outward) * (_OPEN_PAD_PX + _BODY_PAD_PX) + 2 * _SIDE_PAD_PX
    room = np.array([WIDTH_PX, MAX_HEIGHT_PX]) - pads
    zoom = min(MAX_ZOOM, float((room / np.maximum(np.ptp(tips, axis=0), 1e-9)).min()))
    return WIDTH_PX / ceil(WIDTH_PX / zoom)


def _place(plates: Sequence[Plate], outward: Vectors) -> list[PlacedPlate]:
    """Place all labels in the largest type that leaves every leader clear; at worst leaders pass below labels, or a tiny row has none."""
    for type_scale in _TYPE_SCALES:
        sized = [replace(plate, type_scale=type_scale) for plate in plates]
        placed = _place_at_size(sized, outward)
        if placed:
            return placed
    return _place_at_size(sized, outward, over_leaders=True) or []


def _place_at_size(plates: Sequence[Plate], outward: Vectors, *, over_leaders: bool = False) -> list[PlacedPlate] | None:
    """Place each label as near its tip as it can stand, the large one last, so that it has the longest leader; None without room."""
    placed: list[PlacedPlate] = []
    for plate in sorted(plates, key=lambda plate: plate.large):
        candidates = (_stand_off(plate, outward, distance) for distance in range(_STAND_OFF_PX, _OPEN_PAD_PX, _STEP_PX))
        clear = next((candidate for candidate in candidates if _is_clear(candidate, placed, plates, over_leaders)), None)
        if clear is None:
            return None
        placed.append(clear)
    return placed


def _stand_off(plate: Plate, outward: Vectors, distance: float) -> PlacedPlate:
    """Put the label's box `distance` beyond the tip, centred on the leader's line."""
    width, height = _plate_size(plate)
    reach = distance + (abs(outward[0]) * width + abs(outward[1]) * height) / 2
    x, y = np.array(plate.tip) + outward * reach
    return PlacedPlate(plate, (x - width / 2, y - height / 2, x + width / 2, y + height / 2))


def _is_clear(candidate: PlacedPlate, placed: Sequence[PlacedPlate], plates: Sequence[Plate], over_leaders: bool) -> bool:
    return not (
        any(_meets_box(candidate.box, other.box) for other in placed)
        or (not over_leaders and any(_meets_leader(candidate, other) or _meets_leader(other, candidate) for other in placed))
        or any(_holds(candidate.box, plate.tip) for plate in plates)
    )


def _meets_box(box: Box, other: Box) -> bool:
    gap = _CLEAR_PX
    return box[0] < other[2] + gap and other[0] < box[2] + gap and box[1] < other[3] + gap and other[1] < box[3] + gap


def _meets_leader(box_of: PlacedPlate, leader_of: PlacedPlate) -> bool:
    return any(_holds(box_of.box, (x, y)) for x, y in np.linspace(*leader(leader_of), 40))


def _holds(box: Box, point: tuple[float, float]) -> bool:
    gap = _CLEAR_PX
    return box[0] - gap < point[0] < box[2] + gap and box[1] - gap < point[1] < box[3] + gap


def leader(placed: PlacedPlate) -> tuple[Vectors, Vectors]:
    """Both ends of the line from just off the tip to the middle of the label."""
    tip = np.array(placed.plate.tip)
    middle = np.array([placed.box[0] + placed.box[2], placed.box[1] + placed.box[3]]) / 2
    towards = middle - tip
    return tip + towards / np.hypot(*towards) * 10, middle


def _cropped(placed: Sequence[PlacedPlate], tips: Vectors, outward: Vectors, zoom: float) -> Layout:
    """Cut the picture around row and labels: full width, as high as they need, at whole pixels of the photo."""
    boxes = np.array([item.box for item in placed])
    points = np.vstack([tips, tips - outward * _BODY_PAD_PX, boxes[:, :2], boxes[:, 2:]])
    low, high = points.min(axis=0) - MARGIN_PX, points.max(axis=0) + MARGIN_PX
    left, top = floor((low[0] + high[0] - WIDTH_PX) / 2 / zoom), floor(low[1] / zoom)
    right, bottom = left + round(WIDTH_PX / zoom), ceil(high[1] / zoom)
    size = (WIDTH_PX, round((bottom - top) * zoom))
    return Layout((left, top, right, bottom), size, tuple(_shifted(item, left * zoom, top * zoom) for item in placed))


def _shifted(placed: PlacedPlate, x: float, y: float) -> PlacedPlate:
    left, top, right, bottom = placed.box
    tip = (placed.plate.tip[0] - x, placed.plate.tip[1] - y)
    return PlacedPlate(replace(placed.plate, tip=tip), (left - x, top - y, right - x, bottom - y))


def text_of(plate: Plate) -> list[tuple[str, int]]:
    """Text of a label from top to bottom, with its size."""
    word_px, value_px = round(_WORD_PX * plate.type_scale), round(_VALUE_PX * plate.type_scale)
    heading = [(plate.heading, value_px if plate.large else word_px)] if plate.heading else []
    return [*heading, (plate.word, word_px)]


def _plate_size(plate: Plate) -> tuple[float, float]:
    sizes = [text_size(text, size_px) for text, size_px in text_of(plate)]
    shape = SHAPE_PX * plate.type_scale
    return max(shape, *(width for width, _ in sizes)) + 2 * PADDING_PX, shape + sum(height for _, height in sizes) + 3 * PADDING_PX

"""The picture that shows an outcome: the row as photographed, each tooth marked, the bracket below in large type.

Wet, dry and unsure differ by word and by shape as well as by colour, and no mark touches a tooth: the marks stand off
the row on its open side, so that the tips and the numbers stamped on the gauge stay in sight.

Points are (x, y), y down. Three frames occur: the upright full-size photo (as in `outcome`), the pixels of the `Photo`,
and the picture drawn here. The built-in font of Pillow has no micro sign and no dash, hence "um" and "to".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil, floor
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw, ImageFont

from lastwet.errors import NotWritten
from lastwet.gauge import Gauge
from lastwet.reading.outcome import EndTab, Outcome, Reading, Refusal, Tooth
from lastwet.reading.photo import Photo
from lastwet.units import Unit, from_um, to_um

Pixels = npt.NDArray[np.uint8]
Vectors = npt.NDArray[np.float64]
Box = tuple[float, float, float, float]
Font = ImageFont.FreeTypeFont | ImageFont.ImageFont

WIDTH_PX = 1080
"""Width of the picture: the usual width of a phone's screen."""
MAX_HEIGHT_PX = 1300
"""Greatest height of the photo part, so that the caption below still fits a phone's screen."""
MAX_ZOOM = 6.0
"""Beyond this a small row shows only the interpolation."""
SURE = 0.9
"""Marked WET from this probability, DRY below one minus it; for the eye only, the decision is taken elsewhere."""

_SIDE_PAD_PX, _OPEN_PAD_PX, _BODY_PAD_PX = 70, 360, 190
_STAND_OFF_PX, _STEP_PX, _CLEAR_PX = 44, 6, 6
_MARGIN_PX = 36
_TYPE_SCALES = (1.0, 0.85, 0.7)
_SHAPE_PX, _WORD_PX, _VALUE_PX, _PADDING_PX = 32, 27, 72, 7
_BRACKET_PX, _BODY_PX, _SMALL_PX = 88, 40, 32

# Okabe-Ito tones that reach 8:1 on the dark ground used here (WCAG 2.2, 1.4.3 asks 4.5:1).
_GROUND, _TEXT, _QUIET = "#111111", "#ffffff", "#c8c8c8"
_TONES = {"WET": "#56B4E9", "DRY": "#E69F00", "UNSURE": "#ffffff"}


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


def draw_overlay(photo: Photo, outcome: Outcome, gauge: Gauge) -> Pixels:
    """Draw the outcome over the photo.

    Parameters
    ----------
    photo : Photo
        The upright photo that was read.
    outcome : Reading or Refusal
        What the reader said of it.
    gauge : Gauge
        Supplies the name in the caption.

    Returns
    -------
    ndarray, shape (M, 1080, 3), uint8
        RGB; the photo cropped around the row, upright as taken, or the whole photo where no row was seen.
    """
    layout = lay_out(photo, outcome)
    photo_part = Image.fromarray(photo.pixels).crop(layout.crop).resize(layout.size, Image.Resampling.LANCZOS)
    caption = _caption(outcome, gauge)
    picture = Image.new("RGB", (WIDTH_PX, layout.size[1] + caption.height), _GROUND)
    picture.paste(photo_part, ((WIDTH_PX - layout.size[0]) // 2, 0))
    picture.paste(caption, (0, layout.size[1]))
    draw = ImageDraw.Draw(picture)
    for placed in layout.plates:
        _draw_leader(draw, placed)
    for placed in layout.plates:
        _draw_plate(draw, placed)
    return np.asarray(picture, dtype=np.uint8)


def save_overlay(path: Path, array: Pixels) -> None:
    """Write the picture as JPEG or PNG, by suffix, without metadata; raises `NotWritten`."""
    try:
        Image.fromarray(array).save(path, quality=88)
    except ValueError:
        raise NotWritten(f"{path.name} is not the name of a picture", "end it in .jpg or .png") from None
    except OSError as error:
        raise NotWritten(f"{path} could not be written ({error.strerror or error})", "check the folder and the free space") from error


# --- layout


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
    return any(_holds(box_of.box, (x, y)) for x, y in np.linspace(*_leader(leader_of), 40))


def _holds(box: Box, point: tuple[float, float]) -> bool:
    gap = _CLEAR_PX
    return box[0] - gap < point[0] < box[2] + gap and box[1] - gap < point[1] < box[3] + gap


def _leader(placed: PlacedPlate) -> tuple[Vectors, Vectors]:
    """Both ends of the line from just off the tip to the middle of the label."""
    tip = np.array(placed.plate.tip)
    middle = np.array([placed.box[0] + placed.box[2], placed.box[1] + placed.box[3]]) / 2
    towards = middle - tip
    return tip + towards / np.hypot(*towards) * 10, middle


def _cropped(placed: Sequence[PlacedPlate], tips: Vectors, outward: Vectors, zoom: float) -> Layout:
    """Cut the picture around row and labels: full width, as high as they need, at whole pixels of the photo."""
    boxes = np.array([item.box for item in placed])
    points = np.vstack([tips, tips - outward * _BODY_PAD_PX, boxes[:, :2], boxes[:, 2:]])
    low, high = points.min(axis=0) - _MARGIN_PX, points.max(axis=0) + _MARGIN_PX
    left, top = floor((low[0] + high[0] - WIDTH_PX) / 2 / zoom), floor(low[1] / zoom)
    right, bottom = left + round(WIDTH_PX / zoom), ceil(high[1] / zoom)
    size = (WIDTH_PX, round((bottom - top) * zoom))
    return Layout((left, top, right, bottom), size, tuple(_shifted(item, left * zoom, top * zoom) for item in placed))


def _shifted(placed: PlacedPlate, x: float, y: float) -> PlacedPlate:
    left, top, right, bottom = placed.box
    tip = (placed.plate.tip[0] - x, placed.plate.tip[1] - y)
    return PlacedPlate(replace(placed.plate, tip=tip), (left - x, top - y, right - x, bottom - y))


# --- drawing


@lru_cache(maxsize=16)
def _font(size_px: int) -> Font:
    return ImageFont.load_default(size_px)


def _text_size(text: str, size_px: int) -> tuple[float, float]:
    """Width as printed, and the line's height (the same for every text of one size)."""
    return _font(size_px).getbbox(text, stroke_width=1)[2], size_px * 0.95


def _write(draw: ImageDraw.ImageDraw, middle: tuple[float, float], text: str, size_px: int, tone: str) -> None:
    """Write a line centred on `middle`, thickened, since thin type drowns in a bright booth."""
    draw.text(middle, text, tone, _font(size_px), anchor="mm", stroke_width=1, stroke_fill=tone)


def _rows(plate: Plate) -> list[tuple[str, int]]:
    """Text of a label from top to bottom, with its size."""
    word_px, value_px = round(_WORD_PX * plate.type_scale), round(_VALUE_PX * plate.type_scale)
    heading = [(plate.heading, value_px if plate.large else word_px)] if plate.heading else []
    return [*heading, (plate.word, word_px)]


def _plate_size(plate: Plate) -> tuple[float, float]:
    sizes = [_text_size(text, size_px) for text, size_px in _rows(plate)]
    shape = _SHAPE_PX * plate.type_scale
    return max(shape, *(width for width, _ in sizes)) + 2 * _PADDING_PX, shape + sum(height for _, height in sizes) + 3 * _PADDING_PX


def _draw_leader(draw: ImageDraw.ImageDraw, placed: PlacedPlate) -> None:
    start, end = (tuple(point) for point in _leader(placed))
    width = 5 if placed.plate.large else 3
    draw.line((start, end), _GROUND, width + 4)
    draw.line((start, end), _TONES[placed.plate.word], width)


def _draw_plate(draw: ImageDraw.ImageDraw, placed: PlacedPlate) -> None:
    left, top, right, bottom = placed.box
    tone = _TONES[placed.plate.word]
    draw.rounded_rectangle(placed.box, 8, _GROUND, tone, 4 if placed.plate.large else 2)
    middle, shape = (left + right) / 2, _SHAPE_PX * placed.plate.type_scale
    _draw_shape(draw, (middle, top + _PADDING_PX + shape / 2), shape / 2, placed.plate.word)
    y = top + 2 * _PADDING_PX + shape
    for text, size_px in _rows(placed.plate):
        height = _text_size(text, size_px)[1]
        _write(draw, (middle, y + height / 2), text, size_px, _TEXT)
        y += height


def _draw_shape(draw: ImageDraw.ImageDraw, middle: tuple[float, float], half: float, word: str) -> None:
    """A filled drop for wet, a hollow ring for dry, a question mark for unsure."""
    (x, y), tone = middle, _TONES[word]
    if word == "WET":
        draw.ellipse((x - half * 0.7, y - half * 0.4, x + half * 0.7, y + half), tone)
        draw.polygon(((x, y - half), (x - half * 0.64, y + half * 0.05), (x + half * 0.64, y + half * 0.05)), tone)
    elif word == "DRY":
        draw.ellipse((x - half * 0.85, y - half * 0.85, x + half * 0.85, y + half * 0.85), None, tone, round(half * 0.3))
    else:
        _write(draw, middle, "?", round(2 * half), tone)


# --- caption


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the caption."""

    text: str
    size_px: int
    tone: str = _TEXT
    beside: str = ""
    """Printed smaller after the text, on the same line."""


def caption_lines(outcome: Outcome, gauge: Gauge) -> tuple[Line, ...]:
    """Word the caption: the bracket in both units, or why the photo was not read and what to do."""
    lines = _reading_lines(outcome) if isinstance(outcome, Reading) else _refusal_lines(outcome)
    side = f", side {outcome.side.id}" if outcome.side else ""
    return (*lines, Line(f"{gauge.name}{side}", _SMALL_PX, _QUIET))


def _reading_lines(reading: Reading) -> list[Line]:
    other: Unit = "um" if reading.side.unit == "mil" else "mil"
    return [
        Line(bracket_text(reading, reading.side.unit), _BRACKET_PX, beside=bracket_text(reading, other)),
        Line(f"Wet film. {_deciding_text(reading)}", _BODY_PX),
    ]


def bracket_text(reading: Reading, unit: Unit) -> str:
    """Print the wet bracket: stamped values as they stand in the side's own unit, converted ones rounded."""
    side, last_wet = reading.side, reading.last_wet
    low, high = (None if value is None else _number(value, side.unit, unit) for value in _ends(side.teeth, last_wet))
    if high is None:
        return f"{low} {unit} or more"
    return f"{low} to {high} {unit}" if low else f"below {high} {unit}"


def _ends(teeth: tuple[float, ...], last_wet: int) -> tuple[float | None, float | None]:
    ends = (None, *teeth, None)
    return ends[last_wet], ends[last_wet + 1]


def _number(value: float, stamped: Unit, unit: Unit) -> str:
    if stamped == unit:
        return f"{value:g}"
    converted = from_um(to_um(value, stamped), unit)
    return f"{converted:.0f}" if converted >= 100 else f"{converted:.1f}" if converted >= 10 or unit == "um" else f"{converted:.2f}"


def _deciding_text(reading: Reading) -> str:
    low, high = _ends(reading.side.teeth, reading.last_wet)
    if low is None:
        return f"No tooth is wet. Compare {high:g} with the lowest number stamped on this side."
    if high is None:
        return f"Every tooth is wet: turn to the next side up. Compare {low:g} with the highest number stamped on this side."
    return f"Last wet tooth {low:g}, to be compared with the number stamped there."


def _refusal_lines(refusal: Refusal) -> list[Line]:
    reasons = [line for reason in refusal.reasons for line in (Line(reason.message, _BODY_PX), Line(reason.cure, _BODY_PX, _TONES["DRY"]))]
    return [Line("Not read", _BRACKET_PX), *reasons]


def _caption(outcome: Outcome, gauge: Gauge) -> Image.Image:
    """Draw the caption band, wrapped to the picture's width."""
    lines = [replace(line, text=part) for line in caption_lines(outcome, gauge) for part in _wrapped(line)]
    heights = [round(line.size_px * 1.3) for line in lines]
    band = Image.new("RGB", (WIDTH_PX, sum(heights) + 2 * _MARGIN_PX), _GROUND)
    draw, y = ImageDraw.Draw(band), float(_MARGIN_PX)
    for line, height in zip(lines, heights, strict=True):
        y += height
        beside_x = 1.4 * _MARGIN_PX + _text_size(line.text, line.size_px)[0]
        for x, text, size_px, tone in ((_MARGIN_PX, line.text, line.size_px, line.tone), (beside_x, line.beside, _BODY_PX, _QUIET)):
            draw.text((x, y - height / 4), text, tone, _font(size_px), "ls", stroke_width=1, stroke_fill=tone)
    return band


def _wrapped(line: Line) -> list[str]:
    """Break a line between words so that each part fits the caption."""
    parts: list[str] = []
    for word in line.text.split():
        longer = f"{parts[-1]} {word}" if parts else word
        if parts and _text_size(longer, line.size_px)[0] <= WIDTH_PX - 2 * _MARGIN_PX:
            parts[-1] = longer
        else:
            parts.append(word)
    return parts

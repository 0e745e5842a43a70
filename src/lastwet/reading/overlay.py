"""The picture that shows an outcome: the row as photographed, each tooth marked, the bracket below in large type.

Wet, dry and unsure differ by word and by shape as well as by colour.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from lastwet.errors import NotWritten
from lastwet.gauge import Gauge
from lastwet.reading.caption import Line, Weight, caption_lines
from lastwet.reading.lettering import text_size, write, write_from
from lastwet.reading.marks import MARGIN_PX, PADDING_PX, SHAPE_PX, WIDTH_PX, Pixels, PlacedPlate, lay_out, leader, text_of
from lastwet.reading.outcome import Outcome
from lastwet.reading.photo import Photo

# Okabe-Ito tones that reach 8:1 on the dark ground used here (WCAG 2.2, 1.4.3 asks 4.5:1).
_GROUND, _TEXT, _QUIET = "#111111", "#ffffff", "#c8c8c8"
_TONES = {"WET": "#56B4E9", "DRY": "#E69F00", "UNSURE": "#ffffff"}
_TYPE: dict[Weight, tuple[int, str]] = {"first": (88, _TEXT), "body": (40, _TEXT), "cure": (40, _TONES["DRY"]), "last": (32, _QUIET)}
"""Size of the type, px, and tone of each line of the caption."""
_BESIDE_PX = 40


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


def _draw_leader(draw: ImageDraw.ImageDraw, placed: PlacedPlate) -> None:
    start, end = (tuple(point) for point in leader(placed))
    width = 5 if placed.plate.large else 3
    draw.line((start, end), _GROUND, width + 4)
    draw.line((start, end), _TONES[placed.plate.word], width)


def _draw_plate(draw: ImageDraw.ImageDraw, placed: PlacedPlate) -> None:
    left, top, right, bottom = placed.box
    tone = _TONES[placed.plate.word]
    draw.rounded_rectangle(placed.box, 8, _GROUND, tone, 4 if placed.plate.large else 2)
    middle, shape = (left + right) / 2, SHAPE_PX * placed.plate.type_scale
    _draw_shape(draw, (middle, top + PADDING_PX + shape / 2), shape / 2, placed.plate.word)
    y = top + 2 * PADDING_PX + shape
    for text, size_px in text_of(placed.plate):
        height = text_size(text, size_px)[1]
        write(draw, (middle, y + height / 2), text, size_px, _TEXT)
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
        write(draw, middle, "?", round(2 * half), tone)


def _caption(outcome: Outcome, gauge: Gauge) -> Image.Image:
    """Draw the caption band, wrapped to the picture's width."""
    lines = [replace(line, text=part) for line in caption_lines(outcome, gauge) for part in _wrapped(line)]
    heights = [round(_TYPE[line.weight][0] * 1.3) for line in lines]
    band = Image.new("RGB", (WIDTH_PX, sum(heights) + 2 * MARGIN_PX), _GROUND)
    draw, y = ImageDraw.Draw(band), float(MARGIN_PX)
    for line, height in zip(lines, heights, strict=True):
        y += height
        size_px, tone = _TYPE[line.weight]
        write_from(draw, (MARGIN_PX, y - height / 4), line.text, size_px, tone)
        beside_x = 1.4 * MARGIN_PX + text_size(line.text, size_px)[0]
        write_from(draw, (beside_x, y - height / 4), line.beside, _BESIDE_PX, _QUIET)
    return band


def _wrapped(line: Line) -> list[str]:
    """Break a line between words so that each part fits the caption."""
    parts: list[str] = []
    for word in line.text.split():
        longer = f"{parts[-1]} {word}" if parts else word
        if parts and text_size(longer, _TYPE[line.weight][0])[0] <= WIDTH_PX - 2 * MARGIN_PX:
            parts[-1] = longer
        else:
            parts.append(word)
    return parts

"""Letters of the pictures, in the built-in font of Pillow, which has no micro sign and no dash, hence "um" and "to"."""

from __future__ import annotations

from functools import lru_cache

from PIL import ImageDraw, ImageFont

Font = ImageFont.FreeTypeFont | ImageFont.ImageFont


@lru_cache(maxsize=16)
def _font(size_px: int) -> Font:
    return ImageFont.load_default(size_px)


def text_size(text: str, size_px: int) -> tuple[float, float]:
    """Width as printed, and the line's height (the same for every text of one size)."""
    return _font(size_px).getbbox(text, stroke_width=1)[2], size_px * 0.95


def write(draw: ImageDraw.ImageDraw, middle: tuple[float, float], text: str, size_px: int, tone: str) -> None:
    """Write a line centred on `middle`, thickened, since thin type drowns in a bright booth."""
    draw.text(middle, text, tone, _font(size_px), anchor="mm", stroke_width=1, stroke_fill=tone)


def write_from(draw: ImageDraw.ImageDraw, start: tuple[float, float], text: str, size_px: int, tone: str) -> None:
    """Write a line that begins at `start`, on its base line, as thick."""
    draw.text(start, text, tone, _font(size_px), "ls", stroke_width=1, stroke_fill=tone)

"""Pictures of logged readings: what was seen then, drawn over the photo as received, small enough for a report."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

from lastwet.errors import LastwetError
from lastwet.logbook.entry import Entry
from lastwet.logbook.store import Logbook
from lastwet.logbook.view import Standing
from lastwet.reading.photo import load_photo
from lastwet.service.replay import gauge_of, outcome_of

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

WIDTH_PX = 720
"""Of the pictures in a report: 230 dots an inch in a column of 80 mm."""
MANY, FEW_PX = 60, 480
"""Beyond so many readings the pictures get this width, so that the file can still be sent."""
QUALITY = 72
"""Of their JPEG."""
JOBS = 2
"""Photos drawn at the same time; each takes up to 200 MB."""
_CHANGED, _MISSING = "the stored photo is not what was written", "the photo is missing in the log"


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture, or why there is none."""

    jpeg: bytes | None = None
    fault: str | None = None
    """Why there is none."""
    broken: bool = False
    """Whether the photo is missing or is not what was written."""


def pictures(logbook: Logbook, chosen: Sequence[Standing]) -> list[Picture]:
    """Return the picture of each reading; a photo that is missing or damaged costs its own picture alone."""
    width = WIDTH_PX if len(chosen) <= MANY else FEW_PX
    with ThreadPoolExecutor(JOBS) as pool:
        return list(pool.map(lambda standing: _picture(logbook, standing, width), chosen))


def picture_of(logbook: Logbook, entry: Entry) -> Picture:
    """Return the picture that was attached, upright, downscaled and without its metadata."""
    return _shown(logbook, entry, lambda original: _jpeg(load_photo(original, "it").pixels, FEW_PX))


def _picture(logbook: Logbook, standing: Standing, width: int) -> Picture:
    """Draw what was seen then over the photo as received; what is drawn has none of the photo's metadata."""
    return _shown(logbook, standing.entry, lambda original: _drawn(original, standing, width))


def _shown(logbook: Logbook, entry: Entry, draw: Callable[[bytes], bytes | None]) -> Picture:
    sha256 = entry.photo_sha256
    if sha256 is None:
        return Picture(fault="no photo is kept with this entry")
    try:
        if any(logbook.photos.digest(kept) != kept for kept in entry.photos):
            return Picture(fault="a stored photo is not what was written" if entry.more_photos else _CHANGED, broken=True)
        return Picture(draw(logbook.photos.path(sha256).read_bytes()))
    except OSError:
        return Picture(fault="a photo is missing in the log" if entry.more_photos else _MISSING, broken=True)
    except LastwetError as error:
        return Picture(fault=error.message)


def _drawn(original: bytes, standing: Standing, width: int) -> bytes | None:
    from lastwet.reading.overlay import draw_overlay

    gauge = gauge_of(standing.entry.body["gauge"])
    outcome = outcome_of(standing.reading or {}, gauge)
    if outcome is None:
        return None
    return _jpeg(draw_overlay(load_photo(original, "photo"), outcome, gauge), width)


def _jpeg(pixels: npt.NDArray[np.uint8], width: int) -> bytes:
    """Encode pixels at that width, or at their own where it is less."""
    from PIL import Image

    picture = Image.fromarray(pixels)
    width = min(width, picture.width)
    small = picture.resize((width, round(picture.height * width / picture.width)), Image.Resampling.LANCZOS)
    file = BytesIO()
    small.save(file, "JPEG", quality=QUALITY, optimize=True)
    return file.getvalue()

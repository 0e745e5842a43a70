"""A reader for the tests of everything around the reader: what it says is painted into the photo by `photo_bytes`.

The mean red of the photo is ten times the number of wet teeth, or ten times `GLARE`, which is refused, or `FAULT`, where the reader fails.
"""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

import numpy as np
from PIL import Image

from lastwet.gauge import Gauge
from lastwet.reading.outcome import Code, EndTab, Guess, Outcome, Reading, Reason, Refusal, Seen, Together, Told, Tooth
from lastwet.reading.photo import Photo

SETTINGS_ID = "fake"
GLARE, FAULT = 25, 23


def photo_bytes(last_wet: int, kind: str = "JPEG", size: tuple[int, int] = (640, 480)) -> bytes:
    """Paint a photo that the fake reader reads as `last_wet`, or refuses for `GLARE`."""
    file = BytesIO()
    Image.new("RGB", size, (10 * last_wet, 90, 90)).save(file, kind)
    return file.getvalue()


def read(photo: Photo, gauge: Gauge, side_id: str | None, clean: Photo | None = None) -> Outcome:
    """Say what is painted; a photo of the clean gauge on which a tooth is painted wet shows that tooth dirty."""
    painted = round(float(photo.pixels[..., 0].mean()) / 10)
    if painted == FAULT:
        raise ValueError("a fault of the program")
    side = gauge.side(side_id) if side_id else gauge.sides[0]
    source = "stated" if side_id else "count"
    points = [(float(x), 100.0) for x in np.linspace(50, 600, len(side.teeth) + 2)]
    if painted == GLARE:
        reason = Reason(Code.GLARE, "A tooth lies under glare.", "Turn the gauge away from the lamp.")
        return Refusal((reason,), side, source, Guess(3, 0.6), Seen(quality={"tooth_width_px": 31.5, "sharpness": float("nan")}))
    if clean is not None and (stained := round(float(clean.pixels[..., 0].mean()) / 10)):
        reason = Reason(Code.DIRTY, f"Before the dip, tooth {side.teeth[stained - 1]:g} looked wet already.", "Clean it.")
        return Refusal((reason,), side, source, Guess(painted, 0.9))
    wet = [0.99 if position < painted else 0.01 for position in range(len(side.teeth))]
    teeth = tuple(map(Tooth, side.teeth, wet, points[1:-1]))
    return Reading(side, source, min(painted, len(teeth)), 0.98, Seen(teeth, (EndTab(0.99, points[0]), EndTab(0.99, points[-1]))))


def read_together(photos: Sequence[Photo], gauge: Gauge, side_id: str | None, clean: Photo | None = None) -> Together:
    """Say what is painted on the photos that are read: the last of them is the best; photos that differ disagree."""
    alone = [read(photo, gauge, side_id) for photo in photos]
    used = [outcome for outcome in alone if isinstance(outcome, Reading)]
    each = tuple(Told(outcome, isinstance(outcome, Reading)) for outcome in alone)
    if len({outcome.last_wet for outcome in used}) > 1:
        reason = Reason(Code.PHOTOS_DISAGREE, "The photos do not tell the same.", "Photograph one dip only.")
        return Together(Refusal((reason,), used[0].side, used[0].side_source), 0, each)
    best = max((place for place, outcome in enumerate(alone) if isinstance(outcome, Reading)), default=0)
    return Together(read(photos[best], gauge, side_id, clean), best, each)

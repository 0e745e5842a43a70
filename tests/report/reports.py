"""Reports made up for tests: of any number of readings, with and without pictures, with odd names."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from io import BytesIO

from PIL import Image

from lastwet.report.model import Amendment, Attachment, Details, Estimate, Group, Origin, Paint, Reading, Refused, Report
from lastwet.units import Bracket

NOON = dt.datetime(2026, 3, 4, 12, 0, tzinfo=dt.timezone(dt.timedelta(hours=-5)))
HASH = "ab12" * 16
PAINT = Paint("Nosuch clear (invented)", 0.34, 0.01, 0.05, (90.0, 125.0))
LONG = "Gesellschaft f\u00fcr Oberfl\u00e4chen und sehr, sehr lange Namen mbH & Co. KG " * 4
ODD = '"><script>alert(1)</script> \u0416\u03b4\u0142 \u65e5\u672c \udce9 \x01\t\x1b[31m'


def picture(width: int = 480, height: int = 640) -> bytes:
    file = BytesIO()
    Image.effect_noise((width, height), 60).convert("RGB").save(file, "JPEG", quality=72)
    return file.getvalue()


def reading(entry: int, **changes: object) -> Reading:
    """A reading inside the range."""
    said = Reading(
        entry=entry, received=NOON + dt.timedelta(minutes=entry), camera_time="2026-03-04T11:59:00", by="Ann", outcome="read", by_eye=False,
        confirmed_by=(), corrected_in=None, void=False, gauge="bench strip", side="fine", side_source="stated",
        deciding="Last wet tooth 85, next 110 um", wet=Bracket(85.0, 110.0), dry=Bracket(27.5, 37.0), verdict="inside", photo_sha256=HASH,
    )  # fmt: skip
    return replace(said, **changes)  # type: ignore[arg-type]


def refused(entry: int) -> Reading:
    return reading(
        entry, outcome="refused", wet=None, dry=None, verdict=None, deciding="", refusals=(Refused("glare", "A tooth lies under glare"),)
    )


def report(*readings: Reading, **changes: object) -> Report:
    """A report of one group."""
    groups = [Group("Board 1", readings, PAINT, Estimate(len(readings), 97.0, (93.0, 101.0), 4.0, 0.95, (0.99, 0.6)))]
    origin = Origin("0.1.0", {"lastwet 0.1.0, reader settings abc": len(readings)}, 99, HASH, "every entry is as it was written", "board 1")
    made = Report("20260304-0a1b2c3d", NOON, "Ann", Details(), groups, origin, gauges=[("bench strip", "side fine: 40 60 85 110 um")])
    return replace(made, **changes)  # type: ignore[arg-type]


CORRECTION = Amendment(7, 1, "correction", NOON, "Ben", "corrected to 60 to 85 um, side fine", "a drop hung there")
ATTACHED = Attachment(8, 1, NOON, "Ben", "the board", HASH, picture(), None)

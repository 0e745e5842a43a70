"""The picture of an outcome: what it says, that marks differ without colour, and that nothing covers anything."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from lastwet.errors import NotWritten
from lastwet.gauge import Gauge, Side
from lastwet.reading import marks, overlay
from lastwet.reading.caption import bracket_text, caption_lines
from lastwet.reading.marks import lay_out
from lastwet.reading.outcome import Code, EndTab, Reading, Reason, Refusal, Seen, Tooth
from lastwet.reading.overlay import draw_overlay, save_overlay
from lastwet.reading.photo import Photo

COARSE = Side("coarse", "um", (800, 850, 900, 950, 1000, 1050, 1100, 1150, 1200, 1250, 1300, 1350, 1400, 1500))
MIL = Side("low", "mil", (0.5, 1, 4, 6))
NOT_SEEN = Refusal((Reason(Code.NO_GAUGE, "No gauge is in the photo.", "Fill the frame with the wet row."),))


def gauge(side: Side) -> Gauge:
    return Gauge("invented card", side.unit, (side,))


def row(count: int, degrees: float, length: float = 900.0, centre: tuple[float, float] = (800.0, 600.0)) -> np.ndarray:
    """Points evenly spaced on a line through `centre`, shape (count, 2)."""
    angle = np.radians(degrees)
    along = np.linspace(-length / 2, length / 2, count)[:, None] * [np.cos(angle), np.sin(angle)]
    return centre + along


def seen(side: Side, wet: int, points: np.ndarray, unsure: int | None = None) -> Seen:
    sure = [0.5 if i == unsure else 0.99 if i < wet else 0.01 for i in range(len(side.teeth))]
    teeth = tuple(Tooth(v, p, tuple(xy)) for v, p, xy in zip(side.teeth, sure, points[1:-1], strict=True))
    return Seen(teeth, (EndTab(0.99, tuple(points[0])), EndTab(0.99, tuple(points[-1]))))


def reading(side: Side, last_wet: int, degrees: float = 0.0, **options: object) -> Reading:
    points = row(len(side.teeth) + 2, degrees, **options)  # type: ignore[arg-type]
    return Reading(side, "stated", last_wet, 0.98, seen(side, last_wet, points))


def photo(width: int = 1600, height: int = 1200, scale: float = 1.0) -> Photo:
    return photo_of(np.full((round(height * scale), round(width * scale), 3), 120, np.uint8), scale)


def photo_of(pixels: np.ndarray, scale: float = 1.0) -> Photo:
    full_size = (round(pixels.shape[1] / scale), round(pixels.shape[0] / scale))
    return Photo(pixels, full_size, scale, sha256="", format="JPEG", camera_time=None, original=b"")


def covers(box: marks.Box, point: tuple[float, float]) -> bool:
    return box[0] <= point[0] <= box[2] and box[1] <= point[1] <= box[3]


def apart(a: marks.Box, b: marks.Box) -> bool:
    return a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


@pytest.mark.parametrize("degrees", range(0, 360, 15))
@pytest.mark.parametrize("length", [250.0, 900.0])
def test_fourteen_teeth_are_labelled_apart(degrees: int, length: float) -> None:
    layout = lay_out(photo(), reading(COARSE, 9, degrees, length=length))
    boxes = [placed.box for placed in layout.plates]
    tips = [placed.plate.tip for placed in layout.plates]
    assert len(boxes) == len(COARSE.teeth) + 2
    assert all(apart(a, b) for a, b in combinations(boxes, 2))
    assert not any(covers(box, tip) for box in boxes for tip in tips)
    assert all(min(b) >= 0 and b[2] <= layout.size[0] and b[3] <= layout.size[1] for b in boxes)


@pytest.mark.parametrize("degrees", range(0, 180, 15))
def test_fourteen_doubtful_teeth_are_labelled_apart(degrees: int) -> None:
    """The widest word at every tooth."""
    points = row(16, degrees)
    doubtful = tuple(Tooth(value, 0.5, tuple(xy)) for value, xy in zip(COARSE.teeth, points[1:-1], strict=True))
    ends = (EndTab(0.5, tuple(points[0])), EndTab(0.5, tuple(points[-1])))
    layout = lay_out(photo(), Refusal(NOT_SEEN.reasons, COARSE, seen=Seen(doubtful, ends)))
    boxes = [placed.box for placed in layout.plates]
    assert len(boxes) == len(COARSE.teeth) + 2
    assert all(apart(a, b) for a, b in combinations(boxes, 2))
    assert all(min(b) >= 0 and b[2] <= layout.size[0] and b[3] <= layout.size[1] for b in boxes)


@pytest.mark.parametrize("degrees", range(0, 360, 15))
def test_no_leader_crosses_another_label(degrees: int) -> None:
    plates = lay_out(photo(), reading(COARSE, 9, degrees)).plates
    for leader, label in combinations(plates, 2):
        for a, b in ((leader, label), (label, leader)):
            middle = ((a.box[0] + a.box[2]) / 2, (a.box[1] + a.box[3]) / 2)
            on_line = np.linspace(a.plate.tip, middle, 200)
            assert not any(covers(b.box, (x, y)) for x, y in on_line)


@pytest.mark.parametrize("scale", [1.0, 0.5])
def test_labels_point_at_the_tips(scale: float) -> None:
    """A red dot painted at each tip lies where the layout says the tip is."""
    outcome, shot = reading(MIL, 2, 20), photo(scale=scale)
    for item in (*outcome.seen.teeth, *outcome.seen.end_tabs):
        x, y = (round((value + 0.5) * scale - 0.5) for value in item.tip_px)
        shot.pixels[y - 4 : y + 5, x - 4 : x + 5] = (255, 0, 0)
    picture = draw_overlay(shot, outcome, gauge(MIL)).astype(int)
    for placed in lay_out(shot, outcome).plates:
        x, y = (round(value) for value in placed.plate.tip)
        assert picture[y, x, 0] > 200
        assert picture[y, x, 1] < 80


def test_the_deciding_tooth_alone_carries_its_value_in_large_type() -> None:
    large = [placed.plate for placed in lay_out(photo(), reading(COARSE, 9)).plates if placed.plate.large]
    assert [plate.heading for plate in large] == ["1200"]
    nowhere = [placed.plate for wet in (0, 14) for placed in lay_out(photo(), reading(COARSE, wet)).plates if placed.plate.large]
    assert nowhere == []  # no tooth wet, or every one: the photo does not tell at which end the row begins


def test_each_tooth_is_marked_by_word() -> None:
    points = row(len(MIL.teeth) + 2, 0)
    refused = Refusal(NOT_SEEN.reasons, MIL, seen=seen(MIL, 2, points, unsure=2))
    plates = sorted((placed.plate for placed in lay_out(photo(), refused).plates), key=lambda plate: plate.tip)
    assert [f"{plate.heading} {plate.word}".strip() for plate in plates] == ["TAB WET", "WET", "WET", "UNSURE", "DRY", "TAB WET"]


def test_shapes_differ_without_colour() -> None:
    """Printed in grey, each pair of marks differs in more than a tenth of its pixels (WCAG 2.2, 1.4.1: no meaning by colour alone)."""

    def mark(word: str) -> np.ndarray:
        tile = Image.new("RGB", (40, 40), "#111111")
        overlay._draw_shape(overlay.ImageDraw.Draw(tile), (20, 20), 16, word)
        return np.asarray(tile.convert("L")) > 80

    for one, other in combinations(("WET", "DRY", "UNSURE"), 2):
        assert (mark(one) != mark(other)).mean() > 0.1


def luminance(colour: str) -> float:
    """Relative luminance as defined in WCAG 2.2."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return float(np.dot(linear, [0.2126, 0.7152, 0.0722]))


@pytest.mark.parametrize("tone", [*overlay._TONES.values(), overlay._TEXT, overlay._QUIET])
def test_every_tone_is_legible_on_the_ground(tone: str) -> None:
    """At least 4.5:1, the contrast that WCAG 2.2, 1.4.3 asks of text."""
    assert (luminance(tone) + 0.05) / (luminance(overlay._GROUND) + 0.05) >= 4.5


@pytest.mark.parametrize(
    ("side", "last_wet", "own", "other"),
    [
        # 1 mil = 25.4 um exactly, from the inch's definition; a stamped 4 mil is 101.6 um
        (MIL, 3, "4 to 6 mil", "102 to 152 um"),
        (MIL, 0, "below 0.5 mil", "below 12.7 um"),
        (MIL, 4, "6 mil or more", "152 um or more"),
        (MIL, 1, "0.5 to 1 mil", "12.7 to 25.4 um"),
        (COARSE, 13, "1400 to 1500 um", "55.1 to 59.1 mil"),
    ],
)
def test_bracket_in_both_units(side: Side, last_wet: int, own: str, other: str) -> None:
    first = caption_lines(reading(side, last_wet), gauge(side))[0]
    assert (first.text, first.beside) == (own, other)


def test_an_open_bracket_says_what_to_do() -> None:
    outcome = reading(MIL, 4)
    caption = " ".join(line.text for line in caption_lines(outcome, gauge(MIL)))
    assert "turn to the next side up" in caption
    assert "Compare 6 with the highest number" in caption
    assert "Compare 0.5 with the lowest number" in " ".join(line.text for line in caption_lines(reading(MIL, 0), gauge(MIL)))
    assert "to" not in bracket_text(outcome, "mil").split()


def test_a_refusal_gives_reason_and_cure_over_the_whole_photo() -> None:
    text = [line.text for line in caption_lines(NOT_SEEN, gauge(MIL))]
    assert NOT_SEEN.reasons[0].message in text
    assert NOT_SEEN.reasons[0].cure in text
    layout = lay_out(photo(), NOT_SEEN)
    assert layout.crop == (0, 0, 1600, 1200)
    assert layout.plates == ()


def test_the_longest_caption_stays_inside_the_picture() -> None:
    long_reason = Reason(Code.GLARE, "glare " * 40, "tilt the gauge " * 20)
    for outcome in (reading(COARSE, 13), Refusal((long_reason,))):
        picture = draw_overlay(photo(), outcome, gauge(COARSE))
        below = picture[lay_out(photo(), outcome).size[1] :]
        assert below.max() > 200
        assert below[:, -marks.MARGIN_PX // 2 :].max() < 40


@pytest.mark.parametrize("low_end_left", [True, False])
@pytest.mark.parametrize("body_above", [True, False])
def test_labels_stand_on_the_open_side(low_end_left: bool, body_above: bool) -> None:
    """A comb drawn with its teeth pointing down (or up) is labelled below (or above) its tips."""
    shot = photo()
    shot.pixels[300:500] = 200
    points = row(8, 0, 700, (800, 600))
    for x, _ in points:
        shot.pixels[500:600, int(x) - 30 : int(x) + 30] = 200
    shot = photo_of(shot.pixels if body_above else shot.pixels[::-1].copy())
    points[:, 1] = 599 if body_above else 600
    side = Side("s", "um", (50, 75, 100, 125, 150, 175))
    order = points if low_end_left else points[::-1]
    layout = lay_out(shot, Reading(side, "stated", 3, 0.98, seen(side, 3, order)))
    assert all((placed.box[1] > placed.plate.tip[1]) == body_above for placed in layout.plates)


def test_drawing_is_pure() -> None:
    shot, outcome = photo(), reading(MIL, 2)
    before = shot.pixels.copy()
    first, second = (draw_overlay(shot, outcome, gauge(MIL)) for _ in range(2))
    assert np.array_equal(first, second)
    assert np.array_equal(before, shot.pixels)
    assert first.shape[1:] == (marks.WIDTH_PX, 3)


@pytest.mark.parametrize("suffix", [".jpg", ".png"])
def test_the_file_has_the_picture_and_no_metadata(tmp_path: Path, suffix: str) -> None:
    array = draw_overlay(photo(), NOT_SEEN, gauge(MIL))
    save_overlay(tmp_path / f"o{suffix}", array)
    with Image.open(tmp_path / f"o{suffix}") as picture:
        assert picture.size == array.shape[1::-1]
        assert not picture.getexif()


@pytest.mark.parametrize("name", ["o.txt", "missing/o.png"])
def test_an_unwritable_picture_is_reported(tmp_path: Path, name: str) -> None:
    with pytest.raises(NotWritten):
        save_overlay(tmp_path / name, np.zeros((4, 4, 3), np.uint8))

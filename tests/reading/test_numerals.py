"""Numerals beside the teeth: what is drawn is read, what is not there is not, and a side that is not the one stated is refused.

The font of the drawn numerals is Pillow's own, which the network has not learned.
"""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache

import numpy as np
import numpy.typing as npt
import pytest
from PIL import Image, ImageDraw, ImageFont

from fixtures.score.records import FOLDER, Case, cases
from lastwet.gauge import Gauge, Side
from lastwet.reading import refuse
from lastwet.reading.numerals import Numerals, legible
from lastwet.reading.outcome import Code, Outcome, Reading, Refusal
from lastwet.reading.photo import load_photo
from lastwet.reading.reader import read
from lastwet.reading.strip import Row
from lastwet.service.replay import task_of

FINE = Side("fine", "um", (35, 50, 70, 95, 120, 160))
MIDDLE = Side("middle", "um", (110, 140, 180, 230, 270, 340))
COARSE = Side("coarse", "um", (380, 410, 450, 520, 630, 740))
SHORT = Side("short", "um", (35, 50, 70, 95))
GAUGE = Gauge("invented", "um", (FINE, MIDDLE, COARSE, SHORT))
PITCH = 60
"""Pixels between neighbouring teeth of a drawn row."""


def drawn(
    side: Side, *, low_left: bool = True, upside_down: bool = False, light_ink: bool = False, only: int = 99, turn: float = 0.0
) -> tuple[npt.NDArray[np.uint8], Row]:
    """Draw a plate with a side's numerals one pitch above the tips, and say where its row is; `turn` degrees askew in the photo."""
    count = len(side.teeth)
    plate, ink = ((40, 44, 52), (220, 220, 215)) if light_ink else ((190, 186, 178), (25, 25, 28))
    photo = Image.new("RGB", ((count + 5) * PITCH, 600), plate)
    font = ImageFont.load_default(size=26)
    values = side.teeth if low_left else side.teeth[::-1]
    for k, value in enumerate(values[:only]):
        word = Image.new("L", (80, 40))
        ImageDraw.Draw(word).text((40, 20), f"{value:g}", fill=255, font=font, anchor="mm")
        word = word.rotate(180) if upside_down else word
        photo.paste(ink, ((k + 3) * PITCH - 40, 400 - PITCH - 20), word)
    tips = np.array([((k + 2) * PITCH, 400.0) for k in range(count + 2)])
    roots = tips - [0, PITCH]
    middle = np.array([photo.width / 2, photo.height / 2])
    photo = photo.rotate(turn, resample=Image.Resampling.BICUBIC, fillcolor=plate)
    angle = np.deg2rad(turn)
    about = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    tips, roots = ((points - middle) @ about + middle for points in (tips, roots))
    grain = np.random.default_rng(1).normal(0, 4, (photo.height, photo.width, 1))
    pixels = np.clip(np.asarray(photo, np.float64) + grain, 0, 255).astype(np.uint8)
    return pixels, Row(tips.astype(np.float32), roots.astype(np.float32))


@pytest.mark.parametrize("side", [FINE, MIDDLE, COARSE], ids=lambda side: side.id)
@pytest.mark.parametrize("low_left", [True, False])
@pytest.mark.parametrize("upside_down", [True, False])
def test_drawn_numerals_tell_side_and_low_end(side: Side, low_left: bool, upside_down: bool) -> None:
    pixels, row = drawn(side, low_left=low_left, upside_down=upside_down)
    seen = legible(pixels, row, GAUGE)
    assert seen is not None
    assert (seen.side, seen.low_left) == (side, low_left)
    assert set(seen.read) <= set(side.teeth)


@pytest.mark.parametrize("turn", [-100.0, -20.0, 35.0, 180.0])
def test_the_row_may_lie_anyhow_in_the_photo(turn: float) -> None:
    pixels, row = drawn(MIDDLE, light_ink=True, turn=turn)
    seen = legible(pixels, row, GAUGE)
    assert seen is not None
    assert (seen.side, seen.low_left) == (MIDDLE, True)


def test_points_are_not_looked_at_and_a_leading_nought_may_be_left_out() -> None:
    printed = Side("a", "mil", (5, 15, 25, 35, 45))
    meant = replace(printed, teeth=(0.5, 1.5, 2.5, 3.5, 4.5))
    seen = legible(*drawn(printed), Gauge("invented", "mil", (meant,)))
    assert seen is not None
    assert (seen.side, seen.read) == (meant, meant.teeth)


def test_a_bare_plate_says_nothing() -> None:
    assert legible(*drawn(FINE, only=0), GAUGE) is None


@pytest.mark.parametrize(("only", "said"), [(2, False), (6, True)])
def test_two_numerals_are_too_few(only: int, said: bool) -> None:
    assert (legible(*drawn(COARSE, only=only), GAUGE) is not None) == said


def test_numerals_of_another_gauge_say_nothing() -> None:
    """A gauge without the side that is in the photo is not vouched for by whatever of its sides is nearest."""
    for absent in (FINE, MIDDLE, COARSE):
        rest = tuple(side for side in GAUGE.sides if side != absent)
        assert legible(*drawn(absent), replace(GAUGE, sides=rest)) is None


def test_numerals_that_agree_in_part_say_nothing() -> None:
    """Four of six numerals are those of the only side in the gauge's file; the others are not."""
    like = replace(COARSE, teeth=(*COARSE.teeth[:4], 685, 795))
    assert legible(*drawn(COARSE), replace(GAUGE, sides=(like,))) is None


def test_one_digit_alone_does_not_tell_two_sides_apart() -> None:
    near = replace(COARSE, id="near", teeth=(*COARSE.teeth[:5], 745))
    assert legible(*drawn(COARSE), replace(GAUGE, sides=(COARSE, near))) is None
    far = replace(COARSE, id="far", teeth=(*COARSE.teeth[:4], 685, 795))
    seen = legible(*drawn(COARSE), replace(GAUGE, sides=(COARSE, far)))
    assert seen is not None
    assert seen.side == COARSE


def test_noise_says_nothing() -> None:
    rng = np.random.default_rng(7)
    row = drawn(FINE)[1]
    for spread in (10, 60):
        noisy = np.clip(rng.normal(120, spread, (600, 660, 3)), 0, 255).astype(np.uint8)
        assert legible(noisy, row, GAUGE) is None


def test_a_row_at_the_border_of_the_photo_is_no_fault() -> None:
    pixels, row = drawn(FINE)
    assert legible(pixels[395:], Row(row.tips - [0, 395], row.roots - [0, 395]), GAUGE) is None
    far = np.array([5000, 0], np.float32)
    assert legible(pixels, Row(row.tips + far, row.roots + far), GAUGE) is None


# --- what comes of it


def test_another_side_refuses_and_names_it() -> None:
    reasons = refuse.contradicted(Numerals(COARSE, True, 40.0, COARSE.teeth, 1.0), FINE, low_left=True)
    assert [reason.code for reason in reasons] == [Code.SIDE_UNCLEAR]
    assert "380 410 450" in reasons[0].message
    assert "coarse" in reasons[0].cure


@pytest.mark.parametrize(
    ("run", "numerals", "codes"), [(True, True, []), (False, True, [Code.GAP]), (True, False, [Code.GAP]), (None, True, [])]
)
def test_a_run_from_the_high_end_refuses(run: bool | None, numerals: bool, codes: list[Code]) -> None:
    """With no tooth wet, or every tooth, the run has no end to begin at."""
    reasons = refuse.contradicted(Numerals(FINE, numerals, 40.0, FINE.teeth, 1.0), FINE, run)
    assert [reason.code for reason in reasons] == codes


# --- on committed photos


@cache
def case(image: str) -> Case:
    return next(case for case in cases(FOLDER) if case.path.name == image)


def outcome(image: str, gauge: Gauge | None = None, side_id: str | None = None) -> Outcome:
    known = case(image)
    return read(load_photo(known.path, image), gauge or known.gauge, side_id or known.side_id)


CLEAR = ("g0012.jpg", "g0017.jpg", "g0024.jpg", "g0033.jpg", "g0049.jpg", "g0052.jpg")
"""Photos whose numerals a person reads at a glance; a reader may refuse one of them for another reason."""


def test_the_side_is_seen_in_committed_photos() -> None:
    read_right = [found for image in CLEAR if isinstance(found := outcome(image), Reading) and found.last_wet == case(image).truth.last_wet]
    assert len(read_right) >= len(CLEAR) - 2
    assert {found.side_source for found in read_right} == {"numerals"}


def test_a_side_of_as_many_teeth_is_refused_on_committed_photos() -> None:
    """A reader that believes what it is told reads these."""
    stated = {image: _another(case(image)) for image in CLEAR}
    found = [outcome(image, side_id=side_id) for image, side_id in stated.items() if side_id]
    told = [one for one in found if isinstance(one, Refusal) and [reason.code for reason in one.reasons] == [Code.SIDE_UNCLEAR]]
    assert not any(isinstance(one, Reading) for one in found)
    assert len(told) >= len(CLEAR) - 2
    assert {one.side_source for one in told} == {"stated"}


def _another(known: Case) -> str | None:
    """Return another side with as many teeth."""
    true = known.gauge.side(str(known.side_id))
    return next((side.id for side in known.gauge.sides if side != true and len(side.teeth) == len(true.teeth)), None)


def test_without_numerals_nothing_changes() -> None:
    """The gauge of this photo has none."""
    found = outcome("g0006.jpg")
    assert isinstance(found, Reading)
    assert (found.last_wet, found.side_source) == (case("g0006.jpg").truth.last_wet, "stated")
    assert json.loads((FOLDER / "designs" / "strip-g.json").read_text())["numerals"] == "none"


def test_numerals_that_no_side_bears_change_nothing() -> None:
    known = case("g0033.jpg")
    assert known.side_id is not None
    other = Side(known.side_id, "um", (11, 13, 17, 19, 23, 29, 31, 37))
    found = outcome("g0033.jpg", Gauge("invented", "um", (other,)))
    assert isinstance(found, Reading)
    assert found.side_source == "stated"


@pytest.mark.parametrize(("source", "stated"), [("stated", "fine"), ("numerals", "fine"), ("count", None)])
def test_a_side_seen_in_the_photo_is_named_when_it_is_read_again(source: str, stated: str | None) -> None:
    body = {
        "gauge": {"name": "invented", "unit": "um", "sides": {"fine": [40, 60]}},
        "film": {"coating": None, "volume_solids": None, "thinner": 0.0},
        "reading": {"side": "fine", "side_source": source, "wet_range_um": None},
    }
    assert task_of(body).side_id == stated

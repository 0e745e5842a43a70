"""What is no gauge, or no readable one, gives no reading.

Photographs: those that scikit-image ships in its wheel (skimage.data), none of which shows a notched gauge; a wall, a page of text,
a motorcycle in a workshop, coins and a chessboard among them. Rendered: saws, combs, rulers, forks, gears, bar codes, keys, walls,
radiators (fixtures.render.negatives), and gauges that must be refused.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path

import numpy as np
import pytest
import skimage
from PIL import Image

from fixtures.render.negatives import GAUGE_LIKE, KINDS, negative
from fixtures.render.quick import Pixels, Scenario, encode_jpeg, quick_photo
from fixtures.score.records import Reader
from lastwet.gauge import Gauge, Side
from lastwet.reading.outcome import Reading
from lastwet.reading.photo import load_photo
from lastwet.reading.reader import read
from tests.fixtures.readers import never_refusing, remembered

COUNTS = range(4, 15)
ANY_ROW = Gauge("any row", "um", tuple(Side(f"{n}-teeth", "um", tuple(25.0 * (i + 1) for i in range(n))) for n in COUNTS))
"""A gauge with a side for every number of teeth, and none named: whatever row is found, its count fits."""
PHOTOGRAPHS = sorted(path for path in (Path(skimage.__file__).parent / "data").iterdir() if path.suffix in (".png", ".jpg"))
PER_KIND = 20
PER_SCENARIO = 10
LONG_SIDE_PX = 1200
"""The photographs are small; they are enlarged to the size of a photo in which a gauge's teeth would be legible."""


def read_anyway(reader: Reader, pictures: Iterable[tuple[str, Pixels]], gauge: Gauge, side_id: str | None = None) -> list[str]:
    """Name the pictures that a reader gave a reading for."""
    return [name for name, pixels in pictures if isinstance(reader(load_photo(encode_jpeg(pixels), name), gauge, side_id), Reading)]


def turned(path: Path) -> Iterator[tuple[str, Pixels]]:
    """Yield a photograph in its four rotations."""
    with Image.open(path) as image:
        zoom = LONG_SIDE_PX / max(image.size)
        pixels = np.asarray(image.convert("RGB").resize((round(image.width * zoom), round(image.height * zoom)), Image.Resampling.BICUBIC))
    for quarter in range(4):
        yield f"{path.name} turned by {90 * quarter} degrees", np.ascontiguousarray(np.rot90(pixels, quarter))


def rendered(kind: str) -> Iterator[tuple[str, Pixels]]:
    for seed in range(PER_KIND):
        yield f"{kind} {seed}", negative(kind, seed)


@pytest.fixture(scope="module")
def reader() -> Reader:
    """The package's reader, reading each picture once for all tests here."""
    return remembered(read)


def test_the_photographs_are_there() -> None:
    assert len(PHOTOGRAPHS) >= 24
    assert {"brick.png", "page.png", "motorcycle_left.png", "coins.png", "chessboard_GRAY.png"} <= {path.name for path in PHOTOGRAPHS}


@pytest.mark.parametrize("path", PHOTOGRAPHS, ids=lambda path: path.stem)
def test_no_reading_of_a_photograph_without_gauge(reader: Reader, path: Path) -> None:
    assert read_anyway(reader, turned(path), ANY_ROW) == []


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_no_reading_of_other_things_with_teeth(reader: Reader, kind: str) -> None:
    assert read_anyway(reader, rendered(kind), ANY_ROW) == []


@pytest.mark.parametrize("scenario", GAUGE_LIKE)
def test_no_reading_of_a_gauge_that_must_be_refused(scenario: Scenario) -> None:
    photos = [quick_photo(seed, scenario) for seed in range(PER_SCENARIO)]
    named = [read_anyway(read, [(str(p.truth.seed), p.pixels)], p.gauge, p.truth.edge_id) for p in photos]
    assert [name for names in named for name in names] == []


def test_no_reading_of_a_side_with_another_number_of_teeth() -> None:
    """The right gauge in the photo, and a side named that has one tooth more or fewer."""
    for seed in range(PER_SCENARIO):
        photo = quick_photo(seed)
        count = photo.truth.n_teeth
        assert count is not None
        for other in (count - 1, count + 1):
            side = Side("named", "um", tuple(25.0 * (i + 1) for i in range(other)))
            assert read_anyway(read, [(f"{seed} as {other}", photo.pixels)], Gauge("wrong", "um", (side,)), "named") == []


def test_a_reader_that_never_refuses_turns_these_checks_red(reader: Reader) -> None:
    broken = never_refusing(reader)
    first_turns = [next(turned(path)) for path in PHOTOGRAPHS]
    assert len(read_anyway(broken, first_turns, ANY_ROW)) == len(PHOTOGRAPHS)
    assert len(read_anyway(broken, islice(rendered("saw"), 3), ANY_ROW)) == 3

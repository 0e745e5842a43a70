"""Many photos, in processes of their own, with fake readers; throughput is measured by `fixtures.bench`."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from lastwet import service
from lastwet.errors import UnusablePhoto
from lastwet.gauge import Gauge, load_gauge
from lastwet.reading.outcome import Outcome, Reading
from lastwet.reading.photo import Photo
from lastwet.result import Result, Task
from lastwet.service import batch, processes
from tests import fake_reader
from tests.fake_reader import FAULT, GLARE, photo_bytes


@pytest.fixture
def task(gauge_file: Path) -> Task:
    return Task(load_gauge(str(gauge_file)), "fine")


def paint(folder: Path, *wet: int) -> list[str]:
    """Write one photo for each number of wet teeth; return their names."""
    names = [str(folder / f"{place}.png") for place in range(len(wet))]
    for name, last_wet in zip(names, wet, strict=True):
        Path(name).write_bytes(photo_bytes(last_wet, "PNG", (64, 48)))
    return names


def wet(results: list[Result]) -> list[int | None]:
    return [result.outcome.last_wet if isinstance(result.outcome, Reading) else None for result in results]


def the_first_takes_long(photo: Photo, gauge: Gauge, side_id: str | None) -> Outcome:
    outcome = fake_reader.read(photo, gauge, side_id)
    if isinstance(outcome, Reading) and outcome.last_wet == 1:
        time.sleep(1)
    return outcome


def its_process_dies(photo: Photo, gauge: Gauge, side_id: str | None) -> Outcome:
    try:
        return fake_reader.read(photo, gauge, side_id)
    except ValueError:
        os._exit(9)


def threads(photo: Photo, gauge: Gauge, side_id: str | None) -> Outcome:
    """Say in the number of wet teeth how many threads OpenCV has here."""
    import cv2

    return Reading(gauge.sides[0], "count", cv2.getNumThreads(), 1.0, fake_reader.Seen())


def test_results_come_in_the_order_of_the_names_however_long_each_takes(tmp_path: Path, task: Task) -> None:
    names = paint(tmp_path, 1, 2, 3, 4, 5, 6, 7)
    results = list(service.read_photos(names, task, reader=the_first_takes_long, jobs=2))
    assert [result.name for result in results] == names
    assert wet(results) == [1, 2, 3, 4, 5, 6, 7]


def test_processes_say_the_same_as_one(tmp_path: Path, task: Task) -> None:
    names = [*paint(tmp_path, 0, GLARE, FAULT, 7), str(tmp_path / "nosuch.jpg"), str(tmp_path)]
    one, two = (
        [result.as_json() | {"seconds": 0} for result in service.read_photos(names, task, reader=fake_reader.read, jobs=jobs)]
        for jobs in (1, 2)
    )
    assert one == two
    assert [line["outcome"] for line in one] == ["read", "refused", "refused", "read", "unusable", "unusable"]


def test_photos_do_not_pile_up_ahead_of_the_one_in_hand(tmp_path: Path, task: Task) -> None:
    (name,) = paint(tmp_path, 3)
    taken = 0

    def endless() -> Iterator[str]:
        nonlocal taken
        while True:
            taken += 1
            yield name

    for jobs in (1, 2):
        taken = 0
        results = service.read_photos(endless(), task, reader=fake_reader.read, jobs=jobs)
        next(results)
        assert taken <= jobs + 1
        del results


def test_a_photo_that_kills_its_process_costs_no_other(tmp_path: Path, task: Task) -> None:
    names = paint(tmp_path, 1, 2, FAULT, 4, 5, 6, 7)
    results = list(service.read_photos(names, task, reader=its_process_dies, jobs=2))
    assert wet(results) == [1, 2, None, 4, 5, 6, 7]
    assert [result.name for result in results] == names
    assert results[2].failure == processes.LOST
    assert isinstance(results[2].outcome, UnusablePhoto)


@pytest.mark.parametrize("pixels", [True, False])
@pytest.mark.parametrize("original", [True, False])
def test_pixels_are_sent_where_somebody_draws_and_the_file_where_it_is_logged(
    tmp_path: Path, task: Task, pixels: bool, original: bool
) -> None:
    (name,) = paint(tmp_path, 3)
    (result,) = service.read_photos([name], task, reader=fake_reader.read, jobs=2, pixels=pixels, original=original)
    assert result.photo
    assert result.photo.pixels.size == (64 * 48 * 3 if pixels else 0)
    assert result.photo.original == (Path(name).read_bytes() if original else b"")


def test_each_process_has_one_core(tmp_path: Path, task: Task) -> None:
    assert wet(list(service.read_photos(paint(tmp_path, 1, 1), task, reader=threads, jobs=2))) == [1, 1]


def test_a_few_photos_are_not_worth_a_process() -> None:
    assert [service.usual_jobs(photos) for photos in (0, 1, 7)] == [1, 1, 1]
    assert service.usual_jobs(1000) == min(os.cpu_count() or 1, batch.MOST_JOBS)

"""The use cases around the log: what is found as it stands, what is put back together from an entry, times as people write them."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from lastwet import service
from lastwet.errors import UsageError
from lastwet.gauge import load_gauge
from lastwet.logbook.find import Filter
from lastwet.logbook.store import Logbook
from lastwet.reading.outcome import Reading, Refusal
from lastwet.result import Result, Task
from lastwet.service import amend, archive
from lastwet.service.replay import gauge_of, outcome_of, task_of
from lastwet.service.times import begin_of, end_of
from tests import fake_reader
from tests.fake_reader import GLARE, photo_bytes


@pytest.fixture
def task(gauge_file: Path) -> Task:
    return Task(load_gauge(str(gauge_file)), "fine", service.film(None, 50, 8, "140-175um"))


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    return Logbook(tmp_path / "log")


def read(painted: int, task: Task) -> Result:
    return service.read_photo("x.jpg", task, lambda _: photo_bytes(painted, size=(64, 48)), fake_reader.read)


# --- back from an entry


@pytest.mark.parametrize("painted", [0, 3, 7, GLARE])
def test_what_was_logged_is_put_back_together(book: Logbook, task: Task, painted: int) -> None:
    result = read(painted, task)
    body = service.log_result(book, result, "Ann").body
    again = task_of(body)
    assert (again.side_id, again.film) == (task.side_id, task.film)
    assert [side.teeth_um for side in again.gauge.sides] == [side.teeth_um for side in task.gauge.sides]
    outcome = outcome_of(body["reading"], gauge_of(body["gauge"]))
    assert outcome is not None
    assert replace(result, outcome=outcome).as_json() | {"quality": None} == result.as_json() | {"quality": None}


def test_a_file_that_was_no_photo_has_no_outcome(book: Logbook, task: Task) -> None:
    body = service.log_result(book, service.read_photo("x.jpg", task, lambda _: b"no photo", fake_reader.read), "Ann").body
    assert outcome_of(body["reading"], gauge_of(body["gauge"])) is None


def test_a_side_that_was_told_by_its_teeth_is_not_stated_later(book: Logbook, task: Task) -> None:
    assert task_of(service.log_result(book, read(3, replace(task, side_id=None)), "Ann").body).side_id is None


def test_a_correction_is_judged_by_the_same_paint(book: Logbook, task: Task) -> None:
    """Dry film and verdict of the correction are those that a reading of that bracket would have had."""
    service.log_result(book, read(6, task), "Ann")
    corrected = amend.confirm(book, 1, 5, "Ben", reason="a drop").body["reading"]
    right = read(5, task).as_json()
    assert {key: corrected[key] for key in ("wet", "dry", "verdict", "side", "unit", "last_wet")} == {
        key: right[key] for key in ("wet", "dry", "verdict", "side", "unit", "last_wet")
    }


def test_a_reading_by_eye_does_not_ask_the_machine(task: Task, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lastwet.service.photos.default_reader", lambda: pytest.fail("the machine was asked"))
    result = amend.read_by_eye("x.jpg", task, 4, lambda _: photo_bytes(GLARE))
    assert isinstance(result.outcome, Reading)
    assert (result.method, result.as_json()["last_wet"], result.as_json()["confidence"]) == ("eye", 4, None)


def test_a_file_that_is_no_photo_is_no_evidence_for_an_eye(task: Task) -> None:
    result = amend.read_by_eye("x.jpg", task, 4, lambda _: b"no photo")
    assert not isinstance(result.outcome, Reading | Refusal)
    assert result.as_json()["outcome"] == "unusable"


# --- as it stands


@pytest.fixture
def shop(book: Logbook, task: Task, monkeypatch: pytest.MonkeyPatch) -> Logbook:
    """Ten readings above the range, looked at two at a time; the newest four were corrected to inside, the oldest is void."""
    monkeypatch.setattr(archive, "PAGE", 2)
    for _ in range(10):
        service.log_result(book, read(6, task), "Ann")
    for seq in (7, 8, 9, 10):
        amend.confirm(book, seq, 5, "Ben", reason="r")
    amend.void(book, 1, "Ben", "r")
    return book


@pytest.mark.parametrize(
    ("wanted", "limit", "seqs"),
    [
        (Filter(verdict="above"), 50, [6, 5, 4, 3, 2]),
        (Filter(verdict="above"), 2, [6, 5]),
        (Filter(verdict="INSIDE"), 3, [10, 9, 8]),
        (Filter(outcome="read"), 50, [10, 9, 8, 7, 6, 5, 4, 3, 2]),
        (Filter(outcome="read", verdict="inside"), 50, [10, 9, 8, 7]),
        (Filter(kind="reading"), 3, [10, 9, 8]),
        (Filter(), 4, [15, 14, 13, 12]),
    ],
)
def test_entries_are_found_as_they_stand_however_many_were_corrected(shop: Logbook, wanted: Filter, limit: int, seqs: list[int]) -> None:
    assert [standing.entry.seq for standing in archive.found(shop, wanted, limit)] == seqs


def test_readings_come_in_the_order_of_the_log(shop: Logbook) -> None:
    assert [standing.entry.seq for standing in archive.readings(shop, Filter())] == list(range(1, 11))
    assert archive.readings(shop, Filter())[8].reading == shop.entry(13).body["reading"]


# --- times


@pytest.fixture
def in_new_york(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    with monkeypatch.context() as patch:
        patch.setenv("TZ", "America/New_York")
        time.tzset()
        yield
    time.tzset()


@pytest.mark.usefixtures("in_new_york")
@pytest.mark.parametrize(
    ("text", "begin", "end"),
    [  # the clocks of New York went forward on 2026-03-08 and back on 2026-11-01 (15 U.S.C. 260a)
        ("2026-03-02", "2026-03-02T05:00Z", "2026-03-03T05:00Z"),
        ("2026-03-08", "2026-03-08T05:00Z", "2026-03-09T04:00Z"),
        ("2026-11-01", "2026-11-01T04:00Z", "2026-11-02T05:00Z"),
        ("2026-03-02T14:30", "2026-03-02T19:30Z", "2026-03-02T19:30Z"),
        ("2026-03-02T14:30+01:00", "2026-03-02T13:30Z", "2026-03-02T13:30Z"),
    ],
)
def test_times_are_those_of_this_computer_unless_they_say_otherwise(text: str, begin: str, end: str) -> None:
    assert (begin_of(text), end_of(text)) == (dt.datetime.fromisoformat(begin), dt.datetime.fromisoformat(end))


@pytest.mark.parametrize("text", ["", "today", "2026-13-01", "02/03/2026", "9999-99-99"])
def test_what_is_no_time_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="is not a time"):
        begin_of(text)

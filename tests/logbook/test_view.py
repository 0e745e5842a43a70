"""What stands after corrections, confirmations and voids, and finding entries by it."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lastwet.logbook.entry import Entry, seal
from lastwet.logbook.find import Filter
from lastwet.logbook.kinds import Kind
from lastwet.logbook.store import Logbook
from lastwet.logbook.view import Standing, standings
from tests.logbook.conftest import NOON


def reading(last_wet: int | None, *, method: str = "photo", verdict: str | None = "inside") -> dict[str, Any]:
    outcome = "refused" if last_wet is None else "read"
    return {"outcome": outcome, "side": "A", "last_wet": last_wet, "method": method, "verdict": verdict, "gauge": "card"}


class Log:
    """Entries in memory, for the pure functions."""

    def __init__(self) -> None:
        self.entries: list[Entry] = []

    def add(self, kind: str, **body: Any) -> int:
        previous = self.entries[-1].hash if self.entries else None
        self.entries.append(seal(len(self.entries) + 1, previous, kind, body, recorded_at=NOON))
        return len(self.entries)

    def stand(self, seq: int = 1) -> Standing:
        return standings([self.entries[seq - 1]], [entry for entry in self.entries if "concerns" in entry.body])[0]


@pytest.fixture
def log() -> Log:
    log = Log()
    log.add(Kind.READING, reading=reading(4), by="a")
    return log


def test_a_reading_stands_as_logged(log: Log) -> None:
    stands = log.stand()
    assert (stands.reading, stands.void, stands.by_eye, stands.history) == (reading(4), None, False, ())


def test_the_newest_correction_stands_and_the_others_remain(log: Log) -> None:
    log.add(Kind.CORRECTION, concerns=1, supersedes=1, reading=reading(5, method="eye"), by="b", reason="x")
    log.add(Kind.CORRECTION, concerns=1, supersedes=2, reading=reading(3, method="eye"), by="c", reason="y")
    stands = log.stand()
    assert stands.statement.seq == 3
    assert stands.by_eye
    assert [entry.seq for entry in stands.corrections] == [2, 3]
    assert stands.entry.body["reading"] == reading(4)


def test_a_confirmation_counts_only_for_what_it_confirmed(log: Log) -> None:
    log.add(Kind.CONFIRMATION, concerns=1, side="A", last_wet=4, by="b")
    assert len(log.stand().confirmations) == 1
    log.add(Kind.CORRECTION, concerns=1, supersedes=1, reading=reading(5, method="eye"), by="c", reason="x")
    assert log.stand().confirmations == ()
    log.add(Kind.CONFIRMATION, concerns=1, side="B", last_wet=5, by="d")
    assert log.stand().confirmations == ()


def test_a_voided_correction_was_not_made(log: Log) -> None:
    log.add(Kind.CORRECTION, concerns=1, supersedes=1, reading=reading(5, method="eye"), by="b", reason="x")
    log.add(Kind.VOID, concerns=2, by="b", reason="the wrong entry")
    stands = log.stand()
    assert (stands.reading, stands.void) == (reading(4), None)
    assert [entry.kind for entry in stands.history] == [Kind.CORRECTION, Kind.VOID]


def test_a_void_reading_is_void_whatever_was_said_of_it(log: Log) -> None:
    log.add(Kind.CONFIRMATION, concerns=1, side="A", last_wet=4, by="b")
    log.add(Kind.VOID, concerns=1, by="b", reason="another board")
    void = log.stand().void
    assert void is not None
    assert void.seq == 3


def test_other_entries_are_left_alone(log: Log) -> None:
    log.add(Kind.READING, reading=reading(7), by="a")
    log.add(Kind.CORRECTION, concerns=1, supersedes=1, reading=reading(5, method="eye"), by="b", reason="x")
    assert log.stand(2).reading == reading(7)


def test_a_forged_circle_ends() -> None:
    log = Log()
    log.add(Kind.NOTE, concerns=2)
    log.add(Kind.NOTE, concerns=1)
    assert [entry.seq for entry in log.stand(1).history] == [1, 2]


amendments = st.lists(st.tuples(st.sampled_from([Kind.CORRECTION, Kind.VOID, Kind.CONFIRMATION]), st.integers(1, 8), st.integers(0, 7)))


@given(amendments)
def test_what_stands_is_told_by_a_plain_replay(steps: list[tuple[Kind, int, int]]) -> None:
    """An oracle that replays the entries one by one: a stack of corrections from which a void takes one out."""
    log = Log()
    log.add(Kind.READING, reading=reading(4), by="a")
    stack, void = [(1, 4)], False
    for kind, target, number in steps:
        if kind is Kind.VOID:
            about = min(target, len(log.entries))
            if log.entries[about - 1].kind == Kind.VOID:
                continue
            log.add(kind, concerns=about, by="b", reason="r")
            void = void or about == 1
            stack = [(seq, value) for seq, value in stack if seq == 1 or seq != about]
        elif kind is Kind.CORRECTION:
            stack.append((log.add(kind, concerns=1, supersedes=stack[-1][0], reading=reading(number), by="b", reason="r"), number))
        else:
            log.add(kind, concerns=1, side="A", last_wet=number, by="b")
    stands = log.stand()
    assert stands.statement.seq == stack[-1][0]
    assert stands.reading == reading(stack[-1][1])
    assert (stands.void is not None) == void


# --- finding


@pytest.fixture
def mixed(book: Logbook) -> Logbook:
    """Readings of two people on two days, on boards and without; the second was corrected."""
    said = [
        ("reading", {"reading": reading(4), "by": "Ann", "board": "B-1", "job": "doors", "film": {"coating": "Nosuch clear"}}),
        ("reading", {"reading": reading(5, verdict="above"), "by": "Ann", "board": "B-1", "job": "doors"}),
        ("reading", {"reading": reading(None, verdict=None), "by": "Ben", "board": 2}),
        ("correction", {"concerns": 2, "supersedes": 2, "reading": reading(4, method="eye"), "by": "Ben", "reason": "r"}),
        ("coat", {"coating": "Nosuch primer", "board": {"odd": 1}, "by": ["odd"], "concerns": "odd"}),
    ]
    for day, (kind, body) in enumerate(said):
        book.append(kind, body, recorded_at=NOON + dt.timedelta(days=day))
    return book


@pytest.mark.parametrize(
    ("wanted", "seqs"),
    [
        (Filter(), [5, 4, 3, 2, 1]),
        (Filter(person="ANN"), [2, 1]),
        (Filter(board="b-1"), [2, 1]),
        (Filter(board="2"), [3]),
        (Filter(job="doors", coating="nosuch CLEAR"), [1]),
        (Filter(coating="Nosuch primer"), [5]),
        (Filter(kind="correction"), [4]),
        (Filter(outcome="refused"), [3]),
        (Filter(verdict="inside"), [2, 1]),
        (Filter(verdict="above"), [2]),  # it said so at first: `standings` tells that it does no longer
        (Filter(verdict="inside", person="Ann", board="B-1"), [2, 1]),
        (Filter(gauge="card", outcome="read", verdict="below"), []),
        (Filter(since=NOON + dt.timedelta(days=1), until=NOON + dt.timedelta(days=3)), [3, 2]),
        (Filter(since=NOON.astimezone(dt.timezone(dt.timedelta(hours=-11))), until=NOON + dt.timedelta(seconds=1)), [1]),
    ],
)
def test_entries_are_found_by_what_they_say(mixed: Logbook, wanted: Filter, seqs: list[int]) -> None:
    assert [entry.seq for entry in mixed.find(wanted, 50)] == seqs
    assert [entry.seq for entry in mixed.find(wanted, 1)] == seqs[:1]
    assert [entry.seq for entry in mixed.find(wanted, 50, before=3)] == [seq for seq in seqs if seq < 3]


def test_what_concerns_entries_is_found_with_what_concerns_that(mixed: Logbook) -> None:
    mixed.append("void", {"concerns": 4, "by": "Ann", "reason": "r"}, recorded_at=NOON)
    assert [entry.seq for entry in mixed.concerning([2])] == [4, 6]
    assert mixed.concerning([1, 3]) == []
    assert mixed.concerning([]) == []


def test_all_entries_come_in_order_however_many(book: Logbook) -> None:
    for number in range(1, 8):
        book.append("note", {"n": number}, recorded_at=NOON)
    assert [entry.body["n"] for entry in book.all_entries()] == list(range(1, 8))
    assert book.all_entries() is not None
    head = book.head()
    assert head is not None
    assert head.seq == 7


def test_an_empty_log_has_no_head(book: Logbook) -> None:
    assert book.head() is None
    assert list(book.all_entries()) == []


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40, deadline=None)
@given(text=st.text(max_size=12))
def test_no_name_is_taken_for_a_part_of_the_question(mixed: Logbook, text: str) -> None:
    for wanted in (Filter(person=text), Filter(board=text), Filter(verdict=text, job=text)):
        assert all(str(entry.body.get("by")).casefold() == text.casefold() or wanted.person is None for entry in mixed.find(wanted, 50))

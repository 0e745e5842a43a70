"""A logbook of any earlier version opens, verifies and says what it said; a step that fails leaves the version before it."""

from __future__ import annotations

import datetime as dt
import shutil
import sqlite3
from collections import Counter
from contextlib import closing
from pathlib import Path

import pytest

from lastwet.errors import NotWritten
from lastwet.logbook.database import MIGRATIONS, migrate, pragma
from lastwet.logbook.find import Filter
from lastwet.logbook.store import LOG_FILE, Logbook
from lastwet.logbook.verify import verify
from tests.logbook.injection import inject

FIRST = Path(__file__).parent / "first_version"
"""Written by lastwet 0.1.0 as its log file had version 1; never to be written anew."""


def rows(folder: Path) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(folder / LOG_FILE)) as connection:
        return connection.execute("SELECT seq, previous, record, hash FROM entry ORDER BY seq").fetchall()


@pytest.fixture
def first(tmp_path: Path) -> Path:
    return Path(shutil.copytree(FIRST, tmp_path / "log"))


def version(folder: Path) -> int:
    with closing(sqlite3.connect(folder / LOG_FILE)) as connection:
        return pragma(connection, "user_version")


def test_the_first_version_opens_and_no_entry_changes(first: Path, noon: dt.datetime) -> None:
    assert version(first) == 1
    before = rows(first)
    book = Logbook(first)
    assert version(first) == len(MIGRATIONS)
    assert rows(first) == before
    assert verify(first) == []
    assert [entry.kind for entry in book.all_entries()] == ["reading"] * 4 + ["note"]
    assert [entry.body.get("by") for entry in book.all_entries()] == ["Tester One"] * 3 + ["Tester Two", None]
    assert book.append("note", {}, recorded_at=noon).seq == 6


def test_entries_of_the_first_version_are_found_by_what_they_say(first: Path) -> None:
    book = Logbook(first)
    found = {
        "person": Filter(person="tester one"),
        "gauge": Filter(gauge="bench-strip"),
        "outcome": Filter(outcome="refused"),
        "verdict": Filter(verdict="straddles"),
        "time": Filter(until=dt.datetime(2026, 11, 26, 0, 0, tzinfo=dt.UTC)),
    }
    assert {name: [entry.seq for entry in book.find(wanted, 50)] for name, wanted in found.items()} == {
        "person": [3, 2, 1],
        "gauge": [4, 3, 2, 1],
        "outcome": [2],
        "verdict": [4, 1],
        "time": [],
    }


def test_the_first_version_verifies_before_it_is_brought_up_to_date(first: Path) -> None:
    assert verify(first) == []
    assert version(first) == 1


def steps() -> list[tuple[str, int, int]]:
    """Every statement from the first version to the newest, which of its like it is, and the version that it leads away from."""
    words = ("BEGIN IMMEDIATE", "ALTER", "CREATE INDEX", "DROP INDEX", "COMMIT")
    seen, found = Counter[str](), []
    for before, statements in enumerate(MIGRATIONS[1:], start=1):
        for statement in ("BEGIN IMMEDIATE", *statements, "COMMIT"):
            like = next(word for word in words if statement.startswith(word))
            seen[like] += 1
            found.append((like, seen[like], before))
    return found


def disk_full() -> None:
    raise sqlite3.OperationalError("database or disk is full")


@pytest.mark.parametrize(("step", "nth", "left"), steps())
def test_a_step_that_fails_leaves_the_version_before_it_and_can_be_tried_again(
    first: Path, monkeypatch: pytest.MonkeyPatch, step: str, nth: int, left: int
) -> None:
    before = rows(first)
    with monkeypatch.context() as patch:
        inject(patch.setattr, step, nth, disk_full)
        with pytest.raises(NotWritten):
            Logbook(first)
    assert version(first) == left
    assert verify(first) == []
    Logbook(first)
    assert version(first) == len(MIGRATIONS)
    assert rows(first) == before
    assert verify(first) == []


def test_each_step_is_one_transaction() -> None:
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        said: list[str] = []
        connection.set_trace_callback(said.append)
        migrate(connection)
    assert [line for line in said if line in ("BEGIN IMMEDIATE", "COMMIT")] == ["BEGIN IMMEDIATE", "COMMIT"] * len(MIGRATIONS)

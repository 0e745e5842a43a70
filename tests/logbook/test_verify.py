"""Every kind of tampering is found and the entry named: by `verify`, and by the commands of docs/logbook.md."""

from __future__ import annotations

import datetime as dt
import hashlib
import random
import re
import shutil
import sqlite3
import subprocess
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from lastwet.errors import EvidenceBroken
from lastwet.logbook.entry import chain_hash
from lastwet.logbook.store import LOG_FILE, Logbook
from lastwet.logbook.verify import Problem, first_broken, verify

DOCS = Path(__file__).parents[2] / "docs" / "logbook.md"
Tampering = Callable[[Logbook], None]


def edit(book: Logbook, *statements: str) -> None:
    """Change the database as somebody would who takes the guards away and puts them back."""
    with closing(sqlite3.connect(book.folder / LOG_FILE, isolation_level=None)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        guards = connection.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
        for name, _ in guards:
            connection.execute(f"DROP TRIGGER {name}")
        for statement in (*statements, *(sql for _, sql in guards)):
            connection.execute(statement)


def sql(*statements: str) -> Tampering:
    return lambda book: edit(book, *statements)


def flip_photo_bit(book: Logbook) -> None:
    path = book.photos.path(hashlib.sha256(b"photo two").hexdigest())
    content = bytearray(path.read_bytes())
    content[3] ^= 1
    path.chmod(0o644)
    path.write_bytes(content)


def remove_photo(book: Logbook) -> None:
    book.photos.path(hashlib.sha256(b"photo five").hexdigest()).unlink()


def reseal_one(book: Logbook) -> None:
    """Edit an entry and give it the hash that fits: the next one then does not follow."""
    entry = book.entry(2)
    record = entry.record.replace("110.0", "140.0")
    edit(book, f"UPDATE entry SET record = '{record}', hash = '{chain_hash(entry.previous, record)}' WHERE seq = 2")


NO_UTF8 = "UPDATE entry SET record = replace(record, 'reading', CAST(x'ff' AS TEXT)) WHERE seq = 4"
SWAP = ("UPDATE entry SET seq = -seq WHERE seq IN (2, 3)", "UPDATE entry SET seq = 5 + seq WHERE seq < 0")
TAMPERINGS = [  # name, what is done, first broken entry, problems found with entries
    ("one bit of a photo that two entries name", flip_photo_bit, 2, [Problem.PHOTO_CHANGED]),
    ("a photo removed", remove_photo, 5, [Problem.PHOTO_MISSING]),
    ("a field edited", sql("UPDATE entry SET record = replace(record, '110.0', '85.0') WHERE seq = 3"), 3, [Problem.CHANGED]),
    ("a field of the newest edited", sql("UPDATE entry SET record = replace(record, '110.0', '85.0') WHERE seq = 5"), 5, [Problem.CHANGED]),
    ("a hash edited", sql(f"UPDATE entry SET hash = '{'0' * 64}' WHERE seq = 3"), 3, [Problem.CHANGED, Problem.CHAIN]),
    ("edited and sealed again", reseal_one, 3, [Problem.CHAIN]),
    ("a row deleted", sql("DELETE FROM entry WHERE seq = 3"), 3, [Problem.GAP]),
    ("the first row deleted", sql("DELETE FROM entry WHERE seq = 1"), 1, [Problem.GAP]),
    ("the last row deleted", sql("DELETE FROM entry WHERE seq = 5"), 5, [Problem.GAP]),
    ("all rows deleted", sql("DELETE FROM entry"), 1, [Problem.GAP]),
    ("two rows swapped", sql(*SWAP), 2, [Problem.CHAIN, Problem.CHANGED, Problem.CHAIN, Problem.CHANGED, Problem.CHAIN]),
    ("no longer UTF-8", sql(NO_UTF8), 4, [Problem.CHANGED]),
]


@pytest.mark.parametrize(("tamper", "seq", "problems"), [row[1:] for row in TAMPERINGS], ids=[row[0] for row in TAMPERINGS])
def test_tampering_is_found_and_the_entry_named(full: Logbook, tamper: Tampering, seq: int, problems: list[Problem]) -> None:
    assert verify(full.folder) == []
    tamper(full)
    findings = [finding for finding in verify(full.folder) if finding.seq is not None]
    assert first_broken(findings) == seq
    assert str(seq) in findings[0].message
    assert [finding.problem for finding in findings] == problems


def test_missing_guards_are_found(full: Logbook) -> None:
    with closing(sqlite3.connect(full.folder / LOG_FILE)) as connection:
        connection.execute("DROP TRIGGER entry_is_never_deleted")
    (finding,) = verify(full.folder)
    assert (finding.problem, finding.broken) == (Problem.GUARD, True)
    assert "entry_is_never_deleted" in finding.message


def test_traces_of_a_killed_process_are_listed_and_break_nothing(full: Logbook) -> None:
    (full.photos.folder / ".0f.part").write_bytes(b"half")
    (full.photos.folder / ("0" * 64)).write_bytes(b"no entry yet")
    findings = verify(full.folder)
    assert [finding.problem for finding in findings] == [Problem.LEFTOVER, Problem.ORPHAN]
    assert not any(finding.broken for finding in findings)


@pytest.mark.parametrize("content", [None, b"", b"no database" * 100])
def test_what_is_no_log_is_unreadable(full: Logbook, content: bytes | None) -> None:
    log = full.folder / LOG_FILE
    log.unlink() if content is None else log.write_bytes(content)
    assert any(finding.problem is Problem.UNREADABLE for finding in verify(full.folder))
    assert verify(full.folder / "nowhere")[0].problem is Problem.UNREADABLE


def test_a_newer_log_is_not_judged(full: Logbook) -> None:
    with closing(sqlite3.connect(full.folder / LOG_FILE)) as connection:
        connection.execute("PRAGMA user_version = 99")
    assert [finding.problem for finding in verify(full.folder)] == [Problem.UNREADABLE]


def test_a_flipped_bit_anywhere_in_the_file_never_passes_for_evidence(full: Logbook) -> None:
    """Damage may fall on unused bytes; then everything still reads as it was written."""
    written, log, chance = full.entries(50), full.folder / LOG_FILE, random.Random(8)
    intact, found = log.read_bytes(), 0
    used = [position for position, byte in enumerate(intact) if byte]
    for position in chance.sample(used, 250):
        damaged = bytearray(intact)
        damaged[position] ^= 1 << chance.randrange(8)
        log.write_bytes(damaged)
        findings = verify(full.folder)
        found += any(finding.broken for finding in findings)
        try:
            kept = Logbook(full.folder).entries(50)
        except EvidenceBroken:
            kept = []
        assert any(finding.broken for finding in findings) or kept == written, position
    assert found > 200


# By hand: every shell block of the docs, run in the log's folder. It prints nothing when all is well.


def by_hand(book: Logbook) -> str:
    blocks = re.findall(r"```sh\n(.*?)```", DOCS.read_text("utf-8"), re.DOTALL)
    assert len(blocks) == 3
    ran = subprocess.run(["sh", "-c", "\n".join(blocks)], cwd=book.folder, capture_output=True, text=True, check=False)
    return ran.stdout + ran.stderr


needs_tools = pytest.mark.skipif(
    not (shutil.which("sqlite3") and shutil.which("sha256sum")), reason="checking by hand needs sqlite3 and sha256sum"
)
FOUND_BY_HAND = [row for row in TAMPERINGS if row[0] not in ("the last row deleted", "all rows deleted")]


@needs_tools
def test_checking_by_hand_finds_nothing_in_an_intact_log(full: Logbook, noon: dt.datetime) -> None:
    full.append("note", {"odd": 'é € \u2028 "quoted" \\ back\nslash', "name": "caf\udce9"}, recorded_at=noon)
    assert by_hand(full) == ""


@needs_tools
@pytest.mark.parametrize(("tamper", "seq"), [row[1:3] for row in FOUND_BY_HAND], ids=[row[0] for row in FOUND_BY_HAND])
def test_checking_by_hand_finds_tampering_and_names_the_entry(full: Logbook, tamper: Tampering, seq: int) -> None:
    entry = full.entry(seq)
    tamper(full)
    said = by_hand(full)
    assert f"entry {seq} " in said or (entry.photo_sha256 is not None and entry.photo_sha256 in said)

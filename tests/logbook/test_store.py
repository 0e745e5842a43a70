"""The logbook: what goes in comes out, nothing is changed, and each obstacle has a cure."""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import resource
import shutil
import sqlite3
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from lastwet.errors import EvidenceBroken, NotWritten, UsageError
from lastwet.logbook.database import MIGRATIONS, connect
from lastwet.logbook.store import LOG_FILE, Logbook
from lastwet.logbook.verify import Problem, verify


def test_entries_come_back_newest_first(full: Logbook) -> None:
    assert [entry.body["number"] for entry in full.entries(50)] == [5, 4, 3, 2, 1]
    assert [entry.seq for entry in full.entries(2)] == [5, 4]


def test_append_returns_what_is_read_later(book: Logbook, noon: dt.datetime) -> None:
    entry = book.append("refusal", {"codes": ["glare"]}, b"\xff\xd8 bytes", recorded_at=noon)
    assert Logbook(book.folder).entry(entry.seq) == entry
    assert (entry.seq, entry.kind, entry.recorded_at, entry.previous) == (1, "refusal", noon, None)


def test_each_entry_names_the_hash_of_the_one_before(full: Logbook) -> None:
    newest_first = full.entries(50)
    assert [entry.previous for entry in newest_first] == [entry.hash for entry in newest_first[1:]] + [None]


def test_a_clock_that_goes_backwards_changes_no_order(book: Logbook, noon: dt.datetime) -> None:
    book.append("note", {}, recorded_at=noon)
    book.append("note", {}, recorded_at=noon - dt.timedelta(days=400))
    book.append("note", {}, recorded_at=noon - dt.timedelta(days=399))
    assert [entry.seq for entry in book.entries(50)] == [3, 2, 1]
    (noticed,) = verify(book.folder)
    assert (noticed.problem, noticed.seq, noticed.broken) == (Problem.CLOCK, 2, False)


def test_writers_that_waited_for_each_other_are_no_clock_that_was_set_back(book: Logbook, noon: dt.datetime) -> None:
    for seconds in (30, 0):
        book.append("note", {}, recorded_at=noon + dt.timedelta(seconds=seconds))
    assert verify(book.folder) == []


def test_the_photo_is_kept_byte_for_byte_read_only_and_once(full: Logbook) -> None:
    second, fourth = full.entry(2), full.entry(4)
    assert second.photo_sha256 == fourth.photo_sha256 == hashlib.sha256(b"photo two").hexdigest()
    path = full.photos.path(second.photo_sha256)
    assert path.read_bytes() == b"photo two"
    assert not path.stat().st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH)
    assert len(list(full.photos.folder.iterdir())) == 3


def test_a_photo_that_was_changed_on_disk_is_not_taken_for_the_same(full: Logbook, noon: dt.datetime) -> None:
    path = full.photos.path(hashlib.sha256(b"photo two").hexdigest())
    path.chmod(0o644)
    path.write_bytes(b"photo too")
    with pytest.raises(EvidenceBroken, match="is not what was written"):
        full.append("reading", {}, b"photo two", recorded_at=noon)
    assert path.read_bytes() == b"photo too"


def test_without_hard_links_a_photo_is_stored_all_the_same(book: Logbook, noon: dt.datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError("no hard links on this file system")

    monkeypatch.setattr(os, "link", refuse)
    for _ in range(2):
        book.append("reading", {}, b"photo", recorded_at=noon)
    assert [path.read_bytes() for path in book.photos.folder.iterdir()] == [b"photo"]
    assert verify(book.folder) == []


def test_an_entry_that_is_not_there(full: Logbook) -> None:
    for seq in (0, 6, -1):
        with pytest.raises(UsageError, match=f"there is no entry {seq} "):
            full.entry(seq)


def test_an_edited_entry_is_never_returned(full: Logbook) -> None:
    with closing(sqlite3.connect(full.folder / LOG_FILE)) as connection:
        connection.execute("DROP TRIGGER entry_is_never_changed")
        connection.execute("UPDATE entry SET record = replace(record, '110', '85') WHERE seq = 4")
        connection.commit()
    assert full.entry(5).seq == 5
    for read in (lambda: full.entry(4), lambda: full.entries(50)):
        with pytest.raises(EvidenceBroken, match="entry 4 .* is not what was written"):
            read()


NEXT = "INSERT OR REPLACE INTO entry (seq, previous, record, hash) SELECT {seq}, {previous}, {record}, {hash} FROM entry WHERE seq = 5"
GUARDED = [
    "UPDATE entry SET record = '{}' WHERE seq = 3",
    "UPDATE entry SET hash = hash",
    "UPDATE OR REPLACE entry SET seq = 4 WHERE seq = 5",
    "DELETE FROM entry WHERE seq = 5",
    "DELETE FROM entry",
    NEXT.format(seq="5", previous="previous", record="record", hash="hash"),
    NEXT.format(seq="3", previous="previous", record="json_set(record, '$.seq', 3)", hash="'" + "0" * 64 + "'"),
    NEXT.format(seq="6", previous="hash", record="json_set(record, '$.seq', 6)", hash="hash"),  # in the way: the hash
    NEXT.format(seq="6", previous="previous", record="json_set(record, '$.seq', 6)", hash="'" + "0" * 64 + "'"),  # the previous hash
    NEXT.format(seq="9", previous="hash", record="json_set(record, '$.seq', 9)", hash="'" + "0" * 64 + "'"),
    NEXT.format(seq="NULL", previous="hash", record="record", hash="'" + "0" * 64 + "'"),
    "INSERT INTO entry (seq, previous, record, hash) SELECT seq, previous, record, hash FROM entry WHERE seq = 5 "
    "ON CONFLICT (seq) DO UPDATE SET record = '{}'",
]


@pytest.mark.parametrize("statement", GUARDED)
def test_the_database_itself_refuses_changes(full: Logbook, statement: str) -> None:
    """By a connection without our settings, as another program opens it: recursive_triggers is off there."""
    before = full.entries(50)
    with closing(sqlite3.connect(full.folder / LOG_FILE)) as connection:
        with pytest.raises(sqlite3.IntegrityError, match="never changed|never deleted|must follow"):
            connection.execute(statement)
        connection.commit()
    assert full.entries(50) == before


def test_the_guards_let_the_next_entry_in(full: Logbook) -> None:
    """The counterpart of the test above: the same kind of statement passes where nothing is in its way."""
    with closing(sqlite3.connect(full.folder / LOG_FILE)) as connection:
        connection.execute(NEXT.format(seq="6", previous="hash", record="json_set(record, '$.seq', 6)", hash="'" + "0" * 64 + "'"))
        connection.commit()
        assert connection.execute("SELECT count(*) FROM entry").fetchone() == (6,)


def test_settings_that_durability_rests_on(book: Logbook) -> None:
    """sqlite.org/pragma.html: synchronous 3 is EXTRA."""
    with closing(connect(book.folder / LOG_FILE)) as connection:
        settings = ("journal_mode", "synchronous", "foreign_keys", "recursive_triggers", "busy_timeout", "user_version")
        found = {name: connection.execute(f"PRAGMA {name}").fetchone()[0] for name in settings}
    assert found == {
        "journal_mode": "delete",
        "synchronous": 3,
        "foreign_keys": 1,
        "recursive_triggers": 1,
        "busy_timeout": 30_000,
        "user_version": len(MIGRATIONS),
    }


def test_one_logbook_serves_several_threads(book: Logbook, noon: dt.datetime) -> None:
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda n: book.append("note", {"n": n}, b"the same photo", recorded_at=noon), range(12)))
    assert sorted(entry.body["n"] for entry in book.entries(50)) == list(range(12))
    assert verify(book.folder) == []


# Obstacles


def test_a_folder_of_other_files_is_no_logbook(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("dear")
    with pytest.raises(UsageError, match="is not a logbook") as refused:
        Logbook(tmp_path)
    assert "new folder" in refused.value.cure
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_a_file_is_no_logbook(tmp_path: Path) -> None:
    (tmp_path / "log").write_text("")
    with pytest.raises(UsageError, match="is not a folder"):
        Logbook(tmp_path / "log")
    with pytest.raises(NotWritten):
        Logbook(tmp_path / "log" / "deeper")


def test_another_database_is_no_logbook(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / LOG_FILE)) as connection:
        connection.execute("CREATE TABLE paint (name)")
    with pytest.raises(UsageError, match="is not a logbook"):
        Logbook(tmp_path)


def test_a_log_of_a_newer_version_is_left_alone(full: Logbook) -> None:
    with closing(sqlite3.connect(full.folder / LOG_FILE)) as connection:
        connection.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
    with pytest.raises(UsageError, match="newer version") as refused:
        Logbook(full.folder)
    assert refused.value.cure == "update lastwet"


@pytest.mark.parametrize("content", [b"not a database, but long enough to have a header" * 50, b""])
def test_a_log_that_was_overwritten_is_not_started_anew(full: Logbook, content: bytes) -> None:
    (full.folder / LOG_FILE).write_bytes(content)
    with pytest.raises(EvidenceBroken) as broken:
        Logbook(full.folder)
    assert "backup" in broken.value.cure
    assert (full.folder / LOG_FILE).read_bytes() == content


def test_a_lost_log_file_is_not_replaced(full: Logbook) -> None:
    (full.folder / LOG_FILE).unlink()
    with pytest.raises(UsageError, match="is not a logbook"):
        Logbook(full.folder)


def test_a_busy_log_says_to_wait(book: Logbook, noon: dt.datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lastwet.logbook.database.BUSY_S", 0.05)
    with closing(connect(book.folder / LOG_FILE)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(NotWritten, match="locked") as busy:
            book.append("note", {}, recorded_at=noon)
    assert "wait" in busy.value.cure
    assert book.append("note", {}, recorded_at=noon).seq == 1


@pytest.fixture
def small_files() -> Iterator[None]:
    """A limit on the size of files, as a full disk would set one: writes end half-way (setrlimit, RLIMIT_FSIZE)."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, hard))
    yield
    resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.usefixtures("small_files")
@pytest.mark.parametrize(("body", "photo"), [({}, bytes(200_000)), ({"text": "x" * 200_000}, None)])
def test_no_room_for_photo_or_row(full: Logbook, body: dict[str, str], photo: bytes | None, noon: dt.datetime) -> None:
    with pytest.raises(NotWritten) as failed:
        full.append("reading", body, photo, recorded_at=noon)
    assert failed.value.cure
    assert verify(full.folder) == []
    assert full.append("reading", {}, b"small", recorded_at=noon).seq == 6


FULL_DISK = """
import os, sys, datetime as dt
from lastwet.errors import NotWritten
from lastwet.logbook.store import Logbook
from lastwet.logbook.verify import verify
folder, noon = sys.argv[1], dt.datetime.now(dt.UTC)
book, count = Logbook(folder + "/log"), 0
try:
    while True:
        book.append("reading", {"text": "x" * 500}, os.urandom(int(sys.argv[2])) if int(sys.argv[2]) else None, recorded_at=noon)
        count += 1
except NotWritten as error:
    print(error.cure)
print(count > 3, len(book.entries(1000)) == count, [finding.message for finding in verify(book.folder) if finding.broken])
os.unlink(folder + "/other")
print(book.append("reading", {}, b"small", recorded_at=noon).seq == count + 1)
"""


@pytest.mark.parametrize("photo_bytes", [9_000, 0], ids=["photo and row", "row alone"])
def test_a_full_disk_loses_nothing_and_says_what_to_do(tmp_path: Path, photo_bytes: int) -> None:
    """On a small file system of its own, in memory."""
    mount = 'mount -t tmpfs -o size=400k tmpfs $0 && head -c 100000 /dev/zero > $0/other && exec $1 -c "$2" $0 $3'
    command = ["unshare", "--mount", "sh", "-c", mount, tmp_path, sys.executable, FULL_DISK, str(photo_bytes)]
    if not shutil.which("unshare") or subprocess.run(["unshare", "--mount", "true"], capture_output=True, check=False).returncode:
        pytest.skip("mounting a small file system needs the rights to do so")
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines() == ["free some space on that disk, then try again", "True True []", "True"]


@pytest.fixture
def as_user() -> Iterator[Path]:
    """A folder that belongs to an ordinary user, for whom write protection counts, and that user's rights."""
    with tempfile.TemporaryDirectory() as folder:
        root = os.geteuid() == 0
        if root:
            Path(folder).chmod(0o755)
            os.chown(folder, 65534, 65534)
            os.seteuid(65534)
        yield Path(folder)
        if root:
            os.seteuid(0)


def test_a_read_only_logbook_can_be_read_and_says_why_it_cannot_be_written(as_user: Path, noon: dt.datetime) -> None:
    book = Logbook(as_user / "log")
    book.append("reading", {"n": 1}, b"photo", recorded_at=noon)
    folders = (book.photos.folder, book.folder, as_user)
    for path in (book.folder / LOG_FILE, *folders):
        path.chmod(0o555)
    try:
        assert Logbook(book.folder).entry(1).body == {"n": 1}
        assert verify(book.folder) == []
        for photo in (b"another", None):
            with pytest.raises(NotWritten) as failed:
                book.append("reading", {}, photo, recorded_at=noon)
            assert "make the folder writable" in failed.value.cure
        with pytest.raises(NotWritten, match="make the folder writable"):
            Logbook(as_user / "new")
    finally:
        for path in reversed(folders):
            path.chmod(0o755)

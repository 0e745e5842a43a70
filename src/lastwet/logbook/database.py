"""The logbook's database: its tables in numbered steps, and the settings that durability rests on.

SQLite keeps a rollback journal with synchronous=EXTRA: a commit returns when the change and the removal of the journal are
flushed (sqlite.org/pragma.html#pragma_synchronous). The write-ahead log is not used: SQLite 3.7.0 to 3.51.2 can corrupt it
when two connections write at once, which is what the command and the page do, and its extra files must travel along.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from pathlib import Path

APPLICATION_ID = 0x6C776574
"""Marks the SQLite file as a logbook; "lwet" in ASCII."""

BUSY_S = 30.0
"""Seconds to wait for another process that is writing; one entry takes milliseconds."""

_VERSION_1 = (
    f"PRAGMA application_id = {APPLICATION_ID}",
    # The record holds everything; the generated columns only show parts of it. AUTOINCREMENT remembers the highest number
    # ever given, so that an entry deleted from the end is missed as well.
    """
    CREATE TABLE entry (
        seq INTEGER PRIMARY KEY AUTOINCREMENT CHECK (seq = json_extract(record, '$.seq')),
        previous TEXT UNIQUE REFERENCES entry (hash) CHECK ((previous IS NULL) = (seq = 1)),
        record TEXT NOT NULL CHECK (json_valid(record)),
        hash TEXT NOT NULL UNIQUE CHECK (length(hash) = 64),
        kind TEXT GENERATED ALWAYS AS (json_extract(record, '$.kind')) VIRTUAL,
        recorded_at TEXT GENERATED ALWAYS AS (json_extract(record, '$.recorded_at')) VIRTUAL,
        photo_sha256 TEXT GENERATED ALWAYS AS (json_extract(record, '$.photo_sha256')) VIRTUAL
    ) STRICT
    """,
    "CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry BEGIN SELECT raise(ABORT, 'entries are never changed'); END",
    "CREATE TRIGGER entry_is_never_deleted BEFORE DELETE ON entry BEGIN SELECT raise(ABORT, 'entries are never deleted'); END",
    # INSERT OR REPLACE deletes the row in its way, and without recursive_triggers no DELETE trigger fires for it. So nothing
    # may be in its way: not the number, not the previous hash, not the hash.
    """
    CREATE TRIGGER entry_is_never_replaced BEFORE INSERT ON entry
    WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM entry)
        OR NEW.previous IS NOT (SELECT hash FROM entry ORDER BY seq DESC LIMIT 1)
        OR EXISTS (SELECT 1 FROM entry WHERE hash = NEW.hash)
    BEGIN SELECT raise(ABORT, 'an entry must follow the last one'); END
    """,
)
_SHOWN = {
    "recorded_utc": "strftime('%Y-%m-%dT%H:%M:%f', json_extract(record, '$.recorded_at'))",
    "person": "json_extract(record, '$.body.by')",
    "board": "json_extract(record, '$.body.board')",
    "job": "json_extract(record, '$.body.job')",
    "coating": "coalesce(json_extract(record, '$.body.film.coating'), json_extract(record, '$.body.coating'))",
    "gauge": "json_extract(record, '$.body.reading.gauge')",
    "outcome": "json_extract(record, '$.body.reading.outcome')",
    "verdict": "json_extract(record, '$.body.reading.verdict')",
}
_CONCERNS = "CASE json_type(record, '$.body.concerns') WHEN 'integer' THEN json_extract(record, '$.body.concerns') END"
_VERSION_2 = (
    # Shown from the record, so that entries are found by what they say; NULL where an entry does not say it. Cast, as a body
    # may hold anything under these names, and a STRICT table minds.
    *(f"ALTER TABLE entry ADD COLUMN {name} TEXT GENERATED ALWAYS AS (CAST({source} AS TEXT)) VIRTUAL" for name, source in _SHOWN.items()),
    f"ALTER TABLE entry ADD COLUMN concerns INTEGER GENERATED ALWAYS AS ({_CONCERNS}) VIRTUAL",
    "CREATE INDEX entry_by_kind ON entry (kind COLLATE NOCASE)",
    *(f"CREATE INDEX entry_by_{name} ON entry ({name} COLLATE NOCASE)" for name in _SHOWN),
    "CREATE INDEX entry_by_concerns ON entry (concerns)",
    "CREATE INDEX entry_by_photo ON entry (photo_sha256)",
)
_SHOWN_OF_TYPED = {  # a reading that was typed in says the same, without the object `reading`
    "gauge": "coalesce(json_extract(record, '$.body.reading.gauge'), json_extract(record, '$.body.gauge.name'))",
    "outcome": "coalesce(json_extract(record, '$.body.reading.outcome'), json_extract(record, '$.body.outcome'))",
    "verdict": "coalesce(json_extract(record, '$.body.reading.verdict'), json_extract(record, '$.body.verdict'))",
}
_VERSION_3 = tuple(
    statement
    for name, source in _SHOWN_OF_TYPED.items()
    for statement in (
        f"DROP INDEX entry_by_{name}",
        f"ALTER TABLE entry DROP COLUMN {name}",
        f"ALTER TABLE entry ADD COLUMN {name} TEXT GENERATED ALWAYS AS (CAST({source} AS TEXT)) VIRTUAL",
        f"CREATE INDEX entry_by_{name} ON entry ({name} COLLATE NOCASE)",
    )
)
MIGRATIONS = (_VERSION_1, _VERSION_2, _VERSION_3)
"""What leads from one version of the log file to the next; version N is reached by the first N. Never edit one that was released."""


def connect(log_file: Path) -> sqlite3.Connection:
    """Open the database with the settings that durability rests on; the caller begins and commits by hand, and closes."""
    connection = sqlite3.connect(log_file, timeout=BUSY_S, isolation_level=None)
    # A damaged byte must not hide the row that it damaged: no hash matches the surrogate that it becomes.
    connection.text_factory = lambda text: text.decode(errors="surrogateescape")
    try:
        for setting in ("journal_mode = DELETE", "synchronous = EXTRA", "foreign_keys = ON", "recursive_triggers = ON"):
            connection.execute(f"PRAGMA {setting}")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def migrate(connection: sqlite3.Connection, steps: Sequence[Sequence[str]] = MIGRATIONS) -> None:
    """Bring the log file up to the version that `steps` lead to, each in a transaction of its own."""
    for version, statements in enumerate(steps, start=1):
        if pragma(connection, "user_version") >= version:
            continue
        connection.execute("BEGIN IMMEDIATE")
        if pragma(connection, "user_version") < version:  # another process may have been first
            for statement in (*statements, f"PRAGMA user_version = {version}"):
                connection.execute(statement)
        connection.execute("COMMIT")


def pragma(connection: sqlite3.Connection, name: str) -> int:
    """Return a setting that is a number."""
    return int(connection.execute(f"PRAGMA {name}").fetchone()[0])

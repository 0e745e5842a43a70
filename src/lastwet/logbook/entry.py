"""One log entry: canonical JSON, sealed into a chain of hashes.

    record = canonical JSON of body, kind, photo_sha256, recorded_at, schema and seq, and of more_photos where there are any
    hash   = SHA-256 of the previous entry's hash (64 hex digits; nothing for the first entry) followed by the record

The record's text is stored as it was hashed, so that the check never depends on writing the same JSON twice.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

SCHEMA = "lastwet.entry/1"
"""Name and version of the record's layout; readers accept what they know."""

_SHA256 = re.compile("[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry as it was written."""

    seq: int
    """1 for the first entry, without gaps; the order of entries comes from here, never from a clock."""
    kind: str
    """What the entry is, such as reading or refusal."""
    recorded_at: dt.datetime
    """When it was received, with its offset from UTC."""
    body: Mapping[str, Any]
    """What it says, as plain JSON data."""
    photo_sha256: str | None
    """SHA-256 of the photo's bytes as received, which is the name of its file; None without a photo."""
    previous: str | None
    """Hash of the entry before; None for the first."""
    record: str
    """The canonical JSON that was hashed."""
    hash: str
    """SHA-256 in hex, over `previous` and `record`."""
    more_photos: tuple[str, ...] = ()
    """SHA-256 of each further photo that belongs to the entry."""

    @property
    def photos(self) -> tuple[str, ...]:
        """SHA-256 of every photo of the entry, the one that it is about first."""
        return (*([self.photo_sha256] if self.photo_sha256 else []), *self.more_photos)


def canonical_json(value: object) -> str:
    """Write plain data as JSON in one way only: keys sorted, no spaces, no escapes but the necessary.

    This is RFC 8785 save for three points, where plain `json` is kept: a float has its point or exponent as `repr` writes it
    (140.0, 1e-07), keys are sorted by code point, and a lone surrogate, as Python puts into odd names of files, is escaped
    rather than refused, so that no photo goes unlogged for its name. Raises `ValueError` or `TypeError` for what JSON cannot hold.
    """
    text = json.dumps(value, sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.encode(errors="backslashreplace").decode()


def chain_hash(previous: str | None, record: str) -> str:
    """Return the hash that seals `record` to the entry before it."""
    return hashlib.sha256(((previous or "") + record).encode()).hexdigest()


def seal(
    seq: int,
    previous: str | None,
    kind: str,
    body: Mapping[str, Any],
    *,
    recorded_at: dt.datetime,
    photo_sha256: str | None = None,
    more_photos: Sequence[str] = (),
) -> Entry:
    """Return the entry that follows the one whose hash is `previous`; raises `ValueError` for a time without offset."""
    if recorded_at.utcoffset() is None:
        raise ValueError("recorded_at needs its offset from UTC")
    fields = {
        "body": body,
        "kind": kind,
        "photo_sha256": photo_sha256,
        "recorded_at": recorded_at.isoformat(timespec="microseconds"),
        "schema": SCHEMA,
        "seq": seq,
        **({"more_photos": list(more_photos)} if more_photos else {}),
    }
    record = canonical_json(fields)
    return unseal(seq, previous, record, chain_hash(previous, record))


def unseal(seq: int, previous: object, record: object, sealed: object) -> Entry:
    """Return the entry of a stored row; raises `ValueError` when the row is not what was written."""
    if not (isinstance(previous, str | None) and isinstance(record, str) and isinstance(sealed, str)):
        raise ValueError("its columns are not text")
    if chain_hash(previous, record) != sealed:
        raise ValueError("its content does not match its hash")
    match fields := json.loads(record):
        case {
            "schema": schema,
            "seq": int(written_as),
            "kind": str(kind),
            "recorded_at": str(recorded_at),
            "body": dict(body),
            "photo_sha256": (None | str()) as photo_sha256,
        } if schema == SCHEMA and (photo_sha256 is None or _SHA256.fullmatch(photo_sha256)):
            if written_as != seq:
                raise ValueError(f"it was written as entry {written_as}")
            more, at = _more_photos(fields.get("more_photos", [])), dt.datetime.fromisoformat(recorded_at)
            return Entry(seq, kind, at, body, photo_sha256, previous, record, sealed, more)
    raise ValueError("its layout is not known")


def _more_photos(written: object) -> tuple[str, ...]:
    if not isinstance(written, list) or not all(isinstance(sha256, str) and _SHA256.fullmatch(sha256) for sha256 in written):
        raise ValueError("its layout is not known")
    return tuple(written)

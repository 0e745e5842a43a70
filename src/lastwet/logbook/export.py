"""Entries for other programs: a table of readings as they stand (CSV), every entry as it was written (JSON Lines), and both redacted.

CSV is RFC 4180 in UTF-8, with the unit in the header of each quantity; an empty cell means unknown. A text that a spreadsheet
would run as a formula begins with an apostrophe (CWE-1236).
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Mapping
from io import StringIO
from typing import Any

from lastwet.logbook.entry import Entry
from lastwet.logbook.kinds import Status, thinner_of
from lastwet.logbook.view import Standing

COLUMNS = (
    *("entry", "recorded_at", "camera_time", "by", "status", "method", "void", "confirmed_by", "corrected_by", "correction_reason"),
    *("job", "board", "coat_entry", "spot", "seconds_to_dip", "gauge", "side", "side_source", "unit", "last_wet"),
    *("wet_low_um", "wet_high_um", "dry_predicted_low_um", "dry_predicted_high_um", "wet_range_low_um", "wet_range_high_um"),
    *("verdict", "confidence", "refusals", "coating", "volume_solids_fraction", "thinner_fraction"),
    *("photo_sha256", "version", "reader_settings", "hash", "more_photos_sha256"),
)
"""Header of the table; columns may be added at the end."""

NAMED = frozenset({"by", "confirmed_by", "corrected_by", "correction_reason", "job", "board", "spot", "gauge", "coating"})
"""Columns that may name people, places or what the shop uses; left out when redacted, as these texts are from the entries."""

_STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r")

_TELLS_NOBODY = frozenset(
    {
        *(
            "schema",
            "kind",
            "recorded_at",
            "camera_time",
            "photo_sha256",
            "more_photos",
            "sha256",
            "previous",
            "hash",
            "outcome",
            "code",
            "method",
        ),
        *("side", "side_source", "unit", "verdict", "version", "reader_settings", "opencv", "media_type", "file_sha256"),
    }
)
"""Keys whose text names neither people nor places nor files."""


def table(readings: Iterable[Standing], *, redact: bool = False) -> str:
    """Write the table: one row for each reading, what stands of it, and what became of it."""
    columns = [name for name in COLUMNS if not (redact and name in NAMED)]
    text = StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(columns)
    for standing in readings:
        row = _row(standing)
        writer.writerow([_cell(row[name]) for name in columns])
    return text.getvalue()


def _row(standing: Standing) -> dict[str, Any]:
    entry, body = standing.entry, standing.entry.body
    reading = standing.finding
    correction = standing.corrections[-1].body if standing.corrections else {}
    film, software, limits = body.get("film") or {}, body.get("software") or {}, reading.get("wet_range_um") or (None, None)
    wet, dry = reading.get("wet") or {}, reading.get("dry") or {}
    return {
        "entry": entry.seq,
        "recorded_at": entry.recorded_at.isoformat(timespec="seconds"),
        "status": reading.get("outcome", Status.READ.value),
        "void": "void" if standing.void else None,
        "confirmed_by": "; ".join(dict.fromkeys(str(confirmation.body["by"]) for confirmation in standing.confirmations)) or None,
        "corrected_by": correction.get("by"),
        "correction_reason": correction.get("reason"),
        "wet_low_um": wet.get("low_um"),
        "wet_high_um": wet.get("high_um"),
        "dry_predicted_low_um": dry.get("low_um"),
        "dry_predicted_high_um": dry.get("high_um"),
        "wet_range_low_um": limits[0],
        "wet_range_high_um": limits[1],
        "refusals": " ".join(refusal["code"] for refusal in reading.get("refusals", ())) or None,
        "coating": film.get("coating"),
        "volume_solids_fraction": film.get("volume_solids"),
        "thinner_fraction": thinner_of(film),
        "photo_sha256": entry.photo_sha256,
        "version": software.get("version"),
        "reader_settings": software.get("reader_settings"),
        "hash": entry.hash,
        "more_photos_sha256": " ".join(entry.more_photos) or None,
        **{name: body.get(name) for name in ("camera_time", "by", "job", "board", "coat_entry", "spot")},
        "seconds_to_dip": body.get("seconds"),
        "gauge": (body.get("gauge") or {}).get("name"),
        "unit": (body.get("gauge") or {}).get("unit"),
        **{name: reading.get(name) for name in ("method", "side", "side_source", "last_wet", "verdict", "confidence")},
    }


def _cell(value: object) -> object:
    """Numbers stay numbers; a text that begins as a formula does is made a text; what is no single value is written as JSON."""
    if value is None or isinstance(value, int | float):
        return value
    text = value if isinstance(value, str) else json.dumps(value)
    text = text.encode(errors="backslashreplace").decode()
    return f"'{text}" if text.startswith(_STARTS_FORMULA) else text


def lines(entries: Iterable[Entry], *, redact: bool = False) -> Iterable[str]:
    """Yield each entry as one line of JSON: what was hashed, and both hashes; redacted, the hash only names the entry."""
    for entry in entries:
        said = {**json.loads(entry.record), "previous": entry.previous, "hash": entry.hash}
        yield json.dumps(redacted(said) if redact else said) + "\n"


def redacted(value: Any, key: str = "") -> Any:
    """Return plain data without any text that may name people, places or files; numbers and texts of fixed meaning stay."""
    if isinstance(value, Mapping):
        return {name: redacted(inner, name) for name, inner in value.items()}
    if isinstance(value, list):
        return [redacted(inner, key) for inner in value]
    return None if isinstance(value, str) and key not in _TELLS_NOBODY else value

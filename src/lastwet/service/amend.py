"""What people add to the log: confirmations, corrections, voids, notes, attachments. Nothing is changed; each is an entry of its own."""

from __future__ import annotations

import mimetypes
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from lastwet.errors import UnusablePhoto, UsageError
from lastwet.gauge import Gauge, Side
from lastwet.job.board import JobKind
from lastwet.logbook.entry import Entry
from lastwet.logbook.kinds import Kind, Status
from lastwet.logbook.store import Logbook
from lastwet.logbook.view import Standing, standings
from lastwet.reading.outcome import Reading, Seen
from lastwet.reading.photo import load_photo
from lastwet.result import Result, Task, photo_names, typed_json
from lastwet.service.log import append, named
from lastwet.service.photos import Fetch, fetch_file, printable, sha256_of
from lastwet.service.replay import film_of, gauge_of, task_of
from lastwet.units import Bracket

MAX_ATTACHMENT_BYTES = 50_000_000
"""Larger files are refused as attachments: the log is for evidence, and every backup copies it."""

_READABLE = (Status.READ, Status.REFUSED)


def read_by_eye(name: str, task: Task, last_wet: int, fetch: Fetch = fetch_file) -> Result:
    """Take a person's reading of a gauge, with the photo as evidence; the machine does not look at it.

    A file that is no photo is a result too. Raises `UsageError` when the side is not settled, or has not that many teeth.
    """
    side = _counted(_one_side(task.gauge) if task.side is None else task.side, last_wet)
    shown = printable(name)
    stated = replace(task, side_id=side.id)
    original = None
    try:
        original = fetch(name)
        photo = load_photo(original, shown)
    except UnusablePhoto as error:
        return Result(shown, stated, None, error, sha256_of(original), 0.0, method="eye")
    return Result(shown, stated, photo, _by_eye(side, last_wet), photo.sha256, 0.0, method="eye")


def confirm(logbook: Logbook, seq: int, last_wet: int, by: str, *, side_id: str | None = None, reason: str | None = None) -> Entry:
    """Confirm the bracket and the side of a logged reading, or correct them where they are read otherwise.

    The same side and the same last wet tooth make a confirmation. Others make a correction, which needs a reason, unless it
    gives the reading by eye of a photo that was refused: there the refusal is the reason. Raises `UsageError` for an entry that
    is no reading, is void, or was typed in as a bare bracket.
    """
    stands = _confirmable(logbook, seq)
    if "gauge" not in stands.entry.body:
        raise UsageError(f"entry {seq} was typed in as a bracket, without its gauge", "give the bracket, by --wet")
    gauge, found = gauge_of(stands.entry.body["gauge"]), stands.finding
    side = _counted(_side(gauge, side_id or found["side"]), last_wet)
    if stands.entry.kind == JobKind.DIP:
        return _retyped(logbook, stands, by, reason, _typed(stands, side.bracket(last_wet), side.id, last_wet))
    if (side.id, last_wet) == (found["side"], found["last_wet"]):
        return _agreed(logbook, stands, by, reason)
    task = replace(task_of(stands.entry.body), side_id=side.id)
    result = Result(photo_names(found)[0], task, None, _by_eye(side, last_wet), found["sha256"], 0.0, method="eye")
    return _corrected(logbook, stands, by, reason, {"reading": _of_the_same_photos(result.as_json(), found)})


def _of_the_same_photos(said: Mapping[str, Any], found: Mapping[str, Any]) -> dict[str, Any]:
    """Return a reading that names the photos of the one it corrects."""
    kept = {key: found[key] for key in ("photo", "photos", "clean") if key in found}
    return {**{key: value for key, value in said.items() if key != "photo"}, **kept}


def confirm_bracket(logbook: Logbook, seq: int, wet: Bracket, by: str, *, reason: str | None = None) -> Entry:
    """Confirm or correct the bracket of a reading that was typed in; raises `UsageError` for any other entry, as `confirm` does."""
    stands = _confirmable(logbook, seq)
    if stands.entry.kind != JobKind.DIP:
        raise UsageError(f"entry {seq} has a photo, so the wet teeth are counted on it", "give their number, by --last-wet")
    return _retyped(logbook, stands, by, reason, _typed(stands, wet))


def _confirmable(logbook: Logbook, seq: int) -> Standing:
    stands = standing(logbook, seq)
    readable = stands.entry.kind == Kind.READING and stands.finding["outcome"] in _READABLE
    if not readable and stands.entry.kind != JobKind.DIP:
        raise UsageError(f"entry {seq} is not a reading that can be confirmed", "name the entry of a photo or of a reading typed in")
    if stands.void:
        raise UsageError(f"entry {stands.entry.seq} is void since entry {stands.void.seq}", "read the gauge anew")
    return stands


def _typed(stands: Standing, wet: Bracket, side: str | None = None, last_wet: int | None = None) -> dict[str, Any]:
    return typed_json(wet, film_of(stands.entry.body), stands.entry.body["unit"], side, last_wet)


def _retyped(logbook: Logbook, stands: Standing, by: str, reason: str | None, typed: Mapping[str, Any]) -> Entry:
    """Log what somebody says of a reading that was typed in: the same, or otherwise."""
    if typed["wet"] == stands.finding["wet"] and typed["side"] in (None, stands.finding.get("side")):
        return _agreed(logbook, stands, by, reason)
    return _corrected(logbook, stands, by, reason, typed)


def _agreed(logbook: Logbook, stands: Standing, by: str, reason: str | None) -> Entry:
    said = {"concerns": stands.entry.seq, "by": named(by), "reason": _text(reason), "confirms": stands.statement.seq}
    return append(logbook, Kind.CONFIRMATION, {**said, **{key: stands.finding.get(key) for key in ("side", "last_wet", "wet")}})


def _corrected(logbook: Logbook, stands: Standing, by: str, reason: str | None, finding: Mapping[str, Any]) -> Entry:
    if stands.finding.get("outcome", Status.READ) == Status.READ and not _text(reason):
        raise UsageError(f"entry {stands.entry.seq} was read otherwise, so this corrects it", "say why, by --reason")
    said = {"concerns": stands.entry.seq, "by": named(by), "reason": _text(reason), "supersedes": stands.statement.seq}
    return append(logbook, Kind.CORRECTION, {**said, **finding})


def void(logbook: Logbook, seq: int, by: str, reason: str) -> Entry:
    """Take an entry out of use; it stays in the log. Raises `UsageError` for one that is void, or that is a void itself."""
    entry = logbook.entry(seq)
    if entry.kind == Kind.VOID:
        raise UsageError(f"entry {seq} voids another one, and a void stays", "log anew what is to count")
    if already := standings([entry], logbook.concerning([seq]))[0].void:
        raise UsageError(f"entry {seq} is void since entry {already.seq}", "nothing more is needed")
    if not _text(reason):
        raise UsageError("a void needs a reason", "say why, by --reason")
    return append(logbook, Kind.VOID, {"concerns": seq, "by": named(by), "reason": _text(reason)})


def note(logbook: Logbook, text: str, by: str, *, about: int | None = None) -> Entry:
    """Log a text, about an entry or about none."""
    if not _text(text):
        raise UsageError("the note is empty", "write what is to be noted")
    return append(logbook, Kind.NOTE, {**_about(logbook, about), "text": _text(text), "by": named(by)})


def attach(logbook: Logbook, path: Path, by: str, *, about: int | None = None, title: str | None = None) -> Entry:
    """Keep a document or picture as it is, about an entry or about none."""
    try:
        with path.open("rb") as file:
            content = file.read(MAX_ATTACHMENT_BYTES + 1)
    except OSError as error:
        raise UsageError(f"{path} cannot be read ({error.strerror})", "name a file that is there and may be read") from error
    if not content:
        raise UsageError(f"{path} is empty", "name a file with something in it")
    if len(content) > MAX_ATTACHMENT_BYTES:
        raise UsageError(f"{path} has more than {MAX_ATTACHMENT_BYTES // 1_000_000} MB", "attach a smaller copy")
    said = {"file": printable(path.name), "media_type": mimetypes.guess_type(path.name)[0], "title": _text(title), "bytes": len(content)}
    return append(logbook, Kind.ATTACHMENT, {**_about(logbook, about), **said, "by": named(by)}, content)


def standing(logbook: Logbook, seq: int) -> Standing:
    """Return the entry and what became of it; for an entry about another one, that other one."""
    entry = logbook.entry(seq)
    while isinstance(about := entry.body.get("concerns"), int) and about < entry.seq:
        entry = logbook.entry(about)
    return standings([entry], logbook.concerning([entry.seq]))[0]


def _about(logbook: Logbook, seq: int | None) -> dict[str, Any]:
    return {} if seq is None else {"concerns": logbook.entry(seq).seq}


def _by_eye(side: Side, last_wet: int) -> Reading:
    return Reading(side, "stated", last_wet, 1.0, Seen())


def _side(gauge: Gauge, side_id: str | None) -> Side:
    return _one_side(gauge) if side_id is None else gauge.side(side_id)


def _one_side(gauge: Gauge) -> Side:
    if len(gauge.sides) > 1:
        raise UsageError("a reading by eye needs the side that was pressed", f"name it by --side: {', '.join(s.id for s in gauge.sides)}")
    return gauge.sides[0]


def _counted(side: Side, last_wet: int) -> Side:
    if not 0 <= last_wet <= len(side.teeth):
        raise UsageError(
            f"side {side.id} has no {last_wet} teeth that could be wet", f"count the wet teeth from the lowest: 0 to {len(side.teeth)}"
        )
    return side


def _text(given: str | None) -> str | None:
    return (given or "").strip() or None

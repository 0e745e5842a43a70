"""From the log to a report: gather what it tells, render it, and log that it was issued."""

from __future__ import annotations

import datetime as dt
import hashlib
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields
from io import BytesIO
from pathlib import Path
from typing import Any, Literal

from lastwet import __version__
from lastwet.card import Table
from lastwet.errors import LastwetError, NotWritten, UsageError
from lastwet.film.estimate import chance, estimate
from lastwet.logbook.durable import write_once
from lastwet.logbook.entry import Entry, canonical_json
from lastwet.logbook.find import Filter
from lastwet.logbook.kinds import Kind
from lastwet.logbook.store import Logbook
from lastwet.logbook.verify import first_broken, verify
from lastwet.logbook.view import Standing
from lastwet.reading.photo import load_photo
from lastwet.report.compose import compose
from lastwet.report.model import (
    Amendment,
    Details,
    Estimate,
    Group,
    Origin,
    Paint,
    Reading,
    Refused,
    Replaced,
    Report,
)
from lastwet.service.archive import readings
from lastwet.service.files import make_folder
from lastwet.service.log import append, named
from lastwet.service.replay import gauge_of, outcome_of
from lastwet.units import Bracket

PICTURE_PX = 720
"""Width of the pictures in a report: 230 dots an inch in a column of 80 mm."""
MANY, FEW_PX = 60, 480
"""Beyond so many readings the pictures get this width, so that the file can still be sent."""
QUALITY = 72
"""Of their JPEG."""
PICTURE_JOBS = 2
"""Photos drawn at the same time; each takes up to 200 MB."""

Paper = Literal["a4", "letter"]


@dataclass(frozen=True, slots=True)
class Issued:
    """A report that was written."""

    report_id: str
    path: Path
    readings: int
    entry: int | None
    """Its own log entry."""


def load_details(path: Path | None) -> Details:
    """Read what the log does not know from a TOML file of texts; raises `UsageError` naming file, key and cure."""
    if path is None:
        return Details()
    try:
        values = tomllib.loads(path.read_text("utf-8").removeprefix("\ufeff"))
    except OSError as error:
        raise UsageError(f"{path} cannot be read ({error.strerror})", "give the path of a TOML file") from error
    except ValueError as error:  # tomllib's own error and UnicodeDecodeError
        raise UsageError(f"{path} is not a TOML file ({error})", "correct that line") from error
    card = Table(values, str(path), "report's details")
    known = [field.name for field in fields(Details)]
    card.only(*known)
    return Details(**{key: card.text(key) for key in known if key in card})


def issue_report(
    logbook: Logbook,
    wanted: Filter,
    path: Path,
    by: str,
    *,
    details: Details | None = None,
    paper: Paper = "a4",
    replaces: str | None = None,
    keep: bool = True,
) -> Issued:
    """Write a report to `path`, as HTML or PDF by its ending, and log that it was issued, with the file's hash.

    Raises `UsageError` for another ending, for a report to be replaced that the log does not know, and where nothing was found;
    `NotWritten` where the file is there or cannot be written.
    """
    kind = _kind(path)
    chosen = readings(logbook, wanted)
    head = logbook.head()
    if not chosen or head is None:
        raise UsageError("no readings were found for what was asked", "look at `lastwet log list` with the same options")
    earlier = None if replaces is None else _earlier(logbook, replaces)
    report = _gathered(logbook, chosen, head, wanted, named(by), details or Details(), earlier)
    content = _rendered(report, kind, paper)
    _write(path, content)
    entry = append(logbook, Kind.REPORT, _body(report, chosen, content, path, by)).seq if keep else None
    return Issued(report.report_id, path, len(chosen), entry)


def _kind(path: Path) -> str:
    kind = path.suffix.lower().removeprefix(".")
    if kind not in ("html", "pdf"):
        raise UsageError(f"{path} is not the name of a report", "end it in .html or .pdf")
    return kind


def _rendered(report: Report, kind: str, paper: Paper) -> bytes:
    from lastwet.report.html import render_html  # here, as each needs one of them
    from lastwet.report.pdf import render_pdf

    document = compose(report)
    return render_pdf(document, paper) if kind == "pdf" else render_html(document).encode()


def _write(path: Path, content: bytes) -> None:
    make_folder(path.parent)
    try:
        write_once(path, content)
    except FileExistsError:
        raise NotWritten(f"{path} is there already", "name another file, so that no report is overwritten") from None
    except OSError as error:
        raise NotWritten(f"{path} could not be written ({error.strerror})", "check the folder and the free space") from error


def _body(report: Report, chosen: Sequence[Standing], content: bytes, path: Path, by: str) -> dict[str, Any]:
    return {
        "id": report.report_id,
        "by": named(by),
        "replaces": report.replaces.report_id if report.replaces else None,
        "scope": report.origin.scope,
        "head": {"seq": report.origin.head_entry, "hash": report.origin.head_hash},
        "entries": [standing.entry.seq for standing in chosen],
        "file": path.name,
        "file_sha256": hashlib.sha256(content).hexdigest(),
    }


# --- gathering


def _gathered(
    logbook: Logbook, chosen: Sequence[Standing], head: Entry, wanted: Filter, by: str, details: Details, earlier: Entry | None
) -> Report:
    now = dt.datetime.now().astimezone()
    scope = _scope(wanted)
    seed = canonical_json([head.hash, scope, now.isoformat(), [standing.entry.seq for standing in chosen]])
    pictures = dict(zip((standing.entry.seq for standing in chosen), _pictures(logbook, chosen), strict=True))
    return Report(
        report_id=f"{now:%Y%m%d}-{hashlib.sha256(seed.encode()).hexdigest()[:8]}",
        issued=now,
        issued_by=by,
        details=details,
        groups=list(_groups(chosen, pictures)),
        origin=Origin(__version__, _readers(chosen), head.seq, head.hash, _intact(logbook), scope),
        amendments=[_amendment(entry) for standing in chosen for entry in standing.history],
        gauges=list(_gauges(chosen)),
        replaces=None if earlier is None else Replaced(str(earlier.body["id"]), list(_changes(earlier, chosen))),
    )


def _scope(wanted: Filter) -> str:
    asked = [f"{field.name} {value}" for field in fields(wanted) if (value := getattr(wanted, field.name)) is not None]
    return "every reading in the log" if not asked else "readings with " + ", ".join(asked)


def _intact(logbook: Logbook) -> str:
    broken = [finding for finding in verify(logbook.folder) if finding.broken]
    if not broken:
        return "every entry and every photo is as it was written"
    first = first_broken(broken)
    return f"NOT INTACT, {len(broken)} findings; " + (f"entry {first} is the first that is broken" if first else broken[0].message)


def _readers(chosen: Iterable[Standing]) -> Mapping[str, int]:
    """Count the readings of each version and setting, as they stand."""
    return Counter(_reader(standing) for standing in chosen)


def _reader(standing: Standing) -> str:
    if standing.by_eye:
        return "a person's eye"
    software = standing.entry.body.get("software") or {}
    return f"lastwet {software.get('version', 'unknown')}, reader settings {software.get('reader_settings') or 'unknown'}"


def _gauges(chosen: Iterable[Standing]) -> Iterator[tuple[str, str]]:
    seen: set[str] = set()
    for standing in chosen:
        logged = standing.entry.body.get("gauge")
        if logged is None or (key := canonical_json(logged)) in seen:
            continue
        seen.add(key)
        gauge = gauge_of(logged)
        yield (
            gauge.name,
            "; ".join(f"side {side.id}: {' '.join(f'{tooth:g}' for tooth in side.teeth)}" for side in gauge.sides) + f" {gauge.unit}",
        )


def _groups(chosen: Sequence[Standing], pictures: Mapping[int, _Picture]) -> Iterator[Group]:
    """Put readings of one coat on one board together, in the order of their first."""
    together: dict[tuple[object, object, Paint], list[Standing]] = {}
    for standing in chosen:
        body = standing.entry.body
        together.setdefault((body.get("board"), body.get("coat"), _paint(standing)), []).append(standing)
    for (board, coat, paint), standings in together.items():
        found = [_reading(standing, pictures[standing.entry.seq]) for standing in standings]
        named_parts = [f"{name} {value}" for name, value in (("board", board), ("coat", coat)) if value is not None]
        # without a board nobody says that they are of one coat, and a mean over several would mean nothing
        yield Group(", ".join(named_parts) or "Readings", found, paint, None if board is None else _estimate(found, paint))


def _paint(standing: Standing) -> Paint:
    film, limits = standing.entry.body.get("film") or {}, (standing.reading or {}).get("wet_range_um")
    return Paint(
        film.get("coating"),
        film.get("volume_solids"),
        film.get("volume_solids_tolerance") or 0.0,
        film.get("thinner") or 0.0,
        None if limits is None else (limits[0], limits[1]),
    )


def _estimate(found: Iterable[Reading], paint: Paint) -> Estimate | None:
    brackets = [reading.wet for reading in found if reading.wet and not reading.void]
    if len(brackets) < 2:
        return None
    said = estimate(brackets)
    odds = chance(said, paint.wet_range_um) if paint.wet_range_um else None
    in_range = None if odds is None else (odds.mean, odds.spot)
    return Estimate(said.readings, said.mean_um, said.mean_interval_um, said.spread_um, said.confidence, in_range)


def _reading(standing: Standing, picture: _Picture) -> Reading:
    entry, body, reading = standing.entry, standing.entry.body, standing.reading or {}
    return Reading(
        entry=entry.seq,
        received=entry.recorded_at,
        camera_time=body.get("camera_time"),
        by=standing.statement.body.get("by"),
        outcome=reading["outcome"],
        by_eye=standing.by_eye,
        confirmed_by=tuple(dict.fromkeys(str(confirmation.body["by"]) for confirmation in standing.confirmations)),
        corrected_in=standing.statement.seq if standing.corrections else None,
        void=standing.void is not None,
        gauge=reading["gauge"],
        side=reading["side"],
        side_source=reading["side_source"],
        deciding=_deciding(body, reading),
        wet=_bracket(reading["wet"]),
        dry=_bracket(reading["dry"]),
        verdict=reading["verdict"],
        refusals=tuple(Refused(refusal["code"], refusal["message"]) for refusal in reading["refusals"]),
        board=_text(body.get("board")),
        coat=_text(body.get("coat")),
        spot=_text(body.get("spot")),
        photo_sha256=entry.photo_sha256,
        picture=picture.jpeg,
        picture_fault=picture.fault,
    )


def _text(value: object) -> str | None:
    return None if value is None else str(value)


def _bracket(logged: Mapping[str, float | None] | None) -> Bracket | None:
    return None if logged is None else Bracket(logged["low_um"] or 0.0, logged["high_um"])


def _deciding(body: Mapping[str, Any], reading: Mapping[str, Any]) -> str:
    if reading["last_wet"] is None or "gauge" not in body:
        return ""
    teeth, last_wet, unit = body["gauge"]["sides"][reading["side"]], reading["last_wet"], reading["unit"]
    if not last_wet:
        return f"No tooth wet; the lowest is {teeth[0]:g} {unit}"
    following = f"next {teeth[last_wet]:g}" if last_wet < len(teeth) else "all teeth wet"
    return f"Last wet tooth {teeth[last_wet - 1]:g}, {following} {unit}"


def _amendment(entry: Entry) -> Amendment:
    body = entry.body
    match entry.kind:
        case Kind.CORRECTION:
            reading, film = body["reading"], _bracket(body["reading"]["wet"])
            words = f"corrected to {_span(film)}, side {reading['side']}"
        case Kind.NOTE:
            words = f"note: {body['text']}"
        case Kind.ATTACHMENT:
            words = f"attached: {body.get('title') or body['file']}, SHA-256 {entry.photo_sha256}"
        case Kind.VOID:
            words = "made void"
        case Kind.CONFIRMATION:
            words = f"confirmed {_span(_bracket(body['wet']))}, side {body['side']}"
        case _:
            words = entry.kind
    return Amendment(entry.seq, body["concerns"], entry.kind, entry.recorded_at, body.get("by"), words, body.get("reason"))


def _span(bracket: Bracket | None) -> str:
    from lastwet.units import show_bracket

    return "no bracket" if bracket is None else show_bracket(bracket, "um").replace(" um", " \u00b5m")


# --- what changed


def _earlier(logbook: Logbook, report_id: str) -> Entry:
    for entry in logbook.find(Filter(kind=Kind.REPORT), 1_000_000):
        if entry.body["id"] == report_id:
            return entry
    raise UsageError(f"the log knows no report {report_id}", "list them by `lastwet log list --kind report`")


def _changes(earlier: Entry, chosen: Sequence[Standing]) -> Iterator[str]:
    before, then = set(earlier.body["entries"]), earlier.body["head"]["seq"]
    now = {standing.entry.seq for standing in chosen}
    if added := sorted(now - before):
        yield f"Added: entries {', '.join(map(str, added))}."
    if dropped := sorted(before - now):
        yield f"No longer covered: entries {', '.join(map(str, dropped))}."
    for standing in chosen:
        for entry in standing.history:
            if entry.seq > then and standing.entry.seq in before:
                said = _amendment(entry)
                why = f": {said.reason}" if said.reason else ""
                yield f"Entry {standing.entry.seq}: {said.words}, by {said.by or 'nobody named'}{why}."


# --- pictures


@dataclass(frozen=True, slots=True)
class _Picture:
    jpeg: bytes | None = None
    fault: str | None = None


def _pictures(logbook: Logbook, chosen: Sequence[Standing]) -> list[_Picture]:
    width = PICTURE_PX if len(chosen) <= MANY else FEW_PX
    with ThreadPoolExecutor(PICTURE_JOBS) as pool:
        return list(pool.map(lambda standing: _picture(logbook, standing, width), chosen))


def _picture(logbook: Logbook, standing: Standing, width: int) -> _Picture:
    """Draw what was seen then over the photo as received; what is drawn has none of the photo's metadata."""
    sha256 = standing.entry.photo_sha256
    if sha256 is None:
        return _Picture(fault="no photo is kept with this entry")
    try:
        if logbook.photos.digest(sha256) != sha256:
            return _Picture(fault="the stored photo is not what was written")
        return _Picture(_drawn(logbook.photos.path(sha256).read_bytes(), standing, width))
    except OSError:
        return _Picture(fault="the photo is missing in the log")
    except LastwetError as error:
        return _Picture(fault=error.message)


def _drawn(original: bytes, standing: Standing, width: int) -> bytes | None:
    from PIL import Image

    from lastwet.reading.overlay import draw_overlay

    gauge = gauge_of(standing.entry.body["gauge"])
    outcome = outcome_of(standing.reading or {}, gauge)
    if outcome is None:
        return None
    picture = Image.fromarray(draw_overlay(load_photo(original, "photo"), outcome, gauge))
    small = picture.resize((width, round(picture.height * width / picture.width)), Image.Resampling.LANCZOS)
    file = BytesIO()
    small.save(file, "JPEG", quality=QUALITY, optimize=True)
    return file.getvalue()

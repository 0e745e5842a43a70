"""Log entries in words, for people; --json has all of what they hold."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from lastwet.film.dry import show_thinner
from lastwet.job.board import checks_of
from lastwet.logbook.entry import Entry
from lastwet.logbook.kinds import Kind, thinner_of
from lastwet.logbook.view import Standing
from lastwet.result import in_short, photo_names
from lastwet.units import Bracket, Unit, show_bracket, show_length

_KNOWN = {kind.value for kind in Kind}


def as_json(standing: Standing) -> dict[str, Any]:
    """Return an entry as plain data: as it was written, and for a reading what stands of it."""
    entry = standing.entry
    written = {**json.loads(entry.record), "previous": entry.previous, "hash": entry.hash}
    if entry.kind != Kind.READING:
        return written
    return {
        **written,
        "stands": {
            "entry": standing.statement.seq,
            "reading": standing.reading,
            "void": standing.void.seq if standing.void else None,
            "confirmed_by": [confirmation.body["by"] for confirmation in standing.confirmations],
            "history": [about.seq for about in standing.history],
        },
    }


def line(standing: Standing) -> str:
    """Word an entry in a line of the list."""
    entry = standing.entry
    start = f"{entry.seq:>6}  {_time(entry)}  "
    became = "; ".join(_became(standing))
    ending = f"  [{became}]" if became else ""
    if entry.kind != Kind.READING:
        return f"{start}{brief(entry)}{ending}"
    return f"{start}{finding(entry.body['reading']):<38} {in_short(photo_names(entry.body['reading']))}{ending}"


def _time(entry: Entry) -> str:
    return f"{entry.recorded_at:%Y-%m-%d %H:%M:%S%z}"


def _became(standing: Standing) -> Iterator[str]:
    if standing.entry.kind == Kind.READING and standing.entry.body["reading"]["method"] == "eye":
        yield "by eye"
    if standing.void:
        yield f"void since entry {standing.void.seq}"
    if standing.corrections:
        yield f"corrected by entry {standing.statement.seq}: {finding(standing.finding)}"
    if standing.confirmations:
        yield "confirmed by " + ", ".join(dict.fromkeys(str(entry.body["by"]) for entry in standing.confirmations))


def brief(entry: Entry) -> str:
    """Say in one line what an entry does."""
    body = entry.body
    about = f"entry {body['concerns']}" if "concerns" in body else ""
    by, reason = body.get("by") or "nobody named", f": {body['reason']}" if body.get("reason") else ""
    match entry.kind:
        case Kind.CONFIRMATION:
            return f"{about} confirmed by {by}{reason}"
        case Kind.CORRECTION:
            return f"{about} corrected by {by} to {_seen(body.get('reading') or body)}{reason}"
        case Kind.VOID:
            return f"{about} made void by {by}{reason}"
        case Kind.NOTE:
            return f"note{' on ' + about if about else ''} by {by}: {body['text']}"
        case Kind.ATTACHMENT:
            return f"{body.get('title') or 'attachment'}{' to ' + about if about else ''} by {by}: {body['file']}"
        case Kind.REPORT:
            return f"report {body['id']} by {by}"
        case _:
            of = f", {body['board']}," if body.get("board") else f" on {about}" if about else ""
            return f"{entry.kind}{of} by {by}{_film_of(body)}"


def _film_of(body: Mapping[str, Any]) -> str:
    """Word the film that an entry of a board tells of: a reading that was typed in, or the dry film as measured."""
    if isinstance(body.get("wet"), dict):
        return f": {finding(body)}"
    if isinstance(measured := body.get("readings_um"), list):
        said = (f"; {check.rule}: {check.said}" for check in checks_of(body))
        return f": {', '.join(show_length(value, 'um') for value in measured)} um dry{''.join(said)}"
    return ""


def finding(reading: Mapping[str, Any]) -> str:
    """Word what was found: the bracket in both units, or why not."""
    if not reading.get("wet"):
        return ", ".join([reading.get("outcome", ""), *(refusal["code"] for refusal in reading.get("refusals", []))])
    return f"{_film(reading, 'wet')} wet"


def _seen(reading: Mapping[str, Any]) -> str:
    return finding(reading) + (f", side {reading['side']}" if reading["side"] else "")


def _film(reading: Mapping[str, Any], film: str) -> str:
    return _both(Bracket(reading[film]["low_um"], reading[film]["high_um"]), reading.get("unit", "um"))


def _both(bracket: Bracket, own: Unit) -> str:
    """Print a bracket in the gauge's unit, and in the other one beside it."""
    return f"{show_bracket(bracket, own)} ({show_bracket(bracket, 'um' if own == 'mil' else 'mil')})"


def lines(standing: Standing, files: Sequence[Path]) -> Iterator[str]:
    """Word an entry whole, with what became of it; `files` are where its photos or its document are kept."""
    entry = standing.entry
    yield f"entry {entry.seq}, {_time(entry)}, by {entry.body.get('by') or 'nobody named'}"
    if entry.kind == Kind.READING:
        yield from _reading_lines(entry)
    else:
        yield f"  says       {brief(entry)}"
        if entry.kind not in _KNOWN:
            yield from _held(entry.body)
    yield from (f"  kept as    {file}" for file in files)
    for about in standing.history:
        yield f"  then       entry {about.seq}, {_time(about)}: {brief(about)}"
    if standing.finding.get("wet") and standing.history:
        yield f"  stands     {_stands(standing)}"
    yield f"  hash       {entry.hash}"


def _stands(standing: Standing) -> str:
    if standing.void:
        return f"void since entry {standing.void.seq}"
    read = "by eye" if standing.by_eye else "by the machine"
    checked = ", ".join(dict.fromkeys(str(entry.body["by"]) for entry in standing.confirmations))
    confirmed = f", confirmed by {checked}" if checked else ", not confirmed"
    return f"{_seen({'side': None, **standing.finding})}, read {read}{confirmed}"


def _held(body: Mapping[str, Any]) -> Iterator[str]:
    """Print what an entry of another room says, by the names it is logged under."""
    for name, value in body.items():
        text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
        yield f"  {name:<10} {text}"


def _reading_lines(entry: Entry) -> Iterator[str]:
    reading, software = entry.body["reading"], entry.body["software"]
    yield f"  found      {finding(reading)}{', read by eye' if reading['method'] == 'eye' else ''}"
    for refusal in reading["refusals"]:
        yield f"             {refusal['message']}"
    if reading["dry"]:
        yield f"  dry film   {_film(reading, 'dry')}, predicted, not measured; from {_paint(entry.body['film'])}"
    if reading["verdict"]:
        yield f"  verdict    {reading['verdict']}; wet range {_both(Bracket(*reading['wet_range_um']), reading['unit'])}"
    yield f"  gauge      {reading['gauge']}, side {reading['side'] or 'unknown'} ({reading['side_source'] or 'neither stated nor seen'})"
    yield f"  photo      {', '.join(photo_names(reading))}, {_camera_time(entry.body['camera_time'])}"
    if clean := reading.get("clean"):
        yield f"  clean      {clean['photo']}, the gauge before the dip"
    opencv = software.get("opencv", "not recorded")  # in entries of an early version
    yield f"  software   lastwet {software['version']}, reader settings {software['reader_settings']}, OpenCV {opencv}"


def _paint(film: dict[str, Any]) -> str:
    """Say what the dry film was predicted from."""
    card = f", by the card {film['coating']}" if film["coating"] else ""
    tolerance = f" +/- {film['volume_solids_tolerance'] * 100:g}" if film.get("volume_solids_tolerance") else ""
    return f"{film['volume_solids'] * 100:g}{tolerance} % volume solids, {show_thinner(thinner_of(film))}{card}"


def _camera_time(stated: str | None) -> str:
    """Word when the photo was taken, which is the camera's claim; "2026-03-02T10:15:00" has no zone, "...+02:00" has one."""
    if stated is None:
        return "the camera states no time"
    return f"taken {stated} by the camera's clock" + ("" if dt.datetime.fromisoformat(stated).tzinfo else ", zone unknown")

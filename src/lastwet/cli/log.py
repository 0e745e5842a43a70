"""`lastwet log`: what was logged."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from lastwet.cli import visible

if TYPE_CHECKING:
    from lastwet.logbook.entry import Entry
    from lastwet.logbook.store import Logbook
    from lastwet.units import Bracket, Unit

app = typer.Typer(help="List and show what was logged.", no_args_is_help=True)

Place = Annotated[Path | None, typer.Option("--log", metavar="PLACE", help="The logbook; default LASTWET_LOG or your own.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object a line, and nothing else.")]


@app.command("list")
def list_(
    limit: Annotated[int, typer.Option(min=1, help="How many, the newest.")] = 50, log: Place = None, json_lines: AsJson = False
) -> None:
    """List the newest entries, oldest of them first."""
    from lastwet.service import open_log

    for entry in reversed(open_log(log, to_read=True).entries(limit)):
        typer.echo(json.dumps(as_json(entry)) if json_lines else visible(_line(entry)))


@app.command()
def show(number: Annotated[int, typer.Argument(metavar="N", min=1)], log: Place = None, json_lines: AsJson = False) -> None:
    """Show one entry whole, and where the photo it speaks of is kept."""
    from lastwet.service import open_log

    logbook = open_log(log, to_read=True)
    entry = logbook.entry(number)
    typer.echo(json.dumps(as_json(entry)) if json_lines else "\n".join(map(visible, _lines(entry, logbook))))


def as_json(entry: Entry) -> dict[str, Any]:
    """Return an entry as plain data."""
    return {**json.loads(entry.record), "previous": entry.previous, "hash": entry.hash}


def _line(entry: Entry) -> str:
    reading = entry.body.get("reading", {})
    return f"{entry.seq:>6}  {entry.recorded_at:%Y-%m-%d %H:%M:%S%z}  {_finding(reading):<38} {reading.get('photo', entry.kind)}"


def _finding(reading: dict[str, Any]) -> str:
    if not reading.get("wet"):
        return ", ".join([reading.get("outcome", ""), *(refusal["code"] for refusal in reading.get("refusals", []))])
    return f"{_film(reading, 'wet')} wet"


def _film(reading: dict[str, Any], film: str) -> str:
    from lastwet.units import Bracket

    return _both(Bracket(reading[film]["low_um"], reading[film]["high_um"]), reading["unit"])


def _both(bracket: Bracket, own: Unit) -> str:
    """Print a bracket in the gauge's unit, and in the other one beside it."""
    from lastwet.units import show_bracket

    return f"{show_bracket(bracket, own)} ({show_bracket(bracket, 'um' if own == 'mil' else 'mil')})"


def _paint(film: dict[str, Any]) -> str:
    """Say what the dry film was predicted from."""
    card = f", by the card {film['coating']}" if film["coating"] else ""
    tolerance = f" +/- {film['volume_solids_tolerance'] * 100:g}" if film.get("volume_solids_tolerance") else ""
    return f"{film['volume_solids'] * 100:g}{tolerance} % volume solids, {film['thinner'] * 100:g} % thinner{card}"


def _camera_time(stated: str | None) -> str:
    """Word when the photo was taken, which is the camera's claim; "2026-03-02T10:15:00" has no zone, "...+02:00" has one."""
    if stated is None:
        return "the camera states no time"
    return f"taken {stated} by the camera's clock" + ("" if dt.datetime.fromisoformat(stated).tzinfo else ", zone unknown")


def _lines(entry: Entry, logbook: Logbook) -> Iterator[str]:
    """Word an entry for people; --json has all of it."""
    from lastwet.units import Bracket

    reading, software = entry.body["reading"], entry.body["software"]
    yield f"entry {entry.seq}, {entry.recorded_at:%Y-%m-%d %H:%M:%S%z}, by {entry.body['by']}"
    yield f"  found      {_finding(reading)}"
    for refusal in reading["refusals"]:
        yield f"             {refusal['message']}"
    if reading["dry"]:
        yield f"  dry film   {_film(reading, 'dry')}, predicted, not measured; from {_paint(entry.body['film'])}"
    if reading["verdict"]:
        yield f"  verdict    {reading['verdict']}; wet range {_both(Bracket(*reading['wet_range_um']), reading['unit'])}"
    yield f"  gauge      {reading['gauge']}, side {reading['side'] or 'unknown'} ({reading['side_source'] or 'neither stated nor seen'})"
    yield f"  photo      {reading['photo']}, {_camera_time(entry.body['camera_time'])}"
    if entry.photo_sha256:
        yield f"  kept as    {logbook.photos.path(entry.photo_sha256)}"
    opencv = software.get("opencv", "not recorded")  # in entries of an early version
    yield f"  software   lastwet {software['version']}, reader settings {software['reader_settings']}, OpenCV {opencv}"
    yield f"  hash       {entry.hash}"

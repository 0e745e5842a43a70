"""`lastwet log`: what was logged."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from lastwet.logbook.entry import Entry
    from lastwet.logbook.store import Logbook

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
        typer.echo(json.dumps(as_json(entry)) if json_lines else _line(entry))


@app.command()
def show(number: Annotated[int, typer.Argument(metavar="N", min=1)], log: Place = None, json_lines: AsJson = False) -> None:
    """Show one entry whole, and where the photo it speaks of is kept."""
    from lastwet.service import open_log

    logbook = open_log(log, to_read=True)
    entry = logbook.entry(number)
    typer.echo(json.dumps(as_json(entry)) if json_lines else "\n".join(_lines(entry, logbook)))


def as_json(entry: Entry) -> dict[str, Any]:
    """Return an entry as plain data."""
    return {**json.loads(entry.record), "previous": entry.previous, "hash": entry.hash}


def _line(entry: Entry) -> str:
    reading = entry.body.get("reading", {})
    return f"{entry.seq:>6}  {entry.recorded_at:%Y-%m-%d %H:%M:%S%z}  {_finding(reading):<28} {reading.get('photo', entry.kind)}"


def _finding(reading: dict[str, Any]) -> str:
    if not reading.get("wet"):
        return ", ".join([reading.get("outcome", ""), *(refusal["code"] for refusal in reading.get("refusals", []))])
    return f"{_film(reading, 'wet')} wet"


def _film(reading: dict[str, Any], film: str) -> str:
    from lastwet.units import Bracket, show_bracket

    return show_bracket(Bracket(reading[film]["low_um"], reading[film]["high_um"]), reading["unit"])


def _lines(entry: Entry, logbook: Logbook) -> Iterator[str]:
    """Word an entry for people; --json has all of it."""
    reading, software = entry.body["reading"], entry.body["software"]
    yield f"entry {entry.seq}, {entry.recorded_at:%Y-%m-%d %H:%M:%S%z}, by {entry.body['by']}"
    yield f"  found      {_finding(reading)}"
    for refusal in reading["refusals"]:
        yield f"             {refusal['message']}"
    if reading["dry"]:
        yield f"  dry film   {_film(reading, 'dry')}, predicted, not measured"
    if reading["verdict"]:
        low_um, high_um = reading["wet_range_um"]
        yield f"  verdict    {reading['verdict']}; wet range {low_um:g} to {high_um:g} um"
    yield f"  gauge      {reading['gauge']}, side {reading['side'] or 'unknown'} ({reading['side_source'] or 'neither stated nor seen'})"
    yield f"  photo      {reading['photo']}, taken {entry.body['camera_time'] or 'at a time the camera does not state'}"
    if entry.photo_sha256:
        yield f"  kept as    {logbook.photos.path(entry.photo_sha256)}"
    yield f"  software   lastwet {software['version']}, reader settings {software['reader_settings']}"
    yield f"  hash       {entry.hash}"

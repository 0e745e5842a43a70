"""`lastwet read`: photos in, brackets or refusals out."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lastwet.cli import complain, complain_of_failure
from lastwet.cli.progress import progress
from lastwet.errors import ExitCode, UsageError

if TYPE_CHECKING:  # the result brings numpy along, which would slow `--help`
    from lastwet.result import Clean, Result, Task

STDIN = "-"


def read(
    photos: Annotated[list[str], typer.Argument(metavar="PHOTO...", help="Photos, folders, patterns, or - for standard input.")],
    gauge: Annotated[str, typer.Option(metavar="NAME|FILE", help="The gauge in the photos: see `lastwet gauge list`.")],
    side: Annotated[str | None, typer.Option(metavar="ID", help="The side that was pressed; needed unless its tooth count tells.")] = None,
    burst: Annotated[bool, typer.Option("--burst", help="The photos show one and the same dip: read them together.")] = False,
    clean: Annotated[
        str | None, typer.Option(metavar="PHOTO", help="The same side before the dip, wiped: what looks wet there is residue.")
    ] = None,
    coating: Annotated[str | None, typer.Option(metavar="NAME|FILE", help="The paint: see `lastwet coating list`.")] = None,
    solids: Annotated[float | None, typer.Option(metavar="PERCENT", help="Volume solids before thinning, to predict the dry film.")] = None,
    thinner: Annotated[float | None, typer.Option(metavar="PERCENT", help="Thinner added, by volume of the mixed paint.")] = None,
    wet_range: Annotated[str | None, typer.Option(metavar="LOW-HIGH", help="Wet range to judge by, as in 110-150um or 3-5mil.")] = None,
    check: Annotated[bool, typer.Option("--check", help="Exit 5 when a reading is below or above the wet range.")] = False,
    json_lines: Annotated[bool, typer.Option("--json", help="Print one JSON object a line for each photo, and nothing else.")] = False,
    overlay: Annotated[Path | None, typer.Option(metavar="DIR", help="Write an annotated picture of each photo into this folder.")] = None,
    log: Annotated[Path | None, typer.Option(metavar="PLACE", help="The logbook to append to; default LASTWET_LOG or your own.")] = None,
    no_log: Annotated[bool, typer.Option("--no-log", help="Do not append to the log.")] = False,
    by: Annotated[str | None, typer.Option(metavar="NAME", help="Who reads; default your login name.")] = None,
    job: Annotated[str | None, typer.Option(metavar="NAME", help="The job it belongs to, to find it in the log.")] = None,
    last_wet: Annotated[
        int | None,
        typer.Option(metavar="N", min=0, help="Read by eye: N teeth are wet, counted from the lowest; the photo is kept."),
    ] = None,
    jobs: Annotated[int | None, typer.Option(metavar="N", min=1, help="Photos read at the same time; default by photos and cores.")] = None,
) -> None:
    """Read gauges in photos.

    Exit codes: 0 done, 1 unexpected, 2 wrong usage, 3 a file is not a usable image, 4 a photo was refused, 5 outside the wet range
    (with --check), 7 a log entry or picture could not be written, 130 interrupted, 141 the output was
    closed; of several, the first in the order 1, 7, 3, 4, 5.
    """
    from lastwet import service
    from lastwet.cli.text import result_text
    from lastwet.result import Task, settled
    from lastwet.service.cards import cards_beside

    cards = cards_beside(log)
    card = None if coating is None else cards.find_coating(coating)
    task = Task(cards.find_gauge(gauge), side, service.film(card, solids, thinner, wet_range))
    if check and task.film.wet_range_um is None:
        raise UsageError("--check needs a wet range", "add --wet-range, or a --coating that has one")
    if log and no_log:
        raise UsageError("--log and --no-log contradict each other", "leave one of them out")
    names = service.expand(photos)
    if last_wet is not None:
        results = _by_eye(names, task, last_wet, by, alone=not burst and clean is None)
    elif burst:
        results = iter([service.read_burst(names, task, _fetch, clean=_clean(clean))])
    elif clean:
        results = service.read_photos(names, task, _fetch, clean=_clean(clean))
    else:
        results = _results(names, task, jobs, pixels=overlay is not None, original=not no_log)
    if task.film.caution:
        complain(task.film.caution)
    if overlay:
        service.make_folder(overlay)
    logbook = None if no_log else service.open_log(log)
    by, where = by or service.user_name(), {"job": job} if job else None
    codes: set[ExitCode] = set()
    with progress(1 if burst else len(names)) as advance:
        for result in results:
            kept = service.keep(result, logbook, by, overlay, where)
            # `typer.echo` would write through the bar
            print(json.dumps(result.as_json()) if json_lines else result_text(result, kept), flush=True)
            complain_of_failure(result)
            for fault in kept.faults:
                complain(fault)
            codes |= {result.exit_code(check=check)} | ({ExitCode.NOT_WRITTEN} if kept.faults else set())
            advance()
    raise typer.Exit(settled(codes))


def _by_eye(names: list[str], task: Task, last_wet: int, by: str | None, *, alone: bool) -> Iterator[Result]:
    """Take the person's own reading; raises `UsageError` unless there are one photo and a name."""
    from lastwet.service import amend

    if len(names) != 1 or not alone:
        raise UsageError("a reading by eye takes one photo", "give each photo its own call, without --burst and --clean")
    if not (by or "").strip():
        raise UsageError("a reading by eye needs a name", "say who read it, by --by")
    return iter([amend.read_by_eye(names[0], task, last_wet, _fetch)])


def _results(names: list[str], task: Task, jobs: int | None, pixels: bool, original: bool) -> Iterator[Result]:
    """Read the photos; here and one by one where one comes on standard input, which other processes do not have."""
    from lastwet import service

    if STDIN in names:
        return service.read_photos(names, task, _fetch)
    return service.read_photos(names, task, jobs=jobs or service.usual_jobs(len(names)), pixels=pixels, original=original)


def _clean(name: str | None) -> Clean | None:
    from lastwet import service

    return None if name is None else service.load_clean(name, _fetch)


def _fetch(name: str) -> bytes:
    from lastwet import service
    from lastwet.reading.photo import read_stream

    return read_stream(sys.stdin.buffer, "the photo on standard input") if name == STDIN else service.fetch_file(name)

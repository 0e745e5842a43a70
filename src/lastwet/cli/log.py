"""`lastwet log`: what was logged, what is to be added to it, and looking after it."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from lastwet.cli import visible
from lastwet.errors import ExitCode
from lastwet.film.dry import Verdict
from lastwet.logbook.kinds import Status

if TYPE_CHECKING:
    from lastwet.logbook.find import Filter
    from lastwet.service.archive import Checked, Reread


app = typer.Typer(help="List, show, amend, check, copy and hand out what was logged.", no_args_is_help=True)

Place = Annotated[Path | None, typer.Option("--log", metavar="PLACE", help="The logbook; default LASTWET_LOG or your own.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object a line, and nothing else.")]
By = Annotated[str | None, typer.Option("--by", metavar="NAME", help="Who; default your login name.")]
About = Annotated[int | None, typer.Option("--entry", metavar="N", min=1, help="The entry it is about.")]

Since = Annotated[str | None, typer.Option(metavar="TIME", help="Logged then or later, as in 2026-03-02 or 2026-03-02T14:00.")]
Until = Annotated[str | None, typer.Option(metavar="TIME", help="Logged before then; of a date, by the end of that day.")]
Board = Annotated[str | None, typer.Option(metavar="ID", help="The board or work piece.")]
Job = Annotated[str | None, typer.Option(metavar="NAME", help="The job.")]
Paint = Annotated[str | None, typer.Option("--coating", metavar="NAME", help="The coating, by the name on its card.")]
OfGauge = Annotated[str | None, typer.Option("--gauge", metavar="NAME", help="The gauge, by the name in its file.")]
Person = Annotated[str | None, typer.Option("--by", metavar="NAME", help="Who logged it.")]
Kind = Annotated[str | None, typer.Option(metavar="KIND", help="Kind of entry: reading, correction, note, board, coat, ...")]
Came = Annotated[Status | None, typer.Option("--outcome", case_sensitive=False, help="What stands.")]
Judged = Annotated[Verdict | None, typer.Option("--verdict", case_sensitive=False, help="What stands.")]


@app.command("list")
def list_(
    limit: Annotated[int, typer.Option(min=1, help="How many, the newest.")] = 50,
    since: Since = None,
    until: Until = None,
    board: Board = None,
    job: Job = None,
    coating: Paint = None,
    gauge: OfGauge = None,
    by: Person = None,
    kind: Kind = None,
    outcome: Came = None,
    verdict: Judged = None,
    log: Place = None,
    json_lines: AsJson = False,
) -> None:
    """List the newest entries, oldest of them first; names are compared whole, in any case of letters."""
    from lastwet.service import open_log
    from lastwet.service.archive import check_kind, found
    from lastwet.words import entries

    wanted, logbook = chosen(since, until, board, job, coating, gauge, by, kind, outcome, verdict), open_log(log, to_read=True)
    check_kind(logbook, wanted.kind)
    listed = found(logbook, wanted, limit)
    for standing in reversed(listed):
        typer.echo(json.dumps(entries.as_json(standing)) if json_lines else visible(entries.line(standing)))
    if not listed:
        typer.echo("no entry matches", err=True)


@app.command()
def show(number: Annotated[int, typer.Argument(metavar="N", min=1)], log: Place = None, json_lines: AsJson = False) -> None:
    """Show one entry whole, where the photo it speaks of is kept, and what became of it."""
    from lastwet.logbook.view import standings
    from lastwet.service import open_log
    from lastwet.words import entries

    logbook = open_log(log, to_read=True)
    (standing,) = standings([logbook.entry(number)], logbook.concerning([number]))
    words = entries.lines(standing, [logbook.photos.path(sha256) for sha256 in standing.entry.photos])
    typer.echo(json.dumps(entries.as_json(standing)) if json_lines else "\n".join(map(visible, words)))


@app.command()
def note(text: Annotated[str, typer.Argument(metavar="TEXT")], entry: About = None, by: By = None, log: Place = None) -> None:
    """Note something, about an entry or in general."""
    from lastwet.service import amend, open_log, user_name

    _added(amend.note(open_log(log, to_read=True), text, by if by is not None else user_name(), about=entry).seq)


@app.command()
def attach(
    file: Annotated[Path, typer.Argument(metavar="FILE")],
    entry: About = None,
    title: Annotated[str | None, typer.Option(metavar="TEXT", help="What it is, as in 'data sheet'.")] = None,
    by: By = None,
    log: Place = None,
) -> None:
    """Keep a document or picture in the log as it is, about an entry or in general."""
    from lastwet.service import amend, open_log, user_name

    _added(amend.attach(open_log(log, to_read=True), file, by if by is not None else user_name(), about=entry, title=title).seq)


@app.command()
def void(
    number: Annotated[int, typer.Argument(metavar="N", min=1)],
    by: Annotated[str, typer.Option(metavar="NAME", help="Who.")],
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why.")],
    log: Place = None,
) -> None:
    """Take an entry out of use: a reading, or a correction or confirmation of one. It stays in the log."""
    from lastwet.service import amend, open_log

    _added(amend.void(open_log(log, to_read=True), number, by, reason).seq)


@app.command()
def verify(
    log: Place = None,
    photos: Annotated[bool, typer.Option("--photos/--no-photos", help="Check the bytes of every photo too.")] = True,
    expect: Annotated[str | None, typer.Option(metavar="N:HASH", help="An entry and its hash, as a report or a note has them.")] = None,
    json_lines: AsJson = False,
) -> None:
    """Check that the log and its photos are what was written: exit 6 with the first broken entry, else 0 with the newest hash."""
    from lastwet.service import archive

    wanted = None if expect is None else archive.expected(expect)
    _report(archive.check(log, photos=photos, expect=wanted), json_lines=json_lines)


@app.command()
def backup(target: Annotated[Path, typer.Argument(metavar="DIR")], log: Place = None) -> None:
    """Copy the log into DIR and check the copy, also while something writes; a DIR that holds an earlier backup is brought up to date."""
    from lastwet.service import archive, open_log

    _report(archive.backup(open_log(log, to_read=True), target))


@app.command()
def restore(source: Annotated[Path, typer.Argument(metavar="DIR")], log: Place = None) -> None:
    """Bring the backup in DIR back into an empty place, and check it."""
    from lastwet.service import archive

    _report(archive.restore(source, log))


@app.command()
def export(
    folder: Annotated[Path, typer.Argument(metavar="DIR")],
    redact: Annotated[bool, typer.Option("--redact", help="Leave out names, free texts and photos.")] = False,
    since: Since = None,
    until: Until = None,
    board: Board = None,
    job: Job = None,
    coating: Paint = None,
    gauge: OfGauge = None,
    log: Place = None,
) -> None:
    """Write readings.csv, entries.jsonl and the photos into a new folder."""
    from lastwet.service import archive, open_log

    wanted = chosen(since, until, board, job, coating, gauge)
    done = archive.export_log(open_log(log, to_read=True), folder, wanted, redact=redact)
    typer.echo(f"{done.readings} readings, {done.entries} entries and {done.photos} photos in {done.folder}")
    if done.missing:
        typer.echo(f"missing in the log: {', '.join(done.missing)}", err=True)
        raise typer.Exit(ExitCode.EVIDENCE_BROKEN)


@app.command()
def recheck(
    since: Since = None,
    until: Until = None,
    board: Board = None,
    job: Job = None,
    coating: Paint = None,
    gauge: OfGauge = None,
    jobs: Annotated[int | None, typer.Option(min=1, help="Photos read at the same time; default all cores.")] = None,
    log: Place = None,
    json_lines: AsJson = False,
) -> None:
    """Read the logged photos again with today's reader, and list what it would say otherwise. Nothing is changed.

    Exit code 6 where a photo is missing or changed.
    """
    from lastwet.service import archive, open_log

    logbook, counts = open_log(log, to_read=True), Counter[str]()
    readings, left_out = archive.to_recheck(logbook, chosen(since, until, board, job, coating, gauge))
    for reread in archive.recheck(logbook, readings, jobs=jobs):
        counts["missing" if reread.now is None else "differing" if reread.differs else "same"] += 1
        said = json.dumps(_reread_json(reread)) if json_lines else _reread_line(reread)
        if said:
            typer.echo(said)
    typer.echo(_recheck_summary(counts, left_out), err=json_lines)
    if counts["missing"]:
        raise typer.Exit(ExitCode.EVIDENCE_BROKEN)


def _recheck_summary(counts: Counter[str], left_out: Counter[str]) -> str:
    found = f"{counts['same']} the same, {counts['differing']} would differ, {counts['missing']} without their photo"
    others = ", ".join(f"{number} {why}" for why, number in sorted(left_out.items()))
    return f"{found}; {f'not read again: {others}; ' if others else ''}nothing was changed"


def _reread_json(reread: Reread) -> dict[str, Any]:
    entry = reread.standing.entry
    return {"entry": entry.seq, "differs": reread.differs, "then": entry.body["reading"], "now": reread.now}


def _reread_line(reread: Reread) -> str | None:
    """Say what differs; None where nothing does."""
    from lastwet.words import entries

    entry, now = reread.standing.entry, reread.now
    if now is None:
        return f"{entry.seq:>6}  {'a photo of it' if entry.more_photos else 'its photo'} is missing or changed"
    if not reread.differs:
        return None
    then, today = (f"{entries.finding(reading)}, side {reading['side']}" for reading in (entry.body["reading"], now))
    stands = f"  [corrected: {entries.finding(reread.standing.reading or {})} stands]" if reread.standing.corrections else ""
    return visible(f"{entry.seq:>6}  then {then}; now {today}{stands}")


def chosen(
    since: str | None = None,
    until: str | None = None,
    board: str | None = None,
    job: str | None = None,
    coating: str | None = None,
    gauge: str | None = None,
    by: str | None = None,
    kind: str | None = None,
    outcome: str | None = None,
    verdict: str | None = None,
) -> Filter:
    """Return the filter that these options ask for; raises `UsageError` for what is not a time."""
    from lastwet.logbook.find import Filter
    from lastwet.service.times import begin_of, end_of

    return Filter(
        since=None if since is None else begin_of(since),
        until=None if until is None else end_of(until),
        kind=kind,
        person=by,
        board=board,
        job=job,
        coating=coating,
        gauge=gauge,
        outcome=outcome,
        verdict=verdict,
    )


def _added(seq: int) -> None:
    typer.echo(f"log entry {seq}")


def _report(checked: Checked, *, json_lines: bool = False) -> None:
    """Print what a check found, and end with exit 6 where evidence is broken."""
    from lastwet.errors import EvidenceBroken
    from lastwet.logbook.faults import KEEP
    from lastwet.logbook.verify import first_broken

    broken = [finding for finding in checked.findings if finding.broken]
    first = first_broken(checked.findings)
    if json_lines:
        typer.echo(json.dumps(_as_json(checked)))
    else:
        for finding in checked.findings:
            typer.echo(visible(f"{'broken' if finding.broken else 'trace'}  {finding.message}"))
        typer.echo(visible(_conclusion(checked)))
    if broken:
        what = f"entry {first} is the first that is not what was written" if first else broken[0].message
        raise EvidenceBroken(what, KEEP)


def _conclusion(checked: Checked) -> str:
    if any(finding.broken for finding in checked.findings):
        return f"{checked.folder}: not what was written"
    newest = f"{checked.head.seq} entries, newest hash {checked.head.hash}" if checked.head else "no entries yet"
    return f"{checked.folder}: as it was written; {newest}"


def _as_json(checked: Checked) -> dict[str, Any]:
    from dataclasses import asdict

    return {
        "log": str(checked.folder),
        "intact": not any(finding.broken for finding in checked.findings),
        "findings": [{**asdict(finding), "broken": finding.broken} for finding in checked.findings],
        "entries": checked.head.seq if checked.head else 0,
        "head": checked.head.hash if checked.head else None,
    }

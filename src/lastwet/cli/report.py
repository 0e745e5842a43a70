"""`lastwet report`: readings from the log as a document to sign."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from lastwet.cli import log as of_log
from lastwet.cli import visible


class Paper(StrEnum):
    """Sizes of paper."""

    A4 = "a4"
    LETTER = "letter"


def report(
    output: Annotated[Path, typer.Option("-o", "--output", metavar="FILE", help="Where to: FILE.html or FILE.pdf.")],
    since: of_log.Since = None,
    until: of_log.Until = None,
    board: of_log.Board = None,
    job: of_log.Job = None,
    coating: of_log.Paint = None,
    gauge: of_log.OfGauge = None,
    details: Annotated[Path | None, typer.Option(metavar="FILE", help="TOML with what the log does not know: see docs/logbook.md.")] = None,
    paper: Annotated[Paper, typer.Option(help="Paper of a PDF.")] = Paper.A4,
    replaces: Annotated[str | None, typer.Option(metavar="ID", help="The report that this one takes the place of.")] = None,
    by: Annotated[str | None, typer.Option(metavar="NAME", help="Who issues it; default your login name.")] = None,
    no_log: Annotated[bool, typer.Option("--no-log", help="Do not log that it was issued.")] = False,
    log: of_log.Place = None,
) -> None:
    """Write a report of readings, as HTML or PDF, and log that it was issued."""
    from lastwet.service import open_log, user_name
    from lastwet.service.report import issue_report, load_details

    issued = issue_report(
        open_log(log, to_read=True),
        of_log.chosen(since, until, board, job, coating, gauge),
        output,
        by if by is not None else user_name(),
        details=load_details(details),
        paper=paper.value,
        replaces=replaces,
        keep=not no_log,
    )
    entry = f"; log entry {issued.entry}" if issued.entry else ""
    of = f"{issued.readings} reading{'' if issued.readings == 1 else 's'}"
    typer.echo(visible(f"report {issued.report_id} of {of}: {issued.path}{entry}"))

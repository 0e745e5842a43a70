"""`lastwet confirm`: a person agrees with a logged reading, corrects it, or reads by eye what was refused."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from lastwet.cli import visible
from lastwet.cli.log import AsJson, Place
from lastwet.errors import UsageError


def confirm(
    entry: Annotated[int, typer.Argument(metavar="ENTRY", min=1, help="The log entry of the reading or refusal.")],
    by: Annotated[str, typer.Option(metavar="NAME", help="Who looked.")],
    last_wet: Annotated[int | None, typer.Option(metavar="N", min=0, help="How many teeth are wet, counted from the lowest.")] = None,
    wet: Annotated[str | None, typer.Option(metavar="BRACKET", help="Of a reading that was typed in, as in 110-140um.")] = None,
    side: Annotated[str | None, typer.Option(metavar="ID", help="The side that was pressed, if not as logged.")] = None,
    reason: Annotated[str | None, typer.Option(metavar="TEXT", help="Why; needed where a reading is corrected.")] = None,
    log: Place = None,
    json_lines: AsJson = False,
) -> None:
    """Confirm bracket and side of a logged reading, or correct it; the old reading stays in the log."""
    from lastwet.logbook.view import Standing
    from lastwet.service import amend, open_log
    from lastwet.units import parse_bracket
    from lastwet.words import entries

    if (last_wet is None) == (wet is None):
        raise UsageError("what was seen is not said", "give --last-wet, or --wet for a reading that was typed in")
    logbook = open_log(log, to_read=True)
    if last_wet is not None:
        added = amend.confirm(logbook, entry, last_wet, by, side_id=side, reason=reason)
    else:
        added = amend.confirm_bracket(logbook, entry, parse_bracket(wet or ""), by, reason=reason)
    said = json.dumps(entries.as_json(Standing(added))) if json_lines else visible(f"log entry {added.seq}: {entries.brief(added)}")
    typer.echo(said)

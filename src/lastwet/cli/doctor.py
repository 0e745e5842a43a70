"""`lastwet doctor`: what is installed, where things are, and whether they work."""

from __future__ import annotations

import json
from dataclasses import asdict

import typer

from lastwet.cli import visible
from lastwet.cli.log import AsJson, Place
from lastwet.errors import ExitCode


def doctor(log: Place = None, json_lines: AsJson = False) -> None:
    """Show versions, extras, paths and disk, and try out reader and log; exit 1 when something is wrong."""
    from lastwet.service.doctor import examine

    wrong = False
    for check in examine(log):
        wrong |= check.cure is not None
        cure = f"  <- {check.cure}" if check.cure else ""
        typer.echo(json.dumps(asdict(check)) if json_lines else visible(f"{check.name:<24} {check.found}{cure}"))
    raise typer.Exit(ExitCode.UNEXPECTED if wrong else ExitCode.DONE)

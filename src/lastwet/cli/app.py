"""The commands and what is common to them."""

from __future__ import annotations

from typing import Annotated

import typer

from lastwet import __version__
from lastwet.cli import board, coating, confirm, demo, doctor, film, gauge, log, read, report, serve

app = typer.Typer(
    name="lastwet",
    help="Read a notched wet film gauge from a photo: a bracket, or a refusal with its reason and cure.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command()(read.read)
app.command()(confirm.confirm)
app.command()(report.report)
app.command()(demo.demo)
app.command()(serve.serve)
app.command()(doctor.doctor)
app.add_typer(gauge.app, name="gauge")
app.add_typer(coating.app, name="coating")
app.add_typer(board.app, name="board")
app.add_typer(film.app, name="film")
app.add_typer(log.app, name="log")


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"lastwet {__version__}")
        raise typer.Exit


@app.callback()
def lastwet(
    version: Annotated[bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version.")] = False,
) -> None:
    """Read a notched wet film gauge from a photo: a bracket, or a refusal with its reason and cure."""

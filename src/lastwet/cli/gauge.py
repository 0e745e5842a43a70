"""`lastwet gauge`: the gauges that can be named, and a check of one's own file."""

from __future__ import annotations

from typing import Annotated

import typer

from lastwet.cli import complain
from lastwet.cli.log import Place
from lastwet.gauge import Gauge, load_gauge

app = typer.Typer(help="List, show and check gauges.", no_args_is_help=True)

NameOrFile = Annotated[str, typer.Argument(metavar="NAME|FILE", help="A gauge of the list, or a TOML file.")]


@app.command("list")
def list_(log: Place = None) -> None:
    """List the gauges that can be named: the shop's own, entered on the page, and those that come with lastwet."""
    from lastwet.service.cards import cards_beside

    notes = cards_beside(log).notes()
    width = max(len(name) for name, _ in notes)
    for name, note in notes:
        typer.echo(f"{name:<{width}}  {note}".rstrip())


@app.command()
def show(name: NameOrFile, log: Place = None) -> None:
    """Show a gauge's sides and the values of their teeth."""
    from lastwet.service.cards import cards_beside

    _show(name, cards_beside(log).find_gauge(name))


@app.command()
def check(file: Annotated[str, typer.Argument(metavar="FILE", help="A TOML file.")]) -> None:
    """Check a gauge file: exit 2 and say what to correct when it is wrong, and say which sides photos cannot be read of."""
    gauge = load_gauge(file)
    typer.echo(f"{file} is a good gauge file")
    _show(file, gauge)


def _show(name: str, gauge: Gauge) -> None:
    from lastwet.words.gauge import cautions

    typer.echo("\n".join(_lines(gauge)))
    for caution in cautions(gauge):
        complain(f"{name}: {caution}")


def _lines(gauge: Gauge) -> list[str]:
    sides = [f"  side {side.id}: " + " ".join(f"{value:g}" for value in side.teeth) for side in gauge.sides]
    return [f"{gauge.name}, in {gauge.unit}", *([f"  {gauge.note}"] if gauge.note else []), *sides]

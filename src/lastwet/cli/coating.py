"""`lastwet coating`: the coating cards that can be named."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from lastwet.film.coating import Coating

app = typer.Typer(help="List and show coating cards.", no_args_is_help=True)


@app.command("list")
def list_() -> None:
    """List the coating cards that come with lastwet."""
    from lastwet.film.coating import coating_names, load_coating

    names = coating_names()
    for name in names:
        typer.echo(f"{name:<{max(map(len, names))}}  {load_coating(name).name}")


@app.command()
def show(name: Annotated[str, typer.Argument(metavar="NAME|FILE", help="A shipped coating card, or a TOML file.")]) -> None:
    """Show the values of a coating card."""
    from lastwet.film.coating import load_coating

    typer.echo("\n".join(_lines(load_coating(name))))


def _lines(coating: Coating) -> Iterator[str]:
    from lastwet.units import Bracket, show_bracket, show_length

    def both(low_um: float, high_um: float) -> str:
        return " or ".join(show_bracket(Bracket(low_um, high_um), unit) for unit in ("um", "mil"))

    tolerance = f" +/- {coating.volume_solids_tolerance * 100:g}" if coating.volume_solids_tolerance else ""
    yield coating.name
    yield f"  volume solids  {coating.volume_solids * 100:g}{tolerance} %"
    yield f"  wet range      {both(*coating.wet_range_um)}"
    if coating.dry_range_um:
        yield f"  dry range      {both(*coating.dry_range_um)}"
    if build := coating.maximum_build:
        yield f"  maximum build  {show_length(build.thickness_um, 'um')} um or {show_length(build.thickness_um, 'mil')} mil, {build.of}"
    if coating.thinner_max is not None:
        yield f"  thinner        at most {coating.thinner_max * 100:g} % by volume of the mixed paint"
    yield f"  source         {coating.source.sheet}, {coating.source.date}"

"""`lastwet coating`: the coating cards, which hold the values of data sheets."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from lastwet.cli.log import Place
from lastwet.errors import UsageError

if TYPE_CHECKING:
    from lastwet.film.coating import Coating
    from lastwet.service.cards import Cards

app = typer.Typer(help="List, show, check and make coating cards.", no_args_is_help=True)

NameOrFile = Annotated[str, typer.Argument(metavar="NAME|FILE", help="A coating of the list, or a TOML file.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON, one object a line, and nothing else.")]


@app.command("list")
def list_(log: Place = None, as_json: AsJson = False) -> None:
    """List the coatings that can be named: the shop's own, entered on the page, and those that come with lastwet."""
    from lastwet.service.cards import cards_beside

    cards = cards_beside(log)
    if as_json:
        _list_json(cards)
        return
    titles = cards.titles()
    width = max(len(name) for name, _ in titles)
    for name, title in titles:
        typer.echo(f"{name:<{width}}  {title}")


def _list_json(cards: Cards) -> None:
    """Print the cards; one that somebody spoilt is told, and stops no other."""
    from lastwet.cli import complain
    from lastwet.cli.wording import show_json
    from lastwet.film.coating import coating_json

    for name in cards.coatings():
        try:
            show_json("coating", {"card": name, **coating_json(cards.coating(name))})
        except UsageError as fault:
            complain(fault)


@app.command()
def show(name: NameOrFile, log: Place = None, as_json: AsJson = False) -> None:
    """Show the values of a coating card."""
    from lastwet.service.cards import cards_beside

    _show(name, cards_beside(log).find_coating(name), as_json)


@app.command()
def check(file: Annotated[str, typer.Argument(metavar="FILE", help="A TOML file.")], as_json: AsJson = False) -> None:
    """Check a coating card: exit 2 and say what to correct when it is wrong, and say what to look up when it is odd."""
    from lastwet.film.coating import load_coating

    card = load_coating(file)
    if not as_json:
        typer.echo(f"{file} is a good coating card")
    _show(file, card, as_json)


@app.command()
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The card to write, a TOML file that is not there yet.")],
    name: Annotated[str, typer.Option(help="Name of the coating.")],
    solids: Annotated[str, typer.Option(metavar="PERCENT", help="Volume solids as mixed, before thinning, as in '34 %' or '34 +/- 1 %'.")],
    wet_range: Annotated[str, typer.Option(metavar="LOW-HIGH", help="Wet film for one coat, as in 90-125um.")],
    sheet: Annotated[str, typer.Option(help="Title and number of the data sheet.")],
    sheet_date: Annotated[dt.datetime, typer.Option(metavar="DATE", formats=["%Y-%m-%d"], help="Its day of issue, as in 2026-02-02.")],
    dry_range: Annotated[str | None, typer.Option(metavar="LOW-HIGH", help="Dry film for one coat.")] = None,
    maximum_build: Annotated[str | None, typer.Option(metavar="LENGTH", help="What all coats together must not pass.")] = None,
    maximum_of: Annotated[Literal["dry", "wet"], typer.Option(help="Whether the sheet states that as dry or as wet film.")] = "dry",
    thinner_max: Annotated[str | None, typer.Option(metavar="PERCENT", help="Most thinner that the sheet allows, as in '10 %'.")] = None,
    thinner_of: Annotated[Literal["mixed", "base"], typer.Option(help="What that is a percentage of, by volume.")] = "mixed",
    mix: Annotated[str | None, typer.Option(metavar="RATIO", help="Mix ratio by volume, base first, as in 4:1.")] = None,
    pot_life: Annotated[str | None, typer.Option(metavar="TIME", help="Usable time after mixing, as in '4 h'.")] = None,
    recoat: Annotated[str | None, typer.Option(metavar="SPAN", help="Recoat window, as in '45 min - 24 h' or '2 h or more'.")] = None,
) -> None:
    """Write a coating card from the values of a data sheet; nothing is written when one of them is wrong."""
    from lastwet.film.coating import card_text, parse_coating
    from lastwet.service import write_text

    if file.exists():
        raise UsageError(f"{file} is there already", "name a new file, or edit that one")
    text = card_text(
        name=name,
        volume_solids=solids,
        wet_range=wet_range,
        sheet=sheet,
        sheet_date=sheet_date.date(),
        dry_range=dry_range,
        mix_ratio=f"{mix} by volume" if mix else None,
        pot_life=pot_life,
        recoat_window=recoat,
        maximum_build=(maximum_build, maximum_of) if maximum_build else None,
        thinner_max=(thinner_max, "base by volume" if thinner_of == "base" else "mixed paint by volume") if thinner_max else None,
    )
    card = parse_coating(text, str(file))
    write_text(file, text)
    typer.echo(f"{file} is written")
    _show(str(file), card, as_json=False)


def _show(name: str, card: Coating, as_json: bool) -> None:
    from lastwet.cli import complain
    from lastwet.cli.wording import show, show_json
    from lastwet.film.coating import cautions, coating_json
    from lastwet.words.coating import card_lines

    if as_json:
        show_json("coating", {"card": name, **coating_json(card)})
    else:
        show(card.name, card_lines(card))
    for caution in cautions(card):
        complain(f"{name}: {caution}")

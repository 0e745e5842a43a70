"""Coating cards in words."""

from __future__ import annotations

from collections.abc import Iterator

from lastwet.film.coating import Coating
from lastwet.film.quantity import show_duration
from lastwet.words.film import Line, length, span


def card_lines(card: Coating) -> Iterator[Line]:
    """Say what the card holds."""
    tolerance = f" +/- {card.volume_solids_tolerance * 100:g}" if card.volume_solids_tolerance else ""
    yield "volume solids", f"{card.volume_solids * 100:g}{tolerance} %, as mixed, before thinning"
    yield "wet range", f"{span(card.wet_range_um)}, one coat"
    if card.dry_range_um:
        yield "dry range", f"{span(card.dry_range_um)}, one coat"
    if card.maximum_build:
        yield "maximum build", f"{length(card.maximum_build.thickness_um)} {card.maximum_build.of}, all coats"
    if card.thinner_max is not None:
        stated = ", which the sheet counts of the base" if card.thinner_of == "base by volume" else ""
        yield "thinner", f"at most {card.thinner_max * 100:.3g} % by volume of the mixed paint{stated}"
    if card.mix_parts:
        yield "mix ratio", f"{':'.join(f'{part:g}' for part in card.mix_parts)} by volume, base first"
    if card.pot_life_s:
        yield "pot life", show_duration(card.pot_life_s)
    if card.recoat_window_s:
        opens, closes = card.recoat_window_s
        yield "recoat window", f"{show_duration(opens)} to {show_duration(closes)}" if closes else f"{show_duration(opens)} or more"
    yield "source", f"{card.source.sheet}, {card.source.date}"

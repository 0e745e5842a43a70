"""Gauges: the numbered sides of a notched wet film gauge, read from TOML.

    name = "bench strip"
    unit = "um"                         or "mil"
    note = "where it lies"              optional
    [[side]]
    id = "fine"
    teeth = [40, 60, 85, 110, 140, 175, 215]
    tooth_width_mm = 4.0                optional, as are notch_width_mm, end_tab_width_mm and notch_depth_mm

The values of the teeth are enough; the measured layout may only help.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from lastwet.card import Table, card_names, read_card
from lastwet.errors import UsageError
from lastwet.units import Bracket, Unit, to_um

FEWEST_TEETH = 2
"""A row with one tooth has no step to read."""
LEAST_UM = 5.0
"""The thinnest tooth of a gauge is hardly thinner, in micrometres: a row can hardly be cut finer, nor stand so squarely on the work. A
rule of thumb of ours, as the next two are. The example in ASTM D4414-95, 7.1.2, begins at 13 um."""
LEAST_REACH_UM = 25.0
"""The thickest tooth of a gauge is hardly thinner, in micrometres: hardly a coat is sprayed so thin."""
MOST_UM = 3200.0
"""The thickest tooth of a gauge is hardly thicker, in micrometres, 126 mil: hardly a coat is sprayed so thick."""

_LAYOUT = ("tooth_width_mm", "notch_width_mm", "end_tab_width_mm", "notch_depth_mm")
_TEETH_CURE = "list the values of the teeth from the smallest to the largest, as in teeth = [40, 60, 85]"
_SIDE_CURE = "write [[side]] on a line of its own for each side, and id and teeth below"


@dataclass(frozen=True, slots=True)
class Side:
    """One row of teeth between two end tabs."""

    id: str
    """The name of the side, as printed on the gauge or given by its owner."""
    unit: Unit
    """Unit of `teeth`."""
    teeth: tuple[float, ...]
    """Values of the teeth, rising, in `unit`."""
    tooth_width_mm: float | None = None
    notch_width_mm: float | None = None
    end_tab_width_mm: float | None = None
    notch_depth_mm: float | None = None

    @property
    def teeth_um(self) -> tuple[float, ...]:
        """Clearances of the teeth in micrometres, rising."""
        return tuple(to_um(value, self.unit) for value in self.teeth)

    def bracket(self, last_wet: int) -> Bracket:
        """Return the wet film bracket for `last_wet` wet teeth (0..N), in micrometres."""
        ends = (0.0, *self.teeth_um, None)
        low = ends[last_wet]
        assert low is not None
        return Bracket(low, ends[last_wet + 1])


@dataclass(frozen=True, slots=True)
class Gauge:
    """A gauge and its sides."""

    name: str
    unit: Unit
    sides: tuple[Side, ...]
    note: str = ""
    """What its owner wants to be told with it."""

    def side(self, side_id: str) -> Side:
        """Return the side of that id; raises `UsageError` naming the sides there are."""
        for side in self.sides:
            if side.id == side_id:
                return side
        known = ", ".join(side.id for side in self.sides)
        raise UsageError(f"gauge '{self.name}' has no side '{side_id}'", f"name one of its sides: {known}")


def gauge_names() -> tuple[str, ...]:
    """Return the names of the gauges that the package ships, sorted."""
    return card_names("gauge")


def load_gauge(name_or_path: str) -> Gauge:
    """Load a gauge by the name of a shipped one or by its path; raises `UsageError` naming file, key and cure."""
    card = read_card("gauge", name_or_path)
    card.only("name", "unit", "note", "side")
    unit: Unit = "mil" if card.one_of("unit", ("um", "mil")) == "mil" else "um"
    return Gauge(
        name=card.text("name", 'name the gauge, as in name = "bench strip"'),
        unit=unit,
        sides=tuple(_sides(card, unit)),
        note=card.text("note") if "note" in card else "",
    )


def _sides(card: Table, unit: Unit) -> Iterator[Side]:
    taken: set[str] = set()
    for table in card.tables("side", _SIDE_CURE):
        side = _side(table, unit)
        if side.id in taken:
            raise table.fault("id", f"'{side.id}' is taken by an earlier side", "give each side an id of its own")
        taken.add(side.id)
        yield side


def _side(table: Table, unit: Unit) -> Side:
    table.only("id", "teeth", *_LAYOUT)
    layout = {key: table.number(key, "give the length in mm, or leave the key out") for key in _LAYOUT if key in table}
    return Side(table.text("id", 'name the side in quotes, as in id = "A"'), unit, _teeth(table), **layout)


def _teeth(table: Table) -> tuple[float, ...]:
    listed = table.value("teeth", _TEETH_CURE)
    if not isinstance(listed, list):
        raise table.fault("teeth", "is not a list", _TEETH_CURE)
    teeth = tuple(table.as_number("teeth", value, _TEETH_CURE) for value in listed)
    if len(teeth) < FEWEST_TEETH:
        raise table.fault("teeth", f"hold fewer than {FEWEST_TEETH} values", _TEETH_CURE)
    for lower, upper in pairwise(teeth):
        if upper <= lower:
            raise table.fault("teeth", f"do not rise ({upper:g} after {lower:g})", _TEETH_CURE)
    return teeth

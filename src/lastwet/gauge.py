"""Gauges: the numbered sides of a notched wet film gauge, read from TOML."""

from __future__ import annotations

from dataclasses import dataclass

from lastwet.units import Bracket, Unit, to_um


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

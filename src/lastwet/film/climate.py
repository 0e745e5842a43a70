"""Dew point, and whether a surface is warm enough above it to be coated.

Magnus formula with the constants of the World Meteorological Organization (WMO-No. 8), 17.62 and 243.12 C over water. The rule:
the surface at least 3 C above the dew point (FHWA-RD-98-084; the topic of ISO 8502-4). The sheet of the coating has the last word.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, log

from lastwet.errors import UsageError
from lastwet.film.quantity import LEAST_PERCENT

MAGNUS_A = 17.62
MAGNUS_B_C = 243.12
VALID_C = (-45.0, 60.0)
"""Air temperatures for which the constants are given."""
MARGIN_C = 3.0
"""The safer of the two figures in use: 5 F, which others print for it, is 2.8 C."""


@dataclass(frozen=True, slots=True)
class Climate:
    """Air and surface, and what follows."""

    air_c: float
    humidity: float
    """Relative humidity, a fraction above 0 and up to 1."""
    surface_c: float
    dew_point_c: float
    surface_assumed: bool = False
    """Whether nobody measured the surface, so that it is taken to be as warm as the air."""

    @property
    def margin_c(self) -> float:
        """Surface above dew point; negative when water condenses on it."""
        return self.surface_c - self.dew_point_c

    @property
    def margin_words(self) -> str:
        """How far the surface is above or below the dew point; a margin just too small is not rounded up to the one that is asked for."""
        rounded = f"{abs(self.margin_c):.1f}"
        short = self.margin_c < MARGIN_C and float(rounded) >= MARGIN_C and self.margin_c > 0
        return f"{floor(self.margin_c * 100) / 100:.2f}" if short else rounded

    @property
    def caution(self) -> str | None:
        """What is wrong, with the data sheet having the last word; None where the rule is kept."""
        if self.humidity * 100 < LEAST_PERCENT:  # no shop's air: what was logged so must not be told to be safe
            percent = self.humidity * 100
            return f"a relative humidity of {percent:g} % cannot be meant, so the dew point is not known; was it {percent * 100:g} %?"
        if self.margin_c >= MARGIN_C:
            return None
        wet = "water condenses on the surface" if self.margin_c <= 0 else f"the surface is only {self.margin_words} C above the dew point"
        return f"{wet}; at least {MARGIN_C:g} C is the rule, and the data sheet has the last word"


def dew_point_c(air_c: float, humidity: float) -> float:
    """Return the dew point of air at `air_c` with a relative humidity between 0 (not included) and 1; raises `UsageError`."""
    if not 0 < humidity <= 1:
        raise UsageError(f"a relative humidity of {humidity * 100:g} % is not possible", "give more than 0 % and at most 100 %")
    if not VALID_C[0] <= air_c <= VALID_C[1]:
        raise UsageError(f"air at {air_c:.3g} C is outside what the formula holds for", "give -45 to 60 C, and mind C and F")
    gamma = log(humidity) + MAGNUS_A * air_c / (MAGNUS_B_C + air_c)
    return MAGNUS_B_C * gamma / (MAGNUS_A - gamma)


def climate(air_c: float, humidity: float, surface_c: float | None = None) -> Climate:
    """Gather air and surface; a surface that was not measured is taken to be as warm as the air."""
    surface = air_c if surface_c is None else surface_c
    return Climate(air_c, humidity, surface, dew_point_c(air_c, humidity), surface_c is None)

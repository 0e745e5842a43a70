"""The build: what all coats together come to, what sanding took away, and whether the next coat still fits.

Thicknesses are brackets in micrometres and add end by end: the total lies between the sum of the lower and the sum of the upper
ends, whatever the coats did. No chance is taken against a maximum.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from lastwet.errors import UsageError
from lastwet.film.coating import Coating
from lastwet.film.dry import predict_dry, wet_for_dry
from lastwet.film.quantity import Span
from lastwet.units import Bracket

ROUNDING = 1e-9
"""Fraction by which sums of decimal numbers may miss a limit that they meet on paper."""


@dataclass(frozen=True, slots=True)
class Layer:
    """One coat in the build."""

    wet: Bracket
    """Wet film as read."""
    dry: Bracket
    """Dry film predicted from it, before sanding."""
    sanded_um: tuple[float, float] = (0.0, 0.0)
    """Dry film that sanding took off it before the next coat: least and most."""

    @property
    def left(self) -> tuple[float, float | None]:
        """Dry film that stays, (least, most); sanding takes no more than was there."""
        least, most = self.sanded_um
        return max(0.0, self.dry.low_um - most), None if self.dry.high_um is None else max(0.0, self.dry.high_um - least)


@dataclass(frozen=True, slots=True)
class Build:
    """All coats so far."""

    wet_um: tuple[float, float | None]
    """Wet film of all coats, as applied: (least, most); None where a reading has no upper end."""
    dry_um: tuple[float, float | None]
    """Dry film predicted, after sanding: (least, most)."""


class Fit(StrEnum):
    """Whether a film stays within the maximum."""

    FITS = "fits"
    MAY_PASS = "may pass"
    PASSES = "passes"


@dataclass(frozen=True, slots=True)
class Headroom:
    """What is left to the maximum build."""

    fit: Fit
    left_um: tuple[float | None, float]
    """Least and most that is left, in the film that the sheet states its maximum of; below 0 where it is passed, None where the
    build has no upper end."""


def coat_layer(wet: Bracket, coating: Coating, thinner: float = 0.0, sanded_um: tuple[float, float] = (0.0, 0.0)) -> Layer:
    """Return the layer that a coat of wet film leaves; `thinner` as a fraction of the mixed paint's volume."""
    return Layer(wet, predict_dry(wet, coating.volume_solids, thinner, coating.volume_solids_tolerance), sanded_um)


def build_up(layers: Sequence[Layer]) -> Build:
    """Add the layers."""
    wet = [(layer.wet.low_um, layer.wet.high_um) for layer in layers]
    return Build(_total(wet), _total([layer.left for layer in layers]))


def _total(parts: Sequence[tuple[float, float | None]]) -> tuple[float, float | None]:
    highs = [high for _, high in parts if high is not None]
    return sum(low for low, _ in parts), sum(highs) if len(highs) == len(parts) else None


def headroom(build: Build, coating: Coating) -> Headroom | None:
    """Compare the build with the sheet's maximum, dry with dry or wet with wet; None where the sheet gives none."""
    if coating.maximum_build is None:
        return None
    maximum_um = coating.maximum_build.thickness_um
    least, most = build.dry_um if coating.maximum_build.of == "dry" else build.wet_um
    left = (None if most is None else maximum_um - most), maximum_um - least
    slack = -ROUNDING * maximum_um
    fit = Fit.FITS if left[0] is not None and left[0] >= slack else Fit.PASSES if left[1] < slack else Fit.MAY_PASS
    return Headroom(fit, left)


def wettest_next(build: Build, coating: Coating, thinner: float = 0.0) -> float | None:
    """Return the thickest wet coat, up to the wet range's upper limit, after which the build surely stays within the maximum.

    0 or less: there is no room for any. Below the wet range's lower limit: there is none for a coat that the sheet allows.
    None where the build so far has no upper end, so nothing can be promised.
    """
    upper_um, room = coating.wet_range_um[1], headroom(build, coating)
    if room is None:
        return upper_um
    least_left = room.left_um[0]
    if least_left is None:
        return None
    if least_left <= 0 or coating.maximum_build is None or coating.maximum_build.of == "wet":
        return min(upper_um, least_left)
    most_solids = min(1.0, coating.volume_solids + coating.volume_solids_tolerance)
    wet_um = wet_for_dry(Bracket(least_left, None), most_solids, thinner).low_um
    return min(upper_um, wet_um)


class Recoat(StrEnum):
    """Where a moment lies against the recoat window."""

    NOT_YET = "not yet"
    OPEN = "open"
    MISSED = "missed"


@dataclass(frozen=True, slots=True)
class RecoatState:
    """The recoat window at one moment."""

    state: Recoat
    changes_in_s: float | None
    """Seconds until it opens or closes; None where nothing changes any more."""


def recoat(window_s: Span, since_coat_s: float) -> RecoatState:
    """Tell where `since_coat_s`, seconds since the coat was applied, lies in the window; raises `UsageError` before the coat."""
    opens_s, closes_s = window_s
    if since_coat_s < 0:
        raise UsageError("the coat lies in the future", "look up the time of the coat and the clock")
    if since_coat_s < opens_s:
        return RecoatState(Recoat.NOT_YET, opens_s - since_coat_s)
    if closes_s is None:
        return RecoatState(Recoat.OPEN, None)
    if since_coat_s <= closes_s:
        return RecoatState(Recoat.OPEN, closes_s - since_coat_s)
    return RecoatState(Recoat.MISSED, None)


def pot_life_left_s(pot_life_s: float, since_mixing_s: float) -> float:
    """Return the seconds of pot life that are left, negative when it is over; raises `UsageError` before the mixing."""
    if since_mixing_s < 0:
        raise UsageError("the paint was mixed in the future", "look up the time of mixing and the clock")
    return pot_life_s - since_mixing_s

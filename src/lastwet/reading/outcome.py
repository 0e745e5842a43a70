"""What the reader says of one photo: a `Reading`, or a `Refusal` with its reasons.

Both are values. Points are (x, y) in the upright full-size photo, origin at the centre of the top-left pixel, y down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

from lastwet.gauge import Side
from lastwet.units import Bracket

Point = tuple[float, float]
SideSource = Literal["stated", "count", "geometry", "numerals"]


class Code(StrEnum):
    """Why a photo is not read."""

    NO_GAUGE = "no-gauge"
    ROW_CUT = "row-cut"
    ROW_COVERED = "row-covered"
    TOOTH_COUNT = "tooth-count"
    END_TAB_DRY = "end-tab-dry"
    GAP = "gap"
    GLARE = "glare"
    BLUR = "blur"
    TOO_DARK = "too-dark"
    TOO_BRIGHT = "too-bright"
    TOO_SMALL = "too-small"
    SIDE_UNCLEAR = "side-unclear"
    UNSURE = "unsure"
    DIRTY = "dirty"
    PHOTOS_DISAGREE = "photos-disagree"


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason for a refusal, and its cure."""

    code: Code
    message: str
    """What is wrong, one sentence."""
    cure: str
    """What to do, one sentence."""


@dataclass(frozen=True, slots=True)
class Tooth:
    """One numbered tooth as seen."""

    value: float
    """The value stamped at the tooth, in the gauge's unit."""
    wet_probability: float
    """Probability that it carries wet paint, 0..1."""
    tip_px: Point
    """Middle of the tip's edge."""


@dataclass(frozen=True, slots=True)
class EndTab:
    """One end tab as seen."""

    wet_probability: float
    tip_px: Point


@dataclass(frozen=True, slots=True)
class Guess:
    """What a person would be asked to confirm after a refusal; never a reading by itself."""

    last_wet: int
    confidence: float


@dataclass(frozen=True, slots=True)
class Seen:
    """What was seen on the way to the outcome; may be empty."""

    teeth: tuple[Tooth, ...] = ()
    """Low to high."""
    end_tabs: tuple[EndTab, ...] = ()
    """First the one beside the lowest tooth; left to right where the direction is unknown."""
    quality: Mapping[str, float] = field(default_factory=dict)
    """Named measures of the photo, such as tooth_width_px."""


@dataclass(frozen=True, slots=True)
class Reading:
    """The last wet tooth, read with `confidence`."""

    side: Side
    side_source: SideSource
    last_wet: int
    """Number of wet teeth, 0..N."""
    confidence: float
    """Probability that `last_wet` is right, on rendered photos."""
    seen: Seen

    @property
    def wet(self) -> Bracket:
        """The wet film thickness, as a bracket in micrometres."""
        return self.side.bracket(self.last_wet)


@dataclass(frozen=True, slots=True)
class Refusal:
    """The photo is not read, and why."""

    reasons: tuple[Reason, ...]
    """At least one; the first is the one that decided."""
    side: Side | None = None
    side_source: SideSource | None = None
    best_guess: Guess | None = None
    seen: Seen = field(default_factory=Seen)


Outcome = Reading | Refusal


@dataclass(frozen=True, slots=True)
class Told:
    """What one of several photos of a dip says by itself."""

    outcome: Outcome
    used: bool
    """Whether it adds to what they say together."""


@dataclass(frozen=True, slots=True)
class Together:
    """What several photos of one dip say together."""

    outcome: Outcome
    """Its tips are those of the best photo."""
    best: int
    """Place of the photo that says most, from 0."""
    each: tuple[Told, ...]
    """In the order of the photos."""

"""Look at one photo: the row that was dipped, what its tips and its numerals show, and the side. Nothing is concluded yet."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from lastwet.gauge import Gauge, Side
from lastwet.reading import refuse, strip
from lastwet.reading.decide import Decision, Limits
from lastwet.reading.evidence import Evidence, Glance, glance, judge_again, judge_on
from lastwet.reading.locate import Located, find_rows
from lastwet.reading.numerals import Numerals, legible
from lastwet.reading.outcome import EndTab, Point, Reason, Refusal, Seen, SideSource, Tooth
from lastwet.reading.photo import Photo
from lastwet.reading.tips import Tips, find_tips, find_tips_nearer

UNEVEN = 0.09
"""How far tips may lie from where an even row has them, in pitches (root mean square), before one may have been missed: of 659 rows that
were read on seeds 3357-4316 and the corpus none is over 0.083."""


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """What one photo shows."""

    photo: Photo
    tips: Tips
    row: Located
    rivals: list[Located]
    """Other rows that look dipped."""
    evidence: Evidence
    side: Side | None
    """The side that was dipped; None where that is not settled."""
    side_source: SideSource | None
    trouble: Reason | None
    """Why the side is not settled."""
    numerals: Numerals | None
    """What the numerals beside the teeth say; None where they cannot be read."""
    second: bool = False
    """Whether the side was settled by the second look alone, so that the answer must be the surer."""

    def seen(self, decision: Decision) -> Seen:
        """Return the elements low to high, as `decision` has them; tips in px of the upright full-size photo."""
        order = np.arange(self.row.teeth + 2)
        leftward = self.row.row.tips[0, 0] > self.row.row.tips[-1, 0]
        if decision.low_left is False or (decision.low_left is None and leftward):
            order = order[::-1]
        ends = tuple(EndTab(float(decision.wet[i]), self._full(i)) for i in order[[0, -1]])
        values = self.side.teeth if self.side else ()
        teeth = tuple(Tooth(float(v), float(decision.wet[i]), self._full(i)) for v, i in zip(values, order[1:-1], strict=False))
        return Seen(teeth, ends, self._quality(decision))

    def _full(self, element: int) -> Point:
        x, y = (self.row.row.tips[element].astype(float) + 0.5) / self.photo.scale - 0.5
        return round(float(x), 1), round(float(y), 1)

    def _quality(self, decision: Decision) -> dict[str, float]:
        e = self.evidence
        return {
            "pitch_px": round(self.row.row.pitch_px / self.photo.scale, 1),
            "softness_tooth_widths": round(e.softness, 4),
            "level": round(e.level, 3),
            "contrast": round(e.contrast, 3),
            "row_heat": round(self.row.heat, 3),
            "row_misfit_pitches": round(self.row.misfit, 3),
            "least_seen": round(float(e.seen.min()), 3),
            "most_burnt": round(float(e.burnt.max()), 3),
            "broken_nats": round(decision.broken, 2),
            "probability": round(decision.probability, 4),
        }


def look(photo: Photo, gauge: Gauge, side_id: str | None, limits: Limits) -> Sight | Refusal:
    """Find the row that was dipped and judge its tips; a refusal where there is none.

    `side_id` names the side that was dipped; without it the side is told by the number of teeth, where that settles it.
    """
    stated = gauge.side(side_id) if side_id is not None else None
    tips = find_tips(photo.pixels)
    sight = _look_at(tips, photo, gauge, stated, limits)
    if isinstance(sight, Sight) and sight.side is not None and _plain(sight, limits) and _well_shown(sight, limits):
        return sight
    near = find_tips_nearer(photo.pixels, tips, sight.row.row if isinstance(sight, Sight) else None)
    again = _look_at(near, photo, gauge, stated, limits) if near else None
    return _settled(sight, again, limits) if isinstance(again, Sight) else sight


def _plain(sight: Sight, limits: Limits) -> bool:
    """Whether nothing in a row looks otherwise than it should."""
    return bool(sight.evidence.seen.min() >= limits.plain) and sight.row.closed >= 0 and not sight.row.missing


def _well_shown(sight: Sight, limits: Limits) -> bool:
    """Whether a row is large in the photo, and the shanks of both end tabs are in it, so that its count needs no second look."""
    row = sight.row.row
    return row.pitch_px >= limits.small and not refuse.near_border(row.roots[[0, -1]], sight.tips.size, 0.0)


def _settled(sight: Sight | Refusal, again: Sight, limits: Limits) -> Sight | Refusal:
    """Take the look that settles the side; where both do, the first, if the second, from nearer, does not speak against its count.

    A tip that only the second look saw is seen, and each as plainly as in the look that shows it best.
    """
    if isinstance(sight, Refusal) or sight.side is None:
        # the count has been doubtful once, so that now the row must be seen without a gap and end where it ends
        settles = again.side is not None and _whole(again.row, limits) and _plain(again, limits)
        return replace(again, second=True) if settles else sight
    if again.row.teeth != sight.row.teeth:
        trouble = refuse.counted_anew(sight.row.teeth, again.row.teeth)
    elif again.row.closed < 0:
        trouble = refuse.cut()
    else:
        unseen = tuple(i for i in sight.row.missing if i in again.row.missing)
        seen = np.maximum(sight.evidence.seen, again.evidence.seen)
        return replace(sight, row=replace(sight.row, missing=unseen), evidence=replace(sight.evidence, seen=seen))
    return replace(sight, side=None, side_source=None, trouble=trouble)


def _whole(row: Located, limits: Limits) -> bool:
    """Whether every tooth of a row was seen, and nothing where it would go on."""
    return not row.missing and row.beyond <= limits.beyond and row.closed >= 0


def _look_at(tips: Tips, photo: Photo, gauge: Gauge, stated: Side | None, limits: Limits) -> Sight | Refusal:
    """Judge the row that was dipped among the tips."""
    rows = _rows(photo, tips, limits)
    if not rows or not refuse.is_gauge(rows[0][1]):
        return Refusal((refuse.no_row(tips),), side=stated, side_source="stated" if stated else None)
    (first, row), rivals = rows[0], [other for glanced, other in rows[1:] if glanced.dipped > limits.rival]
    side, source, trouble = _side(gauge, stated, row, rivals, limits)
    numerals = legible(photo.pixels, row.row, gauge)
    if numerals and numerals.side == side:
        source = "numerals"
    return Sight(photo, tips, row, rivals, _evidence(photo, first, row), side, source, trouble, numerals)


def _evidence(photo: Photo, first: Glance, row: Located) -> Evidence:
    """Judge a row that was glanced at, and once more where that leaves a doubt."""
    evidence = judge_on(first)
    return evidence if evidence.beyond_doubt else judge_again(evidence, strip.cut(photo.pixels, strip.shortened(row.row)))


def _rows(photo: Photo, tips: Tips, limits: Limits) -> list[tuple[Glance, Located]]:
    """Find rows, ordered by how far each looks like the one that was dipped; where none of the likeliest does, others too."""
    likeliest = find_rows(tips)
    rows = _by_dip(photo, likeliest)
    if not rows or any(first.dipped > limits.rival for first, _ in rows):
        return rows
    return _by_dip(photo, [*likeliest, *find_rows(tips, besides=likeliest)])


def _by_dip(photo: Photo, rows: list[Located]) -> list[tuple[Glance, Located]]:
    """Order rows by how far each looks like the one that was dipped: whole, even, its end tabs wet."""
    looks = zip(glance([strip.cut(photo.pixels, row.row) for row in rows]), rows, strict=True)
    return sorted(looks, key=lambda pair: -pair[0].dipped * pair[1].evenness - 0.02 * pair[1].worth)


def _side(
    gauge: Gauge, stated: Side | None, row: Located, rivals: list[Located], limits: Limits
) -> tuple[Side | None, SideSource | None, Reason | None]:
    """Settle the side: as stated, or the only one with this many teeth, where the number is beyond doubt."""
    if row.misfit > UNEVEN:
        return None, None, refuse.uneven()
    if stated is not None:
        return (stated, "stated", None) if len(stated.teeth) == row.teeth else (None, None, refuse.tooth_count(row.teeth, gauge, stated))
    fitting = [side for side in gauge.sides if len(side.teeth) == row.teeth]
    if len(fitting) > 1:
        return None, None, refuse.side_unclear(fitting, f"{len(fitting)} sides have {row.teeth} teeth")
    if not fitting:
        return None, None, refuse.tooth_count(row.teeth, gauge)
    other_count = any(other.teeth != row.teeth and other.worth > limits.rival_worth * row.worth for other in rivals)
    if other_count or not _whole(row, limits):
        return None, None, refuse.side_unclear(list(gauge.sides), "The number of teeth is not beyond doubt")
    return fitting[0], "count", None

"""Read one photo: the whole story on one page.

photo -> tips -> row -> strip -> evidence -> decision -> Reading or Refusal
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from importlib.resources import files

import numpy as np

from lastwet.gauge import Gauge, Side
from lastwet.reading import refuse, strip
from lastwet.reading.decide import Decision, Limits, decide
from lastwet.reading.evidence import Evidence, glance, judge
from lastwet.reading.locate import Located, find_rows, find_tips
from lastwet.reading.outcome import EndTab, Guess, Outcome, Point, Reading, Reason, Refusal, Seen, SideSource, Tooth
from lastwet.reading.photo import Photo

LIMITS = Limits()


def read(photo: Photo, gauge: Gauge, side_id: str | None, limits: Limits = LIMITS) -> Outcome:
    """Read the last wet tooth of `gauge` from an upright photo, or refuse with the reason and the cure.

    `side_id` names the side that was dipped; without it the side is told by the number of teeth, where that settles it.
    Other `limits` than the usual are for measuring what they would come to.
    """
    tips = find_tips(photo.pixels)
    rows = _by_dip(photo, find_rows(tips))
    stated = gauge.side(side_id) if side_id is not None else None
    if not rows or not refuse.is_gauge(rows[0][1]):
        return Refusal((refuse.no_row(tips),), side=stated, side_source="stated" if stated else None)
    row, rivals = rows[0][1], [other for dipped, other in rows[1:] if dipped > limits.rival]
    evidence = judge(strip.cut(photo.pixels, row.row), strip.cut(photo.pixels, strip.shortened(row.row)))
    decision = decide(evidence, limits)
    side, source, trouble = _side(gauge, stated, row, rivals, limits)
    view = _View(photo, row, evidence, decision, side)
    if side is None:
        return Refusal((trouble or refuse.tooth_count(row.teeth, gauge),), seen=view.seen())
    reasons = [*refuse.second_row(row, rivals), *refuse.doubts(row, evidence, decision, limits, side, tips.size)]
    confidence = decision.probability * limits.trust
    guess = Guess(decision.last_wet, confidence)
    if reasons:
        return Refusal(tuple(reasons), side, source, guess, view.seen())
    return Reading(side, source or "count", decision.last_wet, confidence, view.seen())


def _by_dip(photo: Photo, rows: list[Located]) -> list[tuple[float, Located]]:
    """Order rows by how far each looks like the one that was dipped, 0..1: whole, even, its end tabs wet."""
    looks = glance([strip.cut(photo.pixels, row.row) for row in rows])
    signs = [(evidence.dipped, row) for evidence, row in zip(looks, rows, strict=True)]
    return sorted(signs, key=lambda pair: -pair[0] * pair[1].evenness - 0.02 * pair[1].worth)


def _side(
    gauge: Gauge, stated: Side | None, row: Located, rivals: list[Located], limits: Limits
) -> tuple[Side | None, SideSource | None, Reason | None]:
    """Settle the side: as stated, or the only one with this many teeth, where the number is beyond doubt."""
    if stated is not None:
        return (stated, "stated", None) if len(stated.teeth) == row.teeth else (None, None, refuse.tooth_count(row.teeth, gauge, stated))
    fitting = [side for side in gauge.sides if len(side.teeth) == row.teeth]
    if len(fitting) > 1:
        return None, None, refuse.side_unclear(fitting, f"{len(fitting)} sides have {row.teeth} teeth")
    if not fitting:
        return None, None, refuse.tooth_count(row.teeth, gauge)
    other_count = any(other.teeth != row.teeth and other.worth > limits.rival_worth * row.worth for other in rivals)
    if row.missing or row.beyond > limits.beyond or other_count:
        return None, None, refuse.side_unclear(list(gauge.sides), "The number of teeth is not beyond doubt")
    return fitting[0], "count", None


@dataclass(frozen=True, slots=True)
class _View:
    """What was seen, in the order and the coordinates of the outcome."""

    photo: Photo
    row: Located
    evidence: Evidence
    decision: Decision
    side: Side | None

    def seen(self) -> Seen:
        """Return the elements low to high, tips in px of the upright full-size photo."""
        order = np.arange(self.row.teeth + 2)
        leftward = self.row.row.tips[0, 0] > self.row.row.tips[-1, 0]
        if self.decision.low_left is False or (self.decision.low_left is None and leftward):
            order = order[::-1]
        wet = self.decision.wet
        ends = tuple(EndTab(float(wet[i]), self._full(i)) for i in order[[0, -1]])
        values = self.side.teeth if self.side else ()
        teeth = tuple(Tooth(float(v), float(wet[i]), self._full(i)) for v, i in zip(values, order[1:-1], strict=False))
        return Seen(teeth, ends, self._quality())

    def _full(self, element: int) -> Point:
        x, y = (self.row.row.tips[element].astype(float) + 0.5) / self.photo.scale - 0.5
        return round(float(x), 1), round(float(y), 1)

    def _quality(self) -> dict[str, float]:
        tips = self.row.row.tips
        pitch = float(np.linalg.norm(tips[-1] - tips[0])) / (len(tips) - 1) / self.photo.scale
        e = self.evidence
        return {
            "pitch_px": round(pitch, 1),
            "softness_tooth_widths": round(e.softness, 4),
            "level": round(e.level, 3),
            "contrast": round(e.contrast, 3),
            "row_heat": round(self.row.heat, 3),
            "row_misfit_pitches": round(self.row.misfit, 3),
            "least_seen": round(float(e.seen.min()), 3),
            "most_burnt": round(float(e.burnt.max()), 3),
            "broken_nats": round(self.decision.broken, 2),
            "probability": round(self.decision.probability, 4),
        }


def _settings_id() -> str:
    """Return a short name of what the outcome depends on besides the photo: the reader's own code and network weights."""
    digest = hashlib.sha256()
    parts = [*files("lastwet.reading").iterdir(), *(files("lastwet.data") / "models").iterdir()]
    for part in sorted(parts, key=lambda p: p.name):
        if part.name.endswith((".py", ".onnx")):
            digest.update(part.read_bytes())
    return digest.hexdigest()[:16]


def __getattr__(name: str) -> str:
    if name == "SETTINGS_ID":  # hashed when the log asks, not at every start
        return _settings_id()
    raise AttributeError(name)

"""Read a dip: the whole story on one page.

photo -> tips -> row -> strip -> evidence, numerals             (one photo: look)
evidence of one photo, or of several together -> decision -> Reading or Refusal
Reading, photo of the clean gauge -> Reading or Refusal
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from importlib.resources import files

from lastwet.gauge import Gauge
from lastwet.reading import refuse, together
from lastwet.reading.clean import held_against
from lastwet.reading.decide import Limits, decide, low_end
from lastwet.reading.look import Sight, look
from lastwet.reading.outcome import Guess, Outcome, Reading, Refusal, Together, Told
from lastwet.reading.photo import Photo

LIMITS = Limits()


def read(photo: Photo, gauge: Gauge, side_id: str | None, limits: Limits = LIMITS, clean: Photo | None = None) -> Outcome:
    """Read the last wet tooth of `gauge` from an upright photo, or refuse with the reason and the cure.

    `side_id` names the side that was dipped; without it the side is told by the number of teeth, where that settles it.
    `clean` shows the same side before the dip, wiped. Other `limits` than the usual are for measuring what they would come to.
    """
    sight = look(photo, gauge, side_id, limits)
    outcome = conclude(sight, gauge, limits)
    if clean is None or isinstance(sight, Refusal):
        return outcome
    return held_against(outcome, sight, low_end(decide(sight.evidence, limits), limits), clean, gauge, limits)


def read_together(
    photos: Sequence[Photo], gauge: Gauge, side_id: str | None, limits: Limits = LIMITS, clean: Photo | None = None
) -> Together:
    """Read several photos of the same dip as one, as `read` does; the order of the photos says nothing."""
    stated = gauge.side(side_id) if side_id is not None else None
    sights = [look(photo, gauge, side_id, limits) for photo in photos]
    alone = [conclude(sight, gauge, limits) for sight in sights]
    joint = together.combine(sights, alone, gauge, stated, limits)
    outcome, best = joint.outcome, sights[joint.best]
    if clean is not None and isinstance(best, Sight):
        outcome = held_against(outcome, best, joint.low_left, clean, gauge, limits)
    return Together(outcome, joint.best, tuple(Told(each, place in joint.used) for place, each in enumerate(alone)))


def conclude(sight: Sight | Refusal, gauge: Gauge, limits: Limits) -> Outcome:
    """Conclude from one photo."""
    if isinstance(sight, Refusal):
        return sight
    limits = (limits.surer() if sight.second else limits).at_pitch(sight.row.row.pitch_px)
    decision = decide(sight.evidence, limits)
    seen, side, source = sight.seen(decision), sight.side, sight.side_source
    if side is None:
        trouble = sight.trouble or refuse.tooth_count(sight.row.teeth, gauge)
        return Refusal(tuple(refuse.side_unsettled(trouble, sight.evidence, limits)), seen=seen)
    reasons = [
        *refuse.second_row(sight.row, sight.rivals),
        *refuse.doubts(sight.row, sight.evidence, decision, limits, side, sight.tips.size),
    ] or refuse.contradicted(sight.numerals, side, low_end(decision, limits))
    confidence = decision.probability * limits.trust
    guess = Guess(decision.last_wet, confidence)
    if reasons:
        return Refusal(tuple(reasons), side, source, guess, seen)
    return Reading(side, source or "count", decision.last_wet, confidence, seen)


PIECE_BYTES = 1 << 20
"""Bytes of a file that are in memory while it is hashed: all of a network would be the most that a reading ever takes."""


def _settings_id() -> str:
    """Return a short name of what the outcome depends on besides the photo: the reader's own code and network weights."""
    digest = hashlib.sha256()
    parts = [*files("lastwet.reading").iterdir(), *(files("lastwet.data") / "models").iterdir()]
    for part in sorted(parts, key=lambda p: p.name):
        if part.name.endswith((".py", ".onnx")):
            with part.open("rb") as file:
                while piece := file.read(PIECE_BYTES):
                    digest.update(piece)
    return digest.hexdigest()[:16]


def __getattr__(name: str) -> str:
    if name == "SETTINGS_ID":  # hashed when the log asks, not at every start
        return _settings_id()
    raise AttributeError(name)

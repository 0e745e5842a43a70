"""Read several photos of one dip together.

Evidence is added, not voted on: the log likelihood of each number of wet teeth is summed over the photos, each of which may lie either
way round. A tooth that is burnt out or hidden in one photo says nothing there, and another photo may settle it. Photos of one dip fail
together, above all in the same light, so adding makes nothing certain that was not seen: each element must be settled by a photo that by
itself meets the limits there, no photo may speak against it, and no confidence is stated higher than for a single photo.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from lastwet.gauge import Gauge, Side
from lastwet.reading import refuse
from lastwet.reading.decide import (
    Decision,
    Limits,
    decide,
    decide_together,
    deciding,
    element_sure,
    log_odds,
    lost_in_glare,
    low_end,
    sure_enough,
)
from lastwet.reading.evidence import Evidence
from lastwet.reading.look import Sight
from lastwet.reading.outcome import Code, Guess, Outcome, Reading, Reason, Refusal, Seen, SideSource

Flags = npt.NDArray[np.bool_]

ONE_DIP = "Photograph one dip only, and read those photos again"


@dataclass(frozen=True, slots=True)
class Joint:
    """What photos of one dip come to."""

    outcome: Outcome
    best: int
    """Place of the photo that says most; of the first where none says anything."""
    used: frozenset[int]
    """Places of the photos that add to it."""
    low_left: bool | None
    """Whether the low end is on the left in the strip of the best photo; None where nothing tells."""


@dataclass(frozen=True, slots=True)
class _Part:
    """What one of several photos adds."""

    place: int
    sight: Sight
    side: Side
    alone: Outcome
    """What comes of it by itself."""
    hidden: Flags
    """Elements that it says nothing of, shape (N+2,)."""
    evidence: Evidence
    """Without what it says of those."""
    own: Decision
    """From that evidence alone."""

    @property
    def name(self) -> str:
        """What messages call it."""
        return f"photo {self.place + 1}"

    def sure(self, limits: Limits) -> bool:
        """Whether it settles the number of wet teeth by itself."""
        return sure_enough(self.evidence, self.own, limits)


def combine(sights: Sequence[Sight | Refusal], alone: Sequence[Outcome], gauge: Gauge, stated: Side | None, limits: Limits) -> Joint:
    """Conclude from photos of one dip, given what comes of each by itself."""
    rows = {i: sight for i, sight in enumerate(sights) if isinstance(sight, Sight) and _shows_the_row(sight, limits)}
    if stated is None and len({sight.row.teeth for sight in rows.values()}) > 1:
        return Joint(_counts_differ(rows), min(rows), frozenset(), None)
    parts = [_part(i, rows[i], sight_side, alone[i], limits) for i in _distinct(rows) if (sight_side := rows[i].side)]
    if not parts:
        return Joint(alone[0], 0, frozenset(), None)
    if len(parts) == 1:
        (only,) = parts
        return Joint(only.alone, only.place, frozenset({only.place}), low_end(decide(only.sight.evidence, limits), limits))
    return _joined(parts, limits)


def _shows_the_row(sight: Sight, limits: Limits) -> bool:
    """Whether something can be learnt from a photo: its row is whole, sharp, and has an end tab to compare teeth with."""
    if refuse.of_no_use(sight.row, sight.evidence, limits, sight.tips.size):
        return False
    return not _hidden(sight, limits)[[0, -1]].all()


def _hidden(sight: Sight, limits: Limits) -> Flags:
    return np.asarray(lost_in_glare(sight.evidence, limits) | refuse.hidden_elements(sight.row, sight.evidence, limits))


def _distinct(rows: dict[int, Sight]) -> list[int]:
    """Return the places of the photos, each photo once, in an order that is not that of the call."""
    first: dict[str, int] = {}
    for place, sight in rows.items():
        first.setdefault(sight.photo.sha256, place)
    return [first[sha256] for sha256 in sorted(first)]


def _part(place: int, sight: Sight, side: Side, alone: Outcome, limits: Limits) -> _Part:
    hidden = _hidden(sight, limits)
    looks, again = (np.where(hidden, 0.0, looks) for looks in (sight.evidence.looks, sight.evidence.again))
    evidence = replace(sight.evidence, looks=looks, again=again)
    return _Part(place, sight, side, alone, hidden, evidence, decide(evidence, limits))


def _joined(parts: list[_Part], limits: Limits) -> Joint:
    decisions = decide_together([part.evidence for part in parts], limits)
    at = max(range(len(parts)), key=lambda i: (parts[i].own.probability, float(parts[i].sight.evidence.seen.min())))
    best, decision = parts[at], decisions[at]
    reasons = _objections(parts, decisions, limits) or _open_questions(parts, decisions, best, limits)
    if not reasons and decision.probability < limits.answer:
        reasons = [refuse.unsure(best.evidence, decision, limits, best.side)]
    confidence = decision.probability * limits.trust
    seen, source = _seen(best, decision, len(parts)), _side_source(parts, best)
    outcome: Outcome
    if reasons:
        outcome = Refusal(tuple(dict.fromkeys(reasons)), best.side, source, Guess(decision.last_wet, confidence), seen)
    else:
        outcome = Reading(best.side, source or "count", decision.last_wet, confidence, seen)
    return Joint(outcome, best.place, frozenset(part.place for part in parts), low_end(decision, limits))


def _side_source(parts: list[_Part], best: _Part) -> SideSource | None:
    """Tell how the side is known: seen, where the numerals of any photo say the same."""
    sources = [part.sight.side_source for part in parts]
    return "numerals" if "numerals" in sources else best.sight.side_source


def _seen(best: _Part, decision: Decision, photos: int) -> Seen:
    seen = best.sight.seen(decision)
    return replace(seen, quality={**seen.quality, "photos_used": float(photos)})


# --- what speaks against it


def _objections(parts: list[_Part], decisions: list[Decision], limits: Limits) -> list[Reason]:
    """Return what speaks against reading them together, however sure they are together; the deciding reason first."""
    found = _differing(parts, limits)
    in_order = sorted(zip(parts, decisions, strict=True), key=lambda pair: pair[0].place)
    for part, decision in in_order:
        own = [
            *refuse.second_row(part.sight.row, part.sight.rivals),
            *_seating(part),
            *refuse.broken(part.own, limits, part.side),
            *refuse.contradicted(part.sight.numerals, part.side, low_end(decision, limits)),
        ]
        found += [refuse.placed(f"In {part.name}", reason) for reason in own]
        if not own and decision.broken > limits.gap:
            named = refuse.listed(list(decision.gap_at), refuse.names(part.side, decision))
            found.append(Reason(Code.PHOTOS_DISAGREE, f"{part.name.capitalize()} speaks against the others: see {named}", ONE_DIP))
    return found


def _differing(parts: list[_Part], limits: Limits) -> list[Reason]:
    """Say so where photos are each sure, and of different numbers of wet teeth."""
    sure = sorted((part for part in parts if part.sure(limits)), key=lambda part: part.place)
    if len({part.own.last_wet for part in sure}) < 2:
        return []
    told = "; ".join(f"{part.name}: {_last_wet(part)}" for part in sure)
    return [Reason(Code.PHOTOS_DISAGREE, f"The photos do not tell the same ({told})", ONE_DIP)]


def _last_wet(part: _Part) -> str:
    wet = part.own.last_wet
    return f"last wet tooth {part.side.teeth[wet - 1]:g}" if wet else "no tooth wet"


def _seating(part: _Part) -> list[Reason]:
    """Object where an end tab that is to be seen looks dry."""
    dry = [end for end in (0, -1) if not part.hidden[end] and part.evidence.log_odds[end] < 0]
    return [refuse.one_tab_dry()] if len(dry) == 1 else [refuse.no_tab_wet()] if dry else []


def _counts_differ(rows: dict[int, Sight]) -> Refusal:
    told = "; ".join(f"photo {place + 1}: {sight.row.teeth} teeth" for place, sight in rows.items())
    cure = "Photograph one dip only, and name the side that was dipped with --side"
    return Refusal((Reason(Code.PHOTOS_DISAGREE, f"The photos show different rows ({told})", cure),))


# --- what nobody has settled


def _open_questions(parts: list[_Part], decisions: list[Decision], best: _Part, limits: Limits) -> list[Reason]:
    """Say which elements no photo settles by itself; none where one photo could be read alone."""
    last_wet = decisions[0].last_wet
    if any(isinstance(part.alone, Reading) and part.alone.last_wet == last_wet for part in parts):
        return []
    pairs = list(zip(parts, decisions, strict=True))
    shown = np.any([_low_to_high(~part.hidden, decision) for part, decision in pairs], axis=0)
    if not shown.all():
        burnt = np.any([~_low_to_high(part.evidence.burnt <= limits.burnt, decision) for part, decision in pairs], axis=0)
        return [_never_shown(np.flatnonzero(~shown), burnt, best.side)]
    unsettled = ~np.any([_settled(part, decision, limits) for part, decision in pairs], axis=0)
    if unsettled[[0, -1]].any():
        return [refuse.unsure_seating()]
    decision = decisions[parts.index(best)]
    return [refuse.unsure(best.evidence, decision, limits, best.side)] if unsettled.any() else []


def _settled(part: _Part, decision: Decision, limits: Limits) -> Flags:
    """Tell which elements, low to high, this photo settles by itself as `decision` has it, shape (N+2,)."""
    settled = ~part.hidden
    limits = limits.at_pitch(part.sight.row.row.pitch_px)
    settled[[0, -1]] &= part.evidence.looks[:, [0, -1]].min(axis=0) >= log_odds(limits.end_tab)
    for element, wet in deciding(decision, len(part.hidden) - 2).items():
        settled[element] &= element_sure(part.evidence, element, limits, wet=wet)
    return _low_to_high(settled, decision)


def _low_to_high(flags: Flags, decision: Decision) -> Flags:
    """Turn flags of a strip; where nothing tells its low end, an element counts only if the one across the middle does too."""
    if decision.low_left is None:
        return np.asarray(flags & flags[::-1])
    return flags if decision.low_left else flags[::-1]


def _never_shown(elements: npt.NDArray[np.int_], burnt: Flags, side: Side) -> Reason:
    """Say which elements, low to high, no photo shows."""
    named = {i: "an end tab" if i in (0, len(side.teeth) + 1) else f"tooth {side.teeth[i - 1]:g}" for i in map(int, elements)}
    glaring = [i for i in named if burnt[i]]
    return refuse.placed("In every photo", refuse.glare_on(glaring, named) if glaring else refuse.covered(list(named), named))

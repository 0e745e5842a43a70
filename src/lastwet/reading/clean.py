"""Look at a photo of the wiped gauge that was taken before the dip: what looks wet there is residue, a stain or a scratch.

One photo of a dip cannot always tell a dried drop on a tip from wet paint. A photo of the same side before the dip can: whatever looks
wet on it, or wetter than all the rest, is not of this dip, and the gauge must be cleaned. What wet looks like, the end tabs of the dip
tell; as the clean gauge has none, its row is judged a second time with those of the dip in the place of its own.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from lastwet.gauge import Gauge, Side
from lastwet.reading import refuse, strip
from lastwet.reading.decide import Limits
from lastwet.reading.evidence import Evidence, Strip, judge
from lastwet.reading.locate import find_rows
from lastwet.reading.look import Sight
from lastwet.reading.outcome import Code, Guess, Outcome, Reading, Reason, Refusal
from lastwet.reading.photo import Photo
from lastwet.reading.strip import ELEMENT_PX
from lastwet.reading.tips import Tips, find_tips

IN_THE_PHOTO = "In the photo of the clean gauge"
CLEAN_IT = "Clean it, photograph the clean gauge, and dip again"
STANDS_OUT = 2.5
"""Nats by which one tooth looks wetter than any other if something is on it. On 48 clean gauges, rendered, no tooth does by more than 2.10
beside the end tabs of the dip; on 36 of 59 with a dried drop on a tip that tooth does (seeds 5117-5196 and 5600-5679)."""


def held_against(outcome: Outcome, dip: Sight, low_left: bool | None, clean: Photo, gauge: Gauge, limits: Limits) -> Outcome:
    """Refuse what was read on a gauge that was not clean before the dip, or of which the photo `clean` does not show that it was.

    `low_left` tells where the low end is in the strip of the dip, tips down: the same side has it at the same end in `clean`.
    """
    side = outcome.side
    if side is None:  # nobody knows which row ought to be clean
        return outcome
    found = _faults(dip, low_left, clean, gauge, side, limits)
    if not found:
        return outcome
    if isinstance(outcome, Reading):
        guess = Guess(outcome.last_wet, outcome.confidence)
        return Refusal(tuple(found), side, outcome.side_source, guess, outcome.seen)
    # a gauge that was dirty decides, as no further photo of the dip will do; a poor photo of the clean gauge does not
    dirty = found[0].code is Code.DIRTY
    return replace(outcome, reasons=(*found, *outcome.reasons) if dirty else (*outcome.reasons, *found))


def _faults(dip: Sight, low_left: bool | None, clean: Photo, gauge: Gauge, side: Side, limits: Limits) -> list[Reason]:
    """Return what is wrong with the gauge, or with the photo of it."""
    tips = find_tips(clean.pixels)
    rows = [row for row in find_rows(tips) if refuse.is_gauge(row)]
    fitting = [row for row in rows if row.teeth == len(side.teeth)]
    if not fitting:
        reason = refuse.tooth_count(rows[0].teeth, gauge, side) if rows else _no_row(tips)
        return [refuse.placed(IN_THE_PHOTO, reason)]
    # other sides may have as many teeth, and without paint nothing tells which row is meant: each that is shown has to be clean
    strips = [strip.cut(clean.pixels, row.row) for row in fitting]
    plain = [judge(own) for own in strips]
    poor = [refuse.of_no_use(row, evidence, limits, tips.size) for row, evidence in zip(fitting, plain, strict=True)]
    shown = [i for i, flaws in enumerate(poor) if not flaws]
    if not shown:
        return [refuse.placed(IN_THE_PHOTO, reason) for reason in poor[0]]
    named, dipped = _names(side, low_left), strip.cut(dip.photo.pixels, dip.row.row)
    stained = {i for k in shown for i in _looks_wet(strips[k], plain[k], dipped)}
    return _dirty(sorted(stained), named) or _hidden([plain[k] for k in shown], limits, named)


def _looks_wet(clean: Strip, plain: Evidence, dip: Strip) -> set[int]:
    """Return the elements of a clean row that look wet, or wetter than the rest: by themselves, or beside the wet end tabs of the dip."""
    if dip.shape != clean.shape:
        return _wet(plain)
    beside = judge(_with_tabs(clean, dip))
    return _wet(plain) | _wet(beside) - {0, len(plain.seen) - 1} | _standing_out(beside)


def _wet(evidence: Evidence) -> set[int]:
    """Return the elements that look wet in the mean of both looks."""
    return {int(i) for i in np.flatnonzero(evidence.log_odds > 0)}


def _standing_out(evidence: Evidence) -> set[int]:
    """Return the tooth that looks wetter than any other by far, if there is one."""
    teeth = evidence.log_odds[1:-1]
    first, second = np.argsort(-teeth)[:2]
    return {int(first) + 1} if teeth[first] - teeth[second] > STANDS_OUT else set()


def _with_tabs(clean: Strip, dip: Strip) -> Strip:
    """Return the strip of a clean row with the end tabs of the dip in the place of its own."""
    teeth = slice(ELEMENT_PX, -ELEMENT_PX)
    mixed: npt.NDArray[np.uint8] = dip.copy()
    mixed[:, teeth] = clean[:, teeth]
    return mixed


def _dirty(elements: list[int], named: dict[int, str]) -> list[Reason]:
    if not elements:
        return []
    what = f"Before the dip, something was on {refuse.listed(elements, named)} already: residue, a stain or a scratch"
    return [Reason(Code.DIRTY, what, CLEAN_IT)]


def _hidden(shown: list[Evidence], limits: Limits, named: dict[int, str]) -> list[Reason]:
    """Say what no row shows: nobody knows whether it is clean."""
    hidden = [[int(i) for i in np.flatnonzero(evidence.seen < limits.seen)] for evidence in shown]
    return [] if [] in hidden else [refuse.placed(IN_THE_PHOTO, refuse.covered(hidden[0], named))]


def _names(side: Side, low_left: bool | None) -> dict[int, str]:
    """Name the elements of the strip; where the dip did not tell the low end, an element may be one of two teeth."""
    values = [f"{v:g}" for v in side.teeth]
    if low_left is False:
        values.reverse()
    teeth = values if low_left is not None else [a if a == b else f"{a} or {b}" for a, b in zip(values, values[::-1], strict=True)]
    return {0: "an end tab", len(values) + 1: "an end tab"} | {i + 1: f"tooth {text}" for i, text in enumerate(teeth)}


def _no_row(tips: Tips) -> Reason:
    reason = refuse.no_row(tips)
    if reason.code is not Code.END_TAB_DRY:
        return reason
    return Reason(
        Code.NO_GAUGE, "Teeth are to be seen, but no whole row of them", "Show the whole row of the side that is to be dipped, in focus"
    )

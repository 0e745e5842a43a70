"""The reasons for not reading a photo, each with its cure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from lastwet.gauge import Gauge, Side
from lastwet.reading.decide import Decision, Limits, deciding, faint, log_odds, lost_in_glare, low_end, sure_enough
from lastwet.reading.evidence import Evidence
from lastwet.reading.locate import Located
from lastwet.reading.middle import median
from lastwet.reading.numerals import Numerals
from lastwet.reading.outcome import Code, Reason
from lastwet.reading.strip import FEWEST, MOST, Row, countable
from lastwet.reading.tips import Tips

LEAST_HEAT, LEAST_BODY = 0.25, 0.5
"""Least mean heat of a row, and of the gauge under it, for a judgement; chosen on tuning renders."""
CLEAR_TIP = 0.3
"""Heat from which a tip counts as seen when no row was found."""
FEW_TIPS = 5
"""Fewer clear tips than this are no gauge: the smallest row has three teeth and two end tabs."""
PAINTED = 0.4
"""Least paint on both end tabs, as the finder sees it, for a second row to count as dipped."""
HALF_TAB = 0.1
"""How much of an end tab beyond the middle of its tip must be in the picture, in pitches. Whether what is left shows a whole tip is for
the evidence to say. On 233 of seeds 3997-4282, on 5197-5516, 5700-6019 and the corpus four more readable photos are read than with 0.2,
and one that is arguable, none wrong."""
ROOM = 0.2
"""Room for one more tip beyond an end tab, in pitches; where there is less, a doubtful end tab may be a tooth."""
SMALL_PITCH_PX = 22.0
"""Pitch in the decoded photo under which the finder cannot tell neighbours; twice its two-pixel grid and a margin."""
DARK, BRIGHT = 0.05, 0.85
"""Mean brightness of the strip outside which exposure is blamed for a doubtful reading."""

SEAT_AGAIN = "Wipe the gauge, press it squarely to the board until both end tabs touch it, and read again"


def no_row(tips: Tips) -> Reason:
    """Say why no read row was found."""
    clear = tips.heat.max(axis=1) > CLEAR_TIP if len(tips.heat) else np.zeros(0, bool)
    if clear.sum() < FEW_TIPS:
        return Reason(
            Code.NO_GAUGE,
            "No gauge with a row of teeth is to be seen",
            "Fill at least a third of the picture with the row of teeth, in focus",
        )
    of_row, tabs = tips.heat[:, 0] > CLEAR_TIP, tips.heat[:, 1] > CLEAR_TIP
    if of_row.sum() >= FEWEST - 1 and tabs.sum() < 2:
        if near_border(tips.at[of_row | tabs], tips.size, _pitch(tips)):
            return cut()
        return Reason(Code.ROW_COVERED, "One end of the row is not to be seen", "Keep fingers and rags off the row and show both end tabs")
    return Reason(
        Code.END_TAB_DRY,
        "Teeth are to be seen, but no row with a wet end tab at both ends",
        "Press the gauge squarely to the board until both end tabs touch it, then photograph that side",
    )


def _pitch(tips: Tips) -> float:
    return float(median(np.linalg.norm(tips.up, axis=1)))


def near_border(points: np.ndarray, size: tuple[int, int], margin: float) -> bool:
    """Whether any of the points (K, 2) lies outside a picture of that width and height, or within `margin` px of its border."""
    low, high = points.min(axis=0), points.max(axis=0)
    return bool((low < margin).any() or (high > np.array(size) - 1 - margin).any())


def cut() -> Reason:
    """Say that a part of the row is not in the picture."""
    return Reason(
        Code.ROW_CUT, "The row runs out of the picture", "Step back until both end tabs are in the picture with some room around them"
    )


def tooth_count(found: int, gauge: Gauge, stated: Side | None = None) -> Reason:
    """Say that the row has another number of teeth than the side."""
    if stated:
        hidden = "Name the side that was dipped, or show the whole row if a tooth is hidden"
        by_eye = f"Read this side by eye: photos are read of rows of {FEWEST} to {MOST} teeth"
        return Reason(
            Code.TOOTH_COUNT,
            f"The row in the photo has {found} teeth, but side {stated.id} has {len(stated.teeth)}",
            hidden if countable(len(stated.teeth)) else by_eye,
        )
    counts = ", ".join(f"{side.id}: {len(side.teeth)}" for side in gauge.sides)
    return Reason(
        Code.TOOTH_COUNT,
        f"The row in the photo has {found} teeth, and no side of {gauge.name} has as many ({counts})",
        "Check that the right gauge is named, and show the whole row",
    )


def counted_anew(found: int, nearer: int) -> Reason:
    """Say that two looks at the row count differently."""
    what = f"The row has {found} teeth at first sight, and {nearer} from nearer"
    return Reason(Code.TOOTH_COUNT, what, "Go nearer, and show the whole row of the side that was dipped, both end tabs on it")


def uneven() -> Reason:
    """Say that a tooth may have been missed, as the tips that were found do not lie evenly."""
    what = "The tips do not lie evenly, so that one may have been missed"
    return Reason(Code.TOOTH_COUNT, what, "Go nearer, straight on, and show the whole row of the side that was dipped, both end tabs on it")


def side_unclear(candidates: list[Side], why: str) -> Reason:
    """Say that the side must be named."""
    names = ", ".join(side.id for side in candidates)
    return Reason(Code.SIDE_UNCLEAR, why, f"Name the side that was dipped with --side, one of {names}")


def contradicted(numerals: Numerals | None, side: Side, low_left: bool | None) -> list[Reason]:
    """Say that the numerals in the photo are another side's, or that by them the wet teeth begin at the high end.

    `low_left` tells where the run of wet teeth begins in the strip; None where it tells nothing.
    """
    if numerals is None:
        return []
    read = " ".join(f"{value:g}" for value in numerals.read)
    if numerals.side != side:
        why = f"Beside the teeth stands {read}: this is side {numerals.side.id}, not side {side.id}"
        return [Reason(Code.SIDE_UNCLEAR, why, f"Name the side that was dipped with --side: {numerals.side.id}, by its numerals")]
    if low_left in (None, numerals.low_left):
        return []
    why = f"By the numerals beside the teeth, {read} from the low end, the wet teeth start at the high end"
    return [Reason(Code.GAP, why, "Wipe the gauge and dip it again at a fresh spot, both end tabs on the board")]


def is_gauge(row: Located) -> bool:
    """Whether a row is worth a judgement at all."""
    return row.heat >= LEAST_HEAT and row.body >= LEAST_BODY


def placed(where: str, reason: Reason) -> Reason:
    """Say in which of several photos something is wrong, as in "In photo 2"."""
    return replace(reason, message=f"{where}, {reason.message[0].lower()}{reason.message[1:]}")


def second_row(row: Located, rivals: list[Located]) -> list[Reason]:
    """Say that another row, not a part of this one, has wet end tabs too."""
    ends = row.row.tips[[0, -1]]
    pitch = row.row.pitch_px
    line = (ends[1] - ends[0]) / max(float(np.linalg.norm(ends[1] - ends[0])), 1e-6)
    for other in rivals:
        away = other.row.tips[[0, -1]] - ends[0]
        apart = np.abs(away[:, 0] * line[1] - away[:, 1] * line[0]).max() > 2 * pitch
        if apart and other.painted > PAINTED and other.teeth >= FEWEST + 1:
            cure = "Wipe the whole gauge, and dip one side"
            return [Reason(Code.DIRTY, "Two rows carry paint on both end tabs", cure)]
    return []


def doubts(row: Located, evidence: Evidence, decision: Decision, limits: Limits, side: Side, size: tuple[int, int]) -> list[Reason]:
    """Return every reason against reading a located row with the right number of teeth; the deciding one first."""
    found = [
        *(_cut_off(row, evidence, limits, size) or _hidden(row, evidence, limits, _names_with_ends(side, decision, limits))),
        *seating(evidence, limits),
        *broken(decision, limits, side),
        *_poor(row, evidence, limits),
    ]
    if found:
        return found
    sure = sure_enough(evidence, decision, limits) and not _glare(evidence, decision, limits)
    return [] if sure else [unsure(evidence, decision, limits, side)]


def of_no_use(row: Located, evidence: Evidence, limits: Limits, size: tuple[int, int]) -> list[Reason]:
    """Return the reasons why nothing can be learnt from a row, not even from one tip of it: cut, too small, blurred."""
    return [*_cut_off(row, evidence, limits, size), *_poor(row, evidence, limits)]


def _poor(row: Located, evidence: Evidence, limits: Limits) -> list[Reason]:
    found = []
    if row.row.pitch_px < SMALL_PITCH_PX:
        found.append(
            Reason(Code.TOO_SMALL, "The teeth are too small in the picture", "Go nearer until the row fills at least half of the picture")
        )
    if evidence.softness > limits.softness:
        found.append(_blurred())
    return found


def _blurred() -> Reason:
    return Reason(Code.BLUR, "The tips are blurred", "Hold still, tap the row to focus on it, and photograph again")


def names(side: Side, decision: Decision) -> dict[int, str]:
    """Name the elements of the strip as the person knows them."""
    values = [f"{v:g}" for v in (side.teeth if decision.low_left is not False else side.teeth[::-1])]
    return {0: "an end tab", len(values) + 1: "an end tab"} | {i + 1: f"tooth {v}" for i, v in enumerate(values)}


def _names_with_ends(side: Side, decision: Decision, limits: Limits) -> dict[int, str]:
    """Name the elements, each end tab by the tooth beside it; where it is not sure which end is the low one, either is an end tab."""
    named, last = names(side, decision), len(side.teeth)
    if low_end(decision, limits) is None:
        return named
    return named | {0: f"the end tab beside {named[1]}", last + 1: f"the end tab beside {named[last]}"}


def _cut_off(row: Located, evidence: Evidence, limits: Limits, size: tuple[int, int]) -> list[Reason]:
    tips = row.row.tips
    ends = np.array([tips[0] + HALF_TAB * (tips[0] - tips[1]), tips[-1] + HALF_TAB * (tips[-1] - tips[-2])])
    hidden = evidence.seen < limits.seen
    half_an_end_tab = near_border(ends, size, 0.0)  # which is no end tab
    hidden_there = hidden.any() and near_border(tips[hidden], size, 0.35 * row.row.pitch_px)
    return [cut()] if half_an_end_tab or hidden_there or _may_go_on(row.row, evidence, limits, size) else []


def _may_go_on(row: Row, evidence: Evidence, limits: Limits, size: tuple[int, int]) -> bool:
    """Whether what passes for an end tab may be a tooth, and the end tab outside the picture."""
    tips = row.tips
    beyond = np.array([2 * tips[0] - tips[1], 2 * tips[-1] - tips[-2]])
    doubtful = evidence.seen[[0, -1]] < limits.plain
    return bool(doubtful.any()) and near_border(beyond[doubtful], size, ROOM * row.pitch_px)


def hidden_elements(row: Located, evidence: Evidence, limits: Limits) -> npt.NDArray[np.bool_]:
    """Tell which elements are not to be seen, shape (N+2,): by the judge, or by the finder, which saw no tip there."""
    hidden = evidence.seen < limits.seen
    hidden[list(row.missing)] = True
    return np.asarray(hidden)


def _hidden(row: Located, evidence: Evidence, limits: Limits, named: dict[int, str]) -> list[Reason]:
    hidden = [int(i) for i in np.flatnonzero(hidden_elements(row, evidence, limits))]
    if not hidden:
        return []
    if evidence.burnt[hidden].max() > limits.burnt:
        return [glare_on([i for i in hidden if evidence.burnt[i] > limits.burnt], named)]
    return [covered(hidden, named)]


def covered(elements: list[int], named: dict[int, str]) -> Reason:
    """Say which elements are not to be seen."""
    return Reason(
        Code.ROW_COVERED, f"Not to be seen as a whole: {listed(elements, named)}", "Keep fingers and rags off the row and show it whole"
    )


def listed(elements: list[int], named: dict[int, str]) -> str:
    """Name several elements."""
    return " and ".join(dict.fromkeys(named[i] for i in elements))


def seating(evidence: Evidence, limits: Limits) -> list[Reason]:
    """Doubt end tabs that do not look wet in every look."""
    least = log_odds(limits.end_tab)
    ends = evidence.looks[:, [0, -1]].min(axis=0)
    if ends.min() >= least:
        return []
    if ends.max() >= least:
        return [one_tab_dry()]
    if ends.max() < 0:
        return [no_tab_wet()]
    return [unsure_seating()]


def side_unsettled(trouble: Reason, evidence: Evidence, limits: Limits) -> list[Reason]:
    """Say why the side is not settled, and which end tabs are dry; that first where neither is wet, as such a row was not dipped."""
    dry = [reason for reason in seating(evidence, limits) if reason.code is Code.END_TAB_DRY]
    return [*dry, trouble] if dry == [no_tab_wet()] else [trouble, *dry]


def one_tab_dry() -> Reason:
    """Say that the gauge stood askew."""
    return Reason(Code.END_TAB_DRY, "One end tab looks dry: the gauge did not stand squarely on the board", SEAT_AGAIN)


def no_tab_wet() -> Reason:
    """Say that this row was not dipped."""
    what = "Neither end tab carries paint: the gauge did not reach the board, or this is not the side that was dipped"
    return Reason(Code.END_TAB_DRY, what, SEAT_AGAIN)


def unsure_seating() -> Reason:
    """Say that the end tabs may be dry."""
    return Reason(Code.UNSURE, "It is not certain that the end tabs carry paint", "Photograph again with more even light, straight on")


def paint_hardly_seen() -> Reason:
    """Say that paint and gauge look too much alike."""
    what = "Even on the end tab, where it is thickest, the paint can hardly be told from the gauge"
    return Reason(Code.UNSURE, what, "Photograph again with the light from one side, so that wet paint shines, or read it by eye")


def broken(decision: Decision, limits: Limits, side: Side) -> list[Reason]:
    """Say where the wet teeth form no run, if they do not."""
    if decision.broken <= limits.gap:
        return []
    where = listed(list(decision.gap_at), names(side, decision)) or "a tooth"
    return [
        Reason(
            Code.GAP, f"The wet teeth do not form one run from the low end: see {where}", "Wipe the gauge and dip it again at a fresh spot"
        )
    ]


def _glare(evidence: Evidence, decision: Decision, limits: Limits) -> list[int]:
    """Return the deciding elements whose tips are burnt out."""
    both, lost = deciding(decision, evidence.looks.shape[1] - 2), lost_in_glare(evidence, limits)
    return [i for i in both if lost[i]]


def glare_on(elements: list[int], named: dict[int, str]) -> Reason:
    """Say which elements are burnt out."""
    return Reason(
        Code.GLARE,
        f"Glare on {listed(elements, named)}",
        "Turn the gauge or yourself away from the lamp, or shade it, and photograph again",
    )


def unsure(evidence: Evidence, decision: Decision, limits: Limits, side: Side) -> Reason:
    """Say what makes the deciding teeth doubtful, as far as it can be told."""
    named = names(side, decision)
    doubtful = list(deciding(decision, evidence.looks.shape[1] - 2))
    glare = _glare(evidence, decision, limits)
    if glare:
        return glare_on(glare, named)
    if evidence.softness > limits.soft:
        return _blurred()
    if evidence.level < DARK:
        return Reason(Code.TOO_DARK, "The row is too dark", "Give it more light, from the side, and photograph again")
    if evidence.level > BRIGHT:
        return Reason(Code.TOO_BRIGHT, "The row is too bright", "Shade it or turn the flash off, and photograph again")
    if faint(evidence, decision, limits):
        return paint_hardly_seen()
    return Reason(
        Code.UNSURE,
        f"It is not certain which is the last wet tooth: look at {listed(doubtful, named)}",
        "Photograph again nearer, in more even light, or read it by eye",
    )

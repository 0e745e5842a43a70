"""From the evidence of a row to the number of wet teeth, or the reasons why not.

Wet teeth form a run from the low end, so the hypotheses are few: 0..N wet, with the low end on the left or on the right. A row that
fits none of them (a dry tooth between wet ones, a dry end tab) is no reading, however clear it is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from lastwet.reading.evidence import Evidence, agreed

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Limits:
    """The thresholds of the decision; where none is named, chosen on the calibrate renders (drawn gauges, seeds 1221-1520,
    1561-1900 and 1901-2240)."""

    log_odds: float = 6.0
    """A single tip never counts for more than this, so that one fooled tip cannot outvote its neighbours."""
    answer: float = 0.90
    """Least probability of the number of wet teeth for an answer."""
    tip: float = 0.975
    """Least probability of the last wet tooth being wet, and of the first dry one being dry, by the mean of all looks."""
    look: float = 0.5
    """The same in each look: none may see a deciding tooth otherwise. Both set on seeds 3357-5116 and the corpus."""
    end_tab: float = 0.90
    """Least probability of each end tab being wet, in each look; high, since a badly seated gauge looks like a good reading."""
    example: float = 0.98
    """The same of the end tab at the low end, in every look at either strip, for the paint to be told from the gauge at all: it carries the
    most paint of all. Where it is doubtful, that is said to be why the deciding teeth are."""
    seen: float = 0.40
    """Least probability that every element is to be seen."""
    plain: float = 0.955
    """The same from which a row is not looked at again. Under it what passes for an end tab may be a tooth; where there is no room for one
    more in the picture, that is not settled by a second look. Seeds 3357-5116 (g4433, g5076) and the corpus; of 970 rows that were read
    there, seventeen have an end tab under it."""
    gap: float = 2.0
    """Nats by which free labelling may beat the best run before the row is called broken."""
    trust: float = 0.97
    """Share of right answers that the calibrate renders vouch for at least; no confidence is stated higher. An earlier judge had 643 of 651
    right, exact one-sided bound at 95 % 0.978, rounded down; this one has 877 of 878 on seeds 3357-5116, on which its limits were set."""
    softness: float = 0.13
    """Most blur, in tooth widths; seeds 3997-4282, 5197-5516, 5700-6019 and the corpus."""
    soft: float = 0.08
    """Blur, in tooth widths, from which the deciding teeth must be the surer, as blur hides a thin line of paint from every look alike."""
    tip_soft: float = 0.98
    look_soft: float = 0.9
    """What `tip` and `look` are from that blur on, and in a row that was miscounted at first sight."""
    small: float = 40.0
    """Pitch in the decoded photo, px, under which a row is counted once more from nearer; seeds 3997-4556 (g4370). And the deciding teeth
    must be the surer, as a thin line of paint is a pixel or two high."""
    tip_small: float = 0.995
    """What `tip` is under that pitch; seeds 5600-5679 (g5620)."""
    rival: float = 0.5
    """How far another row must look dipped to count as a rival."""
    rival_worth: float = 0.75
    """Share of the row's worth from which a rival with another number of teeth makes the count doubtful."""
    beyond: float = 0.30
    """Heat of a tip just outside the row from which the row may go on, under a finger, say, and the count is doubtful."""
    burnt: float = 0.33
    """Most burnt-out share of a deciding tip (one third, as in OCR and ID capture practice), unless it is beyond doubt all the same."""
    tip_burnt: float = 0.995
    """Least probability, in every look, of what a burnt-out tip shows for that to be beyond doubt: paint has a colour, glare has none."""

    def surer(self) -> Limits:
        """Return the limits for a row that was miscounted at first sight, or is blurred."""
        return replace(self, tip=self.tip_soft, look=self.look_soft)

    def at_pitch(self, pitch_px: float) -> Limits:
        """Return the limits for a row of that pitch in the decoded photo."""
        return replace(self, tip=self.tip_small, tip_soft=self.tip_small) if pitch_px < self.small else self

    def for_blur(self, softness: float) -> Limits:
        """Return the limits for a row with so much blur, in tooth widths."""
        return self.surer() if softness > self.soft else self


@dataclass(frozen=True, slots=True)
class Decision:
    """What the row says, before anybody asks whether it may be believed."""

    last_wet: int
    """Likeliest number of wet teeth."""
    probability: float
    low_left: bool | None
    """Whether the low end is the strip's left; None where no tooth or every tooth is wet."""
    wet: Floats
    """Probability of wet, shape (N+2,), in the order of the strip."""
    broken: float
    """Nats by which free labelling beats the best run."""
    gap_at: tuple[int, ...]
    """Elements that break the run."""


def log_odds(probability: float) -> float:
    """Return the log odds of a probability, nats."""
    return math.log(probability / (1 - probability))


def decide(evidence: Evidence, limits: Limits) -> Decision:
    """Weigh every run of wet teeth from either end."""
    return decide_together([evidence], limits)[0]


def decide_together(photos: Sequence[Evidence], limits: Limits) -> list[Decision]:
    """Weigh every run of wet teeth by what all photos of one dip show, each of them either way round.

    Returns one decision for each photo: the number of wet teeth and its probability are those of all photos together, the rest is the
    photo's own.
    """
    weighed = [_weigh(evidence, limits) for evidence in photos]
    each = np.sum([one.each for one in weighed], axis=0)
    posterior = np.exp(each - np.logaddexp.reduce(each))
    k = int(np.argmax(each))
    return [_decision(one, k, float(posterior[k])) for one in weighed]


@dataclass(frozen=True, slots=True)
class _Weighed:
    """What one photo says of every hypothesis."""

    odds: Floats
    """Log odds of wet of each element, limited."""
    wet: Floats
    """Log probability of wet of each tooth, shape (N,), and of dry."""
    dry: Floats
    left: Floats
    """Log likelihood of 0..N wet teeth from the strip's left, shape (N+1,), and from its right."""
    right: Floats

    @property
    def each(self) -> Floats:
        """Log likelihood of 0..N wet teeth from either end."""
        either = np.logaddexp(self.left, self.right)
        either[0], either[-1] = self.left[0], self.left[-1]  # no tooth and every tooth wet look the same from either end
        return np.asarray(either)


def _weigh(evidence: Evidence, limits: Limits) -> _Weighed:
    odds = np.clip(evidence.log_odds, -limits.log_odds, limits.log_odds)
    wet, dry = -np.log1p(np.exp(-odds[1:-1])), -np.log1p(np.exp(odds[1:-1]))
    return _Weighed(odds, wet, dry, _runs(wet, dry), _runs(wet[::-1], dry[::-1]))


def _decision(one: _Weighed, k: int, probability: float) -> Decision:
    """Say how one photo shows `k` wet teeth, and how badly."""
    n = len(one.wet)
    low_left = None if k in (0, n) else bool(one.left[k] >= one.right[k])
    best = max(one.left[k], one.right[k])
    free = np.maximum(one.wet, one.dry)
    said = np.arange(n) < k if low_left is not False else np.arange(n) >= n - k
    loss = free - np.where(said, one.wet, one.dry)
    gap_at = tuple(int(i) + 1 for i in np.flatnonzero(loss > 0.5))
    return Decision(k, probability, low_left, 1 / (1 + np.exp(-one.odds)), float(free.sum() - best), gap_at)


def _runs(wet: Floats, dry: Floats) -> Floats:
    """Log likelihood of 0..N wet teeth from the first on, shape (N+1,)."""
    return np.asarray(np.concatenate([[0.0], np.cumsum(wet)]) + np.concatenate([np.cumsum(dry[::-1])[::-1], [0.0]]))


def deciding(decision: Decision, teeth: int) -> dict[int, bool]:
    """Return the elements that decide, and whether each is wet: the last wet tooth and the first dry one.

    Where no tooth or every tooth is wet, these are the outermost teeth, as either may be the lowest.
    """
    k = decision.last_wet
    if k in (0, teeth):
        return {1: k > 0, teeth: k > 0}
    return {k: True, k + 1: False} if decision.low_left else {teeth + 1 - k: True, teeth - k: False}


def sure_enough(evidence: Evidence, decision: Decision, limits: Limits) -> bool:
    """Whether the number of wet teeth is likely enough, and the looks agree with it."""
    return decision.probability >= limits.answer and looks_agree(evidence, decision, limits)


def faint(evidence: Evidence, decision: Decision, limits: Limits) -> bool:
    """Whether the example of wet paint, the end tab at the low end, is doubtful; the plainer of both, where nothing tells the low end."""
    ends = {True: [0], False: [-1], None: [0, -1]}[decision.low_left]
    plainest = evidence.every[:, ends].min(axis=0).max()
    return bool(plainest < log_odds(limits.example))


def lost_in_glare(evidence: Evidence, limits: Limits) -> npt.NDArray[np.bool_]:
    """Tell which elements are burnt out so that they may show anything, shape (N+2,)."""
    return np.asarray((evidence.burnt > limits.burnt) & ~agreed(evidence.every, log_odds(limits.tip_burnt)))


def low_end(decision: Decision, limits: Limits) -> bool | None:
    """Return whether the low end is the strip's left; None where nothing tells, or where the decision is not sure enough to tell."""
    return decision.low_left if decision.probability >= limits.answer and decision.broken <= limits.gap else None


def looks_agree(evidence: Evidence, decision: Decision, limits: Limits) -> bool:
    """Whether the looks see the deciding teeth as the decision does, with a margin."""
    both = deciding(decision, evidence.looks.shape[1] - 2)
    return all(element_sure(evidence, element, limits, wet=wet) for element, wet in both.items())


def element_sure(evidence: Evidence, element: int, limits: Limits, *, wet: bool) -> bool:
    """Whether all looks together see a deciding element as wet, or as dry, with a margin, and none sees it otherwise."""
    limits = limits.for_blur(evidence.softness)
    looks = evidence.every[:, element] * (1.0 if wet else -1.0)
    return bool(looks.mean() >= log_odds(limits.tip) and looks.min() >= log_odds(limits.look))

"""From the evidence of a row to the number of wet teeth, or the reasons why not.

Wet teeth form a run from the low end, so the hypotheses are few: 0..N wet, with the low end on the left or on the right. A row that
fits none of them (a dry tooth between wet ones, a dry end tab) is no reading, however clear it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lastwet.reading.evidence import Evidence

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Limits:
    """The thresholds of the decision; where none is named, chosen on the calibrate renders (drawn gauges, seeds 1001-1220)."""

    log_odds: float = 6.0
    """A single tip never counts for more than this, so that one fooled tip cannot outvote its neighbours."""
    answer: float = 0.95
    """Least probability of the number of wet teeth for an answer."""
    tip: float = 0.95
    """Least probability of the last wet tooth being wet, and of the first dry one being dry, in each look."""
    tip_again: float = 0.82
    """The same in each look at the strip cut anew, a little shorter: what is true does not hang on how it was cut."""
    end_tab: float = 0.90
    """Least probability of each end tab being wet, in each look; high, since a badly seated gauge looks like a good reading."""
    seen: float = 0.75
    """Least probability that every element is to be seen."""
    gap: float = 2.0
    """Nats by which free labelling may beat the best run before the row is called broken."""
    trust: float = 0.96
    """Share of right answers that the calibrate renders vouch for at least: 115 of 116, exact one-sided bound at 95 %. No confidence is
    stated higher."""
    softness: float = 0.10
    """Most blur, in tooth widths."""
    soft: float = 0.07
    """Blur, in tooth widths, from which the deciding teeth must be the surer, as blur hides a thin line of paint."""
    tip_soft: float = 0.99
    """What `tip` is from that blur on."""
    rival: float = 0.5
    """How far another row must look dipped to count as a rival."""
    rival_worth: float = 0.75
    """Share of the row's worth from which a rival with another number of teeth makes the count doubtful."""
    beyond: float = 0.30
    """Heat of a tip just outside the row from which the row may go on, under a finger, say, and the count is doubtful."""
    burnt: float = 0.33
    """Most burnt-out share of a deciding tip (one third, as in OCR and ID capture practice)."""


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


def decide(evidence: Evidence, limits: Limits) -> Decision:
    """Weigh every run of wet teeth from either end."""
    odds = np.clip(evidence.log_odds, -limits.log_odds, limits.log_odds)
    wet_log, dry_log = -np.log1p(np.exp(-odds)), -np.log1p(np.exp(odds))
    teeth_wet, teeth_dry = wet_log[1:-1], dry_log[1:-1]
    n = len(teeth_wet)
    left, right = _runs(teeth_wet, teeth_dry), _runs(teeth_wet[::-1], teeth_dry[::-1])
    each = np.logaddexp(left, right)
    each[0], each[-1] = left[0], left[-1]  # no tooth and every tooth wet look the same from either end
    posterior = np.exp(each - np.logaddexp.reduce(each))
    k = int(np.argmax(each))
    low_left = None if k in (0, n) else bool(left[k] >= right[k])
    best = max(left[k], right[k])
    free = np.maximum(teeth_wet, teeth_dry)
    said = np.arange(n) < k if low_left is not False else np.arange(n) >= n - k
    loss = free - np.where(said, teeth_wet, teeth_dry)
    gap_at = tuple(int(i) + 1 for i in np.flatnonzero(loss > 0.5))
    return Decision(k, float(posterior[k]), low_left, 1 / (1 + np.exp(-odds)), float(free.sum() - best), gap_at)


def _runs(wet: Floats, dry: Floats) -> Floats:
    """Log likelihood of 0..N wet teeth from the first on, shape (N+1,)."""
    return np.asarray(np.concatenate([[0.0], np.cumsum(wet)]) + np.concatenate([np.cumsum(dry[::-1])[::-1], [0.0]]))


def deciding(decision: Decision, teeth: int) -> tuple[int | None, int | None]:
    """Return the elements of the last wet and the first dry tooth, None where there is none."""
    k, left = decision.last_wet, decision.low_left is not False
    last = None if k == 0 else (k if left else teeth + 1 - k)
    first = None if k == teeth else (k + 1 if left else teeth - k)
    return last, first


def looks_agree(evidence: Evidence, decision: Decision, limits: Limits) -> bool:
    """Whether every single look sees the deciding teeth as the decision does, with a margin."""
    last, first = deciding(decision, evidence.looks.shape[1] - 2)

    def agree(looks: Floats, least: float) -> bool:
        margin = float(np.log(least / (1 - least)))
        return bool((last is None or looks[:, last].min() >= margin) and (first is None or looks[:, first].max() <= -margin))

    first_looks = limits.tip_soft if evidence.softness > limits.soft else limits.tip
    return agree(evidence.looks, first_looks) and agree(evidence.again, limits.tip_again)

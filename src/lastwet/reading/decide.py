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
    """The thresholds of the decision; where none is named, chosen on tuning renders (seeds from 200000)."""

    log_odds: float = 6.0
    """A single tip never counts for more than this, so that one fooled tip cannot outvote its neighbours."""
    answer: float = 0.965
    """Least probability of the number of wet teeth for an answer."""
    tip: float = 0.80
    """Least probability of the last wet tooth being wet, and of the first dry one being dry, in each look."""
    end_tab: float = 0.95
    """Least probability of each end tab being wet, in each look; high, since a badly seated gauge looks like a good reading."""
    seen: float = 0.75
    """Least probability that every element is to be seen."""
    gap: float = 2.0
    """Nats by which free labelling may beat the best run before the row is called broken."""
    softness: float = 0.11
    """Most blur, in tooth widths."""
    rival: float = 0.5
    """How far another row must look dipped to count as a rival."""
    rival_worth: float = 0.85
    """Share of the row's worth from which a rival with another number of teeth makes the count doubtful."""
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
    margin = float(np.log(limits.tip / (1 - limits.tip)))
    last, first = deciding(decision, evidence.looks.shape[1] - 2)
    looks = evidence.looks
    return bool((last is None or looks[:, last].min() >= margin) and (first is None or looks[:, first].max() <= -margin))

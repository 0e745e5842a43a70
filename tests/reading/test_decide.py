"""The decision against plain enumeration of every labelling, and its rules one by one."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastwet.reading.decide import Limits, decide, deciding, looks_agree, lost_in_glare, low_end
from lastwet.reading.evidence import Evidence

LIMITS = Limits()
SURE = 5.0


def evidence(odds: list[float], second: list[float] | None = None, again: list[float] | None = None, softness: float = 0.01) -> Evidence:
    """Evidence with the given log odds of wet, end tabs included."""
    n = len(odds)
    return Evidence(np.array([odds, second or odds]), np.array([again or odds]), np.ones(n), np.zeros(n), softness, 0.4, 0.2)


def row(pattern: str) -> Evidence:
    """Evidence from a picture such as "WWDDW": both ends are end tabs."""
    return evidence([SURE if c == "W" else -SURE for c in pattern])


def enumerated(odds: list[float]) -> np.ndarray:
    """Posterior over 0..N wet by listing every run from either end and multiplying probabilities."""
    wet = [1 / (1 + math.exp(-o)) for o in odds]
    n = len(wet)
    weight = np.zeros(n + 1)
    runs = {tuple(i < k for i in range(n)) for k in range(n + 1)} | {tuple(i >= n - k for i in range(n)) for k in range(n + 1)}
    for labels in runs:
        weight[sum(labels)] += math.prod(p if w else 1 - p for p, w in zip(wet, labels, strict=True))
    return weight / weight.sum()


@given(st.lists(st.floats(-5.5, 5.5), min_size=3, max_size=9))
def test_posterior_is_that_of_enumeration(odds: list[float]) -> None:
    decision = decide(evidence([SURE, *odds, SURE]), LIMITS)
    posterior = enumerated(odds)
    assert decision.probability == pytest.approx(posterior.max(), rel=1e-6)
    assert posterior[decision.last_wet] == pytest.approx(posterior.max(), rel=1e-6)


@pytest.mark.parametrize(
    ("pattern", "last_wet", "low_left"),
    [("WDDDDW", 0, None), ("WWDDDW", 1, True), ("WWWDDW", 2, True), ("WDDWWW", 2, False), ("WWWWWW", 4, None), ("WDWWWW", 3, False)],
)
def test_the_run_tells_its_end(pattern: str, last_wet: int, low_left: bool | None) -> None:
    decision = decide(row(pattern), LIMITS)
    assert (decision.last_wet, decision.low_left) == (last_wet, low_left)
    assert decision.broken == pytest.approx(0, abs=1e-9)
    assert decision.probability > 0.95


@pytest.mark.parametrize("pattern", ["WWDWDDW", "WDWDDDW", "WDWWDW", "WWWDWWW"])
def test_a_gap_breaks_the_run(pattern: str) -> None:
    assert decide(row(pattern), LIMITS).broken > LIMITS.gap


def test_one_tip_never_outvotes_two() -> None:
    """A single fooled tip, however sure, cannot pull a clear run apart unseen."""
    decision = decide(evidence([SURE, 5, 5, -40.0, 5, 5, SURE]), LIMITS)
    assert decision.last_wet == 5
    assert decision.broken > LIMITS.gap


def test_every_labelling_is_no_better_than_free() -> None:
    for labels in itertools.product([-2.0, 2.0], repeat=5):
        assert decide(evidence([SURE, *labels, SURE]), LIMITS).broken >= -1e-9


@pytest.mark.parametrize(
    ("pattern", "expected"),
    [
        ("WWDDW", {1: True, 2: False}),
        ("WDDWW", {3: True, 2: False}),
        ("WDDDW", {1: False, 3: False}),  # the lowest tooth is one of these
        ("WWWWW", {1: True, 3: True}),
    ],
)
def test_deciding_teeth(pattern: str, expected: dict[int, bool]) -> None:
    assert deciding(decide(row(pattern), LIMITS), 3) == expected


@pytest.mark.parametrize("doubtful", [1, 2, 3])
def test_where_none_is_wet_either_end_may_be_the_low_one(doubtful: int) -> None:
    odds = [SURE, -SURE, -SURE, -SURE, SURE]
    odds[doubtful] = -2.0  # dry, but too little to be sure of
    shown = evidence(odds)
    assert looks_agree(shown, decide(shown, LIMITS), LIMITS) == (doubtful == 2)


def test_looks_that_differ_on_a_deciding_tooth_do_not_agree() -> None:
    calm = evidence([SURE, 4, 4, -4, SURE], [SURE, 4, 3, -4, SURE])
    torn = evidence([SURE, 4, 4, -4, SURE], [SURE, 4, 0.5, -4, SURE])
    assert looks_agree(calm, decide(calm, LIMITS), LIMITS)
    assert not looks_agree(torn, decide(torn, LIMITS), LIMITS)


@pytest.mark.parametrize(("differs", "agree"), [(0.5, True), (-0.5, False)])
def test_no_look_may_see_a_deciding_tooth_otherwise_however_sure_the_others_are(differs: float, agree: bool) -> None:
    shown = evidence([SURE, 8, 8, -8, SURE], [SURE, 8, differs, -8, SURE])
    assert looks_agree(shown, decide(shown, LIMITS), LIMITS) == agree


def test_a_strip_cut_anew_must_agree_too() -> None:
    odds = [SURE, 3.5, 3.5, -3.5, SURE]
    torn = evidence(odds, again=[SURE, 4, 1.0, -4, SURE])
    assert not looks_agree(torn, decide(torn, LIMITS), LIMITS)


def test_only_a_sure_decision_tells_the_low_end() -> None:
    """Where a drop at the far end looks wet, the run may be told from the wrong end."""
    sure, torn, broken = row("WWWDDW"), evidence([SURE, 0.3, -3, -3, 0.6, SURE]), row("WWDWDDW")
    assert low_end(decide(sure, LIMITS), LIMITS) is True
    assert decide(torn, LIMITS).low_left is False
    assert low_end(decide(torn, LIMITS), LIMITS) is None
    assert low_end(decide(broken, LIMITS), LIMITS) is None


def test_blur_asks_for_more_of_the_deciding_teeth() -> None:
    odds = [SURE, SURE, 3.8, -3.8, SURE]
    sharp, soft = (evidence(odds, softness=s) for s in (LIMITS.soft - 0.01, LIMITS.soft + 0.01))
    assert looks_agree(sharp, decide(sharp, LIMITS), LIMITS)
    assert not looks_agree(soft, decide(soft, LIMITS), LIMITS)


def test_glare_hides_a_tip_unless_every_look_is_beyond_doubt() -> None:
    """Burnt out, the second tooth is lost where one look has a doubt or two looks differ; a third of it may burn out."""
    burnt = np.full(5, 0.9)
    sure, faint, torn = (replace(evidence([8.0, 8.0, odds, -8.0, 8.0], again=again), burnt=burnt) for odds, again in _GLARE)
    assert not lost_in_glare(sure, LIMITS).any()
    for lost in (faint, torn):
        assert np.flatnonzero(lost_in_glare(lost, LIMITS)).tolist() == [2]
        assert not lost_in_glare(replace(lost, burnt=burnt / 3), LIMITS).any()


_GLARE = ((8.0, None), (4.0, None), (8.0, [8.0, 8.0, -8.0, -8.0, 8.0]))

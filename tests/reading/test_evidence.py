"""How often a row is looked at: again only where the first looks leave a doubt, and then with no other outcome for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fixtures.score.records import FOLDER, cases
from lastwet.reading import evidence as judge
from lastwet.reading.look import Sight, look
from lastwet.reading.photo import load_photo
from lastwet.reading.reader import LIMITS, conclude
from tests.reading.sights import SURE, evidence, pattern

CASES = [case for case in cases(FOLDER) if case.truth.seed <= 12]


LEAST = judge.BEYOND_DOUBT


@pytest.mark.parametrize(("odds", "sure"), [(LEAST, True), (-LEAST, True), (LEAST - 0.1, False), (-LEAST + 0.1, False), (0.0, False)])
def test_a_row_is_beyond_doubt_when_every_tip_of_it_is(odds: float, sure: bool) -> None:
    shown = pattern("WWWDDDW")
    shown[3] = odds
    assert evidence(shown).beyond_doubt == sure


def test_looks_that_contradict_each_other_are_a_doubt_however_sure_each_is() -> None:
    shown = evidence(pattern("WWWDDDW"))
    torn = shown.looks.copy()
    torn[1, 3] = SURE
    assert not replace(shown, looks=torn).beyond_doubt


def sights() -> dict[str, Sight]:
    """Look at rendered photos, of which some leave a doubt and most do not; those that show a row, by name."""
    found = {case.path.name: look(load_photo(case.path, case.path.name), case.gauge, case.side_id, LIMITS) for case in CASES}
    return {name: sight for name, sight in found.items() if isinstance(sight, Sight)}


@pytest.fixture(scope="module")
def usual() -> dict[str, Sight]:
    return sights()


def test_rows_beyond_doubt_are_not_looked_at_again_and_read_the_same(usual: dict[str, Sight], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(judge, "BEYOND_DOUBT", np.inf)
    always = sights()
    assert {len(sight.evidence.again) for sight in usual.values()} == {0, 2}
    assert {len(sight.evidence.again) for sight in always.values()} == {2}
    assert usual.keys() == always.keys()
    for case in CASES:
        if case.path.name in usual:
            before, after = (conclude(each[case.path.name], case.gauge, LIMITS) for each in (usual, always))
            assert before == after


def test_plain_rows_are_looked_at_once_and_no_mirror_image_would_say_otherwise(
    usual: dict[str, Sight], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(judge, "PLAIN", np.inf)
    always = sights()
    assert {len(sight.evidence.looks) for sight in usual.values()} == {1, 2}
    assert {len(sight.evidence.looks) for sight in always.values()} == {2}
    plain = {name for name, sight in usual.items() if len(sight.evidence.looks) == 1}
    assert all(judge.agreed(always[name].evidence.looks, 3.0).all() for name in plain)

"""The second look, from nearer, at rows that are small in the photo."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest

from fixtures.score.records import FOLDER, Case, cases
from lastwet.reading import look as looking
from lastwet.reading.evidence import Evidence
from lastwet.reading.locate import Located, find_rows
from lastwet.reading.look import Sight, look
from lastwet.reading.outcome import Code, Reading, Refusal
from lastwet.reading.photo import Photo, load_photo
from lastwet.reading.reader import LIMITS, conclude
from lastwet.reading.refuse import uneven
from lastwet.reading.strip import Row
from lastwet.reading.tips import Tips, find_tips, find_tips_nearer

FAR, AWAY = 0.35, (700, 500)
"""Size of the photo in a larger picture, and where its top-left corner lies there (x, y)."""


@pytest.fixture(scope="module")
def case() -> Case:
    return next(case for case in cases(FOLDER) if case.path.name == "g0012.jpg")


@pytest.fixture(scope="module")
def far(case: Case) -> Photo:
    """The photo of the case as if taken from farther away."""
    photo = load_photo(case.path, case.path.name)
    small = cv2.resize(photo.pixels, None, fx=FAR, fy=FAR, interpolation=cv2.INTER_AREA)
    whole = np.full((1200, 1600, 3), int(np.median(small)), np.uint8)
    whole[AWAY[1] : AWAY[1] + small.shape[0], AWAY[0] : AWAY[0] + small.shape[1]] = small
    return replace(photo, pixels=whole, scale=1.0)


def test_tips_seen_from_nearer_stand_in_the_whole_photo(case: Case, far: Photo) -> None:
    near = find_tips_nearer(far.pixels, find_tips(far.pixels))
    assert near is not None
    assert near.size == (1600, 1200)
    true = (np.array(case.truth.teeth_tip_px) + 0.5) * FAR - 0.5 + np.array(AWAY)
    away = np.linalg.norm(true[:, None] - near.at[near.heat.max(axis=1) > 0.3], axis=2).min(axis=1)
    assert away.max() < 0.5 * case.truth.tooth_width_px * FAR  # nearer to its tooth than to any other


def test_the_look_from_nearer_is_at_the_row_that_was_found(far: Photo) -> None:
    tips = find_tips(far.pixels)
    row = find_rows(tips)[0]
    at, heat, up = (np.vstack([given, added]) for given, added in ((tips.at, [20, 20]), (tips.heat, [0, 0, 1]), (tips.up, tips.up[0])))
    near = find_tips_nearer(far.pixels, replace(tips, at=at, heat=heat, up=up), row.row)  # a tip in the far corner is not of this row
    assert near is not None
    low, high = (edge(row.row.tips, axis=0) for edge in (np.min, np.max))
    assert ((near.at > low - 3 * row.row.pitch_px) & (near.at < high + 3 * row.row.pitch_px)).all()


def test_a_row_that_fills_the_photo_is_not_looked_at_twice(case: Case) -> None:
    pixels = load_photo(case.path, case.path.name).pixels
    tips = find_tips(pixels)
    strong = tips.at[tips.heat.max(axis=1) > 0.2]
    low, high = strong.min(axis=0).astype(int), strong.max(axis=0).astype(int)
    part = np.ascontiguousarray(pixels[low[1] : high[1], low[0] : high[0]])
    assert find_tips_nearer(part, find_tips(part)) is None


def test_too_few_tips_tell_no_place() -> None:
    assert find_tips_nearer(np.zeros((300, 400, 3), np.uint8), find_tips(np.zeros((300, 400, 3), np.uint8))) is None


def miscounted_at_first(monkeypatch: pytest.MonkeyPatch, **then: object) -> None:
    """Let every row that the first look finds begin one tooth too late; rows of the second look are as found, but for `then`."""
    looks: list[Tips] = []

    def rows(tips: Tips) -> list[Located]:
        looks.append(tips)
        if len(looks) == 1:
            return [replace(row, row=Row(row.row.tips[1:], row.row.roots[1:])) for row in find_rows(tips)]
        return [replace(row, **then) for row in find_rows(tips)]  # type: ignore[arg-type]

    monkeypatch.setattr(looking, "find_rows", rows)


def settled(sight: Sight | Refusal) -> bool:
    return isinstance(sight, Sight) and sight.side is not None


def test_a_row_miscounted_at_first_is_counted_from_nearer(case: Case, far: Photo, monkeypatch: pytest.MonkeyPatch) -> None:
    miscounted_at_first(monkeypatch)
    assert settled(look(far, case.gauge, case.side_id, LIMITS))


def test_without_a_nearer_look_it_is_not(case: Case, far: Photo, monkeypatch: pytest.MonkeyPatch) -> None:
    miscounted_at_first(monkeypatch)
    monkeypatch.setattr(looking, "find_tips_nearer", lambda *_: None)
    assert not settled(look(far, case.gauge, case.side_id, LIMITS))


@pytest.mark.parametrize("then", [{"missing": (3,)}, {"beyond": 0.9}, {"closed": -0.1}])
def test_a_second_count_with_a_gap_or_an_open_end_settles_nothing(
    case: Case, far: Photo, monkeypatch: pytest.MonkeyPatch, then: dict[str, object]
) -> None:
    miscounted_at_first(monkeypatch, **then)
    assert not settled(look(far, case.gauge, case.side_id, LIMITS))


TWICE = replace(LIMITS, plain=1.1)
"""So that every row is looked at twice."""


def looked_at_again(monkeypatch: pytest.MonkeyPatch, **then: object) -> None:
    """With `TWICE`, rows of the second look are as found, but for `then`, or a tooth short where that says so."""
    looks: list[Tips] = []
    short = then.pop("short", False)

    def rows(tips: Tips) -> list[Located]:
        looks.append(tips)
        found = find_rows(tips)
        if len(looks) == 1:
            return found
        taken = [replace(row, row=Row(row.row.tips[1:], row.row.roots[1:])) for row in found] if short else found
        return [replace(row, **then) for row in taken]  # type: ignore[arg-type]

    monkeypatch.setattr(looking, "find_rows", rows)


def test_a_second_look_that_counts_the_same_changes_nothing(case: Case, far: Photo, monkeypatch: pytest.MonkeyPatch) -> None:
    once = look(far, case.gauge, case.side_id, LIMITS)
    looked_at_again(monkeypatch)
    twice = look(far, case.gauge, case.side_id, TWICE)
    assert isinstance(once, Sight)
    assert isinstance(twice, Sight)
    assert twice.row is once.row or np.array_equal(twice.row.row.tips, once.row.row.tips)
    assert twice.side == once.side
    assert not twice.second


@pytest.mark.parametrize(("then", "code"), [({"short": True}, Code.TOOTH_COUNT), ({"closed": -0.1}, Code.ROW_CUT)])
def test_a_second_look_that_speaks_against_the_first_refuses(
    case: Case, far: Photo, monkeypatch: pytest.MonkeyPatch, then: dict[str, object], code: Code
) -> None:
    looked_at_again(monkeypatch, **then)
    outcome = conclude(look(far, case.gauge, case.side_id, TWICE), case.gauge, LIMITS)
    assert isinstance(outcome, Refusal)
    assert outcome.reasons[0].code is code


@pytest.mark.parametrize("again", [(), (3,)])
def test_a_tip_that_only_the_second_look_saw_is_seen(
    case: Case, far: Photo, monkeypatch: pytest.MonkeyPatch, again: tuple[int, ...]
) -> None:
    looks: list[Tips] = []

    def rows(tips: Tips, besides: Sequence[Located] = ()) -> list[Located]:
        looks.append(tips)
        return [replace(row, missing=(3,) if len(looks) == 1 else again) for row in find_rows(tips, besides)]

    monkeypatch.setattr(looking, "find_rows", rows)
    seen = look(far, case.gauge, case.side_id, LIMITS)
    assert len(looks) == 2
    assert isinstance(seen, Sight)
    assert seen.row.missing == again


@pytest.mark.parametrize("then", [0.9, 0.1])
def test_a_tip_is_as_plainly_seen_as_in_the_look_that_shows_it_best(
    case: Case, far: Photo, monkeypatch: pytest.MonkeyPatch, then: float
) -> None:
    judged: list[Evidence] = []
    evidence = looking._evidence

    def shown(*args: Any) -> Evidence:
        judged.append(evidence(*args))
        seen = judged[-1].seen.copy()
        seen[3] = 0.2 if len(judged) == 1 else then
        return replace(judged[-1], seen=seen)

    monkeypatch.setattr(looking, "_evidence", shown)
    seen = look(far, case.gauge, case.side_id, LIMITS)
    assert len(judged) == 2
    assert isinstance(seen, Sight)
    assert seen.evidence.seen[3] == max(0.2, then)
    assert np.array_equal(seen.evidence.looks, judged[0].looks)


def test_a_row_of_uneven_tips_settles_no_side_as_one_may_have_been_missed(case: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    photo = load_photo(case.path, case.path.name)
    assert isinstance(conclude(look(photo, case.gauge, case.side_id, LIMITS), case.gauge, LIMITS), Reading)
    monkeypatch.setattr(looking, "UNEVEN", 0.0)
    outcome = conclude(look(photo, case.gauge, case.side_id, LIMITS), case.gauge, LIMITS)
    assert isinstance(outcome, Refusal)
    assert [(reason.code, reason.message) for reason in outcome.reasons] == [(Code.TOOTH_COUNT, uneven().message)]


@pytest.mark.parametrize("least_pitch_px", [0.0, np.inf])
def test_small_rows_are_counted_once_more_from_nearer(case: Case, monkeypatch: pytest.MonkeyPatch, least_pitch_px: float) -> None:
    asked = []
    monkeypatch.setattr(looking, "find_tips_nearer", lambda *shown: asked.append(shown))
    look(load_photo(case.path, case.path.name), case.gauge, case.side_id, replace(LIMITS, small=least_pitch_px))
    assert len(asked) == (least_pitch_px > 0)

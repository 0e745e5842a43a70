"""Rows fitted to tips whose places are known: combs drawn through a real perspective, with tips missing and strays added."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lastwet.reading import locate
from lastwet.reading.locate import find_rows
from lastwet.reading.tips import Tips

SIZE = (1600, 1200)


def comb(teeth: int, tilt_deg: float, turn_deg: float, offset: float = 0.1) -> tuple[np.ndarray, np.ndarray]:
    """Tips (N+2, 2) and arrows of a comb of pitch 60 px seen by a pinhole 1200 px away; an outside model, not the reader's."""
    x = np.concatenate([[-offset], np.arange(1, teeth + 1), [teeth + 1 + offset]]) - (teeth + 1) / 2

    def project(points: np.ndarray) -> np.ndarray:
        a, b = np.radians(tilt_deg), np.radians(turn_deg)
        depth = 1200 - points[:, 0] * np.sin(a)
        flat = np.column_stack([points[:, 0] * np.cos(a), points[:, 1]]) * (1200 / depth)[:, None]
        turn = np.array([[np.cos(b), -np.sin(b)], [np.sin(b), np.cos(b)]])
        return np.asarray(flat @ turn.T + np.array(SIZE) / 2)

    tips = project(np.column_stack([x * 60, np.zeros(len(x))]))
    return tips, project(np.column_stack([x * 60, np.full(len(x), -60.0)])) - tips


def seen(tips: np.ndarray, up: np.ndarray, drop: tuple[int, ...] = (), noise: float = 0.0, strays: int = 0) -> Tips:
    """What the finder would say of these tips."""
    rng = np.random.default_rng(1)
    keep = [i for i in range(len(tips)) if i not in drop]
    at = tips[keep] + rng.normal(0, noise, (len(keep), 2))
    heat = np.array([[0.05, 0.8, 0.1] if i in (0, len(tips) - 1) else [0.8, 0.05, 0.1] for i in keep])
    far = rng.uniform([50, 50], [SIZE[0] - 50, 150], (strays, 2))
    count = len(keep) + strays
    return Tips(
        np.concatenate([at, far]), np.concatenate([heat, np.full((strays, 3), 0.25)]), np.full(count, 0.9), np.full(count, 0.9),
        np.concatenate([up[keep], rng.normal(0, 40, (strays, 2))]), SIZE,
    )  # fmt: skip


@pytest.mark.parametrize("turn", [0, 37, 90, 180, 251])
@pytest.mark.parametrize("tilt", [-40, 0, 25])
@pytest.mark.parametrize("teeth", [4, 9, 14])
def test_the_row_is_found_at_any_turn_and_tilt(teeth: int, tilt: float, turn: float) -> None:
    tips, up = comb(teeth, tilt, turn)
    row = find_rows(seen(tips, up, noise=0.8, strays=6))[0]
    assert row.teeth == teeth
    found = row.row.tips if np.linalg.norm(row.row.tips[0] - tips[0]) < 30 else row.row.tips[::-1]
    assert np.abs(found - tips).max() < 6


@pytest.mark.parametrize("drop", [(3,), (2, 6)])
def test_a_hidden_tip_does_not_change_the_count(drop: tuple[int, ...]) -> None:
    tips, up = comb(9, 20, 10)
    row = find_rows(seen(tips, up, drop=drop, noise=0.5))[0]
    assert row.teeth == 9
    assert row.missing == drop
    assert np.abs(row.row.tips - tips).max() < 12


def test_rows_besides_others_share_no_end_with_them() -> None:
    both = [seen(tips + (0, way), up, noise=0.5) for (tips, up), way in ((comb(9, 0, 0), -300), (comb(5, 0, 0), 300))]
    at, heat, up = (np.concatenate([getattr(one, name) for one in both]) for name in ("at", "heat", "up"))
    tips = Tips(at, heat, np.full(len(at), 0.9), np.full(len(at), 0.9), up, SIZE)
    longer = find_rows(tips)[0]
    assert longer.teeth == 9
    others = find_rows(tips, besides=[longer])
    assert [row.teeth for row in others][:1] == [5]
    assert all(np.linalg.norm(row.row.tips[:, None] - longer.row.tips, axis=-1).min() > 60 for row in others)


@pytest.mark.parametrize(("room", "as_tab", "closed"), [(0.5, True, 0.75), (0.5, False, -0.75), (2.0, False, 1.0)])
def test_an_end_that_looks_like_a_tooth_leaves_a_row_open_where_the_picture_ends(room: float, as_tab: bool, closed: float) -> None:
    """`room` is how far the picture reaches beyond the last tip, in pitches."""
    tips, up = comb(9, 0, 0, offset=0.0)
    shown = seen(tips, up)
    right = int(shown.at[:, 0].argmax())
    if not as_tab:
        shown.heat[right] = [0.8, 0.05, 0.1]
    wide = (round(float(shown.at[right, 0] + room * 60)), SIZE[1])
    row = next(row for row in find_rows(replace(shown, size=wide)) if row.teeth == 9)
    assert row.closed == pytest.approx(closed)


@pytest.mark.parametrize(("tab_heat", "counts"), [(0.6, [9]), (0.4, [9, 8])])
def test_a_part_of_a_row_is_left_alone_where_it_plainly_goes_on(tab_heat: float, counts: list[int]) -> None:
    """A tooth that passes for an end tab begins a row with one tooth fewer, which may look the more like one that was dipped."""
    tips, up = comb(9, 0, 0)
    shown = seen(tips, up)
    shown.heat[0], shown.heat[1] = [0.05, tab_heat, 0.1], [0.8, 0.6, 0.1]
    assert [row.teeth for row in find_rows(shown)] == counts


def test_strips_are_never_mirrored() -> None:
    tips, up = comb(6, 0, 0)
    row = find_rows(seen(tips[::-1], up[::-1]))[0].row
    along, rise = row.tips[-1] - row.tips[0], row.roots[0] - row.tips[0]
    assert along[0] * rise[1] - along[1] * rise[0] < 0


def test_scattered_tips_are_no_row() -> None:
    rng = np.random.default_rng(5)
    count = 12
    at, up = rng.uniform(0, 1200, (count, 2)), rng.normal(0, 40, (count, 2))
    tips = Tips(at, np.full((count, 3), 0.3), np.zeros(count), np.zeros(count), up, SIZE)
    assert all(row.misfit > 0.05 or row.heat < 0.35 for row in find_rows(tips))


@pytest.mark.parametrize("seed", range(6))
def test_no_row_is_worth_more_than_its_span_may_be(seed: int) -> None:
    """Rows are fitted until no span left may be worth enough; a bound that is too low would lose the row that was dipped."""
    rng = np.random.default_rng(seed)
    tips, up = comb(9, rng.uniform(-40, 40), rng.uniform(0, 360))
    shown = seen(tips, up, drop=(4,), noise=2.0, strays=8)
    shown = replace(shown, heat=shown.heat * rng.uniform(0.3, 1.2, shown.heat.shape), paint=rng.uniform(0, 1, len(shown.at)))
    pairs = [*locate._chain_ends(shown), *locate._tab_pairs(shown)]
    spans = locate._spans(shown, pairs)
    assert len(spans) > 1
    for span in spans:
        assert locate._fitted(shown, span).worth <= span.most_worth + 1e-9

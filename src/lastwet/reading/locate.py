"""Find the rows of teeth among the tips of a photo: evenly spaced runs between two end tabs.

Points are (x, y) px, origin at the centre of the top-left pixel, y down.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lastwet.reading.fit import Fit, best_fit, counts
from lastwet.reading.middle import median
from lastwet.reading.strip import FEWEST, MOST, Row
from lastwet.reading.tips import CLEAR, Tips

Floats = npt.NDArray[np.float64]

TAB = 0.12
"""Least heat of an end tab that may begin a row."""
MOST_TABS = 8
"""End tab candidates that are paired."""
WORTH = 0.6
"""Rows worth less than this share of the best are left alone, unless none of the others was dipped; on calibrate renders, 0.45 found no
row more."""
MOST_ROWS = 4
"""Rows that are looked at closely."""
GOES_ON = 0.5
"""Heat of a tip just outside a row from which it is left alone where a longer row has all its tips and more: a tooth passes for its end
tab, beside which it goes on. Of 1,785 rows of seeds 3001-3036, 3997-4282, 5117-5516, 5600-6019, 6100-6819 and the corpus, those that are
a part of another and rightly counted have at most 0.43, and five that are wrongly counted more than 0.5 (g6792, read on a wrong side)."""


@dataclass(frozen=True, slots=True)
class Located:
    """A row found in the photo."""

    row: Row
    heat: float
    """Mean heat over its elements, 0..1; a missing one counts 0."""
    read: float
    """Mean heat of belonging to the row that was dipped, 0..1."""
    painted: float
    """How surely both end tabs carry paint, as the finder sees it, 0..1."""
    body: float
    """How surely the row's shanks belong to a gauge, 0..1: mean over its elements."""
    beyond: float
    """Heat of a tip that stands just outside the row, as if it went on, 0..1."""
    closed: float
    """By how much its ends look like end tabs rather than teeth, heat, -1..1: the least of those beside which the picture has no room for
    one element more, 1 where there is none."""
    missing: tuple[int, ...]
    """Elements whose tip was not seen."""
    misfit: float
    """Root mean square distance of the tips from an evenly spaced row in perspective, in pitches."""

    @property
    def worth(self) -> float:
        """How far the row is to be looked at first."""
        return (self.heat + self.read + self.painted) * (1 - min(self.misfit, 1.0)) ** 2 * self._length

    @property
    def evenness(self) -> float:
        """How well the row fits even spacing, the more so the more tips were seen."""
        return (1 - min(5 * self.misfit, 1.0)) * self._length

    @property
    def _length(self) -> float:
        """Grow with the tips seen, and shrink where the row seems to go on past its ends."""
        return math.sqrt(self.teeth - len(self.missing)) * (1 - 0.5 * self.beyond)

    @property
    def teeth(self) -> int:
        """Number of teeth."""
        return len(self.row.tips) - 2


def find_rows(tips: Tips, besides: Sequence[Located] = ()) -> list[Located]:
    """Return the likeliest rows of teeth among the tips, at most `MOST_ROWS`, the likeliest first; none that shares an end with `besides`.

    A row that is a part of a longer one of them, and plainly goes on, is none (`GOES_ON`).

    Which of them was dipped is for the evidence to say: it is the one whose end tabs are wet.
    """
    pairs = list(dict.fromkeys([*_chain_ends(tips), *_tab_pairs(tips)]))
    found: list[Located] = []
    least = 0.0
    for span in sorted(_spans(tips, pairs), key=lambda span: -span.most_worth):
        if span.most_worth <= least:
            break  # half of them, as a rule: a fit takes longer than a span
        row = _fitted(tips, span)
        if not any(_overlap(row, other) for other in besides):
            found.append(row)
            least = max(least, WORTH * row.worth)
    rows = sorted(found, key=lambda r: -r.worth)
    kept: list[Located] = []
    for row in rows:
        if len(kept) < MOST_ROWS and row.worth > least and not any(_same(row, other) for other in kept):
            kept.append(row)
    return [row for row in kept if row.beyond <= GOES_ON or not any(_part_of(row, other) for other in kept)]


def _same(a: Located, b: Located) -> bool:
    """Whether two rows have the same ends, so that one is but a poorer copy."""
    return bool(np.linalg.norm(a.row.tips[[0, -1]] - b.row.tips[[0, -1]], axis=1).max() < 0.5 * b.row.pitch_px)


def _part_of(a: Located, b: Located) -> bool:
    """Whether every tip of a row is one of a longer row."""
    return a.teeth < b.teeth and bool(_on(a.row.tips, b).all())


def _overlap(a: Located, b: Located) -> bool:
    """Whether an end of one row stands on a tip of the other."""
    return bool(_on(a.row.tips[[0, -1]], b).any() or _on(b.row.tips[[0, -1]], a).any())


def _on(points: npt.NDArray[np.float32], row: Located) -> npt.NDArray[np.bool_]:
    """Tell which points (K, 2) stand on a tip of a row, shape (K,)."""
    apart = np.linalg.norm(points[:, None] - row.row.tips, axis=-1)
    return np.asarray(apart.min(axis=1) < 0.5 * row.row.pitch_px)


def _chain_ends(tips: Tips) -> list[tuple[int, int]]:
    """Ends (left, right as seen with the tips down) of the runs of tips that stand side by side."""
    right = _right_neighbours(tips)
    left = {r: i for i, r in right.items()}
    ends = []
    for start in set(range(len(tips.at))) - set(left):
        chain = [start]
        while chain[-1] in right:
            chain.append(right[chain[-1]])
        spare = len(chain) - FEWEST - 2  # corners of the plate may look like one tip more at either end
        ends += [(chain[a], chain[-1 - b]) for a in range(3) for b in range(3) if a + b <= spare]
    return ends


def _right_neighbours(tips: Tips) -> dict[int, int]:
    """Map each tip to the one that stands next to it on the right, seen with the tips down; one to one."""
    strong = np.flatnonzero(tips.heat.max(axis=1) > CLEAR)
    if len(strong) < 2:
        return {}
    tall = np.linalg.norm(tips.up, axis=1)
    unit = tips.up / np.maximum(tall, 1e-6)[:, None]
    step = tips.at[None] - tips.at[:, None]
    across = step[..., 1] * unit[:, None, 0] - step[..., 0] * unit[:, None, 1]  # to the right when up is up
    along = (step * unit[:, None]).sum(axis=-1)
    pitch = (tall[:, None] + tall) / 2
    fits = (unit @ unit.T > 0.75) & (across > 0.5 * pitch) & (across < 2.6 * pitch) & (np.abs(along) < 0.65 * across)
    weak = np.ones(len(tips.at), bool)
    weak[strong] = False
    fits[weak], fits[:, weak] = False, False
    cost = np.where(fits, across + 1.5 * np.abs(along), np.inf)
    best, back = cost.argmin(axis=1), cost.argmin(axis=0)
    return {int(i): int(best[i]) for i in strong if np.isfinite(cost[i, best[i]]) and back[best[i]] == i}


def _tab_pairs(tips: Tips) -> list[tuple[int, int]]:
    """Pairs of end tab candidates (left, right as seen with the tips down) that could be the ends of one row."""
    tabs = [int(i) for i in np.argsort(-tips.heat[:, 1])[:MOST_TABS] if tips.heat[i, 1] > TAB]
    pairs = []
    for i in tabs:
        for j in tabs:
            along = tips.at[j] - tips.at[i]
            length = float(np.linalg.norm(along))
            pitch = (np.linalg.norm(tips.up[i]) + np.linalg.norm(tips.up[j])) / 2
            if i == j or length < 1.5 * pitch:
                continue
            rise = [
                float(along[0] * tips.up[k][1] - along[1] * tips.up[k][0]) / length / max(float(np.linalg.norm(tips.up[k])), 1e-6)
                for k in (i, j)
            ]
            if max(rise) < -0.5:  # both arrows point up when the pair runs left to right (y is down)
                pairs.append((i, j))
    return pairs


@dataclass(frozen=True, slots=True, eq=False)
class _Span:
    """What lies between two end tabs, before teeth are fitted to it."""

    ends: tuple[int, int]
    """The tips at the end tabs, left and right as seen with the tips down."""
    length: float
    """From end tab to end tab, px."""
    s: Floats
    """How far along the span each tip of the photo lies, px, shape (T,)."""
    rise: Floats
    """How far up the shank from the line of the end tabs each lies, px, shape (T,)."""
    tall: float
    """One pitch up the shank, px."""
    same_way: npt.NDArray[np.bool_]
    """Whether its shank runs the same way, shape (T,)."""
    members: npt.NDArray[np.int_]
    """The tips that may be teeth of the row."""
    weight: Floats
    """How much each of them counts, 0..1."""
    most_worth: float
    """No row between these end tabs is worth more."""


def _spans(tips: Tips, pairs: Sequence[tuple[int, int]]) -> list[_Span]:
    """Gather the tips that lie between the end tabs of each pair (left, right); those with too few or too many for a row are left out.

    What lies where is worked out for all pairs at once, as NumPy takes longer over many short arrays.
    """
    i, j = np.array(pairs, int).reshape(-1, 2).T
    along, up = tips.at[j] - tips.at[i], (tips.up[i] + tips.up[j]) / 2
    length, tall = np.linalg.norm(along, axis=1), np.linalg.norm(up, axis=1)
    unit, up_unit = along / length[:, None], up / tall[:, None]
    (x, y), (ux, uy) = unit.T[..., None], up_unit.T[..., None]
    right, down = (tips.at[:, k] - tips.at[i, k][:, None] for k in (0, 1))
    rise = (right * y - down * x) / (ux * y - uy * x)
    s = right * x + down * y - rise * (ux * x + uy * y)
    same_way = up_unit @ tips.up.T > 0.6 * np.linalg.norm(tips.up, axis=1)
    share, height = s / length[:, None], rise / tall[:, None]
    inner = same_way & (share > 0.02) & (share < 0.98) & (height > -0.35) & (height < 0.95)
    spans = []
    for k, pair in enumerate(pairs):
        inner[k, pair] = False
        members = _lowest(np.flatnonzero(inner[k]), s[k], rise[k], tall[k])
        if 2 <= len(members) <= MOST + 2:
            heat = tips.heat[members].max(axis=1)
            weight = np.minimum(1.0, heat / median(heat)) ** 2
            most_worth = _most_worth(tips, pair, members, weight)
            spans.append(_Span(pair, float(length[k]), s[k], rise[k], float(tall[k]), same_way[k], members, weight, most_worth))
    return spans


def _most_worth(tips: Tips, ends: tuple[int, int], members: npt.NDArray[np.int_], weight: Floats) -> float:
    """Return what `Located.worth` would be if the hottest members, as many as serve it best, lay just where teeth should be."""
    at_ends = tips.heat[ends, :].max(axis=1).sum() + tips.heat[ends, 1].sum()
    each = np.sort(tips.heat[members].max(axis=1) + tips.heat[members, 0])[::-1]
    seen = np.arange(1, len(each) + 1)
    elements = np.maximum(seen, counts(weight).start) + 2
    return float((((at_ends + each.cumsum()) / elements + tips.paint[[*ends]].min()) * np.sqrt(seen)).max())


def _fitted(tips: Tips, span: _Span) -> Located:
    """Fit an evenly spaced row in perspective to a span."""
    best = best_fit(span.s[span.members] / span.length, span.weight)
    pitch = span.length / (best.teeth + 1)
    seen = {int(e): int(span.members[m]) for e, m in best.matched.items()}
    past = np.maximum(-span.s, span.s - span.length) / pitch
    beside = span.same_way & (past > 0.3) & (past < 1.7) & (np.abs(span.rise) < 0.5 * span.tall)
    beyond = float(tips.heat[beside].max(initial=0.0))
    return _located(tips, *span.ends, best, seen, beyond)


def _lowest(members: npt.NDArray[np.int_], s: Floats, rise: Floats, tall: float) -> npt.NDArray[np.int_]:
    """Drop members that lie up the shank of another one: a numeral, the root of a notch."""
    beside = np.abs(s[members][:, None] - s[members]) < 0.3 * tall
    above = rise[members][:, None] - rise[members] > 0.25 * tall
    return members[~(beside & above).any(axis=1)]


def _located(tips: Tips, i: int, j: int, fit: Fit, seen: dict[int, int], beyond: float) -> Located:
    """Lay the row out: seen tips where they were seen, the others on the line at the height of their neighbours."""
    start, along = tips.at[i], tips.at[j] - tips.at[i]
    share = np.concatenate([[0.0], fit.places, [1.0]])
    known = [0, *(t + 1 for t in sorted(seen)), fit.teeth + 1]
    which = [i, *(seen[t] for t in sorted(seen)), j]
    base = start + share[:, None] * along
    shift = tips.at[which] - base[known]
    e = np.arange(fit.teeth + 2)
    inner = slice(1, -1) if len(known) > 3 else slice(None)
    points = base + np.column_stack([np.interp(e, np.array(known)[inner], shift[inner, k]) for k in (0, 1)])
    points[known] = tips.at[which]
    missing = tuple(int(k) for k in e if k not in known)
    read = sum(tips.heat[w, 1 if k in (0, fit.teeth + 1) else 0] for k, w in zip(known, which, strict=True))
    heat = float(tips.heat[which].max(axis=1).sum())
    row = Row(np.asarray(points, np.float32), np.asarray(points + _arrows(e, np.array(known), tips.up[which]), np.float32))
    return Located(
        row,
        heat / (fit.teeth + 2),
        float(read) / (fit.teeth + 2),
        float(tips.paint[[i, j]].min()),
        float(tips.body[which].mean()),
        beyond,
        _closed(tips, i, j, points),
        missing,
        fit.misfit,
    )


def _closed(tips: Tips, i: int, j: int, points: Floats) -> float:
    """See whether a row may go on outside the picture: `Located.closed`."""
    steps = points[[0, -1]] - points[[1, -2]]
    past = points[[0, -1]] + steps
    outside = ((past < 0) | (past > np.array(tips.size) - 1)).any(axis=1)
    tab_like = tips.heat[[i, j], 1] - tips.heat[[i, j], 0]
    return float(tab_like[outside].min(initial=1.0))


def _arrows(e: npt.NDArray[np.int_], known: npt.NDArray[np.int_], up: Floats) -> Floats:
    """Smooth the arrows along the row: a straight line through them, medians at the ends to keep out strays."""
    middle = median(up)
    good = np.linalg.norm(up - middle, axis=1) < 0.35 * np.linalg.norm(middle)
    if good.sum() < 4:
        return np.repeat(middle[None], len(e), axis=0)
    about = known[good].mean()
    at = known[good] - about
    slope = at @ up[good] / (at @ at)  # `np.polyfit` takes several times as long
    return np.asarray((e - about)[:, None] * slope + up[good].mean(axis=0), np.float64)

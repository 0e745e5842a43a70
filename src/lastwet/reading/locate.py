"""Find the row that was read: the tips in the photo, then the evenly spaced run of them between two end tabs.

Points are (x, y) px, origin at the centre of the top-left pixel, y down.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import cv2
import numpy as np
import numpy.typing as npt

from lastwet.reading import networks
from lastwet.reading.middle import median
from lastwet.reading.strip import MOST_ELEMENTS, Row, normalise

Floats = npt.NDArray[np.float64]

NET_SIZE = (640, 480)
"""Width and height of the picture that the tip finder sees."""
REACH_PX = 32.0
"""Length in the finder's picture of an arrow of 1."""
MAPS = ("tooth of the read row", "end tab of the read row", "tip of another row", "gauge", "paint", "arrow x", "arrow y")
"""What the finder's maps show; the arrow points one pitch up the shank."""

PEAK = 0.12
"""Least heat of a tip; low, since a row is believed as a whole. Chosen on tuning renders."""
TAB = 0.12
"""Least heat of an end tab that may begin a row."""
MOST_TABS = 8
"""End tab candidates that are paired."""
CLEAR = 0.2
"""Least heat of a tip that may stand in a chain."""
WORTH = 0.6
"""Rows worth less than this share of the best are left alone, unless none of the others was dipped; on calibrate renders, 0.45 found no
row more."""
MOST_ROWS = 4
"""Rows that are looked at closely."""
CLOSE_FITS = 2
"""Numbers of teeth whose fit is refined; on calibrate renders, more change no row."""
NEAR = 0.30
"""Farthest a tip may lie from its place in an even row, in pitches."""
FEWEST, MOST = 3, MOST_ELEMENTS - 2
"""Teeth of a row that can be told from chance, and that the networks can take."""
MARGIN = 2.0
"""Room left around the tips when they are looked at from nearer, in pitches; enough for an end tab missed at first.
As tried on calibrate renders."""
NEARER = 1.25
"""Least magnification that makes a nearer look worth its time; as tried on calibrate renders."""


@dataclass(frozen=True, slots=True)
class Tips:
    """Tips seen in a photo."""

    at: Floats
    """Shape (T, 2), px of the photo."""
    heat: Floats
    """Shape (T, 3): how surely it is a tooth of the read row, an end tab of the read row, a tip of another row; 0..1."""
    paint: Floats
    """Shape (T,): how surely wet paint is to be seen beside it; 0..1."""
    body: Floats
    """Shape (T,): how surely the gauge is to be seen half a pitch up the shank; 0..1."""
    up: Floats
    """Shape (T, 2): one pitch up the shank, px."""
    size: tuple[int, int]
    """Width and height of the photo."""


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


def countable(teeth: int) -> bool:
    """Whether photos are read of rows with so many teeth."""
    return FEWEST <= teeth <= MOST


def find_tips(pixels: npt.NDArray[np.uint8]) -> Tips:
    """Find the tips of all toothed rows of a gauge in an upright photo, shape (H, W, 3)."""
    turned = pixels.shape[0] > pixels.shape[1]
    view = cv2.rotate(pixels, cv2.ROTATE_90_COUNTERCLOCKWISE) if turned else pixels  # `np.rot90` copies at a seventh of the speed
    scale = min(NET_SIZE[0] / view.shape[1], NET_SIZE[1] / view.shape[0])
    small = (max(1, round(view.shape[1] * scale)), max(1, round(view.shape[0] * scale)))
    canvas = np.zeros((NET_SIZE[1], NET_SIZE[0], 3), np.uint8)
    canvas[: small[1], : small[0]] = cv2.resize(view, small, interpolation=cv2.INTER_AREA)
    maps = networks.run("tips", "maps", np.ascontiguousarray(normalise(canvas).transpose(2, 0, 1)[None]))[0]
    at, heat, shown, up = _peaks(maps)
    per = np.array([view.shape[1] / small[0], view.shape[0] / small[1]])
    at, up = (at + 0.5) * per - 0.5, up * per
    if turned:  # the turn took (x, y) to (y, W - 1 - x)
        at = np.column_stack([pixels.shape[1] - 1 - at[:, 1], at[:, 0]])
        up = np.column_stack([-up[:, 1], up[:, 0]])
    return Tips(at, heat, shown[0], shown[1], up, (pixels.shape[1], pixels.shape[0]))


def find_tips_nearer(pixels: npt.NDArray[np.uint8], tips: Tips, row: Located | None = None) -> Tips | None:
    """Find the tips once more in the part of the photo (H, W, 3) where a row of `tips` is, or all of them, so that teeth are seen larger.

    None where there are too few tips to say where, or where that part is nearly the whole photo.
    """
    strong = tips.heat.max(axis=1) > CLEAR
    if row is None and strong.sum() < FEWEST + 2:
        return None
    at, up = (row.row.tips, row.row.roots - row.row.tips) if row else (tips.at[strong], tips.up[strong])
    room = MARGIN * float(median(np.linalg.norm(up, axis=1)))
    low = np.maximum(np.floor(at.min(axis=0) - room).astype(int), 0)
    high = np.minimum(np.ceil(at.max(axis=0) + room).astype(int), tips.size)
    whole, part = max(tips.size), max(NET_SIZE[0], *(high - low))
    if whole < NEARER * part:
        return None
    near = find_tips(pixels[low[1] : high[1], low[0] : high[0]])
    return replace(near, at=near.at + low, size=tips.size)


def _peaks(maps: npt.NDArray[np.float32]) -> tuple[Floats, Floats, Floats, Floats]:
    """Return (place (T, 2), heat (T, 3), paint and body (2, T), arrow (T, 2)) of the local maxima, in px of the finder's picture."""
    top = _shares(maps[:3].max(axis=0))
    y, x = np.nonzero((top >= cv2.dilate(top, np.ones((3, 3), np.uint8))) & (top > PEAK))
    fine = np.pad(top, 1, mode="edge")
    left, right, up, down, mid = fine[y + 1, x], fine[y + 1, x + 2], fine[y, x + 1], fine[y + 2, x + 1], fine[y + 1, x + 1]
    dx = np.clip((right - left) / (2 * (2 * mid - left - right) + 1e-6), -0.5, 0.5)
    dy = np.clip((down - up) / (2 * (2 * mid - up - down) + 1e-6), -0.5, 0.5)
    place = np.column_stack([x + dx, y + dy]) * 2 + 0.5
    arrow = maps[5:7, y, x].T.astype(float) * REACH_PX
    half = np.clip(np.rint((place + arrow / 2 - 0.5) / 2).astype(int), 0, [top.shape[1] - 1, top.shape[0] - 1])
    paint, gauge = cv2.dilate(maps[4], np.ones((5, 5), np.uint8))[y, x], maps[3, half[:, 1], half[:, 0]]
    return place, _shares(maps[:3, y, x]).T.astype(float), _shares(np.array([paint, gauge])).astype(float), arrow


def _shares(logits: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Turn logits into probabilities."""
    return np.asarray(1 / (1 + np.exp(-np.clip(logits, -30, 30))), np.float32)


def find_rows(tips: Tips, besides: Sequence[Located] = ()) -> list[Located]:
    """Return the likeliest rows of teeth among the tips, at most `MOST_ROWS`, the likeliest first; none that shares an end with `besides`.

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
    return kept


def _same(a: Located, b: Located) -> bool:
    """Whether two rows have the same ends, so that one is but a poorer copy."""
    return bool(np.linalg.norm(a.row.tips[[0, -1]] - b.row.tips[[0, -1]], axis=1).max() < 0.5 * b.row.pitch_px)


def _overlap(a: Located, b: Located) -> bool:
    """Whether an end of one row stands on a tip of the other."""

    def on(row: Located, other: Located) -> bool:
        apart = np.linalg.norm(row.row.tips[[0, -1], None] - other.row.tips, axis=-1)
        return bool(apart.min() < 0.5 * other.row.pitch_px)

    return on(a, b) or on(b, a)


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
    elements = np.maximum(seen, _counts(weight).start) + 2
    return float((((at_ends + each.cumsum()) / elements + tips.paint[[*ends]].min()) * np.sqrt(seen)).max())


def _fitted(tips: Tips, span: _Span) -> Located:
    """Fit an evenly spaced row in perspective to a span."""
    best = _best_fit(span.s[span.members] / span.length, span.weight)
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


def _counts(weight: Floats) -> range:
    """Numbers of teeth to try for members of such weight: strays may be among them, and teeth may be hidden."""
    return range(max(FEWEST, int((weight > 0.4).sum()) - 2), min(MOST, len(weight) + 3) + 1)


@dataclass(frozen=True, slots=True)
class _Fit:
    """Evenly spaced teeth fitted between two end tabs."""

    teeth: int
    cost: float
    places: Floats
    """Share of the way between the end tabs at which each tooth lies."""
    matched: dict[int, int]
    """Tooth (0..N-1) to member."""
    misfit: float


_SQUEEZE = np.exp(np.linspace(-0.5, 0.5, 21))
"""How much nearer one end is than the other: perspective at 40 degrees stays within."""
_TAB_OFFSET = np.linspace(-0.35, 0.6, 20)
"""How much farther the end tab stands from its tooth than teeth from each other, in pitches."""


@cache
def _places(n: int) -> Floats:
    """Share of the way between the end tabs of each of `n` teeth, for every squeeze and tab offset; shape (n, S, D).

    NumPy is slow at the least over a short last axis, so the teeth come first.
    """
    q, d = np.meshgrid(_SQUEEZE, _TAB_OFFSET, indexing="ij")
    u = (np.arange(1, n + 1) + d[..., None]) / (n + 1 + 2 * d[..., None])
    return np.ascontiguousarray(np.moveaxis(u / (u + (1 - u) * q[..., None]), -1, 0))


@cache
def _rough_places(n: int) -> Floats:
    """Every second of the places."""
    return np.ascontiguousarray(_places(n)[:, ::2, ::2])


def _best_fit(s: Floats, weight: Floats) -> _Fit:
    """Fit as many evenly spaced teeth in perspective as go best with tips at shares `s` of the row.

    A tooth without a tip and a tip without a tooth both cost; a faint tip, by its `weight` (0..1), costs less.
    """
    rough = {n: _cheapest(_rough_places(n), s, weight) for n in _counts(weight)}
    likeliest = sorted(rough, key=lambda n: rough[n][1])[:CLOSE_FITS]
    return min((_fit(s, weight, n, rough[n][0]) for n in likeliest), key=lambda fit: fit.cost)


def _fit(s: Floats, weight: Floats, n: int, rough: tuple[int, int]) -> _Fit:
    """Fit `n` teeth about the place `rough` in the grid of every second place; tips and teeth pair one to one."""
    i, j = (2 * k for k in rough)
    about = _places(n)[:, max(i - 2, 0) : i + 3, max(j - 2, 0) : j + 3]
    at, cost = _cheapest(about, s, weight)
    places = about[:, *at]
    gap = np.abs(places[:, None] - s) * (n + 1)
    every, member, tooth = np.arange(n), gap.argmin(axis=1), gap.argmin(axis=0)
    error = gap[every, member]
    paired = np.flatnonzero((error < NEAR) & (tooth[member] == every))
    matched = dict(zip(paired.tolist(), member[paired].tolist(), strict=True))
    misfit = math.sqrt(float(np.mean(np.square(error[paired])))) if matched else 1.0
    return _Fit(n, cost, places, matched, misfit)


def _cheapest(grid: Floats, s: Floats, weight: Floats) -> tuple[tuple[int, int], float]:
    """Return where in a grid of places, shape (n, S, D), the teeth fit the tips best, and at what cost."""
    n = len(grid)
    gap = grid - s[:, None, None, None]
    np.abs(gap, out=gap)
    alone = np.minimum(gap.min(axis=0) * (n + 1), NEAR) ** 2
    stray = np.minimum(gap.min(axis=1) * (n + 1), NEAR) ** 2 * weight[:, None, None]
    cost = (alone.sum(axis=0) + stray.sum(axis=0)) / (n + weight.sum())
    i, j = np.unravel_index(int(np.argmin(cost)), cost.shape)
    return (int(i), int(j)), float(cost[i, j])


def _located(tips: Tips, i: int, j: int, fit: _Fit, seen: dict[int, int], beyond: float) -> Located:
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

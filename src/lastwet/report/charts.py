"""Charts as SVG text, for a page or a report: pure functions, no style sheet, no script, nothing fetched.

Each chart has a title and a description for who cannot see it, and says by word and shape what it says by colour. Text and axes take
the colour of the page's text (currentColor), so that they show on a light and on a dark ground.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from math import ceil, floor, log10

HEIGHT = 340
PLACE, FEWEST = 97, 2
"""Width for one reading or coat, px, and how many there is room for at least; a chart grows with what it shows."""
LEFT, RIGHT, TOP, BOTTOM = 46, 80, 30, 76
"""Margins, px; with them a chart of the fewest fits a phone, which leaves 320 px."""
LINE = 16
"""From one line of type to the next, px."""
MARK = 7
"""Half the size of a mark, px."""
BLUE, ORANGE = "#0072b2", "#d55e00"
"""Two colours that colour-blind people tell apart, at least 3:1 against white (Okabe and Ito, 2002)."""

_DOWN, _UP = "M0,{m} L{m},-{m} L-{m},-{m} Z", "M0,-{m} L{m},{m} L-{m},{m} Z"
_DIAMOND, _SQUARE = "M0,-{m} L{m},0 L0,{m} L-{m},0 Z", "M-{m},-{m} L{m},-{m} L{m},{m} L-{m},{m} Z"
_SHAPES = {
    "below": _DOWN,
    "above": _UP,
    "straddles": _DIAMOND,
    "inside": _SQUARE,
    "fits": _SQUARE,
    "may pass": _DIAMOND,
    "passes": _UP,
}
_GOOD = frozenset({"inside", "fits", None})


@dataclass(frozen=True, slots=True)
class Point:
    """One reading in the run chart."""

    label: str
    """What stands under it, such as the spot."""
    low: float
    high: float | None
    """Ends of the bracket, in the chart's unit; None where it is open at the top."""
    verdict: str | None = None
    """below, inside, above or straddles; None where there is no range."""


@dataclass(frozen=True, slots=True)
class Step:
    """One coat in the build chart."""

    label: str
    low: float
    high: float | None
    """Least and most that all coats up to and with this one come to, in the chart's unit; None for no upper end."""
    fit: str | None = None
    """fits, may pass or passes; None where there is no maximum."""


def run_chart(points: Sequence[Point], unit: str, limits: tuple[float, float] | None = None, title: str = "Wet film readings") -> str:
    """Draw readings as brackets in their order, against the wet range."""
    scale = _Scale(_top([end for point in points for end in (point.low, point.high)] + list(limits or ())), len(points))
    drawn = [*_axes(scale, unit, [point.label for point in points])]
    if limits:
        drawn += _band(scale, limits, unit)
    for place, point in enumerate(points):
        drawn += _bracket(scale, place, point.low, point.high, _colour(point.verdict))
        drawn += _mark(scale, place, point.verdict)
    return _svg(title, _run_words(points, unit, limits), scale, drawn)


def build_chart(steps: Sequence[Step], unit: str, maximum: float | None = None, title: str = "Build over the coats") -> str:
    """Draw what the coats add up to, coat after coat, against the maximum build."""
    scale = _Scale(_top([end for step in steps for end in (step.low, step.high)] + ([] if maximum is None else [maximum])), len(steps))
    drawn = [*_axes(scale, unit, [step.label for step in steps])]
    for place, step in enumerate(steps):
        drawn += _column(scale, place, step, _colour(step.fit))
        drawn += _mark(scale, place, step.fit)
    if maximum is not None:
        drawn += _line(scale, maximum, "maximum", unit, above=True)
    return _svg(title, _build_words(steps, unit, maximum), scale, drawn)


@dataclass(frozen=True, slots=True)
class _Scale:
    top: float
    """Value at the upper edge."""
    count: int
    """Places along the chart."""

    @property
    def right(self) -> int:
        return LEFT + PLACE * max(FEWEST, self.count)

    def x(self, place: int) -> float:
        return LEFT + (self.right - LEFT) * (place + 0.5) / max(1, self.count)

    def y(self, value: float) -> float:
        return HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * min(value / self.top, 1.0)


def _top(values: Sequence[float | None]) -> float:
    return max([value for value in values if value is not None], default=0.0) * 1.15 or 1.0


def _step(top: float) -> float:
    """Return 1, 2 or 5 times a power of ten that divides the axis into at most six parts."""
    size = 10.0 ** floor(log10(top / 6))
    return next(size * factor for factor in (1, 2, 5, 10) if top / (size * factor) <= 6)


def _axes(scale: _Scale, unit: str, labels: Sequence[str]) -> Iterator[str]:
    base, step = scale.y(0), _step(scale.top)
    yield f'<path d="M{LEFT},{TOP} V{base:.1f} H{scale.right}" fill="none" stroke="currentColor"/>'
    for tick in range(ceil(scale.top / step)):
        yield _text(LEFT - 8, scale.y(tick * step) + 5, _number(tick * step), "end")
        yield f'<path d="M{LEFT - 4},{scale.y(tick * step):.1f} h4" stroke="currentColor"/>'
    yield _text(LEFT - 8, TOP - 12, unit, "end")
    for place, label in enumerate(labels):
        yield _text(scale.x(place), base + 20, label, "middle")


def _band(scale: _Scale, limits: tuple[float, float], unit: str) -> Iterator[str]:
    low, high = (scale.y(limit) for limit in limits)
    yield f'<rect x="{LEFT}" y="{high:.1f}" width="{scale.right - LEFT}" height="{low - high:.1f}" fill="{BLUE}" fill-opacity="0.12"/>'
    yield from _line(scale, limits[0], "least", unit, above=False)
    yield from _line(scale, limits[1], "most", unit, above=True)


def _line(scale: _Scale, value: float, name: str, unit: str, *, above: bool) -> Iterator[str]:
    """Draw a limit; its name and value stand beside it in two lines, from its height up or down."""
    y = scale.y(value)
    yield f'<path d="M{LEFT},{y:.1f} H{scale.right}" stroke="currentColor" stroke-dasharray="6 4"/>'
    for place, words in enumerate((name, f"{_number(value)} {unit}"), -1 if above else 0):
        yield _text(scale.right + 6, y + 5 + LINE * place, words, "start")


def _bracket(scale: _Scale, place: int, low: float, high: float | None, colour: str) -> Iterator[str]:
    """Draw a bar with a foot at each end that is known, its ends in words below; an open end gets an arrow."""
    x, foot = scale.x(place), scale.y(low)
    head = scale.y(scale.top) if high is None else scale.y(high)
    end = f"M{x - 6:.1f},{head + 8:.1f} L{x:.1f},{head:.1f} L{x + 6:.1f},{head + 8:.1f}" if high is None else f"M{x - 6:.1f},{head:.1f} h12"
    path = f"M{x - 6:.1f},{foot:.1f} h12 M{x:.1f},{foot:.1f} V{head:.1f} {end}"
    yield f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="3"/>'
    yield _text(x, scale.y(0) + 39, _span(low, high), "middle")


def _colour(word: str | None) -> str:
    return BLUE if word in _GOOD else ORANGE


def _mark(scale: _Scale, place: int, word: str | None) -> Iterator[str]:
    if word is None:
        return
    x, y = scale.x(place), HEIGHT - 14
    shape = _SHAPES[word].format(m=MARK)
    yield f'<path d="{shape}" transform="translate({x - 36:.1f},{y - 5:.1f})" fill="{_colour(word)}"/>'
    yield _text(x - 22, y, word, "start")


def _column(scale: _Scale, place: int, step: Step, colour: str) -> Iterator[str]:
    """Draw what is sure as a filled column, and what may come on top as an outline."""
    x, half, base, sure = scale.x(place), 22, scale.y(0), scale.y(step.low)
    head = scale.y(scale.top) if step.high is None else scale.y(step.high)
    yield f'<rect x="{x - half:.1f}" y="{sure:.1f}" width="{2 * half}" height="{base - sure:.1f}" fill="{colour}"/>'
    dashes = ' stroke-dasharray="4 3"' if step.high is None else ""
    yield (
        f'<rect x="{x - half:.1f}" y="{head:.1f}" width="{2 * half}" height="{sure - head:.1f}" '
        f'fill="{colour}" fill-opacity="0.2" stroke="{colour}" stroke-width="2"{dashes}/>'
    )
    yield _text(x, base + 39, _span(step.low, step.high), "middle")


def _text(x: float, y: float, words: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="currentColor">{escape(words)}</text>'


def _svg(title: str, description: str, scale: _Scale, drawn: Sequence[str]) -> str:
    size = f'viewBox="0 0 {scale.right + RIGHT} {HEIGHT}" width="{scale.right + RIGHT}"'
    head = f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" font-family="sans-serif" font-size="14">'
    told = f"<title>{escape(title)}</title><desc>{escape(description)}</desc>"
    return "\n".join([head, told, *drawn, "</svg>"]) + "\n"


def _run_words(points: Sequence[Point], unit: str, limits: tuple[float, float] | None) -> str:
    told = "; ".join(
        f"{point.label}: {_span(point.low, point.high)} {unit}" + (f", {point.verdict}" if point.verdict else "") for point in points
    )
    against = f" Wet range {_span(*limits)} {unit}." if limits else ""
    return f"{len(points)} readings. {told}.{against}"


def _build_words(steps: Sequence[Step], unit: str, maximum: float | None) -> str:
    told = "; ".join(f"{step.label}: {_span(step.low, step.high)} {unit} in all" + (f", {step.fit}" if step.fit else "") for step in steps)
    return f"{len(steps)} coats. {told}." + (f" Maximum {_number(maximum)} {unit}." if maximum is not None else "")


def _span(low: float, high: float | None) -> str:
    return f"{_number(low)} or more" if high is None else f"{_number(low)} to {_number(high)}"


def _number(value: float) -> str:
    return f"{value:.3g}" if value < 1000 else f"{value:.0f}"

"""The charts: geometry against the numbers drawn, words beside colours, and text that cannot break out."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from lastwet.report.charts import BLUE, ORANGE, Point, Step, build_chart, run_chart

SVG = "{http://www.w3.org/2000/svg}"
POINTS = [
    Point("board 1", 140, 175, "above"),
    Point("board 2", 60, 85, "below"),
    Point("board 3", 110, 140, "inside"),
    Point("again", 140, None, "straddles"),
]


def parsed(svg: str) -> ET.Element:
    return ET.fromstring(svg)


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in parsed(svg).iter(f"{SVG}text")]


def heights(svg: str) -> dict[float, float]:
    """Value to y, from the numbers on the axis."""
    axis = [element for element in parsed(svg).iter(f"{SVG}text") if element.get("text-anchor") == "end"]
    return {float(element.text or ""): float(element.get("y") or 0) - 5 for element in axis if re.fullmatch(r"[\d.]+", element.text or "")}


def at(svg: str, value: float) -> float:
    """y of a value, by the axis."""
    marks = sorted(heights(svg).items())
    (low, low_y), (high, high_y) = marks[0], marks[-1]
    return low_y + (value - low) / (high - low) * (high_y - low_y)


def test_brackets_stand_where_the_axis_says() -> None:
    svg = run_chart(POINTS, "um", (110, 150))
    bars = [path.get("d") or "" for path in parsed(svg).iter(f"{SVG}path") if path.get("stroke-width") == "3"]
    assert len(bars) == len(POINTS)
    for bar, point in zip(bars, POINTS, strict=True):
        foot, head = re.findall(r"M[\d.]+,([\d.]+) V([\d.]+)", bar)[0]
        assert float(foot) == pytest.approx(at(svg, point.low), abs=0.2)
        if point.high is None:
            assert float(head) < at(svg, 175)
        else:
            assert float(head) == pytest.approx(at(svg, point.high), abs=0.2)


def test_verdicts_are_told_by_word_and_shape_besides_colour() -> None:
    svg = run_chart(POINTS, "um", (110, 150))
    assert {"above", "below", "inside", "straddles"} <= set(texts(svg))
    marks = {path.get("d"): path.get("fill") for path in parsed(svg).iter(f"{SVG}path") if path.get("transform")}
    assert len(marks) == 4
    assert sorted(marks.values(), key=str) == sorted([BLUE, ORANGE, ORANGE, ORANGE])


def test_who_cannot_see_is_told_everything() -> None:
    chart = parsed(run_chart(POINTS, "um", (110, 150)))
    description = chart.findtext(f"{SVG}desc") or ""
    assert chart.get("role") == "img"
    assert chart.findtext(f"{SVG}title") == "Wet film readings"
    for words in ("4 readings", "board 1: 140 to 175 um, above", "again: 140 or more um, straddles", "Wet range 110 to 150 um"):
        assert words in description


STEPS = [Step("coat 1", 40, 50, "fits"), Step("coat 2", 80, 100, "may pass"), Step("coat 3", 120, None, "passes")]


def test_the_build_stands_where_the_axis_says() -> None:
    svg = build_chart(STEPS, "um", 90)
    columns = list(parsed(svg).iter(f"{SVG}rect"))
    assert len(columns) == 2 * len(STEPS)
    for sure, step in zip(columns[::2], STEPS, strict=True):
        assert float(sure.get("y") or 0) == pytest.approx(at(svg, step.low), abs=0.2)
        assert float(sure.get("y") or 0) + float(sure.get("height") or 0) == pytest.approx(at(svg, 0), abs=0.2)
    assert float(columns[3].get("y") or 0) == pytest.approx(at(svg, 100), abs=0.2)
    line = next(path for path in parsed(svg).iter(f"{SVG}path") if path.get("stroke-dasharray") == "6 4")
    assert float((line.get("d") or "").split(",")[1].split()[0]) == pytest.approx(at(svg, 90), abs=0.2)
    assert {"maximum", "90 um", "fits", "may pass", "passes", "40 to 50", "120 or more"} <= set(texts(svg))
    assert "coat 2: 80 to 100 um in all, may pass" in (parsed(svg).findtext(f"{SVG}desc") or "")


@pytest.mark.parametrize("label", ["<script>", 'a"&b', "]]>"])
def test_labels_are_shown_as_text(label: str) -> None:
    for svg in (run_chart([Point(label, 1, 2)], "um"), build_chart([Step(label, 1, 2)], "um", title=label)):
        assert label in texts(svg)
        assert list(parsed(svg).iter("script")) == []


@pytest.mark.parametrize("count", [1, 2])
def test_a_short_chart_fits_a_phone(count: int) -> None:
    """360 px, the narrowest that phones are made now, less 20 px on either side of a report."""
    for svg in (run_chart(POINTS[:count], "um", (110, 150)), build_chart(STEPS[:count], "um", 90)):
        assert float(parsed(svg).get("width") or 0) <= 360 - 2 * 20


def test_limits_that_lie_close_keep_their_words_apart() -> None:
    svg = run_chart(POINTS, "um", (110, 125))
    beside = [text for text in parsed(svg).iter(f"{SVG}text") if text.text in {"least", "110 um", "most", "125 um"}]
    lines = sorted(float(text.get("y") or 0) for text in beside)
    assert len(lines) == 4
    assert min(below - above for above, below in zip(lines, lines[1:], strict=False)) >= 14  # the size of the type, px


def test_nothing_and_very_much_can_be_drawn() -> None:
    assert parsed(run_chart([], "um")).tag == f"{SVG}svg"
    many = parsed(run_chart([Point(str(number), number, number + 1.0) for number in range(60)], "mil", (3, 4)))
    labels = [float(text.get("x") or 0) for text in many.iter(f"{SVG}text") if text.get("text-anchor") == "middle"]
    assert max(labels) < float((many.get("viewBox") or "").split()[2])

"""Gauge files: what they mean, and one clear sentence for each way of getting them wrong."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from lastwet.errors import UsageError
from lastwet.gauge import Gauge, Side, gauge_names, load_gauge
from lastwet.units import Bracket, Unit
from lastwet.words.gauge import cautions

GOOD = 'name = "bench strip"\nunit = "um"\n[[side]]\nid = "fine"\nteeth = [40, 60, 85]\n'
RISING = "list the values of the teeth from the smallest to the largest, as in teeth = [40, 60, 85]"
UNIT = 'unit = "um" or unit = "mil"'


def written(tmp_path: Path, text: str) -> str:
    path = tmp_path / "bench.toml"
    path.write_text(text, "utf-8")
    return str(path)


def test_a_gauge_file_gives_its_sides(tmp_path: Path) -> None:
    gauge = load_gauge(written(tmp_path, GOOD + 'tooth_width_mm = 4\n[[side]]\nid = "coarse"\nteeth = [100, 150.5]\n'))
    assert (gauge.name, gauge.unit) == ("bench strip", "um")
    assert gauge.sides == (Side("fine", "um", (40, 60, 85), tooth_width_mm=4), Side("coarse", "um", (100, 150.5)))


@pytest.mark.parametrize(
    ("text", "key", "fault", "cure"),
    [
        pytest.param(GOOD.replace("60, 85", "85, 60"), "side 1, teeth", "do not rise (60 after 85)", RISING, id="falling"),
        pytest.param(GOOD.replace("60, 85", "60, 60"), "side 1, teeth", "do not rise (60 after 60)", RISING, id="equal"),
        pytest.param(GOOD.replace('unit = "um"\n', ""), "unit", "is missing", UNIT, id="no unit"),
        pytest.param(GOOD.replace('"um"', '"mm"'), "unit", "is 'mm'", UNIT, id="other unit"),
        pytest.param(GOOD.replace('"um"', "25.4"), "unit", "is not a text", UNIT, id="unit a number"),
        pytest.param(GOOD.replace("[40, 60, 85]", "[40]"), "side 1, teeth", "hold fewer than 2 values", RISING, id="one tooth"),
        pytest.param(GOOD.replace("[40, 60, 85]", "[]"), "side 1, teeth", "hold fewer than 2 values", RISING, id="no tooth"),
        pytest.param(GOOD.replace("[40, 60, 85]", "40"), "side 1, teeth", "is not a list", RISING, id="no list"),
        pytest.param(GOOD.replace("40,", '"40",'), "side 1, teeth", "holds '40', which is not a number", RISING, id="text"),
        pytest.param(GOOD.replace("40,", "true,"), "side 1, teeth", "holds True, which is not a number", RISING, id="truth"),
        pytest.param(GOOD.replace("40,", "0,"), "side 1, teeth", "holds 0, which is not above zero", RISING, id="zero"),
        pytest.param(GOOD.replace("85]", "inf]"), "side 1, teeth", "holds inf, which is not above zero", RISING, id="infinite"),
        pytest.param(GOOD.replace("40,", "nan,"), "side 1, teeth", "holds nan, which is not above zero", RISING, id="nan"),
        pytest.param(GOOD.replace("teeth =", "tooth ="), "side 1, tooth", "is not a key of a gauge", "use only id, teeth", id="side key"),
        pytest.param('colour = "red"\n' + GOOD, "colour", "is not a key of a gauge", "use only name, unit", id="unknown key"),
        pytest.param(GOOD.replace('id = "fine"\n', ""), "side 1, id", "is missing", 'id = "A"', id="no id"),
        pytest.param(GOOD.replace('"fine"', "1"), "side 1, id", "is not a text", 'id = "A"', id="id a number"),
        pytest.param(GOOD.replace('"bench strip"', '" "'), "name", "is not a text", 'name = "bench strip"', id="blank name"),
        pytest.param(GOOD.replace("[[side]]", "[side]"), "side", "is not a list of tables", "[[side]]", id="side a table"),
        pytest.param('name = "x"\nunit = "um"\n', "side", "is missing", "[[side]]", id="no side"),
        pytest.param(GOOD + "[[side]]\nid = 'fine'\nteeth = [1, 2]", "side 2, id", "'fine' is taken", "an id of its own", id="twice"),
        pytest.param(GOOD + "tooth_width_mm = -1", "side 1, tooth_width_mm", "holds -1", "length in mm", id="negative width"),
    ],
)
def test_a_wrong_file_gets_one_sentence_with_file_key_and_cure(tmp_path: Path, text: str, key: str, fault: str, cure: str) -> None:
    with pytest.raises(UsageError) as raised:
        load_gauge(written(tmp_path, text))
    assert raised.value.message.startswith(f"{tmp_path / 'bench.toml'}: {key} {fault}")
    assert cure in raised.value.cure
    assert "\n" not in str(raised.value)


def test_an_editors_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    """TOML 1.0 has no mark; editors on Windows write EF BB BF before UTF-8."""
    path = tmp_path / "bench.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())
    assert load_gauge(str(path)).name == "bench strip"


def test_a_file_that_is_not_toml_names_the_line(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"bench\.toml is not a TOML file \(.*line 2.*\): correct that line"):
        load_gauge(written(tmp_path, 'name = "x"\nunit: um\n'))


def test_a_file_that_is_not_text_is_no_toml(tmp_path: Path) -> None:
    path = tmp_path / "bench.toml"
    path.write_bytes(b"\xff\xd8\xff")
    with pytest.raises(UsageError, match=r"bench\.toml is not a TOML file"):
        load_gauge(str(path))


def test_a_missing_file_names_the_shipped_gauges() -> None:
    with pytest.raises(UsageError, match=r"there is no gauge 'nosuch'.*path of a TOML file.*bench-strip.*mil-card"):
        load_gauge("nosuch")


def test_a_folder_is_no_gauge(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"cannot be read \(Is a directory\)"):
        load_gauge(str(tmp_path))


@pytest.mark.parametrize("name", gauge_names())
def test_each_shipped_gauge_loads_under_its_own_name_and_says_that_it_is_invented(name: str) -> None:
    gauge = load_gauge(name)
    assert gauge.name == name
    assert gauge.note.startswith("invented")


def test_several_invented_gauges_ship_in_both_units() -> None:
    gauges = [load_gauge(name) for name in gauge_names()]
    assert len(gauges) >= 4
    assert {gauge.unit for gauge in gauges} == {"mil", "um"}


def test_the_d4414_gauge_follows_the_example_of_the_standard() -> None:
    """ASTM D4414-95 7.1.2: steps of 13 um from 0 to 150, 25 from 150 to 250, 50 from 250 to 750, 125 above 750.

    The practice rounds: 0.5 mil is 12.7 um and printed as 13, so that twelve steps end at 150.
    """
    values = sorted({0.0}.union(*(side.teeth for side in load_gauge("d4414-steps").sides)))
    for lower, upper in zip(values, values[1:], strict=False):
        step = 13 if lower < 150 else 25 if lower < 250 else 50 if lower < 750 else 125
        assert upper - lower == pytest.approx(step, abs=1 if step == 13 else 0)
    assert {150.0, 250.0, 750.0} <= set(values)


@pytest.mark.parametrize(
    ("last_wet", "bracket"),
    [(0, Bracket(0, 40)), (1, Bracket(40, 60)), (2, Bracket(60, 85)), (3, Bracket(85, None))],
)
def test_the_bracket_runs_from_the_last_wet_tooth_to_the_next(last_wet: int, bracket: Bracket) -> None:
    """Metal Finishing, Organic Finishing Guidebook 2012 p. 310: between the last wetted tab and the next dry one."""
    assert Side("fine", "um", (40, 60, 85)).bracket(last_wet) == bracket


def test_mil_teeth_are_converted() -> None:
    """Three wet of 1, 2, 3, 4 mil is 3 to 4 mil (the same page's example), 76.2 to 101.6 um with 25.4 um to the mil."""
    bracket = Side("A", "mil", (1, 2, 3, 4)).bracket(3)
    assert (bracket.low_um, bracket.high_um) == pytest.approx((76.2, 101.6))


def test_an_unknown_side_names_the_known(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=re.escape("gauge 'bench strip' has no side 'x': name one of its sides: fine")):
        load_gauge(written(tmp_path, GOOD)).side("x")


def of_one_side(unit: Unit, teeth: tuple[float, ...]) -> Gauge:
    return Gauge("bench strip", unit, (Side("A", unit, teeth),))


@pytest.mark.parametrize("name", gauge_names())
def test_numbers_that_are_plainly_of_the_other_unit_are_told(name: str) -> None:
    """520 mil would be 13 mm of wet paint, 1 um a hundredth of a sheet of paper."""
    gauge = load_gauge(name)
    assert not list(cautions(gauge))
    other: Unit = "um" if gauge.unit == "mil" else "mil"
    (told,) = cautions(Gauge(name, other, tuple(Side(side.id, other, side.teeth) for side in gauge.sides)))
    assert ("are they mil?" if other == "um" else "are they micrometres?") in told and "a rule of thumb" in told


@pytest.mark.parametrize(
    ("unit", "teeth", "words"),
    [
        ("um", (5, 10, 25), None),
        ("um", (4, 6, 8, 30), "teeth from 4 to 30 um are thinner"),
        ("um", (10, 12, 22), "teeth from 10 to 22 um are thinner"),
        ("mil", (0.5, 1, 2), None),
        ("mil", (25, 80, 125), None),  # 3175 um, 125 mil
        ("mil", (50, 100, 150), "teeth from 50 to 150 mil are thicker than those of notched gauges"),
        ("mil", (0.1, 0.2, 0.4), "are the numbers right?"),  # as micrometres they would be thinner still
        ("um", (100, 3300), "are the numbers right?"),
    ],
)
def test_only_what_no_gauge_has_is_told(unit: Unit, teeth: tuple[float, ...], words: str | None) -> None:
    told = [caution for caution in cautions(of_one_side(unit, teeth)) if "read from photos" not in caution]
    assert (told == []) if words is None else (len(told) == 1 and words in told[0])

"""`lastwet film` and `lastwet coating` over real pipes: what they say, what they print as JSON, and one sentence for bad input."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from lastwet.film.coating import coating_names, load_coating
from tests.conftest import Run


def as_json(run: Run, *arguments: str) -> dict[str, Any]:
    done = run(*arguments, "--json")
    assert done.returncode == 0, done.stderr
    (line,) = done.stdout.splitlines()
    values: dict[str, Any] = json.loads(line)
    return values


def test_a_wet_bracket_dries_to_a_dry_bracket(run: Run) -> None:
    """PMT (inspector training): 250 um at 50 % leave 125 um."""
    done = run("film", "dry", "200-250um", "--solids", "50")
    assert done.stdout.splitlines()[0] == "100 to 125 um (3.94 to 4.92 mil) dry"
    assert "not a dry film measurement" in done.stdout
    assert as_json(run, "film", "dry", "215um+", "--solids", "50")["dry_um"] == [107.5, None]
    assert as_json(run, "film", "dry", "below 40um", "--solids", "50", "--thinner", "25")["dry_um"] == [0, 16]


def test_the_tolerance_of_a_card_widens_the_prediction(run: Run) -> None:
    found = as_json(run, "film", "dry", "100-200um", "--coating", "nosuch-clear")
    assert found["dry_um"] == [33, 70]
    assert (found["volume_solids"], found["volume_solids_tolerance"]) == (0.34, 0.01)


def test_a_wanted_dry_film_takes_a_wet_one(run: Run) -> None:
    """PMT: 100 um dry at 65 % and 20 % thinner take 185 um wet."""
    assert run("film", "wet", "100um", "--solids", "65", "--thinner", "20").stdout.startswith("185 um (7.27 mil) wet\n")
    assert as_json(run, "film", "wet", "30-60um", "--solids", "50")["wet_um"] == [60, 120]


def test_a_wanted_range_is_narrowed_by_the_tolerance_and_one_length_is_not(run: Run) -> None:
    """30 / 0.33 and 43 / 0.35 by hand, as docs/film.md has them; 40 / 0.35 and 40 / 0.33."""
    assert as_json(run, "film", "wet", "30-43um", "--coating", "nosuch-clear")["wet_um"] == [90.909, 122.857]
    shown = run("film", "wet", "30-43um", "--coating", "nosuch-clear").stdout
    assert "reckoned from the volume solids" in shown and "predicted" not in shown  # nothing was read
    assert shown.startswith("90.9 to 123 um (3.58 to 4.84 mil) wet\n")
    assert "30 to 43 um (1.18 to 1.69 mil), whatever the solids within their tolerance" in shown
    one = run("film", "wet", "40um", "--coating", "nosuch-clear").stdout
    assert one.startswith("114 to 121 um (4.5 to 4.77 mil) wet, depending on the solids\n")


@pytest.mark.parametrize(
    "command",
    [
        "dry 110-140um",
        "wet 30-43um",
        "estimate 110-140um",
        "plan --total 60um",
        "quantities --area 12m2 --wet 100um",
        "measured 38um",
        "measured 38um --wet 110-140um",
    ],
)
def test_more_thinner_than_the_card_allows_is_told_and_reckoned(run: Run, command: str) -> None:
    done = run("film", *command.split(), "--coating", "nosuch-clear", "--thinner", "30")
    assert done.returncode == 0 and done.stdout
    assert done.stderr == "lastwet: 30 % thinner is more than Nosuch clear (invented) allows, 10 %\n"
    assert run("film", *command.split(), "--coating", "nosuch-clear", "--thinner", "10").stderr == ""


def test_the_thinner_that_a_sheet_allows_of_the_base_is_not_too_much(run: Run) -> None:
    """By hand: 3 parts of base and 1 of hardener, so 8 % of the base are 6 % of the mixed paint."""
    assert run("film", "dry", "5-7mil", "--coating", "nosuch-primer", "--thinner", "6").stderr == ""
    assert "allows, 6 %" in run("film", "dry", "5-7mil", "--coating", "nosuch-primer", "--thinner", "6.1").stderr


def test_an_estimate_says_what_it_cannot_tell(run: Run) -> None:
    shown = run("film", "estimate", "100-125um", "--coating", "nosuch-clear").stdout
    assert "spread          cannot be estimated" in shown
    assert "verdict         the mean: inside" in shown
    assert "change nothing" in shown
    assert "dry film        33 to 43.8 um (1.3 to 1.72 mil), the mean of the spots" in shown


def test_thinned_paint_inside_the_wet_range_may_leave_too_little(run: Run) -> None:
    """By hand: 90 to 94 um at 34 +/- 1 % with 10 % thinner leave 27 to 29.9 um; the card's dry range begins at 30. 56 um are 2 x 28."""
    words = "caution         the predicted dry film, 27 to 29.9 um, lies below the dry range of the data sheet, 30 to 43 um"
    thinned = ["90-94um", "--coating", "nosuch-clear", "--thinner", "10"]
    shown = run("film", "estimate", *thinned).stdout
    assert words in shown and "verdict         the mean: inside" in shown
    assert words in run("film", "dry", *thinned).stdout
    for command in ("estimate", "dry"):
        assert "lies below" in as_json(run, "film", command, *thinned)["caution"]
        assert as_json(run, "film", command, "90-125um", "--coating", "nosuch-clear")["caution"] is None
    plan = ["film", "plan", "--coating", "nosuch-clear", "--total", "56um", "--thinner", "10"]
    assert "caution         in each coat the predicted dry film, 27.2 to 28.8 um, lies below" in run(*plan).stdout


def test_an_estimate_has_mean_spread_chance_and_advice(run: Run) -> None:
    brackets = ["75-100um"] * 2 + ["100-125um"] * 5 + ["125-150um"]
    found = as_json(run, "film", "estimate", *brackets, "--wet-range", "60-90um")
    assert found["mean_um"] == pytest.approx(109.369, abs=5e-4)  # as scipy.stats.CensoredData gives it
    assert found["verdict"] == "above"
    assert found["probability_in_range"]["mean"] < 0.01
    assert found["levers"][0]["factor"] == pytest.approx([96.875 / 75, 121.875 / 75])
    shown = run("film", "estimate", *brackets, "--wet-range", "60-90um").stdout
    assert "speed x 1.29 to 1.62 or flow x 0.62 to 0.77; one at a time, then read again" in shown


def test_a_plan_or_the_limit_that_forbids_it(run: Run) -> None:
    assert as_json(run, "film", "plan", "--coating", "nosuch-clear", "--total", "100um")["best"]["coats"] == 3
    shown = run("film", "plan", "--coating", "nosuch-clear", "--total", "100um").stdout
    assert "3 coats         aim 98 um (3.86 mil) wet each, nearest to the middle of the wet range" in shown
    assert "total           97.1 to 103 um (3.82 to 4.05 mil) dry, with the tolerance of the volume solids" in shown
    exact = run("film", "plan", "--coating", "nosuch-primer", "--total", "3.42mil").stdout  # its card has no tolerance
    assert "total           86.9 um (3.42 mil) dry\n" in exact


def test_a_plan_that_cannot_be_made_is_told_on_standard_error(run: Run) -> None:
    """As `film wet` tells a wanted film that no wet film keeps; `--json` prints its one object all the same."""
    command = ["film", "plan", "--coating", "nosuch-clear", "--total", "200um"]
    forbidden, plain = run(*command), run(*command, "--json")
    assert (forbidden.returncode, plain.returncode) == (2, 2)
    said_so = "lastwet: 200 um (7.87 mil) dry of Nosuch clear (invented) cannot be made, forbidden by maximum build: the sheet allows "
    assert forbidden.stdout == "" and forbidden.stderr.startswith(said_so) and forbidden.stderr.count("\n") == 1
    assert plain.stderr == forbidden.stderr
    said = json.loads(plain.stdout)
    assert said["best"] is None and "maximum build" in said["forbidden_by"]


def test_sanding_forbids_no_plan_of_one_coat(run: Run, tmp_path: Path) -> None:
    """By hand: 40 um dry at 30 % are 133 um wet in one coat; a range from 0 has ways without end."""
    card = 'name = "Thin"\nvolume_solids = "30 %"\nwet_range = "{}"\nsource = {{sheet = "s", date = 2026-01-31}}\n'
    (tmp_path / "thin.toml").write_text(card.format("1-6 mil"))
    shown = run("film", "plan", "--coating", "thin.toml", "--total", "40um", "--sanding", "8um").stdout
    assert "  1 coat          aim 133 um (5.25 mil) wet each\n" in shown and "2 coats" in shown
    (tmp_path / "thin.toml").write_text(card.format("0-6 mil"))
    shown = run("film", "plan", "--coating", "thin.toml", "--total", "40um").stdout
    assert "forbidden" not in shown and "more coats      up to 50, thinner each" in shown


def test_quantities_with_parts(run: Run) -> None:
    """110 um on 10 m2 are 1.1 L sprayed; with a tenth of thinner in it 1 L mixed, 10:1, doubled by half of it lost."""
    needed = as_json(
        run, "film", "quantities", "--coating", "nosuch-clear", "--area", "10m2", "--wet", "110um", "--thinner", "10", "--loss", "50"
    )
    assert needed["mixed_l"] == pytest.approx(2)
    assert needed["parts_l"] == pytest.approx([20 / 11, 2 / 11])
    shown = run("film", "quantities", "--coating", "nosuch-clear", "--area", "130 ft2", "--wet", "4mil", "--coats", "2").stdout
    assert "10:1 by volume" in shown
    assert "% of the paint does not end on the work" in shown


def test_large_quantities_are_printed_without_an_exponent(run: Run) -> None:
    """By hand: 1 L is 1 m2 at 1000 um, so 10000 m2 at 110 um, 35 % lost, take 1692.3 L; 231 cubic inches to the US gallon, 447 of them."""
    shown = run("film", "quantities", "--coating", "nosuch-clear", "--area", "10000m2", "--wet", "110um", "--loss", "35").stdout
    assert shown.startswith("1692 L (447 US gal) of mixed paint\n")
    thin = run("film", "quantities", "--coating", "nosuch-clear", "--area", "0.05m2", "--wet", "1um").stdout
    assert thin.startswith("0.0000500 L (0.0000132 US gal)") and "1000 m2/L (40746 ft2/US gal)" in thin


def test_the_dew_point_and_the_margin(run: Run) -> None:
    """A trade page: 30 C and 55 % have their dew point at 20 C."""
    found = as_json(run, "film", "dew-point", "--air", "30C", "--humidity", "55", "--surface", "22C")
    assert found["dew_point_c"] == pytest.approx(20, abs=0.05)
    assert "only 2.0 C above the dew point" in found["caution"]
    unmeasured = run("film", "dew-point", "--air", "68F", "--humidity", "50").stdout
    assert "rule            at least 3 C" in unmeasured and "taken to be as warm as the air; cold parts are not" in unmeasured


def test_a_measured_film_its_rules_and_its_ratio(run: Run) -> None:
    command = ["film", "measured", *["48um", "52um", "50um"] * 5, "--wet", "100-125um", "--wet", "100-125um"]
    found = as_json(run, *command, "--iso-19840", "40um")
    assert (found["mean_um"], found["checks"][0]["passed"], found["checks"][0]["enough"]) == (50, True, None)
    assert found["ratio"]["value"] == pytest.approx(50 / 112.5)
    shown = run(*command, "--coating", "nosuch-clear", "--pa2", "50-60um").stdout
    for words in (
        "not passed      every reading within the data sheet's dry range, 30 to 43 um",
        "passed          SSPC-PA 2, default level 80/120, on metal: spot means within 40 to 72 um",
        "predicted       33 to 43.8 um (1.3 to 1.72 mil); the measured mean lies above",
        "your own figure for this coating, not its volume solids",
        "from 5 spots, the number was not checked against the area, whose size was not stated",
    ):
        assert words in shown


@pytest.mark.parametrize(("area", "code", "words"), [
    ("10m2", 0, "from 15 readings, an area of this size takes 15, as known here at second hand; the standard decides"),
    ("11m2", 5, "15 readings, where an area of this size takes 20, as known here at second hand; the standard decides"),
    ("200ft2", 5, "15 readings, where an area of this size takes 20, as known here at second hand; the standard decides"),
])  # fmt: skip
def test_too_few_readings_for_the_area_are_not_passed(run: Run, area: str, code: int, words: str) -> None:
    """As ISO 19840 has it, from memory; 200 square feet are 18.6 m2."""
    done = run("film", "measured", *["48um", "52um", "50um"] * 5, "--iso-19840", "40um", "--area", area, "--check")
    assert done.returncode == code and words in done.stdout
    assert ("\n  passed " in done.stdout, "\n  not passed " in done.stdout) == (not code, bool(code))


def test_a_dry_film_thicker_than_the_wet_one_gets_no_ratio(run: Run) -> None:
    """By hand: 50 um over the middle of 30 to 60 um would be 1.111."""
    shown = run("film", "measured", "50um", "--wet", "30-60um").stdout
    assert "dry to wet      between 0.833 and 1.000; your own figure" in shown and "1.111" not in shown
    assert "caution         the dry film, 50 um, is thicker than the mean wet film, 45 um" in shown


def test_a_rule_that_is_not_met_is_an_exit_code_only_when_asked(run: Run) -> None:
    command = ["film", "measured", "48um", "--coating", "nosuch-clear"]
    assert run(*command).returncode == 0
    assert run(*command, "--check").returncode == 5
    assert run("film", "measured", "40um", "--coating", "nosuch-clear", "--check").returncode == 0


BAD = [  # command, what its one sentence says
    ("film dry 110um --solids 50", "is one value, and a notched gauge gives two"),
    ("film dry 140-110um --solids 50", "upside down or empty"),
    ("film dry 110-140 --solids 50", "not a range"),
    ("film dry 110-140um", "give --solids or --coating"),
    ("film dry 110-140um --solids 0", "not possible"),
    ("film dry 110-140um --solids 146", "not possible"),
    ("film dry 110-140um --solids 0.57", "write percent, as in 57 for 57 %"),
    ("film dry 110-140um --solids 50 --thinner -1", "not possible"),
    ("film dry 110-140um --coating nosuch", "there is no coating 'nosuch'"),
    ("film wet 0um --solids 50", "above 0"),
    ("film wet 40-42um --coating nosuch-clear", "upper end is at least 1.07 times the lower one"),
    ("film estimate", "Missing argument"),
    ("film estimate 110-140um --wet-range 5", "not a range"),
    ("film plan --coating nosuch-clear --total 0um", "above 0"),
    ("film plan --coating nosuch-clear --total 100", "number and its unit"),
    ("film plan --coating nosuch-clear --total 900mil", "unit of the wanted film"),
    ("film quantities --coating nosuch-clear --area 12 --wet 100um", "not an area"),
    ("film quantities --coating nosuch-clear --area 12m2 --wet 100um --loss 100", "below 100 %"),
    ("film quantities --coating nosuch-clear --area 12m2 --wet 0um", "above 0"),
    ("film dew-point --air 20 --humidity 50", "not a temperature"),
    ("film dew-point --air 20C --humidity 0", "not possible"),
    ("film dew-point --air 20C --humidity 0.6", "a relative humidity of 0.6 % cannot be meant: write percent, as in 60 for 60 %"),
    ("film quantities --coating nosuch-clear --area 12m2 --wet 100um --loss 0.35", "write percent, as in 35 for 35 %"),
    ("film measured 40", "number and its unit"),
    ("film measured 40um --check", "--check needs a rule"),
    ("film measured 40um 41um --pa2 30-43um", "three readings"),
    ("film measured 40um --area 2m2", "add --pa2 or --iso-19840, or leave --area out"),
    ("film measured 40um --iso-19840 40um --area 2", "is not an area"),
    ("film measured 40um --iso-19840 39um", "it begins at 40 um"),
    ("film measured 50um --wet 30-40um", "thicker than the wet film"),
]


@pytest.mark.parametrize(("command", "words"), BAD)
def test_bad_input_gets_one_sentence(run: Run, tmp_path: Path, command: str, words: str) -> None:
    done = run(*command.split())
    assert (done.returncode, done.stdout) == (2, "")
    assert words in done.stderr
    assert list(tmp_path.iterdir()) == []


# --- cards

NEW = {
    "--name": "Invented enamel",
    "--solids": "45 +/- 2 %",
    "--wet-range": "100-150um",
    "--sheet": "Invented sheet 9",
    "--sheet-date": "2026-01-31",
    "--dry-range": "45-68um",
    "--maximum-build": "160um",
    "--thinner-max": "10 %",
    "--thinner-of": "base",
    "--mix": "4:1",
    "--pot-life": "4 h",
    "--recoat": "2 h or more",
}


def new(**changes: str) -> list[str]:
    """Arguments of `coating new`, some of them changed."""
    given = NEW | {f"--{key.replace('_', '-')}": value for key, value in changes.items()}
    return ["coating", "new", "mine.toml", *(part for pair in given.items() for part in pair)]


def test_a_new_card_is_written_and_can_be_used(run: Run, tmp_path: Path) -> None:
    done = run(*new())
    assert (done.returncode, done.stderr) == (0, "")
    card = load_coating(tmp_path / "mine.toml")
    assert (card.volume_solids, card.thinner_max, card.recoat_window_s) == (0.45, pytest.approx(0.08), (7200, None))
    assert run("coating", "check", "mine.toml").stdout.startswith("mine.toml is a good coating card\n")
    assert as_json(run, "film", "dry", "100-150um", "--coating", "mine.toml")["dry_um"] == [43, 70.5]


WRONG = [
    ({"solids": "145 %"}, "volume_solids"),
    ({"wet_range": "150-100um"}, "wet_range"),
    ({"dry_range": "45-200um"}, "dry_range"),
    ({"maximum_build": "40um"}, "maximum_build"),
    ({"mix": "4"}, "mix_ratio"),
    ({"pot_life": "soon"}, "pot_life"),
    ({"recoat": "6 h - 1 h"}, "recoat_window"),
    ({"thinner_max": "10"}, "thinner.max"),
    ({"name": " "}, "name"),
    ({"sheet_date": "yesterday"}, "yesterday"),
]


@pytest.mark.parametrize(("changes", "key"), WRONG)
def test_a_wrong_value_writes_no_card(run: Run, tmp_path: Path, changes: dict[str, str], key: str) -> None:
    done = run(*new(**changes))
    assert (done.returncode, done.stdout) == (2, "")
    assert key in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_card_that_is_there_is_not_overwritten(run: Run, tmp_path: Path) -> None:
    run(*new())
    before = (tmp_path / "mine.toml").read_bytes()
    done = run(*new(name="Another"))
    assert (done.returncode, "is there already" in done.stderr) == (2, True)
    assert (tmp_path / "mine.toml").read_bytes() == before


def test_what_is_odd_on_a_card_is_told(run: Run) -> None:
    run(*new(solids="62 %"))
    checked = run("coating", "check", "mine.toml")
    assert checked.returncode == 0
    assert "were solids by weight typed in?" in checked.stderr


def test_cards_as_json(run: Run) -> None:
    listed = [json.loads(line) for line in run("coating", "list", "--json").stdout.splitlines()]
    assert [card["card"] for card in listed] == list(coating_names())
    shown = as_json(run, "coating", "show", "nosuch-primer")
    assert shown["maximum_build"] == {"thickness_um": pytest.approx(381), "of": "wet"}
    assert shown["source"]["date"] == "2026-02-02"
    assert as_json(run, "coating", "check", "nosuch-primer") == shown

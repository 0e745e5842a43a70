"""What a photo comes to: dry film, verdict, exit code."""

from __future__ import annotations

import itertools

import pytest

from lastwet.errors import ExitCode, UnusablePhoto, UsageError
from lastwet.gauge import Gauge, Side
from lastwet.reading.outcome import Code, Outcome, Reading, Reason, Refusal, Seen
from lastwet.result import Film, Result, Task, settled

SIDE = Side("fine", "um", (40, 60, 85, 110, 140, 175, 215))
GAUGE = Gauge("bench strip", "um", (SIDE,))
NOTHING_KNOWN = Film()
REFUSED = Refusal((Reason(Code.GLARE, "A tooth lies under glare.", "Turn the gauge."),))
UNUSABLE = UnusablePhoto("damaged", "x is cut off", "take it again")


def reading(last_wet: int) -> Reading:
    return Reading(SIDE, "stated", last_wet, 0.98, Seen())


def result(outcome: Outcome | UnusablePhoto, film: Film = NOTHING_KNOWN) -> Result:
    return Result("x.jpg", Task(GAUGE, "fine", film), None, outcome, None, 0.1)


def test_the_dry_film_is_predicted_from_both_ends_of_the_bracket() -> None:
    """PMT's example (inspector-training chapter): 65 % solids and 20 % thinner leave 100 um of 185 um, so 54 % of the wet film."""
    dry = result(reading(5), Film(solids=0.65, thinner=0.20)).as_json()["dry"]
    assert dry["low_um"] == pytest.approx(140 * 100 / 185, rel=0.003)
    assert dry["high_um"] == pytest.approx(175 * 100 / 185, rel=0.003)


def test_all_wet_has_no_upper_end_and_none_wet_begins_at_nothing() -> None:
    film = Film(solids=0.5, wet_range_um=(100, 150))
    assert result(reading(7), film).as_json()["wet"] == {"low_um": 215.0, "high_um": None}
    assert result(reading(7), film).as_json()["dry"] == {"low_um": 107.5, "high_um": None}
    assert result(reading(0), film).as_json()["wet"] == {"low_um": 0.0, "high_um": 40.0}


@pytest.mark.parametrize(
    ("last_wet", "verdict", "code"),
    [
        (2, "below", ExitCode.OUT_OF_SPECIFICATION),
        (3, "straddles", ExitCode.DONE),
        (4, "inside", ExitCode.DONE),
        (5, "above", ExitCode.OUT_OF_SPECIFICATION),
        (7, "above", ExitCode.OUT_OF_SPECIFICATION),
    ],
)
def test_only_what_is_surely_outside_the_range_fails_the_check(last_wet: int, verdict: str, code: ExitCode) -> None:
    found = result(reading(last_wet), Film(wet_range_um=(100, 140)))
    assert found.as_json()["verdict"] == verdict
    assert found.exit_code(check=True) == code
    assert found.exit_code(check=False) == ExitCode.DONE


def test_without_a_range_or_solids_there_is_neither_verdict_nor_dry_film() -> None:
    found = result(reading(4)).as_json()
    assert (found["dry"], found["verdict"], found["wet_range_um"]) == (None, None, None)


@pytest.mark.parametrize(("outcome", "code"), [(REFUSED, ExitCode.REFUSED), (UNUSABLE, ExitCode.UNUSABLE)])
def test_what_is_not_read_has_no_film(outcome: Outcome | UnusablePhoto, code: ExitCode) -> None:
    found = result(outcome, Film(solids=0.5, wet_range_um=(100, 150)))
    shown = found.as_json()
    assert [shown[key] for key in ("last_wet", "confidence", "wet", "dry", "verdict")] == [None] * 5
    assert (shown["side"], shown["side_source"]) == ("fine", "stated")
    assert found.exit_code(check=True) == code


def test_a_side_that_the_gauge_does_not_have_is_refused_at_once() -> None:
    with pytest.raises(UsageError, match="gauge 'bench strip' has no side 'coarse'"):
        Task(GAUGE, "coarse")


def test_the_exit_code_is_the_first_that_applies() -> None:
    """The order of the JSON contract: 7, 3, 4, 5, 0; before them 1, which is a fault of the program."""
    order = [ExitCode(code) for code in (1, 7, 3, 4, 5, 0)]
    for count in range(1, len(order) + 1):
        for met in itertools.permutations(order, count):
            assert settled(met) == min(met, key=order.index)
    assert settled([]) == ExitCode.DONE

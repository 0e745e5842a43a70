"""A gauge that was dirty before the dip: found on a photo of it, named, and refused. The photos show one rendered dip (seed 1079)."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from fixtures.score.records import cases
from lastwet.gauge import Gauge, Side
from lastwet.reading.clean import held_against
from lastwet.reading.decide import Limits
from lastwet.reading.look import Sight, look
from lastwet.reading.outcome import Code, Outcome, Reading, Reason, Refusal
from lastwet.reading.photo import Photo, load_photo
from lastwet.reading.reader import read, read_together
from tests.conftest import ROOT

DIP = ROOT / "fixtures" / "photos" / "dip"
LIMITS = Limits()
(CASE,) = cases(DIP)
GAUGE, SIDE = CASE.gauge, CASE.gauge.sides[0]


def photo(name: str) -> Photo:
    return load_photo(DIP / name, name)


@pytest.fixture(scope="module")
def dip() -> Photo:
    return photo("g1079.jpg")


@pytest.fixture(scope="module")
def wiped() -> Photo:
    return photo("g1079_clean.jpg")


@pytest.fixture(scope="module")
def dirty() -> Photo:
    """The same gauge with a dried drop on the tip of its ninth tooth, 225."""
    return photo("g1079_dirty.jpg")


def reasons(outcome: Outcome) -> list[Reason]:
    assert isinstance(outcome, Refusal), outcome
    return list(outcome.reasons)


def test_a_clean_gauge_changes_nothing(dip: Photo, wiped: Photo) -> None:
    outcome = read(dip, GAUGE, SIDE.id)
    assert isinstance(outcome, Reading)
    assert read(dip, GAUGE, SIDE.id, clean=wiped) == outcome


@pytest.mark.parametrize("turned", [0, 1, 2, 3])
def test_residue_is_refused_as_dirty_and_its_tooth_is_named(dip: Photo, dirty: Photo, turned: int) -> None:
    shown = replace(dirty, pixels=np.ascontiguousarray(np.rot90(dirty.pixels, turned)))
    (reason,) = reasons(read(dip, GAUGE, SIDE.id, clean=shown))
    assert reason.code == Code.DIRTY
    assert "tooth 225" in reason.message
    assert not any(f"tooth {value:g}" in reason.message for value in SIDE.teeth[:-1])
    assert reason.cure.startswith("Clean it")


def test_the_bracket_is_kept_as_a_guess(dip: Photo, dirty: Photo) -> None:
    read_alone, refused = read(dip, GAUGE, SIDE.id), read(dip, GAUGE, SIDE.id, clean=dirty)
    assert isinstance(read_alone, Reading)
    assert isinstance(refused, Refusal)
    assert refused.best_guess is not None
    assert (refused.best_guess.last_wet, refused.seen) == (read_alone.last_wet, read_alone.seen)


def test_photos_of_one_dip_are_held_against_it_too(dip: Photo, wiped: Photo, dirty: Photo) -> None:
    burst = [dip, photo("g1079_b1.jpg"), photo("g1079_b2.jpg")]
    plain = read_together(burst, GAUGE, SIDE.id)
    assert isinstance(plain.outcome, Reading)
    assert plain.outcome.last_wet == CASE.truth.last_wet
    assert read_together(burst, GAUGE, SIDE.id, clean=wiped) == plain
    found = reasons(read_together(burst, GAUGE, SIDE.id, clean=dirty).outcome)
    assert [(reason.code, "tooth 225" in reason.message) for reason in found] == [(Code.DIRTY, True)]


def test_a_gauge_that_was_dipped_already_is_dirty_on_every_wet_element(dip: Photo) -> None:
    """The photo of the dip, handed in as that of the clean gauge."""
    (reason,) = reasons(read(dip, GAUGE, SIDE.id, clean=dip))
    named = {f"{value:g}": f"tooth {value:g}" in reason.message.replace(" and", "") + " " for value in SIDE.teeth}
    assert reason.code == Code.DIRTY
    assert [value for value, said in named.items() if said] == [f"{value:g}" for value in SIDE.teeth[: CASE.truth.last_wet or 0]]
    assert "an end tab" in reason.message


def sight(dip: Photo) -> Sight:
    seen = look(dip, GAUGE, SIDE.id, LIMITS)
    assert isinstance(seen, Sight)
    return seen


def test_the_tooth_is_named_from_the_end_that_the_dip_tells_to_be_low(dip: Photo, dirty: Photo) -> None:
    outcome = read(dip, GAUGE, SIDE.id)
    for low_left, tooth in ((True, "on tooth 225 already"), (False, "on tooth 25 already")):
        (reason,) = reasons(held_against(outcome, sight(dip), low_left, dirty, GAUGE, LIMITS))
        assert tooth in reason.message


def test_where_nothing_tells_the_low_end_both_teeth_are_named(dip: Photo, dirty: Photo) -> None:
    outcome = read(dip, GAUGE, SIDE.id)
    (reason,) = reasons(held_against(outcome, sight(dip), None, dirty, GAUGE, LIMITS))
    assert "tooth 225 or 25" in reason.message or "tooth 25 or 225" in reason.message


def spoilt(kind: str, wiped: Photo) -> Photo:
    pixels = wiped.pixels
    if kind == "blurred":
        return replace(wiped, pixels=cv2.GaussianBlur(pixels, (0, 0), 0.16 * (CASE.truth.tooth_width_px or 0)))
    return replace(wiped, pixels=np.full_like(pixels, 90))


@pytest.mark.parametrize(("kind", "code"), [("blurred", Code.BLUR), ("empty", Code.NO_GAUGE)])
def test_a_photo_of_the_clean_gauge_that_cannot_be_used_is_refused_and_named(dip: Photo, wiped: Photo, kind: str, code: Code) -> None:
    found = reasons(read(dip, GAUGE, SIDE.id, clean=spoilt(kind, wiped)))
    assert [reason.code for reason in found] == [code]
    assert found[0].message.startswith("In the photo of the clean gauge, ")


def test_another_number_of_teeth_is_refused_and_named(dip: Photo, wiped: Photo) -> None:
    """The photo of another gauge, handed in as that of the clean one."""
    other = Gauge("other", "um", (Side("long", "um", (*SIDE.teeth, 250.0)),))
    said = Reading(other.sides[0], "stated", 3, 0.9, read(dip, GAUGE, SIDE.id).seen)
    (reason,) = reasons(held_against(said, sight(dip), True, wiped, other, LIMITS))
    assert reason.code == Code.TOOTH_COUNT
    assert reason.message.startswith("In the photo of the clean gauge, the row in the photo has 9 teeth")


def test_what_was_wrong_with_the_dip_is_still_told(dip: Photo, wiped: Photo, dirty: Photo) -> None:
    """A dirty gauge decides; a poor photo of a clean one does not."""
    glare = Reason(Code.GLARE, "Glare", "Turn it")
    refused = Refusal((glare,), SIDE, "stated")
    assert held_against(refused, sight(dip), True, wiped, GAUGE, LIMITS) == refused
    assert [reason.code for reason in reasons(held_against(refused, sight(dip), True, dirty, GAUGE, LIMITS))] == [Code.DIRTY, Code.GLARE]
    empty = spoilt("empty", wiped)
    assert [reason.code for reason in reasons(held_against(refused, sight(dip), True, empty, GAUGE, LIMITS))] == [Code.GLARE, Code.NO_GAUGE]


CORPUS = Path(ROOT / "fixtures" / "photos")
DRY = [case for case in cases(CORPUS) if case.truth.scenario == "dry"]


@pytest.mark.parametrize("case", DRY, ids=[case.path.stem for case in DRY])
def test_no_clean_gauge_of_the_corpus_is_called_dirty(dip: Photo, case: object) -> None:
    """Gauges without any paint on them, of other designs, in any light."""
    clean = load_photo(case.path, "clean.jpg")  # type: ignore[attr-defined]
    gauge, side_id = case.gauge, case.side_id  # type: ignore[attr-defined]
    said = Reading(gauge.side(side_id), "stated", 1, 0.9, read(dip, GAUGE, SIDE.id).seen)
    assert held_against(said, sight(dip), True, clean, gauge, LIMITS) == said

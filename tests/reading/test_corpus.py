"""The committed corpus of path-traced photos: what must be answered, and that nothing is answered wrong."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest

from fixtures.score.records import FOLDER, REASONS, Reader, Score, cases, score_case
from fixtures.truth import Truth, read_folder
from lastwet.gauge import Gauge
from lastwet.reading.outcome import Code, Outcome, Reading, Reason, Refusal
from lastwet.reading.photo import Photo, load_photo
from lastwet.reading.reader import read
from tests.fixtures.readers import never_refusing, one_too_many, remembered
from tests.reading.test_negatives import ANY_ROW

LEAST_ANSWERED = {"good": 0.60, "dim": 0.85, "flash": 0.80, "side": 0.60, "mixed": 0.60}
"""Share of the readable photos of each light group that must be answered, right."""
LEAST_ANSWERED_OVERALL = 0.86
TOO_LAX = 0.03
"""How far the share answered may lie above that bar before the bar must be raised."""
LEAST_RIGHT_REASON = 0.90
"""Share of the photos that must be refused for which the right reason must be given."""

FIRST_SEEDS = 64
"""Photos of these seeds are read in every way; the others once, as time allows no more."""
FIRST = [case for case in cases(FOLDER) if case.truth.seed <= FIRST_SEEDS]
OTHERS = [case for case in cases(FOLDER) if case.truth.seed > FIRST_SEEDS]
LEAST_ANSWERED_OF_OTHERS = 0.85


def scores(reader: Reader) -> list[Score]:
    return [score_case(reader, case) for case in FIRST]


def faults(found: Sequence[Score]) -> list[str]:
    """List what a reader's scores on the corpus do not reach; empty for a reader that passes."""
    wrong = [f"{score.truth.image} is answered wrong" for score in found if score.wrong]
    readable = [score for score in found if score.readable]
    groups = {light: [score for score in readable if score.truth.light == light] for light in LEAST_ANSWERED}
    shares = [(light, groups[light], least) for light, least in LEAST_ANSWERED.items()] + [("all", readable, LEAST_ANSWERED_OVERALL)]
    short = [
        f"{name}: {right_share(group):.0%} answered right, not {least:.0%}" for name, group, least in shares if right_share(group) < least
    ]
    return wrong + short


def right_share(found: Sequence[Score]) -> float:
    return sum(score.answered and score.right for score in found) / max(len(found), 1)


@pytest.fixture(scope="module")
def reader() -> Reader:
    """The package's reader, reading each photo once for all tests here."""
    return remembered(read)


@pytest.fixture(scope="module")
def truths() -> list[Truth]:
    return [truth for _, truth in read_folder(FOLDER)]


def test_the_corpus_is_complete(truths: list[Truth]) -> None:
    """As many photos, gauges, paints, lights and outcomes as the corpus promises, each photo with its truth, 40 MB in all."""
    photos = sorted(FOLDER.glob("*.jpg"))
    assert [path.name for path in photos] == sorted(truth.image for truth in truths)
    assert len(truths) >= 150
    assert len({truth.seed for truth in truths}) == len(truths)
    assert len({truth.design for truth in truths if truth.design}) >= 6
    assert len({truth.paint for truth in truths}) >= 8
    assert "clear" in {truth.paint for truth in truths}
    assert {truth.light for truth in truths} == set(LEAST_ANSWERED)
    assert sum(truth.expectation == "refuse" for truth in truths) >= 40
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) <= 40_000_000


def test_every_number_of_wet_teeth_is_in_the_corpus(truths: list[Truth]) -> None:
    readable = [truth for truth in truths if truth.expectation == "read"]
    counts = {truth.last_wet for truth in readable}
    assert counts >= set(range(8))
    assert any(truth.last_wet == truth.n_teeth for truth in readable)


def test_the_corpus_is_read(reader: Reader) -> None:
    assert faults(scores(reader)) == []


def misread(found: Sequence[Score]) -> list[str]:
    """List the photos of which another number was answered than they show, those that show none among them."""
    return [score.truth.image for score in found if score.answered and not score.right]


def test_nothing_is_misread_in_the_rest_of_the_corpus() -> None:
    found = [score_case(read, case) for case in OTHERS]
    assert misread(found) == []
    assert right_share([score for score in found if score.readable]) >= LEAST_ANSWERED_OF_OTHERS


def test_a_reader_off_by_one_misreads_it(reader: Reader) -> None:
    assert misread([score_case(one_too_many(reader), case) for case in OTHERS[:6]]) != []


def test_the_bar_is_not_too_low(reader: Reader) -> None:
    """A bar far below what is reached would let the reader grow worse unseen."""
    readable = [score for score in scores(reader) if score.readable]
    assert right_share(readable) <= LEAST_ANSWERED_OVERALL + TOO_LAX


def test_refusals_of_the_corpus_name_the_right_reason(reader: Reader) -> None:
    due = [score for score in scores(reader) if score.truth.expectation == "refuse"]
    named = [bool(REASONS[str(score.truth.refuse_reason)] & set(score.codes)) for score in due]
    assert sum(named) >= LEAST_RIGHT_REASON * len(due)


def misread_without_side(reader: Reader) -> list[str]:
    """List the photos that a reader answers wrong when it must tell the side by the number of teeth alone."""
    wrong = []
    for case in FIRST:
        outcome = reader(load_photo(case.path, case.path.name), ANY_ROW, None)
        if isinstance(outcome, Reading):
            right = len(outcome.side.teeth) == case.truth.n_teeth and outcome.last_wet == case.truth.last_wet
            if case.truth.expectation == "refuse" or not right:
                wrong.append(case.truth.image)
    return wrong


def test_no_side_named_nothing_misread(reader: Reader) -> None:
    assert misread_without_side(reader) == []


def test_a_reader_off_by_one_is_misread_without_side_too(reader: Reader) -> None:
    assert misread_without_side(one_too_many(reader)) != []


@pytest.mark.parametrize("broken", [one_too_many, never_refusing])
def test_a_broken_reader_turns_the_corpus_red(reader: Reader, broken: Callable[[Reader], Reader]) -> None:
    assert any("wrong" in fault for fault in faults(scores(broken(reader))))


def refusing(photo: Photo, gauge: Gauge, side_id: str | None) -> Outcome:
    """A reader that is never wrong, and of no use."""
    return Refusal((Reason(Code.UNSURE, "Nothing is sure.", "Take another photo."),))


def test_a_reader_that_refuses_everything_turns_the_corpus_red() -> None:
    assert len(faults(scores(refusing))) == len(LEAST_ANSWERED) + 1

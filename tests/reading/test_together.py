"""Several photos of one dip: what they add, what they may not, and that nothing is outvoted."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fixtures.score.records import FOLDER, cases
from lastwet.gauge import Gauge, Side
from lastwet.reading import reader
from lastwet.reading.decide import Limits, decide_together
from lastwet.reading.evidence import Evidence
from lastwet.reading.look import Sight
from lastwet.reading.numerals import Numerals
from lastwet.reading.outcome import Code, Outcome, Reading, Reason, Refusal
from lastwet.reading.photo import load_photo
from lastwet.reading.together import Joint, combine
from tests.reading.sights import GAUGE, SIDE, SURE, evidence, mirrored, pattern, sight

LIMITS = Limits()


def joined(*sights: Sight | Refusal, stated: Side | None = SIDE, gauge: Gauge = GAUGE) -> Joint:
    alone = [reader.conclude(each, gauge, LIMITS) for each in sights]
    return combine(sights, alone, gauge, stated, LIMITS)


def of(*shown: Evidence) -> Joint:
    """What photos come to that show this, each a photo of its own."""
    return joined(*(sight(each, str(number)) for number, each in enumerate(shown)))


def codes(outcome: Outcome) -> list[Code]:
    assert isinstance(outcome, Refusal), outcome
    return [reason.code for reason in outcome.reasons]


def alone(shown: Evidence) -> Outcome:
    return reader.conclude(sight(shown), GAUGE, LIMITS)


def last_wet(joint: Joint) -> int:
    assert isinstance(joint.outcome, Reading), joint.outcome
    return joint.outcome.last_wet


# --- what photos add


@pytest.mark.parametrize(("first", "second"), [((2,), (3,)), ((0, 2), (3, 5)), ((3, 6), (1, 2))])
@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("how", ["burnt", "unseen"])
def test_what_one_photo_hides_another_settles(first: tuple[int, ...], second: tuple[int, ...], turned: bool, how: str) -> None:
    """Each is refused by itself; the second may lie the other way round."""
    one, two = (evidence(pattern("WWWDDDW"), **{how: hidden}) for hidden in (first, second))
    for each in (one, two):
        assert isinstance(alone(each), Refusal)
    assert last_wet(of(one, mirrored(two) if turned else two)) == 2


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(("shown", "wet"), [("WWDDDDW", 1), ("WWWDDDW", 2), ("WWWWDDW", 3), ("WWWWWDW", 4)])
def test_teeth_are_the_same_teeth_whichever_way_the_gauge_lies(shown: str, wet: int, turned: bool) -> None:
    """The last wet tooth is hidden in the one, the first dry one in the other; then the last wet one in both."""
    last, first = (evidence(pattern(shown), unseen=(hidden,)) for hidden in (wet, wet + 1))
    way = mirrored if turned else lambda each: each
    assert last_wet(of(last, way(first))) == last_wet(of(way(last), first)) == wet
    assert codes(of(last, way(last)).outcome) == [Code.ROW_COVERED]


@pytest.mark.parametrize("how", ["burnt", "unseen"])
def test_what_every_photo_hides_is_not_read(how: str) -> None:
    one, two = evidence(pattern("WWWDDDW"), **{how: (2, 3)}), evidence(pattern("WWWDDDW"), **{how: (3, 4)})
    joint = of(one, two)
    assert codes(joint.outcome) == [Code.GLARE if how == "burnt" else Code.ROW_COVERED]
    assert "tooth 85" in joint.outcome.reasons[0].message  # type: ignore[union-attr]


def test_a_tooth_under_glare_says_nothing_however_sure_it_looks() -> None:
    """Burnt out, the third tooth looks wet; the other photo shows it dry."""
    fooled, clear = evidence(pattern("WWWWDDW"), burnt=(3,)), evidence(pattern("WWWDDDW"), burnt=(2,))
    assert last_wet(of(fooled, clear)) == 2


def enumerated(photos: list[list[float]]) -> np.ndarray:
    """Posterior over 0..N wet by listing, for each photo, every run from either end, and multiplying probabilities."""
    n = len(photos[0])
    weight = np.ones(n + 1)
    for odds in photos:
        wet = [1 / (1 + math.exp(-o)) for o in odds]
        mine = np.zeros(n + 1)
        for labels in {tuple(i < k for i in range(n)) for k in range(n + 1)} | {tuple(i >= n - k for i in range(n)) for k in range(n + 1)}:
            mine[sum(labels)] += math.prod(p if w else 1 - p for p, w in zip(wet, labels, strict=True))
        weight *= mine
    return weight / weight.sum()


rows = st.lists(st.lists(st.floats(-5.5, 5.5), min_size=4, max_size=4), min_size=1, max_size=4)


@given(rows)
def test_posterior_is_that_of_enumeration(photos: list[list[float]]) -> None:
    decisions = decide_together([evidence([SURE, *odds, SURE]) for odds in photos], LIMITS)
    posterior = enumerated(photos)
    assert {decision.last_wet for decision in decisions} == {decisions[0].last_wet}
    assert decisions[0].probability == pytest.approx(posterior.max(), rel=1e-6)
    assert posterior[decisions[0].last_wet] == pytest.approx(posterior.max(), rel=1e-6)


def test_no_confidence_is_stated_higher_than_for_one_photo() -> None:
    joint = of(*[evidence(pattern("WWWDDDW"))] * 8)
    assert isinstance(joint.outcome, Reading)
    assert 0.9 < joint.outcome.confidence <= LIMITS.trust


def test_tips_are_those_of_the_photo_that_says_most() -> None:
    """The second has glare on a deciding tooth: in it that tooth is neither wet nor dry."""
    clear, glaring = sight(evidence(pattern("WWWDDDW")), "a", at=(100, 200)), sight(evidence(pattern("WWWDDDW"), burnt=(3,)), "b")
    for photos, best in (((clear, glaring), 0), ((glaring, clear), 1)):
        joint = joined(*photos)
        assert joint.best == best
        assert joint.outcome.seen.end_tabs[0].tip_px == (100.0, 200.0)
    hidden = joined(sight(evidence(pattern("WWWDDDW"), burnt=(5,)), "a"), sight(evidence(pattern("WWWDDDW"), burnt=(2, 3)), "b"))
    assert [round(tooth.wet_probability, 1) for tooth in hidden.outcome.seen.teeth] == [1.0, 1.0, 0.0, 0.0, 0.5]


# --- what they may not


def test_sure_photos_that_differ_disagree() -> None:
    joint = of(evidence(pattern("WWWDDDW")), evidence(pattern("WWWWDDW")))
    assert codes(joint.outcome)[0] == Code.PHOTOS_DISAGREE
    assert "photo 1: last wet tooth 60; photo 2: last wet tooth 85" in joint.outcome.reasons[0].message  # type: ignore[union-attr]


def test_one_sure_photo_is_not_outvoted_by_many() -> None:
    assert codes(of(*[evidence(pattern("WWWDDDW"))] * 7, evidence(pattern("WWDDDDW"))).outcome)[0] == Code.PHOTOS_DISAGREE


def test_a_photo_that_speaks_against_one_tooth_is_not_outvoted() -> None:
    """By itself it is not sure, as the next tooth lies under glare; it is sure enough of this one."""
    against = evidence(pattern("WWDDDDW"), burnt=(1,))
    joint = of(evidence(pattern("WWWDDDW")), evidence(pattern("WWWDDDW")), against)
    assert codes(joint.outcome) == [Code.PHOTOS_DISAGREE]
    assert "Photo 3 speaks against the others: see tooth 60" in joint.outcome.reasons[0].message  # type: ignore[union-attr]


def test_faint_evidence_does_not_add_up_to_an_answer() -> None:
    """The deciding tooth is wet by 0.85 in each of eight photos: together it is certain, and no photo shows it."""
    faint = evidence([SURE, SURE, math.log(0.85 / 0.15), -SURE, -SURE, -SURE, SURE])
    assert isinstance(alone(faint), Refusal)
    joint = of(*[faint] * 8)
    assert codes(joint.outcome) == [Code.UNSURE]
    assert isinstance(joint.outcome, Refusal)
    assert joint.outcome.best_guess is not None
    assert joint.outcome.best_guess.confidence > 0.95
    assert codes(of(faint, mirrored(faint)).outcome) == [Code.UNSURE]


def test_blurred_photos_need_more_to_settle_a_tooth() -> None:
    """As in a photo by itself: what settles a deciding tooth in a sharp photo does not in a soft one."""
    odds = [SURE, SURE, 3.8, -SURE, -SURE, -SURE, SURE]
    soft = LIMITS.soft + 0.01
    assert last_wet(of(evidence(odds, burnt=(2,)), evidence(odds, burnt=(3,)))) == 2
    refused = of(evidence(odds, burnt=(2,)), evidence(odds, burnt=(3,), softness=soft))
    assert codes(refused.outcome) == [Code.BLUR] or codes(refused.outcome) == [Code.GLARE]


def test_the_same_photo_twice_says_no_more_than_once() -> None:
    faint = sight(evidence([SURE, SURE, 3.0, -3.0, -SURE, -SURE, SURE]))
    once, twice = joined(faint), joined(faint, faint)
    assert once.outcome == twice.outcome
    assert (once.used, twice.used) == ({0}, {0})


@pytest.mark.parametrize("shown", ["WWWDDDD", "DDDDDDD", "DWWDDDW"])
def test_an_end_tab_that_looks_dry_in_one_photo_refuses(shown: str) -> None:
    joint = of(evidence(pattern("WWWDDDW")), evidence(pattern(shown)))
    assert Code.END_TAB_DRY in codes(joint.outcome)
    assert "In photo 2, " in " ".join(reason.message for reason in joint.outcome.reasons)  # type: ignore[union-attr]


def test_a_hidden_end_tab_is_settled_by_another_photo_and_only_so() -> None:
    left, right, unsure = (
        evidence(pattern("WWWDDDW"), unseen=(0,)), evidence(pattern("WWWDDDW"), unseen=(6,)), evidence(pattern("WWWDDD?"))
    )  # fmt: skip
    assert last_wet(of(left, right)) == 2
    assert codes(of(right, unsure).outcome) == [Code.UNSURE]


def test_a_gap_in_one_photo_refuses() -> None:
    joint = of(evidence(pattern("WWWWDDW")), evidence(pattern("WWDWDDW")))
    assert Code.GAP in codes(joint.outcome)


def test_two_painted_rows_in_one_photo_refuse() -> None:
    clean, dirty = sight(evidence(pattern("WWWDDDW")), "a"), sight(evidence(pattern("WWWDDDW")), "b")
    other = sight(evidence(pattern("WWWDDDW")), at=(100.0, 100.0)).row
    assert codes(joined(clean, replace(dirty, rivals=[other])).outcome) == [Code.DIRTY]


@pytest.mark.parametrize("shown", ["WDDDDDW", "WWWWWWW"])
def test_without_a_boundary_each_end_must_be_shown_in_one_photo(shown: str) -> None:
    """No tooth tells which end is low, so the right end of one photo may be the left end of another."""
    left, right = evidence(pattern(shown), burnt=(1,)), evidence(pattern(shown), burnt=(5,))
    assert codes(of(left, right).outcome) == [Code.GLARE]
    assert last_wet(of(left, evidence(pattern(shown), burnt=(3,)))) in (0, 5)
    second, fourth, third = (evidence(pattern(shown), unseen=(hidden,)) for hidden in (2, 4, 3))
    assert codes(of(second, fourth).outcome) == [Code.ROW_COVERED]
    assert last_wet(of(second, third)) in (0, 5)


# --- photos that add nothing


NO_ROW = Refusal((Reason(Code.NO_GAUGE, "No gauge", "Show it"),))


@pytest.mark.parametrize(
    "useless",
    [
        NO_ROW,
        sight(evidence(pattern("WWWDDDW")), "b", at=(5.0, 300.0)),
        sight(evidence(pattern("WWWDDDW"), softness=0.2), "b"),
        sight(evidence(pattern("WWWDDDW"), burnt=(0, 6)), "b"),
        replace(sight(evidence(pattern("WWWDDDDW")), "b", side=None), trouble=Reason(Code.TOOTH_COUNT, "The row has 6 teeth", "Show it")),
    ],
    ids=["no gauge", "cut", "blurred", "no end tab", "other count"],
)
def test_a_photo_without_a_usable_row_adds_nothing(useless: Sight | Refusal) -> None:
    clear = sight(evidence(pattern("WWWDDDW")))
    for photos in ((clear, useless), (useless, clear)):
        joint = joined(*photos)
        assert joint.outcome == joined(clear).outcome
        assert joint.used == {photos.index(clear)} == {joint.best}


def test_where_no_photo_shows_the_row_the_first_one_says_why() -> None:
    blurred = sight(evidence(pattern("WWWDDDW"), softness=0.2), "b")
    assert codes(joined(blurred, NO_ROW).outcome) == [Code.BLUR]
    assert codes(joined(NO_ROW, blurred).outcome) == [Code.NO_GAUGE]


def test_rows_of_different_numbers_of_teeth_are_no_one_dip_unless_a_side_is_stated() -> None:
    longer = Side("coarse", "um", (200, 250, 300, 350, 400, 450))
    gauge = Gauge("two", "um", (SIDE, longer))
    photos = sight(evidence(pattern("WWWDDDW")), "a"), sight(evidence(pattern("WWWDDDDW")), "b", side=longer)
    assert codes(joined(*photos, stated=None, gauge=gauge).outcome) == [Code.PHOTOS_DISAGREE]
    untold = replace(photos[1], side=None)
    assert codes(joined(photos[0], untold, stated=None, gauge=gauge).outcome) == [Code.PHOTOS_DISAGREE]
    assert last_wet(joined(photos[0], untold, stated=SIDE, gauge=gauge)) == 2


# --- laws


looks = st.builds(
    lambda odds, burnt, unseen: evidence([SURE, *odds, SURE], burnt=tuple(burnt), unseen=tuple(unseen)),
    st.lists(st.sampled_from([-5.0, -2.0, -0.5, 0.5, 2.0, 5.0]), min_size=5, max_size=5),
    st.sets(st.integers(0, 6), max_size=1),
    st.sets(st.integers(0, 6), max_size=1),
)
patterns = st.sampled_from(["WDDDDDW", "WWDDDDW", "WWWDDDW", "WWWWDDW", "WWWWWWW"])
mostly_one_dip = st.builds(
    lambda shown, hidden: [evidence(pattern(shown), burnt=tuple(each)) for each in hidden],
    patterns,
    st.lists(st.sets(st.integers(0, 6), max_size=2), min_size=1, max_size=3),
)


@given(st.one_of(mostly_one_dip, st.lists(looks, min_size=1, max_size=3)))
def test_the_order_of_the_photos_does_not_matter(shown: list[Evidence]) -> None:
    photos = [sight(each, str(number)) for number, each in enumerate(shown)]
    outcomes = [joined(*order) for order in itertools.permutations(photos)]
    first = outcomes[0].outcome
    for other in (joint.outcome for joint in outcomes):
        if isinstance(first, Reading):
            assert other == first
        else:  # the numbers of the photos in the messages differ
            assert isinstance(other, Refusal)
            kept = [replace(each, reasons=()) for each in (first, other)]
            assert kept[0] == kept[1] or not outcomes[0].used  # with no row anywhere, the first photo says why
            assert not outcomes[0].used or sorted(codes(first)) == sorted(codes(other))


@given(looks)
def test_one_photo_comes_to_what_it_comes_to_by_itself(shown: Evidence) -> None:
    assert of(shown).outcome == alone(shown)


@given(st.lists(looks, min_size=2, max_size=4))
def test_two_sure_photos_that_differ_are_never_read(shown: list[Evidence]) -> None:
    """Whatever the others show."""
    said = {outcome.last_wet for outcome in map(alone, shown) if isinstance(outcome, Reading)}
    if len(said) > 1:
        assert Code.PHOTOS_DISAGREE in codes(of(*shown).outcome) or Code.GAP in codes(of(*shown).outcome)


# --- real photos


@pytest.mark.parametrize("position", [0, 5, 9, 14])
def test_a_burst_of_one_is_a_reading_of_one(position: int) -> None:
    case = cases(FOLDER)[position]
    photo = load_photo(case.path, case.path.name)
    together = reader.read_together([photo], case.gauge, case.side_id)
    assert together.outcome == reader.read(photo, case.gauge, case.side_id)
    assert (together.best, together.each[0].outcome) == (0, together.outcome)


# --- numerals


OTHER = Side("coarse", "um", (200, 240, 300, 350, 400))


def numbered(name: str, side: Side | None, *, low_left: bool = True, shown: str = "WWWDDDW") -> Sight:
    """A photo in which the numerals of that side are to be read; None for one in which they are not."""
    plain = sight(evidence(pattern(shown)), name)
    if side is None:
        return plain
    return replace(plain, side_source="numerals" if side == SIDE else "stated", numerals=Numerals(side, low_left, 40.0, side.teeth, 1.0))


@pytest.mark.parametrize("at", range(3))
def test_numerals_in_any_photo_vouch_for_the_side(at: int) -> None:
    joint = joined(*(numbered(str(i), SIDE if i == at else None) for i in range(3)))
    assert isinstance(joint.outcome, Reading)
    assert joint.outcome.side_source == "numerals"
    without = joined(*(numbered(str(i), None) for i in range(3)))
    assert without.outcome == replace(joint.outcome, side_source="stated")


@pytest.mark.parametrize("at", range(3))
def test_numerals_of_another_side_in_any_photo_refuse(at: int) -> None:
    joint = joined(*(numbered(str(i), OTHER if i == at else SIDE) for i in range(3)))
    assert codes(joint.outcome) == [Code.SIDE_UNCLEAR]
    assert joint.outcome.reasons[0].message.startswith(f"In photo {at + 1}, beside the teeth stands 200 ")  # type: ignore[union-attr]


def test_numerals_that_put_the_low_end_elsewhere_in_one_photo_refuse() -> None:
    """The second photo shows the gauge turned round, run and numerals alike; the third, numerals that begin at the run's other end."""
    turned = numbered("b", SIDE, low_left=False, shown="WDDDWWW")
    assert last_wet(joined(numbered("a", SIDE), turned)) == 2
    assert codes(joined(numbered("a", SIDE), turned, numbered("c", SIDE, low_left=False)).outcome) == [Code.GAP]

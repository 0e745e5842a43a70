"""The words of a report, against the list of what a report of results must have.

ISO/IEC 17025:2017, 7.8.2.1 and 7.8.6, as summed up in public commentaries: title, organisation and address, place, unique
identification on each page and a clear end, customer, method, item and its condition, dates, sampling plan, results with units,
deviations, who authorises, that results relate only to the items tested, and the decision rule with a statement of conformity.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from lastwet.report.compose import POINTS_A_CHART, compose
from lastwet.report.document import NOT_STATED, Chart, Document, Facts, Gallery, Signatures, Table, Words
from lastwet.report.model import Details, Group, Refused, Replaced
from tests.report.reports import ATTACHED, CORRECTION, HASH, PAINT, reading, refused, report


def texts(document: Document) -> Iterator[str]:
    """Yield every text of a document."""
    yield from (document.title, document.report_id, document.organisation, document.seal)
    yield from (words for fact in document.summary for words in fact)
    for section in document.sections:
        yield section.title
        for block in section.blocks:
            match block:
                case Words():
                    yield from block.paragraphs
                case Facts():
                    yield from (words for fact in block.rows for words in fact)
                case Table():
                    yield from (block.caption, *block.head, *(cell for row in block.rows for cell in row))
                case Gallery():
                    yield from (words for card in block.cards for words in (card.title, *card.lines, card.alt))
                case Signatures():
                    yield from (words for role in block.roles for words in role)
                case Chart():
                    yield block.svg


def facts(document: Document) -> dict[str, str]:
    return dict(row for section in document.sections for block in section.blocks if isinstance(block, Facts) for row in block.rows)


def tables(document: Document) -> dict[str, Table]:
    return {block.caption: block for section in document.sections for block in section.blocks if isinstance(block, Table)}


def all_of(document: Document) -> str:
    return "\n".join(texts(document))


REQUIRED = [  # (term, key of the details); what ISO/IEC 17025 asks for, or a daily inspection template for coatings does
    ("Organisation", "organisation"), ("Address", "address"), ("Place of work", "place"), ("Customer", "customer"), ("Job", "job"),
    ("Contract", "contract"), ("Item", "item"), ("Condition of the item", "item_condition"), ("Specification", "specification"),
    ("Procedure", "procedure"), ("Sampling plan", "sampling"), ("Deviations from the method", "deviations"), ("Product", "product"),
    ("Batch", "batch"), ("Thinner", "thinner"), ("Data sheet", "data_sheet"), ("Dry range for one coat", "dry_range"),
    ("Maximum build", "maximum_build"), ("Applicator", "applicator"), ("Equipment", "equipment"), ("Settings", "settings"),
    ("Air temperature", "air_temperature"), ("Relative humidity", "humidity"), ("Surface temperature", "surface_temperature"),
    ("Weather or booth", "weather"), ("Remarks", "remarks"),
]  # fmt: skip


@pytest.mark.parametrize(("term", "key"), REQUIRED)
def test_what_is_not_stated_says_so_and_what_is_stated_stands(term: str, key: str) -> None:
    assert facts(compose(report(reading(1))))[term] == NOT_STATED
    assert facts(compose(report(reading(1), details=Details(**{key: "as stated"}))))[term] == "as stated"


def test_a_report_has_what_a_report_of_results_must_have() -> None:
    document = compose(report(reading(1), reading(2, verdict="straddles")))
    said = all_of(document)
    for words in (
        "Wet film thickness report", "20260304-0a1b2c3d", "Decision rule:", "The results relate only to the spots that were read.",
        "Prepared by", "Checked and approved by", "85 to 110 \u00b5m\n3.35 to 4.33 mil", "27.5 to 37 \u00b5m", "\u25a0 inside",
        "\u25c6 not decided",
        "90 to 125 \u00b5m", "34 \u00b1 1 %", HASH, "Predicted", "not for acceptance", "side fine: 40 60 85 110 um",
        "2026-03-04 12:01 -05:00",
    ):  # fmt: skip
        assert words in said, words


def test_readings_of_all_kinds_are_counted_and_told_apart() -> None:
    document = compose(
        report(
            reading(1), reading(2, confirmed_by=("Ben",)), reading(3, by_eye=True, corrected_in=9), refused(4), reading(5, void=True),
            amendments=[CORRECTION],
        )
    )  # fmt: skip
    summary = dict(document.summary)
    assert summary["Readings"] == (
        "3 in use: 2 by machine, 1 by eye, 1 confirmed by a person, 1 corrected; 1 not read, 1 void"
    )  # fmt: skip
    assert summary["Result"] == "3 \u25a0 inside"
    rows = {row[0]: row for row in tables(document)["Board 1"].rows}
    assert rows["1"][6] == "by machine, for Ann"
    assert rows["2"][5:7] == ("fine, by a person", "by machine, for Ann\nconfirmed by Ben")
    assert rows["3"][6] == "by eye, Ann\ncorrected in entry 9"
    assert rows["5"][4] == "void"
    (unread,) = tables(document)["Photos that were not read"].rows
    assert unread[3:] == ("glare", "A tooth lies under glare.")
    (amended,) = tables(document)["Confirmations, corrections, voids and notes"].rows
    assert amended[:4] == ("7", "no. 1", "corrected to 60 to 85 um, side fine", "Ben")
    assert amended[5] == "a drop hung there"


def test_a_side_that_nobody_confirmed_is_stated_only() -> None:
    assert "fine, stated" in all_of(compose(report(reading(1))))
    assert "fine, stated" not in all_of(compose(report(reading(1, confirmed_by=("Ben",)))))


def test_a_report_says_what_a_prediction_takes_thinner_for_that_nobody_stated() -> None:
    """What is reckoned with otherwise is not seen: the cell says that it was not stated."""
    assert "where no thinner was stated, as if there were none" in all_of(compose(report(reading(1))))


def test_everything_refused_is_a_report_too() -> None:
    document = compose(report(refused(1), refused(2)))
    assert dict(document.summary)["Result"] == "nothing was read"
    assert "no photo was read" in all_of(document)
    assert not any(isinstance(block, Chart) for section in document.sections for block in section.blocks)


def test_a_report_that_replaces_another_says_what_changed() -> None:
    document = compose(report(reading(1), replaces=Replaced("20260303-00000000", ["Entry 1: made void, by Ben: another board."])))
    assert document.sections[0].title == "Changes since report 20260303-00000000"
    assert "replaces report 20260303-00000000" in dict(document.summary)["Report"]
    assert "Entry 1: made void, by Ben: another board." in all_of(document)


def test_attached_pictures_are_shown_with_what_they_belong_to() -> None:
    first, second = evidence(compose(report(reading(1), attached=[ATTACHED, replace(ATTACHED, concerns=9)])))
    assert (first.caption, second.caption) == (None, "Attached pictures")
    of_reading, of_other = second.cards
    assert (of_reading.picture, of_reading.alt) == (ATTACHED.picture, "Picture attached to no. 1: the board")
    assert "Log entry 8, to entry 9, 2026-03-04 12:00 -05:00" in of_other.lines
    assert f"SHA-256\n{HASH[:32]}\n{HASH[32:]}" in of_other.lines
    lost = replace(ATTACHED, picture=None, picture_fault="the photo is missing in the log")
    assert "No picture: the photo is missing in the log" in all_of(compose(report(reading(1), attached=[lost])))


def evidence(document: Document) -> list[Gallery]:
    return [block for section in document.sections for block in section.blocks if isinstance(block, Gallery)]


def test_a_reading_that_was_typed_in_takes_a_row_and_no_card() -> None:
    typed = reading(2, photo_sha256=None, by_eye=True, confirmed_by=("Ben",), picture_fault="no photo is kept with this entry")
    lost = reading(3, picture_fault="the photo is missing in the log")
    document = compose(report(reading(1), typed, lost, replace(typed, entry=4, void=True)))
    (gallery,) = evidence(document)
    assert [card.title[:2] for card in gallery.cards] == ["1.", "3."]
    row, void = tables(document)["Readings without a photo"].rows
    assert row == (
        "2", "2", "2026-03-04\n12:02 -05:00", "85 to 110 \u00b5m\n3.35 to 4.33 mil", "bench strip,\nside fine, by a person",
        "Last wet tooth 85, next 110 um", "by eye, Ann\nconfirmed by Ben",
    )  # fmt: skip
    assert void[3].startswith("void\n")
    assert not evidence(compose(report(typed)))


def test_a_file_that_could_not_be_got_takes_a_row_that_says_why() -> None:
    gone = replace(refused(1), photo_sha256=None, side=None, refusals=(Refused("not-an-image", "There is no such file"),))
    (row,) = tables(compose(report(gone)))["Readings without a photo"].rows
    assert row[3:6] == ("not read", "bench strip,\nside unknown", "not-an-image")


def test_a_coat_without_a_reading_is_told() -> None:
    unread = Group("Board 2, coat 1", [], PAINT, None, [("Gun settings", "pace 300 mm/s")])
    said = all_of(compose(report(groups=[unread])))
    assert "pace 300 mm/s" in said
    assert "Board 2, coat 1: no reading was logged." in said


def test_a_missing_picture_says_why() -> None:
    assert "No picture: the photo is missing in the log" in all_of(
        compose(report(reading(1, picture_fault="the photo is missing in the log")))
    )


@pytest.mark.parametrize(("count", "charts"), [(1, 0), (2, 1), (12, 1), (13, 2), (30, 3)])
def test_charts_go_on_below_where_readings_do_not_fit(count: int, charts: int) -> None:
    document = compose(report(*(reading(entry) for entry in range(1, count + 1))))
    drawn = [block.svg for section in document.sections for block in section.blocks if isinstance(block, Chart)]
    assert len(drawn) == charts
    assert sum(svg.count("inside</text>") for svg in drawn) == (count if charts else 0)
    assert all(svg.count("inside</text>") <= POINTS_A_CHART for svg in drawn)


def test_the_seal_names_the_newest_entry() -> None:
    document = compose(report(reading(1)))
    assert document.seal == f"log entry 99, hash {HASH[:16]}"
    assert facts(document)["Its hash (SHA-256)"] == HASH

"""The PDF report: opens without a complaint in two other programs, fonts embedded, texts whole, small enough to send."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from lastwet.errors import UsageError
from lastwet.report.compose import compose
from lastwet.report.model import Details, Group, Report
from lastwet.report.pdf import Paper, render_pdf
from tests.report.reports import ATTACHED, LONG, ODD, PAINT, picture, reading, refused, report

pytest.importorskip("fpdf")
needs_poppler = pytest.mark.skipif(not shutil.which("pdftotext"), reason="reading the PDF needs poppler's pdftotext, pdffonts and pdfinfo")

CASES: dict[str, tuple[Report, Paper]] = {
    "one": (report(reading(1, picture=picture())), "a4"),
    "one on letter": (report(reading(1, picture=picture())), "letter"),
    "refused": (report(refused(1), refused(2), refused(3)), "a4"),
    "no photo": (report(reading(1, photo_sha256=None, picture_fault="no photo is kept with this entry")), "a4"),
    "long names": (
        report(
            reading(1, by=LONG, gauge=LONG, spot=LONG, confirmed_by=(LONG,)), reading(2, by=ODD),
            details=Details(organisation=LONG, customer=LONG, address="x" * 400, prepared_by=LONG), issued_by=LONG,
        ),
        "letter",
    ),
    "odd names": (
        report(
            reading(1), reading(2), groups=[Group(ODD, [reading(1, by=ODD), reading(2, spot=ODD)], PAINT, None, [(ODD, ODD)])],
            details=Details(organisation=ODD, prepared_by=ODD), issued_by=ODD,
        ),
        "a4",
    ),
    "300": (report(*(reading(entry) for entry in range(1, 301))), "a4"),
}  # fmt: skip


@pytest.fixture(scope="module", params=CASES)
def pdf(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    made, paper = CASES[request.param]
    path = tmp_path_factory.mktemp("pdf") / f"{request.param}.pdf"
    path.write_bytes(render_pdf(compose(made), paper))
    return path


def ran(*command: str | Path) -> str:
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout


@needs_poppler
def test_it_opens_without_a_complaint_with_every_font_embedded(pdf: Path) -> None:
    fonts = ran("pdffonts", pdf).splitlines()[2:]
    assert fonts
    assert all(re.search(r"\byes yes yes\b", line) for line in fonts)  # embedded, subset, with Unicode
    if shutil.which("qpdf"):
        assert "No syntax or stream encoding errors" in ran("qpdf", "--check", pdf)


@needs_poppler
def test_every_page_has_the_report_id_and_its_number(pdf: Path) -> None:
    pages = ran("pdftotext", "-layout", pdf, "-").split("\f")[:-1]
    for number, page in enumerate(pages, 1):
        assert "20260304-0a1b2c3d" in page
        assert f"page {number} of {len(pages)}" in page
    assert "End of report 20260304-0a1b2c3d" in pages[-1]


@needs_poppler
@pytest.mark.parametrize(("case", "size"), [("one", "595.28 x 841.89 pts (A4)"), ("one on letter", "612 x 792 pts (letter)")])
def test_the_paper_is_the_one_that_was_asked_for(tmp_path: Path, case: str, size: str) -> None:
    (tmp_path / "x.pdf").write_bytes(render_pdf(compose(CASES[case][0]), CASES[case][1]))
    assert size in ran("pdfinfo", tmp_path / "x.pdf")


@needs_poppler
@pytest.mark.parametrize("count", range(1, 14))
def test_nobody_signs_a_page_with_nothing_else_on_it(tmp_path: Path, count: int) -> None:
    """However long the report is, the signatures stand with the records that they seal, and the caption of a picture with it."""
    path = tmp_path / "r.pdf"
    path.write_bytes(render_pdf(compose(report(*(reading(entry) for entry in range(1, count + 1)), attached=[ATTACHED]))))
    pages = ran("pdftotext", "-layout", path, "-").split("\f")
    (last,) = (page for page in pages if "Signatures" in page)
    assert re.search(r"\d+\. Records[\s\S]*Its hash[\s\S]*Signatures[\s\S]*Prepared by[\s\S]*End of report", last)
    (shown,) = (page for page in pages if "Attached pictures" in page)
    assert "the board" in shown


@needs_poppler
def test_what_the_font_lacks_is_told_by_its_code_point(tmp_path: Path) -> None:
    (tmp_path / "x.pdf").write_bytes(render_pdf(compose(report(reading(1), details=Details(customer="\u0416\u03b4\u0142 \u65e5")))))
    assert "\u0416\u03b4\u0142 [U+65E5]" in ran("pdftotext", tmp_path / "x.pdf", "-")


def test_thirty_readings_with_pictures_can_be_sent() -> None:
    """Noise is the worst that JPEG can be given."""
    made = report(*(reading(entry, picture=picture(720, 900)) for entry in range(1, 31)))
    assert len(render_pdf(compose(made))) < 30 * len(picture(720, 900)) + 300_000


def test_without_the_extra_the_cure_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "fpdf", None)
    with pytest.raises(UsageError, match="PDF support is not installed"):
        render_pdf(compose(report(reading(1))))

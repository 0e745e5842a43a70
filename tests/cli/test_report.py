"""`lastwet report` over real pipes: from the log to the file, and back from the file to the log."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import shutil
import subprocess
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from lastwet.errors import NotWritten
from lastwet.film.coating import load_coating
from lastwet.film.dialin import Settings
from lastwet.gauge import load_gauge
from lastwet.job.board import Paint, Work
from lastwet.logbook.find import Filter
from lastwet.logbook.store import Logbook
from lastwet.service import boards
from lastwet.service.report import issue_report
from lastwet.units import Bracket
from tests.conftest import ROOT, Run
from tests.fake_reader import GLARE, photo_bytes


class Text(HTMLParser):
    """The text of a page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.text = ""
        self.feed(html)

    def handle_data(self, data: str) -> None:
        self.text += " " + data


def text(path: Path) -> str:
    return re.sub(r"\s+", " ", Text(path.read_text("utf-8")).text)


@pytest.fixture
def log(run: Run, tmp_path: Path, gauge_file: Path) -> Logbook:
    """A reading inside, one above, a refusal, and a file that is no photo."""
    for name, content in (("a.jpg", photo_bytes(5)), ("b.jpg", photo_bytes(6)), ("c.jpg", photo_bytes(GLARE)), ("d.jpg", b"no photo")):
        (tmp_path / name).write_bytes(content)
    options = ("--gauge", gauge_file, "--side", "fine", "--solids", "50", "--wet-range", "140-175um", "--by", "Ann")
    run("read", "a.jpg", "b.jpg", "c.jpg", "d.jpg", *options)
    return Logbook(tmp_path / "log")


def test_a_report_is_written_and_its_hash_logged(run: Run, log: Logbook, tmp_path: Path) -> None:
    (tmp_path / "details.toml").write_text('organisation = "Sample shop (invented)"\ncustomer = "Nobody"\n')
    head = log.head()
    assert head is not None
    done = run("report", "-o", "out/r.html", "--details", "details.toml", "--by", "Ben")
    assert (done.returncode, done.stderr) == (0, "")
    entry = log.entry(5)
    path = tmp_path / "out" / "r.html"
    assert done.stdout == f"report {entry.body['id']} of 4 readings: out/r.html; log entry 5\n"
    assert (entry.kind, entry.body["by"], entry.body["entries"]) == ("report", "Ben", [1, 2, 3, 4])
    assert entry.body["file_sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
    assert entry.body["head"] == {"seq": 4, "hash": head.hash}
    said = text(path)
    for words in (
        "Sample shop (invented)", "140 to 175 \u00b5m", "2 in use: 2 by machine", "2 not read", "1 \u25a0 inside, 1 \u25b2 above",
        head.hash,
        "not-an-image", "every entry is as it was written, and so are the photos of this report", f"report {entry.body['id']} by Ben",
    ):  # fmt: skip
        assert words in said or words in run("log", "list").stdout, words
    assert path.read_text().count("data:image/jpeg;base64,") == 3


def test_a_report_that_could_not_be_logged_leaves_no_file(log: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise NotWritten("the log could not be written", "free some space")

    monkeypatch.setattr(Logbook, "append", fail)
    with pytest.raises(NotWritten):
        issue_report(log, Filter(), tmp_path / "r.html", "Ben")
    assert not (tmp_path / "r.html").exists()
    issue_report(log, Filter(), tmp_path / "r.html", "Ben", keep=False)
    assert (tmp_path / "r.html").exists()


@pytest.mark.usefixtures("log")
@pytest.mark.parametrize("name", ["r.html", "r.pdf"])
def test_names_that_are_not_utf_8_do_no_harm(run: Run, tmp_path: Path, name: str) -> None:
    odd = b"caf\xe9 \x1b[31m".decode(errors="surrogateescape")
    assert run("confirm", "1", "--last-wet", "5", "--by", odd).returncode == 0
    done = run("report", "-o", name, "--by", odd)
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / name).stat().st_size > 10_000
    assert run("log", "list").returncode == 0


def test_the_papers_way_to_check_a_report_by_hand(run: Run, log: Logbook, tmp_path: Path) -> None:
    run("report", "-o", "panel-7.pdf")
    commands = re.findall(r"^    (sqlite3 .*|sha256sum .*)$", (ROOT / "docs" / "logbook.md").read_text("utf-8"), re.MULTILINE)
    of_entry, of_file, of_report = (command for command in commands if "newest" not in command and "LIMIT 1" not in command)
    if not shutil.which("sqlite3"):
        pytest.skip("checking by hand needs sqlite3 and sha256sum")

    def by_hand(command: str) -> str:
        command = command.replace("log.sqlite3", "log/log.sqlite3")
        return subprocess.run(command, shell=True, cwd=tmp_path, capture_output=True, text=True, check=True).stdout

    assert by_hand(of_entry.replace("25", "4")).strip() == log.entry(4).hash
    digest = by_hand(of_file).split()[0]
    assert by_hand(of_report.replace("the hash of the file", digest)).strip() == "5"


def test_pdf_and_html_say_the_same(run: Run, log: Logbook, tmp_path: Path) -> None:
    done = run("report", "-o", "r.pdf", "--paper", "letter", "--no-log")
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "r.pdf").read_bytes().startswith(b"%PDF-")
    assert len(list(log.all_entries())) == 4


@pytest.mark.usefixtures("log")
def test_an_amended_report_says_what_changed(run: Run, tmp_path: Path, gauge_file: Path) -> None:
    run("report", "-o", "first.html")
    first = json.loads(run("log", "list", "--kind", "report", "--json").stdout)["body"]["id"]
    run("confirm", "2", "--last-wet", "5", "--by", "Ben", "--reason", "a drop")
    run("log", "void", "1", "--by", "Ben", "--reason", "slipped")
    run("read", "a.jpg", "--gauge", gauge_file, "--side", "fine")
    done = run("report", "-o", "second.html", "--replaces", first)
    assert done.returncode == 0, done.stderr
    said = text(tmp_path / "second.html")
    for words in (
        f"Changes since report {first}", f"replaces report {first}", "Added: entries 8.",
        "Entry 2: corrected to 140 to 175 \u00b5m, side fine, by Ben: a drop.", "Entry 1: made void, by Ben: slipped.",
    ):  # fmt: skip
        assert words in said
    second = json.loads(run("log", "list", "--kind", "report", "--limit", "1", "--json").stdout)["body"]
    assert (second["replaces"], second["entries"]) == (first, [1, 2, 3, 4, 8])
    assert second["id"] != first


def test_what_a_phone_writes_into_a_photo_stays_in_the_original(run: Run, tmp_path: Path, gauge_file: Path) -> None:
    """Tags of EXIF 2.32: GPS IFD 0x8825 with latitude 1 and 2, BodySerialNumber 0xA431 in the Exif IFD; and a comment of JPEG."""
    exif = Image.Exif()
    exif.get_ifd(0x8825).update({1: "N", 2: (12.0, 34.0, 56.0)})
    exif.get_ifd(0x8769)[0xA431] = "SERIAL-4711"
    Image.new("RGB", (640, 480), (50, 90, 90)).save(tmp_path / "Jane at home.jpg", exif=exif, comment=b"Jane's phone")
    original = (tmp_path / "Jane at home.jpg").read_bytes()
    run("read", "Jane at home.jpg", "--gauge", gauge_file, "--side", "fine", "--job", "doors")
    book = Logbook(tmp_path / "log")
    assert book.photos.path(book.entry(1).photo_sha256 or "").read_bytes() == original
    for name in ("r.html", "r.pdf"):
        run("report", "-o", name, "--job", "DOORS", "--by", "Ben")
        content = (tmp_path / name).read_bytes()
        assert not any(secret in content for secret in (b"SERIAL-4711", b"Jane"))
    pictures = re.findall(r"data:image/jpeg;base64,([^\"]+)", (tmp_path / "r.html").read_text())
    assert len(pictures) == 1
    with Image.open(BytesIO(base64.b64decode(pictures[0]))) as picture:
        assert not picture.getexif()
        assert not {"exif", "comment", "xmp"} & set(picture.info)


def test_a_broken_log_is_told_in_the_report(run: Run, log: Logbook, tmp_path: Path) -> None:
    log.photos.path(log.entry(1).photo_sha256 or "").unlink()
    assert run("report", "-o", "r.html").returncode == 0
    said = text(tmp_path / "r.html")
    assert "NOT INTACT: every entry is as it was written, but 1 of the photos of this report are missing or changed" in said
    assert "the photo is missing in the log" in said


def test_an_edited_entry_gets_no_report(run: Run, log: Logbook, tmp_path: Path) -> None:
    path = log.folder / "log.sqlite3"
    path.write_bytes(path.read_bytes().replace(b'"by":"Ann"', b'"by":"Bob"'))
    done = run("report", "-o", "r.html")
    assert (done.returncode, done.stdout) == (6, "")
    assert not (tmp_path / "r.html").exists()


@pytest.mark.usefixtures("log")
@pytest.mark.parametrize(
    ("arguments", "code", "sentence"),
    [
        (["-o", "r.txt"], 2, "end it in .html or .pdf"),
        (["-o", "r.html", "--board", "nosuch"], 2, "no readings were found"),
        (["-o", "r.html", "--replaces", "nosuch"], 2, "the log knows no report nosuch"),
        (["-o", "r.html", "--details", "nosuch.toml"], 2, "nosuch.toml cannot be read"),
        (["-o", "r.html", "--details", "bad.toml"], 2, "bad.toml: colour is not a key of a report's details"),
        (["-o", "r.html", "--details", "number.toml"], 2, "number.toml: job is not a text"),
        (["-o", "r.html", "--by", " "], 2, "a name is needed"),
        (["-o", "r.html", "--since", "soon"], 2, "'soon' is not a time"),
        (["-o", "there.html"], 7, "there.html is there already"),
        (["-o", "there.html/r.html"], 7, "cannot be made"),
        ([], 2, "Missing option"),
    ],
)
def test_wrong_usage_is_one_sentence_and_writes_nothing(run: Run, tmp_path: Path, arguments: list[str], code: int, sentence: str) -> None:
    (tmp_path / "bad.toml").write_text('colour = "blue"\n')
    (tmp_path / "number.toml").write_text("job = 7\n")
    (tmp_path / "there.html").write_text("an earlier report")
    done = run("report", *arguments)
    assert (done.returncode, done.stdout) == (code, "")
    assert sentence in done.stderr
    assert not (tmp_path / "r.html").exists()
    assert (tmp_path / "there.html").read_text() == "an earlier report"
    assert len(list(Logbook(tmp_path / "log").all_entries())) == 4


def test_boards_are_told_with_coats_build_and_measured_film(run: Run, tmp_path: Path, gauge_file: Path) -> None:
    book = Logbook(tmp_path / "log")
    boards.new_board(book, "door-1", load_coating("nosuch-clear"), Work.SCRAP, "Ann")
    paint = Paint(thinner=0.05, batch="EX 1", applicator="Dee", air_c=20.0, humidity=0.5, surface_c=19.0)
    boards.new_coat(book, "door-1", Settings(tip="EX 9", overlap=0.5), paint, "Ann")
    gauge = load_gauge(str(gauge_file))
    boards.dip_photo(book, "door-1", ["4.jpg"], gauge, "fine", boards.Place("top", 5), "Ann", last_wet=3, fetch=lambda _: photo_bytes(4))
    boards.dip_typed(book, "door-1", Bracket(85.0, 110.0), boards.Place("bottom", 40), "Ann")
    boards.measure(book, "door-1", [33.0, 35.0, 36.0], "Ben")
    run("log", "note", "left to dry upright", "--entry", "1", "--by", "Dee")
    done = run("report", "-o", "r.html", "--board", "door-1")
    assert done.returncode == 0, done.stderr
    said = text(tmp_path / "r.html")
    for words in (
        "Board door-1, coat 1: readings", "top after 5 s", "bottom after 40 s", "85 to 110 \u00b5m 3.35 to 4.33 mil",
        "tip or needle EX 9; overlap 50 %",
        "batch EX 1; 5 % thinner", "relative humidity 50 %; dew point 9.3 \u00b0C", "by Dee", "3 readings: least 33 \u00b5m", "passed",
        "30 to 43 \u00b5m", "Nosuch clear, data sheet 0 (invented), 2026-02-02", "dipped 40 s after spraying, may read low",
        "Maximum build", "note: left to dry upright, by Dee",
    ):  # fmt: skip
        assert words in said, words


def test_what_spoke_against_a_coat_and_what_nobody_measured_is_told(run: Run, tmp_path: Path) -> None:
    """Cautions of every coat, not of the last alone; no margin to a surface that was not measured; nothing for stated that was not."""
    run("board", "new", "a", "--coating", "nosuch-clear", "--job", "j")
    run("board", "coat", "a", "--air", "20C", "--humidity", "90", "--surface", "12C")
    run("board", "coat", "a", "--air", "20C", "--humidity", "55", "--thinner", "30")
    run("board", "coat", "a")
    run("report", "--job", "j", "-o", "r.html")
    said = text(tmp_path / "r.html")
    for words in (
        "coat 1, as it was laid: water condenses on the surface", "dew point 18.3 \u00b0C, surface 6.3 K below it",
        "coat 2, as it was laid: 30 % thinner is more than", "no thinner stated", "relative humidity 55 %; dew point 10.7 \u00b0C",
    ):  # fmt: skip
        assert words in said, words
    assert "10.7 \u00b0C, surface" not in said


def test_a_photo_that_was_logged_twice_for_a_coat_counts_once(run: Run, tmp_path: Path, gauge_file: Path) -> None:
    (tmp_path / "dip.jpg").write_bytes(photo_bytes(5))
    run("board", "new", "a", "--coating", "nosuch-clear", "--job", "j")
    run("board", "coat", "a")
    for spot in ("left", "right"):
        run("board", "add", "a", "--photo", "dip.jpg", "--gauge", gauge_file, "--side", "fine", "--spot", spot)
    run("report", "--job", "j", "-o", "r.html")
    said = text(tmp_path / "r.html")
    for words in ("1 in use: 1 by machine", "1 of a photo that was logged before", "not counted: photo of entry 3"):
        assert words in said, words


def test_a_report_of_a_job_tells_boards_coats_measured_film_and_attached_pictures(run: Run, tmp_path: Path) -> None:
    run("board", "new", "a", "--coating", "nosuch-clear", "--job", "kitchen 7")
    run("board", "coat", "a", "--speed", "300mm/s")
    run("board", "measure", "a", "38um")
    run("board", "new", "other", "--coating", "nosuch-clear")
    picture, exif = Image.effect_noise((900, 600), 50).convert("RGB"), Image.Exif()
    exif[0x010F] = "Nosuch cameras"  # the maker
    exif[0x0112] = 6  # turned
    picture.save(tmp_path / "a.jpg", exif=exif)
    run("log", "attach", "a.jpg", "--entry", "1", "--title", "the board as sprayed")
    (tmp_path / "sheet.txt").write_text("a sheet")
    run("log", "attach", "sheet.txt", "--entry", "2")
    assert run("report", "--job", "kitchen 7", "-o", "r.html").stdout.startswith("report ")
    said, html = text(tmp_path / "r.html"), (tmp_path / "r.html").read_text("utf-8")
    for words in ("Job kitchen 7", "pace 300 mm/s", "Board a, coat 1: no reading was logged.", "mean 38", "sheet.txt"):
        assert words in said, words
    assert "Board other" not in said
    (found,) = re.findall(r'alt="Picture attached to entry 1: the board as sprayed" src="data:image/jpeg;base64,([^"]+)"', html)
    with Image.open(BytesIO(base64.b64decode(found))) as shown:
        assert (shown.size, dict(shown.getexif())) == ((480, 720), {})
    assert b"Nosuch cameras" not in base64.b64decode(found)
    assert "no readings were found" in run("report", "--job", "kitchen 8", "-o", "n.html").stderr


def test_an_amended_report_says_what_changed_on_a_board(run: Run, tmp_path: Path) -> None:
    run("board", "new", "a", "--coating", "nosuch-clear")
    run("board", "coat", "a", "--by", "Ann")
    run("board", "add", "a", "--wet", "140-175um", "--by", "Ann")
    first = run("report", "-o", "r.html").stdout.split()[1]
    run("board", "measure", "a", "38um", "--by", "Ben")
    run("confirm", "3", "--wet", "90-125um", "--by", "Ben", "--reason", "misread")
    run("log", "void", "2", "--by", "Ann", "--reason", "another board")
    run("report", "-o", "s.html", "--replaces", first)
    said = text(tmp_path / "s.html")
    for words in (
        f"Changes since report {first}", "Added to board a: measured, entry 5, by Ben.",
        "Entry 3: corrected to 90 to 125 \u00b5m, by Ben: misread.", "Entry 2: made void, by Ann: another board.",
    ):  # fmt: skip
        assert words in said, words


def test_a_corrected_dip_is_reported_as_it_stands(run: Run, tmp_path: Path) -> None:
    run("board", "new", "a", "--coating", "nosuch-clear")
    run("board", "coat", "a")
    run("board", "add", "a", "--wet", "140-175um", "--by", "Ann")
    run("confirm", "3", "--wet", "90-125um", "--by", "Ben", "--reason", "misread")
    run("report", "-o", "r.html")
    said = text(tmp_path / "r.html")
    for words in (
        "1 in use: 0 by machine, 1 by eye, 0 confirmed by a person, 1 corrected",
        "90 to 125 \u00b5m",
        "corrected to 90 to 125",
        "misread",
    ):
        assert words in said, words
    run("log", "export", "out")
    assert ",90.0,125.0," in (tmp_path / "out" / "readings.csv").read_text()

"""What is looked up and put in away from the gun: boards, cards, plans, log, reports."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from lastwet.film.coating import coating_names
from lastwet.gauge import gauge_names
from lastwet.logbook.kinds import Kind
from lastwet.service import amend, boards
from lastwet.web.micro import micro
from tests.conftest import Run
from tests.fake_reader import GLARE, photo_bytes
from tests.web.conftest import Site, begin, send

COATING = {
    "name": "Test varnish",
    "unit": "um",
    "volume_solids": "50",
    "wet_low": "100",
    "wet_high": "140",
    "dry_low": "50",
    "dry_high": "70",
    "sheet": "sheet 1 (invented)",
    "sheet_date": "2026-01-31",
}


def text(html: str) -> str:
    """Return what a page says, without its tags."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


def test_board_shows_state_and_charts(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    send(phone, board, photo_bytes(4))
    page = phone.get(f"/boards/{board}")
    assert page.text.count("<svg") == 2 and "Wet film readings of panel-1" in page.text and "Build of panel-1" in page.text
    assert "110 to 140 \u00b5m (4.33 to 5.51 mil)" in text(page.text)
    assert "panel-1" in phone.get("/boards").text


def test_sanding_and_measured_film_are_logged(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    send(phone, board, photo_bytes(4))
    phone.post(f"/boards/{board}/sand", data={"off": "0.2", "off_unit": "mil"})
    phone.post(f"/boards/{board}/measure", data={"dry": "38 41 40", "dry_unit": "um"})
    found = boards.find_board(site.logbook, "panel-1")
    assert found.coats[0].sanded_um == pytest.approx((5.08, 5.08)) and found.measured_um == (38.0, 41.0, 40.0)  # 1 mil is 25.4 um
    assert phone.post(f"/boards/{board}/sand", data={"off": "x", "off_unit": "um"}).status_code == 422


def test_gauge_is_entered_and_used(site: Site) -> None:
    phone = site.phone()
    wrong = phone.post("/gauges/new", data={"name": "mine", "unit": "mil", "side1": "A", "teeth1": "1 2 2.5 2"})
    assert wrong.status_code == 422 and "do not rise" in wrong.text and 'value="1 2 2.5 2"' in wrong.text
    assert str(site.logbook.folder.parent) not in wrong.text
    assert "mine" not in phone.get("/cards").text
    done = phone.post("/gauges/new", data={"name": "mine", "unit": "mil", "side1": "A", "teeth1": "1 2, 3 4"})
    assert done.url.path == "/gauges/mine" and "1 2 3 4" in done.text
    assert "read this side by eye" not in done.text
    page = send(phone, begin(phone), photo_bytes(2), gauge="mine", side="A")
    assert "2 to 3 mil" in page.text


def test_gauge_entered_on_the_page_is_known_to_the_command_by_name(site: Site, run: Run, tmp_path: Path) -> None:
    site.phone().post("/gauges/new", data={"name": "mine", "unit": "mil", "side1": "A", "teeth1": "1 2 3 4"})
    (tmp_path / "dip.jpg").write_bytes(photo_bytes(2))
    read = run("read", "dip.jpg", "--gauge", "mine", "--json", "--log", site.logbook.folder, LASTWET_LOG=str(tmp_path / "other" / "log"))
    assert json.loads(read.stdout)["wet"] == {"low_um": 50.8, "high_um": 76.2}
    run("board", "new", "a", "--coating", "nosuch-clear")
    run("board", "coat", "a")
    typed = run("board", "add", "a", "--gauge", "mine", "--side", "A", "--last-wet", "2", "--json")
    assert (typed.returncode, json.loads(typed.stdout)["board"]) == (0, "a")
    assert "side A: 1 2 3 4" in run("gauge", "show", "mine").stdout
    assert "there is no gauge 'mine'" in run("gauge", "show", "mine", "--log", tmp_path / "other" / "log").stderr


def test_coating_entered_on_the_page_is_known_to_the_command_by_name(site: Site, run: Run, tmp_path: Path) -> None:
    site.phone().post("/coatings/new", data=COATING)
    (tmp_path / "dip.jpg").write_bytes(photo_bytes(4))
    book, other = ("--coating", "test-varnish", "--log", site.logbook.folder), str(tmp_path / "other" / "log")
    read = run("read", "dip.jpg", "--gauge", "bench-strip", "--side", "fine", "--json", *book, LASTWET_LOG=other)
    assert json.loads(read.stdout)["wet_range_um"] == [100.0, 140.0]
    assert "Test varnish" in run("board", "new", "a", *book, LASTWET_LOG=other).stdout
    for command in (
        "dry 100-140um", "wet 50um", "estimate 100-140um", "plan --total 100um", "measured 50um", "quantities --area 1m2 --wet 100um",
    ):  # fmt: skip
        assert run("film", *command.split(), "--coating", "test-varnish").returncode == 0, command
    assert run("coating", "show", "test-varnish").stdout.startswith("Test varnish")
    assert "there is no coating 'test-varnish'" in run("coating", "show", "test-varnish", "--log", other).stderr


def test_command_lists_the_shops_own_coatings_first_and_a_spoilt_one_stops_none(site: Site, run: Run) -> None:
    folder = site.logbook.folder.parent / "shop" / "coatings"
    site.phone().post("/coatings/new", data=COATING)
    (folder / "spoilt.toml").write_text("name = ")
    (folder / "nosuch-clear.toml").write_text((folder / "test-varnish.toml").read_text())
    names = ["nosuch-clear", "spoilt", "test-varnish", *(name for name in coating_names() if name != "nosuch-clear")]
    listed = run("coating", "list").stdout.splitlines()
    assert [line.split()[0] for line in listed] == names
    assert "its card is wrong" in listed[1]
    as_json = run("coating", "list", "--json")
    assert [json.loads(line)["card"] for line in as_json.stdout.splitlines()] == [name for name in names if name != "spoilt"]
    assert (as_json.returncode, "spoilt.toml is not a TOML file" in as_json.stderr) == (0, True)
    assert run("coating", "show", "nosuch-clear").stdout.startswith("Test varnish")  # as on the page, the shop's own comes first


def test_command_lists_the_shops_own_gauges_first_and_a_spoilt_one_stops_none(site: Site, run: Run) -> None:
    folder = site.logbook.folder.parent / "shop" / "gauges"
    site.phone().post("/gauges/new", data={"name": "mine", "unit": "mil", "side1": "A", "teeth1": "1 2 3 4"})
    (folder / "spoilt.toml").write_text("name = ")
    (folder / "mil-card.toml").write_text((folder / "mine.toml").read_text())
    listed = run("gauge", "list").stdout.splitlines()
    assert [line.split()[0] for line in listed] == ["mil-card", "mine", "spoilt", *(name for name in gauge_names() if name != "mil-card")]
    assert "its file is wrong" in listed[2]
    assert "side A: 1 2 3 4" in run("gauge", "show", "mil-card").stdout  # as on the page, the shop's own comes before one that ships


def test_gauge_that_no_photo_is_read_of_is_kept_and_says_so(site: Site) -> None:
    done = site.phone().post("/gauges/new", data={"name": "short", "unit": "um", "side1": "A", "teeth1": "10 20"})
    assert (done.url.path, done.status_code) == ("/gauges/short", 200)
    assert "side A has 2 teeth" in done.text and "read this side by eye" in done.text


@pytest.mark.parametrize("name", ["../evil", "a/b", "", "a" * 65, "bench-strip", "x\n"])
def test_gauge_names_that_lead_elsewhere_are_refused(site: Site, name: str) -> None:
    done = site.phone().post("/gauges/new", data={"name": name + "", "unit": "um", "side1": "A", "teeth1": "1 2 3"})
    written = [path.name for path in (site.logbook.folder.parent / "shop").rglob("*.toml")]
    assert (done.status_code, written) == ((422, []) if name != "x\n" else (200, ["x.toml"]))  # blanks around a name are cut off


def test_text_of_a_gauge_cannot_become_another_key(site: Site) -> None:
    """TOML is written from the fields: a quote in one of them must not end the string."""
    evil = 'A"\nteeth = [1, 2]\nunit = "mil'
    done = site.phone().post("/gauges/new", data={"name": "mine", "unit": "um", "side1": evil, "teeth1": "10 20 30"})
    assert done.status_code == 200 and "10 20 30" in done.text and "in \u00b5m" in done.text
    assert site.phone().post("/gauges/new", data={"name": "other", "unit": 'um"\nx="', "side1": "A", "teeth1": "1 2"}).status_code == 422


def test_coating_is_entered_and_used(site: Site) -> None:
    phone = site.phone()
    done = phone.post("/coatings/new", data=COATING)
    assert done.url.path == "/coatings/test-varnish" and "100 to 140 \u00b5m" in done.text
    begin(phone, coating="test-varnish")
    page = send(phone, 1, photo_bytes(4))
    # [110, 140) um wet x 50 % is [55, 70) um dry: dry = wet x volume solids, ASTM D4414 and any data sheet's theory
    assert "55 to 70 \u00b5m" in page.text and "inside the range" in page.text


@pytest.mark.parametrize(
    ("field", "value", "beside"),
    [
        ("volume_solids", "140", "volume_solids"),
        ("wet_low", "150", "wet_range"),
        ("sheet_date", "yesterday", "source"),
        ("mix_ratio", "four", "mix_ratio"),
        ("name", "", "name"),
    ],
)
def test_wrong_value_of_a_coating_is_told_beside_its_field(site: Site, field: str, value: str, beside: str) -> None:
    phone = site.phone()
    page = phone.post("/coatings/new", data={**COATING, field: value})
    said = "sheet" if beside == "source" else beside
    assert page.status_code == 422 and f'id="{said}-said"' in page.text and page.text.count('class="wrong"') == 1
    assert "Test varnish" not in phone.get("/cards").text


@pytest.mark.parametrize(
    ("query", "expected"),
    [
        ("what=convert&length=1&length_unit=mil", "25.4 \u00b5m"),  # 1 mil is 25.4 um exactly
        ("what=dry&coating=nosuch-primer&wet_low=6&wet_high=7&wet_unit=mil", "3.42 to 3.99 mil"),  # 57 % of 6 and 7
        ("what=plan&coating=nosuch-satin&total=76&total_unit=um", "2 coats"),  # 2 x 100 um x 38 %
        ("what=quantities&coating=nosuch-clear&area=10&area_unit=m2&each=100&each_unit=um&coats=1", "1.00 L"),  # 1 L is 10 m2 at 100 um
        ("what=dry&coating=nosuch-clear&wet_low=110&wet_high=140&thinner=30", "30 % thinner is more than"),
        ("what=plan&coating=nosuch-clear&total=60&thinner=30", "30 % thinner is more than"),
        ("what=quantities&coating=nosuch-clear&area=10&each=100&coats=1&thinner=30", "30 % thinner is more than"),
        ("what=dry&coating=nosuch-clear&wet_low=90&wet_high=94&thinner=10", "lies below the dry range of the data sheet"),
        # 9.3 C at 20 C and 50 %: the worked value of common psychrometric tables
        ("what=dew-point&air=20&air_unit=C&humidity=50", "dew point 9.3 C"),
    ],
)
def test_reckoning(site: Site, query: str, expected: str) -> None:
    page = site.phone().get(f"/reckon?{query}")
    assert page.status_code == 200 and expected in text(page.text)


@pytest.mark.parametrize(
    "query",
    [
        "what=convert&length=",
        "what=plan&coating=nosuch-clear&total=nan",
        "what=dry&coating=../x&wet_low=1",
        "what=quantities&coats=0",
        "what=quantities&coating=nosuch-clear&area=10&each=100&coats=1&loss=0.35",
        "what=dew-point&air=20&humidity=0.6",
    ],
)
def test_reckoning_with_wrong_numbers(site: Site, query: str) -> None:
    page = site.phone().get(f"/reckon?{query}")
    assert page.status_code == 422 and 'role="alert"' in page.text


def test_log_is_found_and_an_entry_has_its_history(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    send(phone, board, photo_bytes(4))
    send(phone, board, photo_bytes(GLARE))
    phone.post("/readings/3/confirm", data={"last_wet": "4", "side": "fine"})
    refused = phone.get("/log?outcome=refused")
    words = re.findall(r"<option(?: selected)?>(\w+)</option>", refused.text)
    assert words == ["read", "refused", "unusable", "below", "inside", "above", "straddles"] and "<option selected>refused<" in refused.text
    assert 'href="/log/4"' in refused.text and 'href="/log/3"' not in refused.text
    entry = phone.get("/log/3")
    assert "confirmed by Robin" in entry.text and site.logbook.entry(3).hash in entry.text


def test_log_is_turned_over_page_by_page(site: Site) -> None:
    phone = site.phone()
    for number in range(30):
        begin(phone, f"b{number}")
    first = phone.get("/log")
    older = re.search(r'href="(/log\?before=\d+)"', first.text)
    assert older
    seen = [int(seq) for page in (first, phone.get(older[1])) for seq in re.findall(r'<li><a href="/log/(\d+)"', page.text)]
    assert seen == list(range(60, 0, -1))


@pytest.mark.parametrize(("kind", "start"), [("pdf", b"%PDF-"), ("html", b"<!doctype html>")])
def test_report_is_issued_and_saved(site: Site, kind: str, start: bytes) -> None:
    phone = site.phone()
    send(phone, begin(phone), photo_bytes(4))
    page = phone.post("/reports", data={"board": "panel-1", "kind": kind, "paper": "a4"})
    assert page.status_code == 200, page.text
    entry = site.logbook.head()
    assert entry and entry.kind == Kind.REPORT and page.url.path == f"/reports/{entry.seq}"
    saved = phone.get(f"/reports/{entry.seq}?save=1")
    assert saved.content.lower().startswith(start.lower()) and saved.headers["content-disposition"].startswith("attachment")
    assert "sandbox" in saved.headers["content-security-policy"]
    file = next((site.logbook.folder.parent / "shop" / "reports").iterdir())
    file.chmod(0o644)
    file.write_bytes(saved.content + b" ")
    assert phone.get(f"/reports/{entry.seq}?save=1").status_code == 422  # not what was issued


def test_names_stay_as_they_are_where_the_unit_is_shown_as_it_should_be(site: Site) -> None:
    phone = site.phone()
    board = begin(phone, "panel 12 um", job="7 um frames")
    page = phone.get("/")
    assert "<b>um-hex</b>" in page.text and "40 to 215 \u00b5m" in page.text and "\u00b5m-hex" not in page.text
    send(phone, board, photo_bytes(4), "door 9 um.jpg", spot="edge 3 um")
    amend.note(site.logbook, "5 um-hex, 110 um", "Robin", about=3)
    for address in ("/", "/log", "/log/1", "/log/3", "/log/4", "/readings/3", f"/boards/{board}"):
        said = text(phone.get(address).text)
        for name in ("panel 12 um", "7 um frames", "door 9 um", "edge 3 um", "5 um-hex"):
            assert name.replace("um", "\u00b5m") not in said, (address, name)
    assert "panel 12 um" in text(phone.get("/log").text) and "spot edge 3 um" in text(phone.get("/readings/3").text)
    assert "110 to 140 \u00b5m (4.33 to 5.51 mil) wet door 9 um.jpg" in text(phone.get("/log").text)
    assert "note on entry 3 by Robin: 5 um-hex, 110 um" in text(phone.get("/log/3").text)


@pytest.mark.parametrize(
    ("words", "of", "shown"),
    [
        ("at most 80.5 um wet", None, "at most 80.5 \u00b5m wet"),
        ("um-hex, um", None, "um-hex, um"),
        ("60 um, 2 um-hex, 2 um", {"name": ["2 um-hex"]}, "60 \u00b5m, 2 um-hex, 2 \u00b5m"),
        ("12 um on 2 um", ("2 um", "um"), "12 \u00b5m on 2 um"),
        ("110 to 140 um of 5 um (a)", {"by": "5 um (a)"}, "110 to 140 \u00b5m of 5 um (a)"),
    ],
)
def test_micro(words: str, of: object, shown: str) -> None:
    assert micro(words, of) == shown


def test_shop_unit_comes_first(site: Site) -> None:
    phone = site.phone()
    send(phone, begin(phone), photo_bytes(4))
    phone.post("/look", data={"unit": "mil", "theme": "dim"})
    page = phone.get("/readings/3")
    assert re.search(r'<h1 class="film">4.33 to 5.51 mil</h1>', page.text) and 'data-theme="dim"' in page.text
    assert "mil" in phone.get("/boards/1").text.split("<svg", 1)[1].split("</svg>", 1)[0]


def test_first_page_is_small(site: Site) -> None:
    phone = site.phone()
    begin(phone)
    sent = [phone.get(path).content for path in ("/", "/static/page.css", "/static/page.js", "/static/icon.svg")]
    assert sum(map(len, sent)) < 60_000


def test_nothing_is_fetched_from_elsewhere(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    send(phone, board, photo_bytes(4))
    for path in (
        "/",
        "/boards",
        f"/boards/{board}",
        "/readings/3",
        "/log",
        "/more",
        "/cards",
        "/reckon",
        "/reports",
        "/static/page.css",
        "/static/page.js",
    ):
        addresses = set(re.findall(r"https?://[^\s\"'<)]+", phone.get(path).text)) - {"http://www.w3.org/2000/svg"}
        assert not addresses, path


def test_spoilt_cards_stop_nothing_else(site: Site) -> None:
    phone = site.phone()
    begin(phone)
    for kind in ("gauges", "coatings"):
        folder = site.logbook.folder.parent / "shop" / kind
        folder.mkdir(parents=True)
        (folder / "a-spoilt-one.toml").write_text("name = ")
    for path in ("/", "/cards", "/boards/new", "/reckon"):
        assert phone.get(path).status_code == 200, path
    assert phone.get("/gauges/a-spoilt-one").status_code == 422

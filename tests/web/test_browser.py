"""The page in a real browser, with real photos: sizes, contrast, names, both themes, small screens, with and without JavaScript.

Skipped where there is no Chromium; with LASTWET_NEED_BROWSER=1 that fails instead.
"""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Callable, Iterator
from functools import cache
from io import BytesIO
from pathlib import Path
from statistics import median
from typing import Any

import pytest
from PIL import Image, ImageFilter

from fixtures.live import ROOT, Live, serving
from lastwet.gauge import load_gauge
from lastwet.logbook.verify import verify
from lastwet.reading.outcome import Reading
from lastwet.report.compose import compose
from lastwet.report.html import render_html
from lastwet.result import Task
from lastwet.service import read_photo
from tests.report.reports import reading, report

CHROMIUM = next((path for path in map(shutil.which, ("chromium", "chromium-browser", "google-chrome")) if path), None)
if CHROMIUM is None and os.environ.get("LASTWET_NEED_BROWSER") == "1":
    pytest.fail("LASTWET_NEED_BROWSER=1, and there is no chromium", pytrace=False)
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium: apt-get install chromium")
playwright = pytest.importorskip("playwright.sync_api")

PHONE = {"width": 390, "height": 844}
SMALL = {"width": 320, "height": 568}
LEAST_TARGET_PX = 64
LEAST_TEXT_PX, LEAST_RESULT_PX = 18, 48
LEAST_CONTRAST = 4.5
"""WCAG 2.2, 1.4.3 (AA), and for large text too, which might have 3."""

EXPECTED = re.compile("status of 4(04|22)|ERR_FAILED")
"""What the browser says where a test asks for a page that is not there, or breaks the network."""

Page = Any
Dip = tuple[Path, str, str]
"""A photo, its gauge, its side."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with playwright.sync_playwright() as run:
        started = run.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"] if os.geteuid() == 0 else [])
        yield started
        started.close()


@pytest.fixture
def live(tmp_path: Path) -> Iterator[Live]:
    with serving(tmp_path) as server:
        yield server


@pytest.fixture
def phone(browser: Any, live: Live) -> Iterator[Callable[..., Page]]:
    """Return a maker of paired phones; each must be free of errors of the browser at the end."""
    opened, wrong = [], []

    def make(by: str = "Robin", **options: Any) -> Page:
        context = browser.new_context(viewport=options.pop("viewport", PHONE), **options)
        page = context.new_page()
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("console", lambda said: wrong.append(said.text) if said.type == "error" and not EXPECTED.search(said.text) else None)
        page.on("request", lambda request: wrong.append(request.url) if not request.url.startswith((live.origin, "blob:")) else None)
        page.goto(opened_link(opened, live))
        page.fill("#by", by)
        tap(page, "button")
        opened.append(page)
        return page

    yield make
    for page in opened:
        page.context.close()
    assert not wrong


def opened_link(opened: list[Page], live: Live) -> str:
    """Return a link that was not used: the terminal's for the first phone, for another one what a paired phone shows."""
    if not opened:
        return live.link
    page = opened[0].context.new_page()
    page.goto(f"{live.origin}/invite")
    link = page.inner_text("code")
    page.close()
    return str(link)


@cache
def sample(wanted: str) -> Dip:
    """Return a shipped photo that is read, or refused, by the reader as it is now."""
    folder = ROOT / "src" / "lastwet" / "data" / "photos"
    for card in sorted(folder.glob("*.json")):
        shown = json.loads(card.read_text("utf-8"))
        dip = card.with_suffix(".jpg"), shown["gauge"], shown["side"]
        outcome = read_photo(str(dip[0]), Task(load_gauge(dip[1]), dip[2])).outcome
        if isinstance(outcome, Reading) == (wanted == "read"):
            return dip
    pytest.fail(f"no sample photo is {wanted} any more")


def write_gauge(shop: Path, design: str) -> None:
    """Enter a gauge of the corpus among the shop's own."""
    known = json.loads((ROOT / "fixtures" / "photos" / "designs" / f"{design}.json").read_text("utf-8"))
    write_sides(shop, design, known["unit"], {edge["id"]: edge["teeth"] for edge in known["edges"]})


def write_sides(shop: Path, name: str, unit: str, sides: dict[str, list[float]]) -> None:
    """Enter a gauge among the shop's own."""
    told = [f'[[side]]\nid = "{side}"\nteeth = {teeth}\n' for side, teeth in sides.items()]
    (shop / "gauges").mkdir(parents=True, exist_ok=True)
    (shop / "gauges" / f"{name}.toml").write_text(f'name = "{name}"\nunit = "{unit}"\n' + "".join(told))


def all_wet(shop: Path) -> Dip:
    """Return a photo of the corpus with every tooth wet, on a side that is not the last, which the reader as it is now reads so."""
    for card in sorted((ROOT / "fixtures" / "photos").glob("*.json")):
        truth = json.loads(card.read_text("utf-8"))
        if truth["scenario"] != "read" or truth["last_wet"] != truth["n_teeth"]:
            continue
        write_gauge(shop, truth["design"])
        gauge = load_gauge(str(shop / "gauges" / f"{truth['design']}.toml"))
        outcome = read_photo(str(card.with_suffix(".jpg")), Task(gauge, truth["edge_id"])).outcome
        ordered = sorted(gauge.sides, key=lambda side: side.teeth)
        if isinstance(outcome, Reading) and outcome.last_wet == truth["n_teeth"] and ordered[-1].id != truth["edge_id"]:
            return card.with_suffix(".jpg"), truth["design"], truth["edge_id"]
    pytest.fail("no photo of the corpus with every tooth wet is read any more")


def tap(page: Page, what: str) -> None:
    """Press something that leads to another page, and wait for that page with its style."""
    with page.expect_navigation(wait_until="load"):
        page.click(what)


def begin(page: Page, dip: Dip, coating: str = "nosuch-primer") -> None:
    """Begin a board and take the photo's gauge and side."""
    page.select_option("#coating", coating)
    tap(page, "button:has-text('Start')")
    page.click("summary:has-text('Another gauge')")
    page.click(f"label:has(input[value='{dip[1]}'])")
    tap(page, "button:has-text('Take this gauge')")
    choose_side(page, dip)


def choose_side(page: Page, dip: Dip) -> None:
    page.click(f"label:has(input[name='side'][value='{dip[2]}'])")


def shoot(page: Page, dip: Dip) -> None:
    """Give the camera's photo to the form, which the script then sends."""
    page.set_input_files("input[capture]", dip[0])
    page.wait_for_url("**/readings/*", timeout=30_000, wait_until="load")


def tour(page: Page) -> Iterator[str]:
    """Go through the whole job, and yield at each page to be looked at."""
    dip = sample("read")
    yield "new"
    begin(page, dip)
    yield "bench"
    shoot(page, dip)
    yield "result"
    tap(page, "button:has-text('Confirm')")
    yield "confirmed"
    tap(page, "text=Next dip")
    choose_side(page, sample("refused"))
    shoot(page, sample("refused"))
    yield "refusal"
    tap(page, "text=Read it by eye")
    yield "by-eye"
    tap(page, ".choices button >> nth=6")
    yield "above"
    tap(page, "nav >> text=Boards")
    yield "boards"
    tap(page, "main .list a")
    yield "board"
    page.goto(page.url + "/coat")
    page.click("summary")
    yield "coat"
    for path in ("/log", "/log/3", "/more", "/cards", "/gauges/new", "/coatings/new", "/reckon", "/reports", "/invite", "/nothing-here"):
        page.goto(re.sub(r"(//[^/]+)/.*", r"\1", page.url) + path)
        yield path


# --- the flow


def test_whole_flow_with_real_photos(phone: Any, live: Live) -> None:
    page = phone()
    said = {name: page.inner_text("main") for name in tour(page)}
    assert "Is that the number stamped on it?" in said["result"] and "Next pass".upper() in said["result"].upper()
    assert "Confirmed by Robin" in said["confirmed"] and "Wipe the gauge" in said["confirmed"]
    assert "Not read" in said["refusal"] and "too thick" in said["above"]
    page.goto(f"{live.origin}/reports")
    tap(page, "text=Issue a report")
    with page.expect_download() as saving:
        page.click("text=Save it")
    assert Path(saving.value.path()).read_bytes().startswith(b"%PDF-")
    assert not verify(live.log)


def test_every_tooth_wet_turns_to_the_next_side(phone: Any, live: Live) -> None:
    dip = all_wet(live.log.parent / "shop")
    page = phone()
    begin(page, dip)
    shoot(page, dip)
    assert "or more" in page.inner_text("h1.film") and "Every tooth is wet" in page.inner_text("main")
    tap(page, "button:has-text('Turn to side')")
    chosen = page.get_attribute("input[name='side']:checked", "value")
    assert chosen not in ("", dip[2]) and page.input_value("#spot") == "1"


def test_another_photo_of_a_refused_dip_is_read_together_with_it(phone: Any, live: Live) -> None:
    folder, page = ROOT / "fixtures" / "photos" / "dip", phone()
    truth = json.loads((folder / "g1079.json").read_text("utf-8"))
    write_sides(live.log.parent / "shop", truth["design"], truth["unit"], {truth["edge_id"]: truth["gauge_teeth"]})
    blurred = live.log.parent / "blurred.jpg"
    with Image.open(folder / "g1079_b2.jpg") as photo:
        photo.filter(ImageFilter.GaussianBlur(4)).save(blurred, exif=photo.getexif())
    dip = blurred, truth["design"], truth["edge_id"]
    begin(page, dip)
    shoot(page, dip)
    assert "Not read" in page.inner_text("h1")
    assert all(min(size) >= LEAST_TARGET_PX - 0.1 for _, *size in page.evaluate(TARGETS)) and not page.evaluate(UNNAMED)
    refused = page.url
    page.set_input_files("input[capture]", folder / "g1079.jpg")
    page.wait_for_url(lambda url: url != refused, timeout=30_000, wait_until="load")
    assert re.search(r"\d", page.inner_text("h1.film")) and "2 photos of one dip" in page.inner_text("main")
    assert not verify(live.log)


def test_a_photo_of_the_clean_gauge_waits_for_that_of_the_dip(phone: Any, live: Live) -> None:
    folder, page = ROOT / "fixtures" / "photos" / "dip", phone()
    truth = json.loads((folder / "g1079.json").read_text("utf-8"))
    write_sides(live.log.parent / "shop", truth["design"], truth["unit"], {truth["edge_id"]: truth["gauge_teeth"]})
    dip = folder / "g1079.jpg", truth["design"], truth["edge_id"]
    begin(page, dip)
    page.click("summary:has-text('Photo of the clean gauge')")
    assert all(min(size) >= LEAST_TARGET_PX - 0.1 for _, *size in page.evaluate(TARGETS)) and not page.evaluate(UNNAMED)
    page.set_input_files("#clean", folder / "g1079_clean.jpg")
    shoot(page, dip)
    assert re.search(r"\d", page.inner_text("h1.film")) and "held against the clean gauge" in page.inner_text("main")
    assert not verify(live.log)


def test_without_javascript(phone: Any, live: Live) -> None:
    page, dip = phone(java_script_enabled=False), sample("read")
    begin(page, dip)
    page.set_input_files("input[name=photo]:not([capture])", dip[0])
    tap(page, "button:has-text('Read it')")
    assert re.search(r"\d", page.inner_text("h1.film"))
    tap(page, "text=Correct")
    tap(page, ".choices button >> nth=2")
    assert "by eye" in page.inner_text(".done") and not verify(live.log)


def test_photo_is_kept_and_sent_again_after_the_network_failed(phone: Any) -> None:
    page, dip = phone(), sample("read")
    begin(page, dip)
    page.route("**/dips", lambda route: route.abort())
    page.set_input_files("input[capture]", dip[0])
    page.wait_for_selector("button:has-text('Send again')")
    assert "It is kept here" in page.inner_text("[role=status]") and page.is_visible("#preview")
    page.unroute("**/dips")
    page.click("button:has-text('Send again')")
    page.wait_for_url("**/readings/*", timeout=30_000)


def test_two_phones_on_one_board(phone: Any, live: Live) -> None:
    first, dip = phone("Robin"), sample("read")
    begin(first, dip)
    second = phone("Kim")
    tap(second, "main button:has-text('board-1')")
    second.click("summary:has-text('Another gauge')")
    second.click(f"label:has(input[value='{dip[1]}'])")
    tap(second, "button:has-text('Take this gauge')")
    choose_side(second, dip)
    shoot(first, dip)
    shoot(second, dip)
    assert first.url == second.url  # the same photo is one entry
    tap(second, "button:has-text('Confirm')")
    first.reload()
    assert "Confirmed by Kim" in first.inner_text(".done") and not verify(live.log)


def test_theme_and_unit_are_remembered(phone: Any) -> None:
    page = phone()
    page.goto(re.sub(r"(//[^/]+)/.*", r"\1/more", page.url))
    page.click("label:has-text('dim')")
    tap(page, "button:has-text('Show it so')")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(17, 17, 17)"


# --- for hands and eyes

TARGETS = """() => [...document.querySelectorAll(
    'main a.button, main button, nav a, main summary, main .list a, main input:not([type=hidden]), main select, main textarea')]
  .filter(e => e.checkVisibility({checkVisibilityCSS: true}) && !e.closest('details:not([open]) > :not(summary)'))
  .map(e => { const b = e.getBoundingClientRect(); return [e.outerHTML.slice(0, 90), b.width, b.height]; })"""

TEXTS = """() => {
  const found = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const node = walk.currentNode, e = node.parentElement;
    if (!node.data.trim() || e.closest('svg, .skip, .only-said, script, option')) continue;
    if (!e.checkVisibility({checkVisibilityCSS: true})) continue;
    const style = getComputedStyle(e);
    let back = e, colour = 'rgba(0, 0, 0, 0)';
    while (back && colour === 'rgba(0, 0, 0, 0)') { colour = getComputedStyle(back).backgroundColor; back = back.parentElement; }
    found.push([node.data.trim().slice(0, 50), parseFloat(style.fontSize), style.color, colour]);
  }
  return found;
}"""

UNNAMED = """() => [...document.querySelectorAll(
    'main input:not([type=hidden]), main select, main textarea, main button, a, img, progress')]
  .filter(e => !(e.labels?.length || e.getAttribute('aria-label') || e.getAttribute('alt') || e.textContent.trim()))
  .map(e => e.outerHTML.slice(0, 90))"""


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2."""
    parts = [float(part) / 255 for part in re.findall(r"[\d.]+", colour)[:3]]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.2."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_reckoned_as_published() -> None:
    """Black on white is 21:1, and #767676 on white 4.54:1 (WCAG 2.2, understanding 1.4.3)."""
    assert contrast("rgb(0, 0, 0)", "rgb(255, 255, 255)") == pytest.approx(21)
    assert contrast("rgb(118, 118, 118)", "rgb(255, 255, 255)") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_sizes_contrast_names_and_width_of_every_page(phone: Any, scheme: str) -> None:
    page = phone(color_scheme=scheme, viewport=SMALL)
    for name in tour(page):
        small = [target for target in page.evaluate(TARGETS) if target[1] < LEAST_TARGET_PX - 0.1 or target[2] < LEAST_TARGET_PX - 0.1]
        assert not small, name
        for words, size, colour, ground in page.evaluate(TEXTS):
            assert size >= LEAST_TEXT_PX, (name, words)
            assert contrast(colour, ground) >= LEAST_CONTRAST, (name, words, colour, ground)
        assert not page.evaluate(UNNAMED), name
        assert page.evaluate("document.documentElement.scrollWidth") <= SMALL["width"], name
        assert page.locator("h1").count() >= 1 and page.title().strip(), name
        assert page.locator("main").count() == 1 and page.evaluate("document.documentElement.lang") == "en", name


def test_result_is_very_large_and_announced(phone: Any) -> None:
    page = phone(viewport=SMALL)
    dip = sample("read")
    begin(page, dip)
    shoot(page, dip)
    assert page.evaluate("parseFloat(getComputedStyle(document.querySelector('h1.film')).fontSize)") >= LEAST_RESULT_PX
    assert page.locator("[role=status][aria-live=polite] h1.film").count() == 1
    assert page.locator(".verdict svg").count() == 1 and page.inner_text(".verdict").strip()  # colour, shape and word
    assert page.inner_text("h1.film") in page.title()


def test_double_zoom_needs_no_scrolling_sideways(phone: Any) -> None:
    """A page at 200 % has half the width in CSS pixels (WCAG 2.2, 1.4.10 asks for 320)."""
    page = phone(viewport={"width": 195, "height": 422}, device_scale_factor=2)
    dip = sample("read")
    begin(page, dip)
    shoot(page, dip)
    assert page.evaluate("document.documentElement.scrollWidth") <= 320


def test_keyboard_alone_reaches_confirm(phone: Any) -> None:
    page, dip = phone(), sample("read")
    begin(page, dip)
    shoot(page, dip)
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent.trim()") == "Confirm":
            break
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    page.keyboard.press("Enter")
    page.wait_for_selector(".done")


def shade(page: Page) -> tuple[int, int]:
    """Return how light the middle of the left and the right edge of the chart are, 0 to 255."""
    with Image.open(BytesIO(page.locator(".chart").first.screenshot())) as shot:
        grey = shot.convert("L")
        left, right = ([grey.getpixel((x, y)) for y in range(grey.height)] for x in (1, grey.width - 2))
    return int(median(left)), int(median(right))


@pytest.mark.parametrize(("readings", "more"), [(2, False), (5, True)])
def test_a_chart_that_goes_on_beyond_the_edge_shows_it(browser: Any, readings: int, more: bool) -> None:
    """In a report on a phone: the chart scrolls within its box, with a shadow at the edge beyond which there is more of it."""
    page = browser.new_page(viewport={"width": 360, "height": 640})
    page.set_content(render_html(compose(report(*(reading(entry) for entry in range(1, readings + 1))))))
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    assert page.evaluate("document.querySelector('.chart').scrollWidth > document.querySelector('.chart').clientWidth") == more
    left, right = shade(page)
    assert left == 255
    assert (right < 200) == more
    page.evaluate("document.querySelector('.chart').scrollLeft = 1000")
    left, right = shade(page)
    assert (left < 200) == more
    assert right == 255
    page.close()

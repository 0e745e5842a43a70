"""The whole job at the bench, through the forms alone: what a browser without JavaScript does."""

from __future__ import annotations

import re
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from lastwet.errors import NotWritten
from lastwet.gauge import Gauge, load_gauge
from lastwet.logbook.kinds import Kind
from lastwet.logbook.store import Logbook
from lastwet.logbook.verify import verify
from lastwet.reading.outcome import Code, Outcome, Reason, Refusal, Together, Told
from lastwet.reading.photo import Photo
from lastwet.service import amend, boards
from lastwet.web import desk
from lastwet.web.app import create_app
from lastwet.web.bench import following
from lastwet.web.guard import MAX_FORM_BYTES
from lastwet.web.pairing import Pairing
from tests.fake_reader import FAULT, GLARE, photo_bytes, read, read_together
from tests.web.conftest import HOST, Site, begin, send


def test_photo_result_confirm(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    page = send(phone, board, photo_bytes(4))
    # bench-strip, side fine: 4 wet teeth of 40 60 85 110 140 are [110, 140)
    assert page.url.path == "/readings/3" and "110 to 140 \u00b5m" in page.text and "4.33 to 5.51 mil" in page.text
    assert "110 is the last wet tooth" in page.text and "on a limit" in page.text
    assert "either side of 125 \u00b5m; wet range 90 to 125 \u00b5m" in page.text  # 125 lies within the bracket
    done = phone.post("/readings/3/confirm", data={"last_wet": "4", "side": "fine"})
    assert "Confirmed by Robin" in done.text and "Wipe the gauge" in done.text
    entry = site.logbook.head()
    assert entry and entry.kind == Kind.CONFIRMATION and entry.body["by"] == "Robin"
    assert not verify(site.logbook.folder)


def test_refusal_is_read_by_eye_with_the_photo_as_evidence(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    page = send(phone, board, photo_bytes(GLARE))
    assert "Not read" in page.text and "A tooth lies under glare." in page.text and "Turn the gauge away from the lamp." in page.text
    asked = phone.get("/readings/3/correct")
    assert re.findall(r'name="last_wet" value="(\d)"', asked.text) == ["1", "2", "3", "4", "5", "6", "7", "0"]
    done = phone.post("/readings/3/confirm", data={"last_wet": "3", "side": "fine"})
    assert "85 to 110 \u00b5m" in done.text and "Read by Robin, by eye" in done.text
    assert site.logbook.entry(3).photo_sha256 and site.logbook.entry(4).kind == Kind.CORRECTION


def test_correction_keeps_what_the_machine_said(site: Site) -> None:
    phone = site.phone()
    send(phone, begin(phone), photo_bytes(4))
    said = {"last_wet": "5", "side": "fine", "reason": "seen on the gauge itself"}
    done = phone.post("/readings/3/confirm", data=said)
    assert "140 to 175" in done.text
    assert site.logbook.entry(3).body["reading"]["last_wet"] == 4


def test_all_wet_turns_to_the_next_side_at_the_same_spot(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    page = send(phone, board, photo_bytes(7))
    assert "215 \u00b5m or more" in page.text and "Turn to side coarse" in page.text
    bench = phone.post("/readings/3/turn")
    assert re.search(r'value="coarse" checked', bench.text) and 'name="spot" value="1"' in bench.text
    send(phone, board, photo_bytes(0), side="coarse", spot="1")
    spot = boards.state(site.logbook, "panel-1").coats[0].spots[0]
    assert (spot.wet.low_um, spot.wet.high_um) == (215.0, 260.0)  # side A all wet, side B none


def test_retake_takes_the_first_photo_out_of_use(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    send(phone, board, photo_bytes(GLARE))
    bench = phone.post("/readings/3/retake")
    assert 'name="spot" value="1"' in bench.text
    send(phone, board, photo_bytes(3), spot="1")
    state = boards.state(site.logbook, "panel-1")
    assert [dip.entry for dip in state.board.coats[0].dips] == [5]
    assert not [words for words in state.cautions if "was not read" in words]


def test_same_photo_twice_is_one_entry(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    first, second = send(phone, board, photo_bytes(3)), send(phone, board, photo_bytes(3), "again.jpg")
    assert first.url == second.url
    assert [entry.seq for entry in site.logbook.all_entries() if entry.kind == Kind.READING] == [3]


def test_photo_that_was_read_with_others_is_no_entry_of_its_own(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lastwet.service.burst.default_combiner", lambda: read_together)
    phone = site.phone()
    board, gauge = begin(phone), load_gauge("bench-strip")
    photos = {name: photo_bytes(3, size=size) for name, size in (("a.jpg", (640, 480)), ("b.jpg", (700, 480)))}
    boards.dip_photo(site.logbook, "panel-1", list(photos), gauge, "fine", boards.Place(), "Kim", fetch=photos.__getitem__)
    assert [str(send(phone, board, photo).url)[-11:] for photo in photos.values()] == ["/readings/3"] * 2


def test_two_phones_at_once_lose_nothing_and_share_no_spot(site: Site) -> None:
    first, second = site.phone("Robin"), site.phone("Kim")
    board = begin(first)
    photos = [photo_bytes(3 + number % 2, size=(640, 480 + number)) for number in range(12)]
    with ThreadPoolExecutor(4) as pool:
        pages = list(pool.map(lambda job: send((first, second)[job[0] % 2], board, job[1]), enumerate([*photos, *photos])))
    assert {page.status_code for page in pages} == {200}
    dips = boards.state(site.logbook, "panel-1").board.coats[0].dips
    assert len(dips) == 12 and sorted(int(dip.spot) for dip in dips) == list(range(1, 13))
    assert {entry.body["by"] for entry in site.logbook.all_entries() if entry.kind == Kind.READING} == {"Robin", "Kim"}
    assert not verify(site.logbook.folder)


def test_next_board_takes_two_taps(site: Site) -> None:
    phone = site.phone()
    begin(phone, "door-09", "nosuch-primer")
    page = phone.get("/boards/new")  # the first tap; the second sends the form as it stands
    fields = {
        "name": re.search(r'name="name" value="([^"]*)"', page.text)[1],  # type: ignore[index]
        "coating": re.search(r'<option value="([^"]*)" selected', page.text)[1],  # type: ignore[index]
    }
    assert fields == {"name": "door-10", "coating": "nosuch-primer"}
    assert begin(phone, **fields)


@pytest.mark.parametrize(
    ("name", "next_name"), [("door-9", "door-10"), ("door-09", "door-10"), ("A7 left", "A8 left"), ("shelf", "shelf-2")]
)
def test_names_count_up(name: str, next_name: str) -> None:
    assert following(name) == next_name


def test_next_coat_takes_over_the_settings(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    done = phone.post(
        f"/boards/{board}/coat", data={"number": "2", "speed_mm_s": "16", "speed_mm_s_unit": "in/s", "flow_ml_min": "200", "thinner": "5"}
    )
    assert "coat 2" in done.text
    coat = boards.find_board(site.logbook, "panel-1").coats[1]
    assert coat.settings.speed_mm_s == pytest.approx(16 * 25.4) and coat.settings.flow_ml_min == 200 and coat.paint.thinner == 0.05
    page = phone.get(f"/boards/{board}/coat")
    assert 'name="speed_mm_s" value="406.4"' in page.text and "recoat window opens in" in page.text


@pytest.mark.parametrize(("field", "value"), [("humidity", "140"), ("humidity", "0.6"), ("overlap", "0.5")])
def test_wrong_setting_is_told_beside_its_field(site: Site, field: str, value: str) -> None:
    phone = site.phone()
    board = begin(phone)
    page = phone.post(f"/boards/{board}/coat", data={"number": "2", field: value, "flow_ml_min": "200"})
    assert page.status_code == 422
    assert re.search(rf'name="{field}" value="{value}"[^>]*aria-invalid="true" aria-describedby="{field}-said"', page.text)
    assert 'name="flow_ml_min" value="200"' in page.text
    assert len(boards.find_board(site.logbook, "panel-1").coats) == 1


def test_photo_for_a_coat_that_is_covered_is_not_taken(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    phone.post(f"/boards/{board}/coat", data={"number": "2"})
    page = send(phone, board, photo_bytes(3))
    assert page.status_code == 422 and "taken for coat 1" in page.text
    assert Kind.READING not in {entry.kind for entry in site.logbook.all_entries()}


def test_work_piece_asks_for_the_mark(site: Site) -> None:
    phone = site.phone()
    board = begin(phone, work="piece")
    assert "The mark of the dip" in phone.get("/").text
    assert send(phone, board, photo_bytes(3)).status_code == 422
    assert send(phone, board, photo_bytes(3), touched_up="yes").status_code == 200


def test_second_tap_changes_nothing(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    send(phone, board, photo_bytes(4))
    for _ in range(2):
        phone.post("/readings/3/confirm", data={"last_wet": "4", "side": "fine"})
        phone.post(f"/boards/{board}/coat", data={"number": "2"})
        phone.post("/readings/3/retake")
    assert [entry.kind for entry in site.logbook.all_entries()] == ["board", "coat", "reading", "confirmation", "coat", "void"]


def test_cautions_are_shown_once_for_each_device(site: Site) -> None:
    phone = site.phone()
    assert "safety data sheet" in phone.get("/").text and "safety data sheet" not in phone.get("/").text


def test_pages_for_numbers_that_are_not_there(site: Site) -> None:
    phone = site.phone()
    for path in ("/log/7", "/log/99999999999999999999", "/readings/7", "/readings/7/picture", "/boards/7", "/boards/7/coat"):
        assert phone.get(path).status_code == 422


def test_unclear_side_is_asked_for_and_the_photo_read_again(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    def unclear(photo: Photo, gauge: Gauge, side_id: str | None) -> Outcome:
        if side_id:
            return read(photo, gauge, side_id)
        return Refusal((Reason(Code.SIDE_UNCLEAR, "Two sides have as many teeth.", "Say which side was pressed."),))

    monkeypatch.setattr("lastwet.service.photos.default_reader", lambda: unclear)
    phone = site.phone()
    page = send(phone, begin(phone), photo_bytes(3), side="")
    assert re.findall(r'name="side" value="(\w+)"', page.text) == ["fine", "coarse"]
    done = phone.post("/readings/3/side", data={"side": "fine"})
    assert "85 to 110 \u00b5m" in done.text
    dips = boards.state(site.logbook, "panel-1").board.coats[0].dips
    assert [(dip.entry, dip.spot) for dip in dips] == [(4, "1")]  # the refusal is void, and says why
    assert "read again as entry 4" in str(site.logbook.entry(5).body["reason"])
    assert phone.post("/readings/3/side", data={"side": "fine"}).status_code == 422
    assert not verify(site.logbook.folder)


def test_photos_read_together_are_read_again_together_and_against_the_clean_gauge(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    def unclear(photos: Sequence[Photo], gauge: Gauge, side_id: str | None, clean: Photo | None = None) -> Together:
        if side_id:
            return read_together(photos, gauge, side_id, clean)
        refusal = Refusal((Reason(Code.SIDE_UNCLEAR, "Two sides have as many teeth.", "Say which side was pressed."),))
        return Together(refusal, 0, (Told(refusal, used=True),) * len(photos))

    monkeypatch.setattr("lastwet.service.burst.default_combiner", lambda: unclear)
    phone = site.phone()
    begin(phone)
    photos = {"a.jpg": photo_bytes(3), "b.jpg": photo_bytes(3, size=(700, 480)), "c.jpg": b"no photo"}
    given, place = photos | {"dirty.jpg": photo_bytes(2)}, boards.Place()
    boards.dip_photo(
        site.logbook, "panel-1", list(photos), load_gauge("bench-strip"), None, place, "Kim", fetch=given.__getitem__, clean="dirty.jpg"
    )
    page = phone.post("/readings/3/side", data={"side": "fine"})
    assert "looked wet already" in page.text
    again = site.logbook.entry(4)
    assert (again.body["reading"]["photos"], again.body["reading"]["clean"]["photo"]) == (["a.jpg", "b.jpg"], "dirty.jpg")
    assert set(again.photos) == set(site.logbook.entry(3).photos)


def add(phone: TestClient, entry: int, photo: bytes) -> Any:
    """Send another photo of a refused dip."""
    return phone.post(f"/dips/{entry}", files=[("photo", ("dip.jpg", photo, "image/jpeg"))])


def test_another_photo_of_a_refused_dip_is_read_together_with_the_first(site: Site) -> None:
    phone = site.phone()
    page = send(phone, begin(phone), photo_bytes(GLARE))
    assert 'action="/dips/3"' in page.text
    second = photo_bytes(4) + bytes(MAX_FORM_BYTES)  # larger than a form without a photo may be
    done = add(phone, 3, second)
    assert done.url.path == "/readings/4" and "110 to 140 \u00b5m" in done.text and "2 photos of one dip" in done.text
    assert add(phone, 3, second).url.path == "/readings/4"  # sent again, as the answer was lost
    again, void = site.logbook.entry(4), site.logbook.entry(5)
    assert len(again.photos) == 2 and site.logbook.entry(3).photo_sha256 in again.photos
    assert again.body["reading"]["photos"] == ["dip.jpg", "dip.jpg"]  # as a phone names them
    assert void.body["reason"] == "another photo of the dip was added, and they were read together as entry 4"
    assert [(dip.entry, dip.spot) for dip in boards.state(site.logbook, "panel-1").board.coats[0].dips] == [(4, "1")]
    assert not verify(site.logbook.folder)
    assert "Save photo 1 of 2 as received" in phone.get("/log/4").text and "Save the photo as received" in phone.get("/log/3").text
    assert {phone.get(f"/readings/4/photos/{n}").content for n in (1, 2)} == {photo_bytes(GLARE), second}
    for number in (0, 3):
        assert "Choose one of its 2" in phone.get(f"/readings/4/photos/{number}").text


def test_photos_are_added_until_the_dip_is_read(site: Site) -> None:
    phone = site.phone()
    send(phone, begin(phone), photo_bytes(GLARE))
    assert "Not read" in add(phone, 3, photo_bytes(GLARE, size=(700, 480))).text
    done = add(phone, 4, photo_bytes(2))
    assert "60 to 85 \u00b5m" in done.text and "3 photos of one dip" in done.text
    assert 'action="/dips/' not in done.text  # what was read needs no more
    assert add(phone, 6, photo_bytes(3)).status_code == 422
    kinds = [entry.kind for entry in site.logbook.all_entries()]
    assert kinds == ["board", "coat", "reading", "reading", "void", "reading", "void"]


def send_both(phone: TestClient, board: int, photo: bytes, clean: bytes, name: str = "image.jpg") -> Any:
    """Send a photo of a dip and one of the clean gauge before it, which a phone may name alike."""
    data = {"board": str(board), "coat": "1", "gauge": "bench-strip", "side": "fine"}
    return phone.post("/dips", data=data, files=[("photo", ("image.jpg", photo, "image/jpeg")), ("clean", (name, clean, "image/jpeg"))])


def test_a_dip_is_held_against_the_clean_gauge(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    assert 'type="file" id="clean" name="clean"' in phone.get("/").text
    done = send_both(phone, board, photo_bytes(4), photo_bytes(0))
    assert "110 to 140 \u00b5m" in done.text and "held against the clean gauge" in done.text
    entry = site.logbook.entry(3)
    assert [site.logbook.photos.read(sha256) for sha256 in entry.photos] == [photo_bytes(4), photo_bytes(0)]
    assert entry.body["reading"]["clean"]["sha256"] == entry.more_photos[0]
    assert send_both(phone, board, photo_bytes(4), photo_bytes(0)).url == done.url  # sent again, as the answer was lost
    assert not verify(site.logbook.folder)


def test_a_photo_that_is_known_is_not_passed_off_as_held_against_the_clean_gauge(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    send(phone, board, photo_bytes(4))
    late = send_both(phone, board, photo_bytes(4), photo_bytes(2))
    assert late.status_code == 422 and "entry 3 has this photo already, not held against this photo" in late.text.replace("Entry", "entry")
    phone.post("/readings/3/retake")
    assert "tooth 60 looked wet already" in send_both(phone, board, photo_bytes(4), photo_bytes(2)).text
    assert send_both(phone, board, photo_bytes(4), photo_bytes(0)).status_code == 422  # nor against another


def test_a_tooth_that_looked_wet_before_the_dip_is_refused_on_the_page_too(site: Site) -> None:
    phone = site.phone()
    page = send_both(phone, begin(phone), photo_bytes(4), photo_bytes(2))
    assert "Not read" in page.text and "Before the dip, tooth 60 looked wet already" in page.text
    assert 'action="/dips/3"' not in page.text  # no other photo of the dip undoes that


@pytest.mark.parametrize(
    ("clean", "words"),
    [(b"no photo", "the photo of the clean gauge: "), (photo_bytes(4), "the photo of the clean gauge is that of the dip")],
)
def test_what_is_no_photo_of_the_clean_gauge_leaves_the_dip_to_be_sent_again(site: Site, clean: bytes, words: str) -> None:
    phone = site.phone()
    board = begin(phone)
    page = send_both(phone, board, photo_bytes(4), clean)
    assert page.status_code == 422 and words in page.text.replace("The photo", "the photo")
    assert [entry.kind for entry in site.logbook.all_entries()] == ["board", "coat"]
    done = send_both(phone, board, photo_bytes(4), b"", name="")  # as a browser sends a field in which nothing was chosen
    assert done.url.path == "/readings/3" and "held against" not in done.text and len(site.logbook.entry(3).photos) == 1


@pytest.mark.parametrize("code", list(Code))
def test_a_photo_may_be_added_where_the_photo_is_to_blame(site: Site, monkeypatch: pytest.MonkeyPatch, code: Code) -> None:
    def refused(photo: Photo, gauge: Gauge, side_id: str | None) -> Outcome:
        return Refusal((Reason(code, "What is wrong.", "What to do."),))

    monkeypatch.setattr("lastwet.service.photos.default_reader", lambda: refused)
    phone = site.phone()
    page = send(phone, begin(phone), photo_bytes(3))
    not_the_photo = {"end-tab-dry", "gap", "dirty", "photos-disagree", "side-unclear"}
    assert ('action="/dips/3"' in page.text) == (code not in not_the_photo)


def test_what_is_no_photo_and_what_the_program_fails_on_leaves_the_refusal(site: Site) -> None:
    phone = site.phone()
    send(phone, begin(phone), photo_bytes(GLARE))
    for _ in range(2):
        assert "Not a usable photo" in add(phone, 3, b"no photo").text
    assert "the program failed on these photos" in add(phone, 3, photo_bytes(FAULT)).text
    assert [entry.kind for entry in site.logbook.all_entries()] == ["board", "coat", "reading"]
    assert add(phone, 3, photo_bytes(4)).url.path == "/readings/4"


def test_a_photo_of_another_dip_is_not_added(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    send(phone, board, photo_bytes(2))
    send(phone, board, photo_bytes(GLARE))
    for photo, entry in ((photo_bytes(2), 3), (photo_bytes(GLARE), 4)):
        done = add(phone, 4, photo)
        assert done.status_code == 422 and f"entry {entry} has this photo already" in done.text


def test_four_photos_of_a_dip_are_enough(site: Site) -> None:
    phone = site.phone()
    page = send(phone, begin(phone), photo_bytes(GLARE))
    for entry in (3, 4, 6):
        assert f'action="/dips/{entry}"' in page.text
        page = add(phone, entry, photo_bytes(GLARE, size=(640, 490 + entry)))
    assert "4 photos of one dip" in page.text and 'action="/dips/' not in page.text
    assert add(phone, 8, photo_bytes(4)).status_code == 422


def test_the_same_photo_added_twice_at_once_is_one_entry(site: Site) -> None:
    phone = site.phone()
    send(phone, begin(phone), photo_bytes(GLARE))
    with ThreadPoolExecutor(2) as pool:
        pages = list(pool.map(lambda _: add(phone, 3, photo_bytes(4)), range(2)))
    assert {page.url.path for page in pages} == {"/readings/4"}


def test_a_refusal_that_could_not_be_made_void_is_when_the_photo_is_sent_again(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise NotWritten("the disk is full", "free some space")

    phone = site.phone()
    send(phone, begin(phone), photo_bytes(GLARE))
    with monkeypatch.context() as patch:
        patch.setattr(amend, "void", full)
        assert add(phone, 3, photo_bytes(4)).status_code == 507
    assert add(phone, 3, photo_bytes(4)).url.path == "/readings/4"
    assert [entry.kind for entry in site.logbook.all_entries()] == ["board", "coat", "reading", "reading", "void"]


def test_what_was_read_by_eye_meanwhile_stands(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    phone = site.phone()
    send(phone, begin(phone), photo_bytes(GLARE))

    def slow(photos: Sequence[Photo], gauge: Gauge, side_id: str | None) -> Together:
        phone.post("/readings/3/confirm", data={"last_wet": "2", "side": "fine"})
        return read_together(photos, gauge, side_id)

    monkeypatch.setattr("lastwet.service.burst.default_combiner", lambda: slow)
    assert add(phone, 3, photo_bytes(4)).status_code == 422
    assert [entry.kind for entry in site.logbook.all_entries()] == ["board", "coat", "reading", "correction"]


@pytest.mark.parametrize("change", ["alter", "remove"])
def test_a_photo_that_is_not_what_was_written_is_not_read_again(site: Site, change: str) -> None:
    phone = site.phone()
    send(phone, begin(phone), photo_bytes(GLARE))
    kept = site.logbook.photos.path(str(site.logbook.entry(3).photo_sha256))
    kept.chmod(0o600)
    kept.unlink() if change == "remove" else kept.write_bytes(photo_bytes(5))
    assert "The log is damaged" in add(phone, 3, photo_bytes(4)).text
    assert "The log is damaged" in phone.get("/readings/3/photos/1").text
    assert [entry.kind for entry in site.logbook.all_entries()] == ["board", "coat", "reading"]


def test_no_photo_is_added_once_another_coat_was_begun(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    send(phone, board, photo_bytes(GLARE))
    phone.post(f"/boards/{board}/coat", data={"number": "2"})
    assert 'action="/dips/3"' not in phone.get("/readings/3").text
    done = add(phone, 3, photo_bytes(4))
    assert done.status_code == 422 and "another coat was begun" in done.text
    assert phone.post("/dips/3").status_code == 422  # no photo at all


def test_more_photos_than_may_wait_are_told_to_come_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(desk, "WAITING", -desk.READERS)
    logbook, pairing = Logbook(tmp_path / "log"), Pairing()
    site = Site(create_app(logbook, tmp_path / "shop", pairing, frozenset({HOST}), pairing.token), logbook, pairing)
    phone = site.phone()
    page = send(phone, begin(phone), photo_bytes(3))
    assert page.status_code == 503 and "send it again" in page.text
    assert Kind.READING not in {entry.kind for entry in logbook.all_entries()}


def test_board_that_was_made_void_leaves_the_bench(site: Site) -> None:
    phone = site.phone()
    board = begin(phone)
    amend.void(site.logbook, board, "Kim", "begun by mistake")
    assert "New board" in phone.get("/").text


def test_second_tap_on_start_begins_no_other_board(site: Site) -> None:
    phone = site.phone()
    assert begin(phone, "panel-1") == begin(phone, "panel-1")
    assert [entry.kind for entry in site.logbook.all_entries()] == ["board", "coat"]

"""What somebody in the same network may try, and what it comes to. docs/serving.md has the same table."""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from lastwet.logbook.kinds import Kind
from lastwet.logbook.verify import verify
from lastwet.service import bench as service_bench
from lastwet.web.guard import CSP
from lastwet.web.pairing import IDLE_S, LINK_S, Pairing
from tests.fake_reader import photo_bytes
from tests.web.conftest import HOST, ORIGIN, Site, begin, send

DOCS = Path(__file__).parents[2] / "docs" / "serving.md"

Case = Callable[[Site], int]


def _get(**headers: str) -> Case:
    return lambda site: site.phone().get("/", headers=headers).status_code


def _post(path: str = "/look", **headers: str) -> Case:
    return lambda site: site.phone().post(path, data={"theme": "dim"}, headers=headers).status_code


def _no_origin(site: Site) -> int:
    phone = site.phone()
    del phone.headers["Origin"]
    return phone.post("/look", data={"theme": "dim"}).status_code


def _replayed_link(site: Site) -> int:
    token = site.pairing.token()
    assert site.client().post(f"/pair/{token}", data={"by": "first"}, follow_redirects=False).status_code == 303
    return site.client().post(f"/pair/{token}", data={"by": "second"}).status_code


def _stale_link(site: Site) -> int:
    token = site.pairing.token()
    site.pairing._until -= LINK_S
    return site.client().post(f"/pair/{token}", data={"by": "late"}).status_code


def _declared_body(site: Site) -> int:
    phone = site.phone()
    return send(phone, begin(phone), b"\xff\xd8\xff" + bytes(60_000_000)).status_code


def _chunked_body(site: Site) -> int:
    phone = site.phone()
    begin(phone)
    head = b'--x\r\nContent-Disposition: form-data; name="photo"; filename="a.jpg"\r\n\r\n'
    chunks = [head, *([bytes(1_000_000)] * 60), b"\r\n--x--\r\n"]
    return phone.post("/dips", content=iter(chunks), headers={"Content-Type": "multipart/form-data; boundary=x"}).status_code


def _large_form(site: Site) -> int:
    return site.phone().post("/boards/new", data={"name": "x" * 200_000}).status_code


def png_bomb() -> bytes:
    """A PNG of 70 kB that declares 600 megapixels (PNG, ISO/IEC 15948: IHDR and IDAT)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", 30_000, 20_000, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(bytes(3751 * 20_000), 9)) + chunk(b"IEND", b"")


def _bomb(site: Site) -> int:
    phone = site.phone()
    page = send(phone, begin(phone), png_bomb(), "bomb.png")
    assert "megapixels" in page.text and site.logbook.entry(3).photo_sha256 is None
    return page.status_code


def _polyglot(site: Site) -> int:
    phone = site.phone()
    both = photo_bytes(3) + b"<html><script>alert(1)</script>PK\x05\x06" + bytes(18)
    send(phone, begin(phone), both)
    kept = phone.get("/readings/3/photos/1")
    assert kept.content == both
    assert kept.headers["content-disposition"].startswith("attachment") and kept.headers["content-type"] == "application/octet-stream"
    assert "sandbox" in kept.headers["content-security-policy"] and kept.headers["x-content-type-options"] == "nosniff"
    assert b"<script>" not in phone.get("/readings/3/picture").content
    return kept.status_code


def _not_a_photo(site: Site) -> int:
    phone = site.phone()
    page = send(phone, begin(phone), b"<svg onload=alert(1)>", "photo.jpg")
    assert site.logbook.entry(3).photo_sha256 is None and not list(site.logbook.photos.folder.glob("*"))
    return page.status_code


def _path(path: str) -> Case:
    return lambda site: site.phone().get(path).status_code


def _gauge_path(site: Site) -> int:
    phone = site.phone()
    return send(phone, begin(phone), photo_bytes(3), gauge="../../../../etc/passwd").status_code


def _photo_name(site: Site) -> int:
    phone = site.phone()
    page = send(phone, begin(phone), photo_bytes(3), "../../log.sqlite3")
    assert {path.name for path in site.logbook.folder.iterdir()} == {"log.sqlite3", "photos"}
    return page.status_code


def _script_in_names(site: Site) -> int:
    phone = site.phone("<script>alert(1)</script>")
    evil = '"><script>alert(2)</script>'
    board = begin(phone, evil)
    send(phone, board, photo_bytes(3), "<img src=x onerror=alert(3)>.jpg")
    pages = [phone.get(path) for path in ("/", "/boards", f"/boards/{board}", "/readings/3", "/log", "/log/3", "/more", "/boards/new")]
    for page in pages:
        assert page.status_code == 200 and "<script>alert" not in page.text and "<img src=x" not in page.text
    return max(page.status_code for page in pages)


def _line_breaks_in_names(site: Site) -> int:
    phone = site.phone("Robin\r\nSet-Cookie: x=1\x1b[2J")
    page = phone.post("/boards/new", data={"name": "a\r\nb\x1b[31m", "coating": "nosuch-clear"})
    assert "set-cookie" not in page.headers and not verify(site.logbook.folder)
    return page.status_code


def _full_disk(site: Site) -> int:
    phone = site.phone()
    board = begin(phone)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(service_bench, "LEAST_FREE_BYTES", 10**18)
        status = send(phone, board, photo_bytes(3)).status_code
    assert Kind.READING not in {entry.kind for entry in site.logbook.all_entries()}
    return status


CASES: dict[str, tuple[int, Case]] = {
    "foreign Host (DNS rebinding)": (400, _get(Host="evil.example")),
    "right name, wrong port in Host": (400, _get(Host="bench.test:80")),
    "no cookie": (401, lambda site: site.client().get("/log").status_code),
    "invented cookie": (401, lambda site: site.client().get("/log", headers={"Cookie": "lastwet=" + "A" * 43}).status_code),
    "form from a foreign Origin": (403, _post(Origin="http://evil.example")),
    "form with Origin null": (403, _post(Origin="null")),
    "form without Origin": (403, _no_origin),
    "form with our Origin, other scheme": (403, _post(Origin=f"https://{HOST}")),
    "pairing link used twice": (403, _replayed_link),
    "pairing link after ten minutes": (403, _stale_link),
    "guessed pairing link": (403, lambda site: site.client().post("/pair/AAAAAAAAAAAAAAAAAAAAAA", data={"by": "x"}).status_code),
    "photo of 60 MB, length declared": (413, _declared_body),
    "photo of 60 MB, length not declared": (413, _chunked_body),
    "form of 200 kB": (413, _large_form),
    "PNG of 600 megapixels": (200, _bomb),
    "photo that is HTML and ZIP too": (200, _polyglot),
    "file that is no photo": (200, _not_a_photo),
    "path out of the static files": (404, _path("/static/..%2f..%2fapp.py")),
    "path to the log": (404, _path("/static/log.sqlite3")),
    "path as the name of a gauge": (422, _gauge_path),
    "path as the name of a photo": (200, _photo_name),
    "script in the names of person, board and photo": (200, _script_in_names),
    "line breaks and terminal codes in names": (200, _line_breaks_in_names),
    "disk nearly full": (507, _full_disk),
    "method that is not offered": (405, lambda site: site.phone().request("TRACE", "/").status_code),
}


@pytest.mark.parametrize("name", CASES)
def test_hostile_case(site: Site, name: str) -> None:
    status, case = CASES[name]
    assert case(site) == status


def test_docs_have_the_same_table() -> None:
    section = DOCS.read_text("utf-8").partition("## What was tried")[2].partition("\n## ")[0]
    table = dict(re.findall(r"^\| ([^|]+?) \| (\d{3})\b", section, re.MULTILINE))
    assert table == {name: str(status) for name, (status, _) in CASES.items()}


def test_every_answer_carries_the_headers(site: Site) -> None:
    phone = site.phone()
    answers = [phone.get("/"), phone.get("/nothing"), site.client().get("/"), phone.get("/", headers={"Host": "evil.example"})]
    for answer in answers:
        assert answer.headers["content-security-policy"] == CSP
        assert answer.headers["x-content-type-options"] == "nosniff" and answer.headers["cache-control"] == "no-store"
        # no-referrer would make browsers send "Origin: null" with our own forms (Fetch, "append a request Origin header")
        assert answer.headers["referrer-policy"] == "same-origin"


def test_cookie_is_out_of_reach_of_scripts_and_other_sites(site: Site) -> None:
    done = site.client().post(f"/pair/{site.pairing.token()}", data={"by": "Robin"}, follow_redirects=False)
    kept = done.headers["set-cookie"].lower()
    assert "httponly" in kept and "samesite=strict" in kept and "path=/" in kept and "domain" not in kept


def test_looking_at_a_link_does_not_use_it_up(site: Site) -> None:
    client = site.client()
    for _ in range(3):
        assert client.get(f"/pair/{site.pairing.token()}").status_code == 200
    assert client.post(f"/pair/{site.pairing.token()}", data={"by": "Robin"}).status_code == 200


def test_idle_device_must_be_paired_again() -> None:
    clock = [0.0]
    pairing = Pairing(lambda: clock[0])
    cookie = pairing.redeem(pairing.token(), "Robin")
    clock[0] += IDLE_S - 1
    assert pairing.device(cookie)
    clock[0] += IDLE_S + 1
    assert pairing.device(cookie) is None


def test_link_is_long_and_new_each_time() -> None:
    pairing = Pairing()
    tokens = set()
    for _ in range(50):
        tokens.add(pairing.token())
        pairing.redeem(pairing.token(), "x")
    assert len(tokens) == 50 and min(map(len, tokens)) >= 22  # 128 bits in base64


def test_a_form_of_our_own_passes(site: Site) -> None:
    """What the refusals above differ from by one header."""
    assert site.phone().post("/look", data={"theme": "dim"}, headers={"Origin": ORIGIN}).status_code == 200


def test_failure_says_nothing_of_the_inside(site: Site, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("/a/secret/place")

    monkeypatch.setattr("lastwet.service.archive.found", fail)
    answer: TestClient = site.phone()
    page = answer.get("/log")
    assert page.status_code == 500 and "secret" not in page.text
    assert "/a/secret/place" in capsys.readouterr().err

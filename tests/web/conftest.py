"""The page with a log of its own and the fake reader, as a paired device sees it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from starlette.types import ASGIApp

from lastwet.logbook.store import Logbook
from lastwet.web.app import create_app
from lastwet.web.pairing import Pairing
from tests import fake_reader

HOST = "bench.test:8765"
ORIGIN = f"http://{HOST}"


@dataclass
class Site:
    """The page and what is behind it."""

    app: ASGIApp
    logbook: Logbook
    pairing: Pairing

    def client(self) -> TestClient:
        """Return a browser that is not paired."""
        return TestClient(self.app, base_url=ORIGIN, headers={"Origin": ORIGIN}, follow_redirects=True)

    def phone(self, by: str = "Robin") -> TestClient:
        """Return a browser that is paired."""
        client = self.client()
        done = client.post(f"/pair/{self.pairing.token()}", data={"by": by}, follow_redirects=False)
        assert done.status_code == 303, done.text
        return client


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Site]:
    """The page with the fake reader."""
    monkeypatch.setattr("lastwet.service.photos.default_reader", lambda: fake_reader.read)
    monkeypatch.setattr("lastwet.service.burst.default_combiner", lambda: fake_reader.read_together)
    logbook, pairing = Logbook(tmp_path / "log"), Pairing()
    app = create_app(logbook, tmp_path / "shop", pairing, frozenset({HOST}), lambda: f"{ORIGIN}/pair/{pairing.token()}")
    yield Site(app, logbook, pairing)


def begin(client: TestClient, name: str = "panel-1", coating: str = "nosuch-clear", **more: str) -> int:
    """Begin a board with its first coat; return its number."""
    page = client.post("/boards/new", data={"name": name, "coating": coating, **more})
    assert page.status_code == 200, page.text
    match = re.search(r'name="board" value="(\d+)"', page.text)
    assert match, page.text
    return int(match[1])


def send(client: TestClient, board: int, photo: bytes, name: str = "dip.jpg", **more: str) -> object:
    """Send a photo as the form of the bench does."""
    data = {"board": str(board), "coat": "1", "gauge": "bench-strip", "side": "fine", **more}
    return client.post("/dips", data=data, files=[("photo", ("", b"", "application/octet-stream")), ("photo", (name, photo, "image/jpeg"))])

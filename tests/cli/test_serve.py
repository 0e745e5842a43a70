"""`lastwet serve` as it is started in a terminal."""

from __future__ import annotations

import signal
import socket
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import httpx2
import pytest

from fixtures.live import Live, free_port, serving
from lastwet.errors import UsageError
from lastwet.logbook.store import Logbook
from lastwet.logbook.verify import verify
from lastwet.web.network import bound
from tests.conftest import Run
from tests.fake_reader import photo_bytes

FAKE = "tests.cli.command"


@contextmanager
def paired(live: Live) -> Iterator[httpx2.Client]:
    """Give a browser that came by the link which the terminal showed."""
    with httpx2.Client(base_url=live.origin, headers={"Origin": live.origin}, follow_redirects=True, timeout=30) as client:
        assert client.post(live.link, data={"by": "Robin"}).status_code == 200
        yield client


def begin(client: httpx2.Client) -> None:
    assert client.post("/boards/new", data={"name": "panel-1", "coating": "nosuch-clear"}).status_code == 200


def test_it_serves_this_computer_alone(tmp_path: Path) -> None:
    with serving(tmp_path, module=FAKE) as live, paired(live) as client:
        assert live.origin.startswith("http://127.0.0.1:") and "only this computer can reach it" in live.said
        assert client.get("/").status_code == 200 and "server" not in client.get("/").headers
        port = urlsplit(live.origin).port or 0
        with pytest.raises(OSError), socket.create_connection(("127.0.0.2", port), 2):  # another address of this computer
            pass
        assert "panel" not in live.said


def test_it_serves_the_network_when_asked(tmp_path: Path) -> None:
    """127.0.0.3 stands in for the address in the network: it is another one than that of loopback."""
    with serving(tmp_path, "--lan", "--address", "127.0.0.3", module=FAKE) as live, paired(live) as client:
        assert live.origin.startswith("http://127.0.0.3:") and "everybody in this network can reach this address" in live.said
        assert client.get("/").status_code == 200
        assert client.get("/", headers={"Host": "localhost:" + str(urlsplit(live.origin).port)}).status_code == 400


def test_the_terminal_shows_a_code_and_no_secret_but_the_link(tmp_path: Path) -> None:
    with serving(tmp_path, "--lan", "--address", "127.0.0.3", module=FAKE) as live, paired(live) as client:
        client.get("/log")
        live.process.send_signal(signal.SIGINT)
        assert live.process.stdout
        rest = live.process.stdout.read()
    assert "\u2588" in rest or "\u2580" in rest  # the blocks of a QR code
    assert "GET" not in rest and "/pair/" not in rest


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--address", "10.0.0.1"], "--address is for --lan"),
        (["--lan", "--address", "0.0.0.0"], "every network"),
        (["--lan", "--address", "nonsense"], "not an address"),
        (["--lan", "--address", "192.0.2.7"], "cannot be listened on"),  # TEST-NET-1 of RFC 5737: nobody has it
        (["--port", "0"], "--port"),
    ],
)
def test_wrong_options(run: Run, options: list[str], said: str) -> None:
    done = run("serve", *options)
    assert done.returncode == 2 and said in done.stderr


def test_taken_port_is_told() -> None:
    port = free_port()
    with bound("127.0.0.1", port), pytest.raises(UsageError, match="cannot be listened on"), bound("127.0.0.1", port):
        pass


def test_server_killed_in_the_middle_of_an_upload_leaves_a_log_that_verifies(tmp_path: Path) -> None:
    with serving(tmp_path, module=FAKE) as live, paired(live) as client:
        begin(client)
        port, cookie = urlsplit(live.origin).port or 0, client.cookies["lastwet"]
        head = f"POST /dips HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: {live.origin}\r\nCookie: lastwet={cookie}\r\n"
        head += "Content-Type: multipart/form-data; boundary=x\r\nContent-Length: 5000000\r\n\r\n"
        head += '--x\r\nContent-Disposition: form-data; name="photo"; filename="a.jpg"\r\n\r\n'
        with socket.create_connection(("127.0.0.1", port)) as sending:
            sending.sendall(head.encode() + bytes(2_000_000))
            time.sleep(0.3)
            live.process.kill()
            live.process.wait(10)
    assert not verify(live.log)
    assert [entry.kind for entry in Logbook(live.log).all_entries()] == ["board", "coat"]


def test_server_killed_while_photos_come_in_loses_none_that_it_answered(tmp_path: Path) -> None:
    with serving(tmp_path, module=FAKE) as live, paired(live) as client:
        begin(client)
        form = {"board": "1", "coat": "1", "gauge": "bench-strip", "side": "fine"}
        answered = []
        for number in range(6):
            photo = ("photo", ("a.jpg", photo_bytes(3, size=(640, 480 + number)), "image/jpeg"))
            answered.append(client.post("/dips", data=form, files=[photo]).url.path)
        live.process.kill()
        live.process.wait(10)
    assert not verify(live.log)
    assert answered == [f"/readings/{entry.seq}" for entry in Logbook(live.log).all_entries() if entry.kind == "reading"]

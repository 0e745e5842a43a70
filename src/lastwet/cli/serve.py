"""`lastwet serve`: the page for the phone at the bench."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from lastwet.cli.log import Place
from lastwet.errors import UsageError

if TYPE_CHECKING:
    from lastwet.web.pairing import Pairing

LOOPBACK = "127.0.0.1"
SERVER: dict[str, Any] = {
    "log_level": "warning",
    "access_log": False,  # the path of a pairing link is a secret
    "server_header": False,
    "proxy_headers": False,
    "limit_concurrency": 60,
    "timeout_keep_alive": 10,
}


def serve(
    lan: Annotated[bool, typer.Option("--lan", help="Let phones in the same network reach it; plain HTTP, see docs/serving.md.")] = False,
    address: Annotated[
        str | None, typer.Option(metavar="ADDRESS", help="With --lan: this computer's address, where it has several.")
    ] = None,
    port: Annotated[int, typer.Option(min=1, max=65535, help="Port to listen on.")] = 8765,
    shop: Annotated[
        Path | None, typer.Option(metavar="DIR", help="The shop's own gauges and coatings, and reports; default `shop` beside the log.")
    ] = None,
    log: Place = None,
) -> None:
    """Serve the page for the bench: photo, reading, advice, log. Ends with Ctrl-C.

    Only this computer can reach it, unless --lan is given; each device is paired by a link that works once.
    """
    try:
        import uvicorn

        from lastwet.web.app import create_app
    except ImportError:
        raise UsageError("the page needs the extra 'web'", "pip install 'lastwet[web]'") from None
    from lastwet.config import shop_place
    from lastwet.service import open_log
    from lastwet.web.network import bound, lan_address
    from lastwet.web.pairing import Pairing

    if address and not lan:
        raise UsageError("--address is for --lan", "add --lan, or leave --address out")
    host = (address or lan_address()) if lan else LOOPBACK
    logbook, pairing = open_log(log), Pairing()
    with bound(host, port) as socket:
        names = [host] if lan else [LOOPBACK, "localhost"]
        hosts = frozenset(f"{name}:{port}" for name in names) | (frozenset(names) if port == 80 else frozenset())
        origin = f"http://{host}:{port}"
        app = create_app(logbook, shop or shop_place(logbook.folder), pairing, hosts, lambda: link(origin, pairing), warm=True)
        _announce(origin, pairing, lan=lan)
        config = uvicorn.Config(app, **SERVER)
        uvicorn.Server(config).run([socket])


def link(origin: str, pairing: Pairing) -> str:
    """Return the open pairing link."""
    return f"{origin}/pair/{pairing.token()}"


def _announce(origin: str, pairing: Pairing, *, lan: bool) -> None:
    """Say where it is, who can reach it, and how a device is paired; a new link for each press of Enter."""
    import sys
    import threading

    reach = (
        "everybody in this network can reach this address, and others can listen in: use a network of your own"
        if lan
        else ("only this computer can reach it; --lan lets phones in the same network in")
    )
    typer.echo(f"{origin}\n{reach}\nphone away from the spray area while anybody sprays; Ctrl-C ends it\n")
    _show_link(origin, pairing, code=lan)
    if sys.stdin is not None and sys.stdin.isatty():
        threading.Thread(target=_on_enter, args=(origin, pairing, lan), daemon=True).start()


def _on_enter(origin: str, pairing: Pairing, code: bool) -> None:
    import sys

    for _ in sys.stdin:
        pairing.renew()
        _show_link(origin, pairing, code=code)


def _show_link(origin: str, pairing: Pairing, *, code: bool) -> None:
    open_link = link(origin, pairing)
    typer.echo(f"pair one device within ten minutes, by this link, which works once:\n\n    {open_link}\n")
    if code:
        import segno

        segno.make(open_link, error="m").terminal(compact=True)
    typer.echo("press Enter for another link, or open 'more' on a paired device")

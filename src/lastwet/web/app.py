"""The page as an application: which address is answered by what, and the guard before all of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from starlette.applications import Starlette
from starlette.routing import Route
from starlette.types import ASGIApp

from lastwet.logbook.store import Logbook
from lastwet.service.cards import Cards
from lastwet.web import bench, pages
from lastwet.web.desk import Desk, Handler, endpoint, photo_endpoint
from lastwet.web.guard import Guard
from lastwet.web.pairing import Pairing

GET: dict[str, Handler] = {
    "/": bench.bench,
    "/pair/{token}": bench.pair,
    "/static/{name}": pages.static,
    "/boards": pages.board_list,
    "/boards/new": bench.new_board,
    "/boards/{seq:int}": pages.board,
    "/boards/{seq:int}/coat": bench.new_coat,
    "/readings/{seq:int}": bench.reading,
    "/readings/{seq:int}/correct": bench.correct,
    "/readings/{seq:int}/picture": pages.picture,
    "/readings/{seq:int}/photo": pages.original,
    "/log": pages.log,
    "/log/{seq:int}": pages.entry,
    "/more": bench.more,
    "/invite": pages.invite,
    "/invite.svg": pages.invite_code,
}
POST: dict[str, Handler] = {
    "/pair/{token}": bench.paired,
    "/gauge": bench.choose_gauge,
    "/boards/new": bench.begin_board,
    "/boards/{seq:int}/bench": bench.put_on_bench,
    "/boards/{seq:int}/coat": bench.begin_coat,
    "/readings/{seq:int}/confirm": bench.confirm,
    "/readings/{seq:int}/side": bench.state_side,
    "/readings/{seq:int}/retake": bench.retake,
    "/readings/{seq:int}/turn": bench.turn,
    "/look": bench.look,
}


def create_app(
    logbook: Logbook, cards: Path, pairing: Pairing, hosts: frozenset[str], invite: Callable[[], str], *, warm: bool = False
) -> ASGIApp:
    """Return the page of a logbook.

    `hosts` are the exact addresses, with their port, under which it is asked for; `invite` returns the open pairing link; `warm` loads the
    networks beforehand.
    """
    desk = Desk(logbook, Cards(cards), pairing, invite)
    if warm:
        desk.warm_up()
    routes = [Route(path, endpoint(desk, handler), methods=["GET"]) for path, handler in GET.items()]
    routes += [Route(path, endpoint(desk, handler), methods=["POST"]) for path, handler in POST.items()]
    routes.append(Route("/dips", photo_endpoint(desk, bench.dip), methods=["POST"]))
    return Guard(Starlette(routes=routes), hosts, pairing)

"""The page as an application: which address is answered by what, and the guard before all of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import ASGIApp

from lastwet.logbook.store import Logbook
from lastwet.web import bench, boards, cards, devices, pages, reckon, reports
from lastwet.web.desk import Desk, Handler, answer_fault, endpoint, fault_of, photo_endpoint
from lastwet.web.guard import Guard
from lastwet.web.pairing import Pairing

GET: dict[str, Handler] = {
    "/": bench.bench,
    "/pair/{token}": devices.pair,
    "/static/{name}": pages.static,
    "/boards": boards.board_list,
    "/boards/new": bench.new_board,
    "/boards/{seq:int}": boards.board,
    "/boards/{seq:int}/coat": bench.new_coat,
    "/readings/{seq:int}": bench.reading,
    "/readings/{seq:int}/correct": bench.correct,
    "/readings/{seq:int}/picture": pages.picture,
    "/readings/{seq:int}/photos/{number:int}": pages.original,
    "/log": pages.log,
    "/log/{seq:int}": pages.entry,
    "/cards": cards.cards,
    "/gauges/new": cards.new_gauge,
    "/gauges/{name}": cards.gauge,
    "/coatings/new": cards.new_coating,
    "/coatings/{name}": cards.coating,
    "/reckon": reckon.reckon,
    "/reports": reports.reports,
    "/reports/{seq:int}": reports.report,
    "/more": devices.more,
    "/invite": devices.invite,
    "/invite.svg": devices.invite_code,
}
POST: dict[str, Handler] = {
    "/pair/{token}": devices.paired,
    "/gauge": bench.choose_gauge,
    "/boards/new": bench.begin_board,
    "/boards/{seq:int}/bench": bench.put_on_bench,
    "/boards/{seq:int}/coat": bench.begin_coat,
    "/readings/{seq:int}/confirm": bench.confirm,
    "/readings/{seq:int}/side": bench.state_side,
    "/readings/{seq:int}/retake": bench.retake,
    "/readings/{seq:int}/turn": bench.turn,
    "/boards/{seq:int}/sand": boards.sand,
    "/boards/{seq:int}/measure": boards.measure,
    "/gauges/new": cards.add_gauge,
    "/coatings/new": cards.add_coating,
    "/reports": reports.issue,
    "/look": devices.look,
}
PHOTOS: dict[str, Handler] = {"/dips": bench.dip, "/dips/{seq:int}": bench.add_photo}
HEAVY = frozenset({pages.picture, reports.issue, bench.state_side})


def create_app(
    logbook: Logbook, shop: Path, pairing: Pairing, hosts: frozenset[str], invite: Callable[[], str], *, warm: bool = False
) -> ASGIApp:
    """Return the page of a logbook.

    `shop` is the folder of its own gauges, coatings and reports, `hosts` are the exact addresses, with their port, under which it is
    asked for; `invite` returns the open pairing link; `warm` loads the networks beforehand.
    """
    desk = Desk(logbook, shop, pairing, invite)
    if warm:
        desk.warm_up()
    routes = [Route(path, endpoint(desk, handler, heavy=handler in HEAVY), methods=["GET"]) for path, handler in GET.items()]
    routes += [Route(path, endpoint(desk, handler, heavy=handler in HEAVY), methods=["POST"]) for path, handler in POST.items()]
    routes += [Route(path, photo_endpoint(desk, handler), methods=["POST"]) for path, handler in PHOTOS.items()]

    def fault(request: Request, error: Exception) -> Response:
        return answer_fault(desk, request, fault_of(error))

    return Guard(Starlette(routes=routes, exception_handlers={HTTPException: fault}), hosts, pairing)

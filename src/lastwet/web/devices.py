"""Devices: pairing, and how each wants the page to look."""

from __future__ import annotations

from io import BytesIO

import segno
from starlette.responses import Response

from lastwet.web.desk import Visit, see_other
from lastwet.web.guard import COOKIE
from lastwet.web.pairing import IDLE_S


def pair(visit: Visit) -> Response:
    """Ask who uses the device; the link is not used up by looking at it."""
    token = visit.path["token"]
    if not visit.desk.pairing.is_open(token):
        return visit.page("unpaired.html", 403)
    return visit.page("pair.html", token=token, error=None)


def paired(visit: Visit) -> Response:
    """Pair the device, and give it its cookie."""
    by = visit.text("by")
    if by is None:
        return visit.page("pair.html", 422, token=visit.path["token"], error="Write your name: entries in the log carry it.")
    cookie = visit.desk.pairing.redeem(visit.path["token"], by[:80])
    if cookie is None:
        return visit.page("unpaired.html", 403)
    response = see_other("/")
    # no `secure`: the page is served over plain HTTP, see docs/serving.md
    response.set_cookie(COOKIE, cookie, max_age=int(IDLE_S), httponly=True, samesite="strict")
    return response


def invite(visit: Visit) -> Response:
    """Show the open pairing link, for a further phone."""
    return visit.page("invite.html", link=visit.desk.invite())


def invite_code(visit: Visit) -> Response:
    """Draw the open pairing link as a QR code."""
    file = BytesIO()
    segno.make(visit.desk.invite(), error="m").save(file, kind="svg", scale=6, border=4, light="white", dark="black")
    return Response(file.getvalue(), media_type="image/svg+xml")


def look(visit: Visit) -> Response:
    """Choose the theme and the shop's unit."""
    theme, unit = visit.form.get("theme"), visit.form.get("unit")
    if theme in ("auto", "bright", "dim"):
        visit.who.theme = theme  # type: ignore[assignment]
    if unit is not None:
        visit.who.unit = "um" if unit == "um" else "mil" if unit == "mil" else None
    return see_other("/more")


def more(visit: Visit) -> Response:
    """Show what is not needed at every dip."""
    return visit.page("more.html", device=visit.who)

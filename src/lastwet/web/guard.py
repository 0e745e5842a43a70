"""What every request must pass before anything of it is looked at: host, origin, cookie, size. See docs/serving.md."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from lastwet.web.pairing import Device, Pairing

COOKIE = "lastwet"
MAX_PHOTO_BYTES = 50_000_000
"""Of a request with a photo, and with that of the clean gauge; a phone's 12 to 50 megapixels have 3 to 25 MB."""
MAX_FORM_BYTES = 100_000
"""Of any other form."""
OPEN_PATHS = ("/pair/", "/static/")
"""What a device that is not paired may ask for."""

CSP = (
    "default-src 'none'; img-src 'self' blob:; style-src 'self'; script-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": CSP,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    # not no-referrer: a browser would then send "Origin: null" with our own forms
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), microphone=()",
    "Cache-Control": "no-store",
}

Refuse = Callable[[Scope, Receive, Send], Awaitable[None]]


class TooLarge(Exception):
    """The body turned out to be larger than it may be."""


class Guard:
    """Let a request through to the page only when it comes from a paired device to this very address."""

    def __init__(self, app: ASGIApp, hosts: frozenset[str], pairing: Pairing) -> None:
        self._app, self._hosts, self._pairing = app, hosts, pairing

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or answer it with what is wrong."""
        if scope["type"] == "lifespan":
            return await self._app(scope, receive, send)
        if scope["type"] != "http":
            return None
        headers, secured = Headers(scope=scope), _secured(send)
        device = self._pairing.device(_cookie(headers))
        if refusal := self._refusal(scope, headers, device):
            return await refusal(scope, receive, secured)
        scope["lastwet.device"] = device
        limit = _limit(scope)
        return await self._app(scope, _counted(receive, limit), secured)

    def _refusal(self, scope: Scope, headers: Headers, device: Device | None) -> Response | None:
        """Say why the request goes no further; None where it does."""
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0].lower() not in self._hosts:
            return PlainTextResponse("This address is not served here.\n", 400)
        path = str(scope["path"])
        if device is None and not path.startswith(OPEN_PATHS):
            return PlainTextResponse("This device is not paired. Open the link that lastwet serve shows in its terminal.\n", 401)
        if scope["method"] not in ("GET", "HEAD", "POST"):
            return PlainTextResponse("Not offered.\n", 405)
        if scope["method"] == "POST" and headers.getlist("origin") != [f"http://{hosts[0].lower()}"]:
            return PlainTextResponse("This form was not sent from this page.\n", 403)
        declared = headers.get("content-length", "0")
        if not declared.isdecimal() or int(declared) > _limit(scope):
            return PlainTextResponse("That is more than is taken in.\n", 413, {"Connection": "close"})
        return None


def _limit(scope: Scope) -> int:
    path = str(scope["path"])
    return MAX_PHOTO_BYTES if path == "/dips" or path.startswith("/dips/") else MAX_FORM_BYTES


def _cookie(headers: Headers) -> str | None:
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        return None
    return found.value if found else None


def _counted(receive: Receive, limit: int) -> Receive:
    """Count what comes in: a body without a length, or with a wrong one, ends here too."""
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > limit:
            raise TooLarge
        return message

    return counted


def _secured(send: Send) -> Send:
    async def secured(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return secured

"""From a request to a handler and back: forms are parsed on the event loop, everything else runs in threads, faults become pages."""

from __future__ import annotations

import asyncio
import sys
import traceback
from collections.abc import Awaitable, Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import AsyncExitStack
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, BinaryIO

import anyio
import anyio.to_thread
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response

from lastwet import __version__
from lastwet.errors import EvidenceBroken, LastwetError, NotWritten, UnusablePhoto, UsageError
from lastwet.logbook.store import Logbook
from lastwet.service.bench import Bench
from lastwet.service.cards import Cards
from lastwet.service.demo import read_sample, samples
from lastwet.web.guard import TooLarge
from lastwet.web.micro import micro
from lastwet.web.pairing import Device, Pairing

READERS = 2
"""Photos decoded and read at the same time; each takes up to 300 MB; four of one dip took 43 MB more, and the bytes of their files."""
DRAWERS = 2
"""Pictures and reports drawn at the same time; a picture takes up to 200 MB."""
WAITING = 16
"""Photos that may wait for a reader; a further one is told to come again, so that memory stays bounded."""
UPLOAD_S = 300.0
"""A photo that takes longer to come in is let go."""

MOST_ENTRIES = 2**53


class Busy(Exception):
    """As many photos are waiting as may."""


Upload = tuple[str, BinaryIO]
"""Name of an uploaded photo, and its file, which is read in the reader's thread alone: few of them are in memory at a time."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What is told instead of the page that was asked for."""

    title: str
    message: str
    cure: str
    status: int


@dataclass(eq=False)
class Desk:
    """What all handlers share."""

    logbook: Logbook
    shop: Path
    """The shop's own gauges, coatings and reports."""
    pairing: Pairing
    invite: Callable[[], str]
    """Returns the open pairing link."""
    slots: anyio.Semaphore = field(default_factory=lambda: anyio.Semaphore(READERS + WAITING))
    drawers: anyio.CapacityLimiter = field(default_factory=lambda: anyio.CapacityLimiter(DRAWERS))
    readers: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(READERS, "reader"))
    """Threads that stay, since each keeps its own copy of the networks."""

    @cached_property
    def bench(self) -> Bench:
        """Where photos are logged."""
        return Bench(self.logbook)

    @cached_property
    def cards(self) -> Cards:
        """Gauges and coatings that can be chosen."""
        return Cards(self.shop)

    @property
    def reports(self) -> Path:
        """Where reports are written."""
        return self.shop / "reports"

    def warm_up(self) -> None:
        """Have each reader load the networks, so that the first photo is read as fast as the next."""
        sample = samples()[0]
        for _ in range(READERS):
            self.readers.submit(read_sample, sample)

    @cached_property
    def templates(self) -> Environment:
        """The templates; whatever stands in a text is shown as text."""
        environment = Environment(
            loader=PackageLoader("lastwet.web"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
        )
        environment.filters["drawing"] = Markup  # charts are SVG of our own making, with their texts escaped
        environment.filters["micro"] = micro
        environment.globals["version"] = __version__
        return environment


@dataclass(frozen=True)
class Visit:
    """One request of one device."""

    desk: Desk
    device: Device | None
    path: Mapping[str, Any]
    query: Mapping[str, str]
    form: Mapping[str, str]
    photo: Upload | None = None
    clean: Upload | None = None
    """A photo of the wiped gauge before the dip."""

    @property
    def seq(self) -> int:
        """The entry that the path names; raises `UsageError` for a number that no log reaches."""
        seq = int(self.path["seq"])
        if seq > MOST_ENTRIES:
            raise UsageError(f"there is no entry {seq}", "choose one from the log")
        return seq

    @property
    def logbook(self) -> Logbook:
        """The log."""
        return self.desk.logbook

    @property
    def who(self) -> Device:
        """The paired device; the guard lets no other through to a page that asks."""
        assert self.device is not None
        return self.device

    def page(self, template: str, status: int = 200, **values: Any) -> Response:
        """Render a template."""
        theme = self.device.theme if self.device else "auto"
        html = self.desk.templates.get_template(template).render(theme=theme, paired=self.device is not None, **values)
        return HTMLResponse(html, status)

    def text(self, name: str) -> str | None:
        """Return a field of the form without blanks around it; None where nothing was put in."""
        return self.form.get(name, "").strip() or None


Handler = Callable[[Visit], Response]
Endpoint = Callable[[Request], Awaitable[Response]]


def see_other(path: str) -> Response:
    """Send the browser on, after a form."""
    return RedirectResponse(path, 303)


def endpoint(desk: Desk, handler: Handler, *, heavy: bool = False) -> Endpoint:
    """Make an endpoint of a handler for a page or a small form; of the heavy ones, which decode photos, few run at a time."""

    async def answer(request: Request) -> Response:
        async def run() -> Response:
            form = await request.form(max_files=0, max_fields=60) if request.method == "POST" else FormData()
            return await anyio.to_thread.run_sync(handler, _visit(desk, request, form), limiter=desk.drawers if heavy else None)

        return await _guarded(desk, request, run)

    return answer


def photo_endpoint(desk: Desk, handler: Handler) -> Endpoint:
    """Make an endpoint of a handler for photos: it waits for its turn, and has one for the time of one photo."""

    async def answer(request: Request) -> Response:
        async def run() -> Response:
            try:
                desk.slots.acquire_nowait()
            except anyio.WouldBlock:
                raise Busy from None
            try:
                with anyio.fail_after(UPLOAD_S):
                    form = await request.form(max_files=3, max_fields=20)
                async with AsyncExitStack() as stack:
                    stack.push_async_callback(form.close)
                    visit = _visit(desk, request, form, _uploaded(form, "photo"), _uploaded(form, "clean"))
                    return await asyncio.get_running_loop().run_in_executor(desk.readers, handler, visit)
            finally:
                desk.slots.release()

        return await _guarded(desk, request, run)

    return answer


def _uploaded(form: FormData, name: str) -> Upload | None:
    """Return the photo that was chosen: camera and gallery have a field each, of the same name."""
    for value in form.getlist(name):
        if isinstance(value, UploadFile) and value.filename:
            return value.filename[:200], value.file
    return None


def _visit(desk: Desk, request: Request, form: FormData, photo: Upload | None = None, clean: Upload | None = None) -> Visit:
    texts = {name: value for name, value in form.multi_items() if isinstance(value, str)}
    return Visit(desk, request.scope.get("lastwet.device"), request.path_params, request.query_params, texts, photo, clean)


async def _guarded(desk: Desk, request: Request, run: Callable[[], Awaitable[Response]]) -> Response:
    try:
        return await run()
    except Exception as error:
        fault = fault_of(error)
        if fault.status == 500:
            traceback.print_exception(error, file=sys.stderr)
    return answer_fault(desk, request, fault)


def answer_fault(desk: Desk, request: Request, fault: Fault) -> Response:
    """Tell a failure, as text to the script and as a page to people."""
    if request.headers.get("accept") == "text/plain":  # the script, which shows it beside the photo
        return PlainTextResponse(f"{fault.message}. {fault.cure}", fault.status)
    return _visit(desk, request, FormData()).page("fault.html", fault.status, fault=fault)


def fault_of(error: Exception) -> Fault:
    """Word a failure."""
    match error:
        case NotWritten():
            return Fault("Not written", error.message, error.cure, 507)
        case EvidenceBroken():
            return Fault("The log is damaged", error.message, error.cure, 500)
        case UnusablePhoto():
            return Fault("Not a usable photo", error.message, error.cure, 422)
        case LastwetError():
            return Fault("That does not work yet", error.message, error.cure, 422)
        case Busy():
            return Fault("Too many photos at once", "Other photos are being read", "Wait a moment, then send it again", 503)
        case ClientDisconnect():
            return Fault("Broken off", "The photo did not come in whole", "Send it again", 400)
        case TooLarge():
            return Fault("Too large", "The photo is larger than is taken in", "Send it as the phone saved it, or smaller", 413)
        case TimeoutError():
            return Fault("Too slow", "The photo did not come in within five minutes", "Go nearer to the access point, send it again", 408)
        case HTTPException(status_code=404):
            return Fault("There is no such page", "The address leads nowhere", "Go back to the bench", 404)
        case HTTPException(status_code=status):
            return Fault("Not understood", str(error.detail), "Go back, and send it again", status)
        case _:
            return Fault("A fault of the program", "Something failed here", "Read the gauge by eye, and report this", 500)

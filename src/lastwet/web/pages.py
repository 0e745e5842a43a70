"""What is looked up: boards, the log, photos and pictures."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from starlette.responses import Response

from lastwet.errors import UsageError
from lastwet.film.dry import Verdict
from lastwet.logbook.find import Filter
from lastwet.logbook.kinds import Kind, Status
from lastwet.logbook.view import Standing, standings
from lastwet.service import amend, archive
from lastwet.service.pictures import pictures
from lastwet.web.desk import Visit
from lastwet.web.words import shown
from lastwet.words import entries

PAGE = 40
"""Entries or boards on one page."""
STATIC = {"page.css": "text/css", "page.js": "text/javascript", "icon.svg": "image/svg+xml"}
_DOWNLOAD = {"Content-Security-Policy": "sandbox; default-src 'none'"}
"""For what others sent: whatever it is, a browser that opens it lets it do nothing."""


def static(visit: Visit) -> Response:
    """Hand out one of the files of the page."""
    name = visit.path["name"]
    if name not in STATIC:
        return Response("There is no such file.\n", 404, media_type="text/plain")
    content = (files("lastwet.web") / "static" / name).read_bytes()
    return Response(content, media_type=STATIC[name], headers={"Cache-Control": "no-cache"})


def log(visit: Visit) -> Response:
    """List the newest entries, or those that were asked for."""
    asked = {name: visit.query.get(name, "").strip() for name in ("kind", "board", "person", "outcome", "verdict")}
    given: dict[str, Any] = {name: value or None for name, value in asked.items()}
    wanted = Filter(**given)
    before = visit.query.get("before", "")
    if wanted.asks_what_stands or not before.isdecimal():
        found = archive.found(visit.logbook, wanted, PAGE)
    else:
        page = visit.logbook.find(wanted, PAGE, before=int(before[:12]))
        found = standings(page, visit.logbook.concerning(entry.seq for entry in page))
    lines = [(each.entry.seq, each.entry.kind, entries.line(each), _bodies(each)) for each in found]
    older = found[-1].entry.seq if len(found) == PAGE and not wanted.asks_what_stands else None
    return visit.page("log.html", lines=lines, asked=asked, older=older, outcomes=list(Status), verdicts=list(Verdict))


def _bodies(standing: Standing) -> list[Any]:
    """Return all that its line may quote."""
    return [standing.entry.body, *(about.body for about in standing.history)]


def entry(visit: Visit) -> Response:
    """Show one entry with its history."""
    seq = visit.seq
    written = visit.logbook.entry(seq)
    standing = standings([written], visit.logbook.concerning([seq]))[0]
    found = shown(standing, visit.who.unit) if written.kind == Kind.READING else None
    record = json.dumps(json.loads(written.record), indent=1, ensure_ascii=False)
    history = [(about.seq, f"{about.recorded_at:%Y-%m-%d %H:%M:%S}", entries.brief(about), about.body) for about in standing.history]
    lines = [line.strip() for line in entries.lines(Standing(written), [])]
    return visit.page("entry.html", entry=written, lines=lines, history=history, found=found, record=record, void=standing.void)


def picture(visit: Visit) -> Response:
    """Draw what was seen over a logged photo: encoded anew, without the photo's metadata."""
    drawn = pictures(visit.logbook, [_photo_of(visit)])[0]
    if drawn.jpeg is None:
        raise UsageError(f"there is no picture of entry {visit.seq}: {drawn.fault}", "look at the entry in the log")
    return Response(drawn.jpeg, media_type="image/jpeg", headers={"Cache-Control": "private, no-cache"})


def original(visit: Visit) -> Response:
    """Hand out one of the photos of a reading as it was received, to be saved and never to be shown here; the one that was read is 1."""
    entry, number = _photo_of(visit).entry, int(visit.path["number"])
    if not 1 <= number <= len(entry.photos):
        raise UsageError(f"entry {entry.seq} has no photo {number}", f"choose one of its {len(entry.photos)}")
    content = visit.logbook.photos.read(entry.photos[number - 1])
    name = f"entry-{entry.seq}-{number}.bin"
    headers = {**_DOWNLOAD, "Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type="application/octet-stream", headers=headers)


def _photo_of(visit: Visit) -> Standing:
    stands = amend.standing(visit.logbook, visit.seq)
    if stands.entry.kind != Kind.READING or stands.entry.photo_sha256 is None:
        raise UsageError(f"entry {visit.seq} has no photo", "choose a reading of a photo")
    return stands

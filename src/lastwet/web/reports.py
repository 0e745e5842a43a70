"""Reports: issued, logged, and handed out as they were issued."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import secrets

from starlette.responses import Response

from lastwet.errors import UsageError
from lastwet.logbook.find import Filter
from lastwet.logbook.kinds import Kind
from lastwet.service import boards
from lastwet.service.report import issue_report
from lastwet.web.desk import Visit, see_other

REPORT_TYPES = {"pdf": "application/pdf", "html": "text/html; charset=utf-8"}
LISTED_REPORTS = 10


def reports(visit: Visit) -> Response:
    """Offer to issue a report, and those that were issued here."""
    issued = visit.logbook.find(Filter(kind=Kind.REPORT), LISTED_REPORTS)
    here = [entry for entry in issued if (visit.desk.reports / str(entry.body["file"])).is_file()]
    names = [board.name for board in boards.all_boards(visit.logbook, newest=40)[::-1]]
    chosen = visit.query.get("board", "")
    return visit.page("reports.html", issued=here, boards=names, chosen=chosen)


def issue(visit: Visit) -> Response:
    """Issue a report of a board, or of all readings, and log that."""
    form = visit.form
    kind = "html" if form.get("kind") == "html" else "pdf"
    path = visit.desk.reports / f"report-{dt.date.today():%Y%m%d}-{secrets.token_hex(4)}.{kind}"  # noqa: DTZ011  a name for people
    wanted = Filter(board=visit.text("board"))
    issued = issue_report(visit.logbook, wanted, path, visit.who.by, paper="letter" if form.get("paper") == "letter" else "a4")
    return see_other(f"/reports/{issued.entry}")


def report(visit: Visit) -> Response:
    """Hand out a report that was issued here, where it still is what was logged."""
    entry = visit.logbook.entry(visit.seq)
    path = visit.desk.reports / re.sub(r".*[/\\]", "", str(entry.body.get("file", "")))
    if entry.kind != Kind.REPORT or not path.is_file():
        raise UsageError(f"entry {visit.seq} is not a report that lies here", "issue it again")
    content = path.read_bytes()
    if hashlib.sha256(content).hexdigest() != entry.body["file_sha256"]:
        raise UsageError("the report is not what was issued", "issue it again")
    return visit.page("report.html", entry=entry) if "save" not in visit.query else _attachment(path.name, content)


def _attachment(name: str, content: bytes) -> Response:
    headers = {"Content-Security-Policy": "sandbox; default-src 'none'", "Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=REPORT_TYPES[name.rsplit(".", 1)[-1]], headers=headers)

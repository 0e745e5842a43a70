"""From the log to a report: choose, render, write, and log that it was issued."""

from __future__ import annotations

import datetime as dt
import hashlib
import tomllib
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, Literal

from lastwet import __version__
from lastwet.card import Table
from lastwet.errors import NotWritten, UsageError
from lastwet.logbook.durable import write_once
from lastwet.logbook.entry import Entry, canonical_json
from lastwet.logbook.find import Filter
from lastwet.logbook.kinds import Kind
from lastwet.logbook.store import Logbook
from lastwet.logbook.verify import first_broken, verify
from lastwet.logbook.view import Standing
from lastwet.report.compose import compose
from lastwet.report.model import Details, Origin, Replaced, Report
from lastwet.report.phrases import moment
from lastwet.service import gather
from lastwet.service.archive import everything, is_reading
from lastwet.service.coats import addition
from lastwet.service.files import make_folder
from lastwet.service.log import append, named
from lastwet.service.pictures import Picture, pictures

Paper = Literal["a4", "letter"]


@dataclass(frozen=True, slots=True)
class Issued:
    """A report that was written."""

    report_id: str
    path: Path
    readings: int
    entry: int | None
    """Its own log entry."""


def load_details(path: Path | None) -> Details:
    """Read what the log does not know from a TOML file of texts; raises `UsageError` naming file, key and cure."""
    if path is None:
        return Details()
    try:
        values = tomllib.loads(path.read_text("utf-8").removeprefix("\ufeff"))
    except OSError as error:
        raise UsageError(f"{path} cannot be read ({error.strerror})", "give the path of a TOML file") from error
    except ValueError as error:  # tomllib's own error and UnicodeDecodeError
        raise UsageError(f"{path} is not a TOML file ({error})", "correct that line") from error
    card = Table(values, str(path), "report's details")
    known = [field.name for field in fields(Details)]
    card.only(*known)
    return Details(**{key: card.text(key) for key in known if key in card})


def issue_report(
    logbook: Logbook,
    wanted: Filter,
    path: Path,
    by: str,
    *,
    details: Details | None = None,
    paper: Paper = "a4",
    replaces: str | None = None,
    keep: bool = True,
) -> Issued:
    """Write a report to `path`, as HTML or PDF by its ending, and log that it was issued, with the file's hash.

    Raises `UsageError` for another ending, for a report to be replaced that the log does not know, and where nothing was found;
    `NotWritten` where the file is there or cannot be written, or the log cannot, and then there is no file either.
    """
    kind = _kind(path)
    found, head = everything(logbook, wanted), logbook.head()
    chosen, of = list(filter(is_reading, found)), gather.shop(logbook, found)
    if head is None or not (chosen or of.states):
        raise UsageError("no readings were found for what was asked", "look at `lastwet log list` with the same options")
    if path.exists():
        raise _is_there(path)
    earlier = None if replaces is None else _earlier(logbook, replaces)
    report = _gathered(logbook, chosen, of, head, _scope(wanted), named(by), details or Details(), earlier)
    content = _rendered(report, kind, paper)
    _write(path, content)
    entry = _logged(logbook, path, _body(report, chosen, content, path)) if keep else None
    return Issued(report.report_id, path, len(chosen), entry)


def _kind(path: Path) -> str:
    kind = path.suffix.lower().removeprefix(".")
    if kind not in ("html", "pdf"):
        raise UsageError(f"{path} is not the name of a report", "end it in .html or .pdf")
    return kind


def _rendered(report: Report, kind: str, paper: Paper) -> bytes:
    from lastwet.report.html import render_html  # here, as each needs one of them
    from lastwet.report.pdf import render_pdf

    document = compose(report)
    # a name from a command line that is not UTF-8 reaches Python as a lone surrogate
    return render_pdf(document, paper) if kind == "pdf" else render_html(document).encode(errors="backslashreplace")


def _write(path: Path, content: bytes) -> None:
    make_folder(path.parent)
    try:
        write_once(path, content)
    except FileExistsError:
        raise _is_there(path) from None
    except OSError as error:
        raise NotWritten(f"{path} could not be written ({error.strerror})", "check the folder and the free space") from error


def _logged(logbook: Logbook, path: Path, body: dict[str, Any]) -> int:
    """Log the report; one that the log does not know could not be told from a forged one, so where that fails the file goes too."""
    try:
        return append(logbook, Kind.REPORT, body).seq
    except Exception:
        with suppress(OSError):  # what is to be told is that the log could not be written
            path.unlink()
        raise


def _is_there(path: Path) -> NotWritten:
    return NotWritten(f"{path} is there already", "name another file, so that no report is overwritten")


def _body(report: Report, chosen: Sequence[Standing], content: bytes, path: Path) -> dict[str, Any]:
    return {
        "id": report.report_id,
        "by": report.issued_by,
        "replaces": report.replaces.report_id if report.replaces else None,
        "scope": report.origin.scope,
        "head": {"seq": report.origin.head_entry, "hash": report.origin.head_hash},
        "entries": [standing.entry.seq for standing in chosen],
        "file": path.name,
        "file_sha256": hashlib.sha256(content).hexdigest(),
    }


def _gathered(
    logbook: Logbook,
    chosen: Sequence[Standing],
    of: gather.Shop,
    head: Entry,
    scope: str,
    by: str,
    details: Details,
    earlier: Entry | None,
) -> Report:
    now, drawn, attached = dt.datetime.now().astimezone(), pictures(logbook, chosen), gather.attached(logbook, chosen, of)
    shown = [*drawn, *(picture for _, picture in attached)]
    seed = canonical_json([head.hash, scope, now.isoformat(), [standing.entry.seq for standing in chosen]])
    return Report(
        report_id=f"{now:%Y%m%d}-{hashlib.sha256(seed.encode()).hexdigest()[:8]}",
        issued=now,
        issued_by=by,
        details=details if details.job else replace(details, job=gather.jobs(chosen, of)),
        groups=list(gather.groups(chosen, drawn, of)),
        origin=Origin(__version__, gather.readers(chosen), head.seq, head.hash, _intact(logbook, shown), scope),
        amendments=gather.amendments(chosen),
        additions=[said for name, state in of.states.items() for said in addition(state, list(map(gather.amendment, of.about[name])))],
        gauges=list(gather.gauges(chosen)),
        attached=[gather.attachment(entry, picture) for entry, picture in attached],
        replaces=None if earlier is None else Replaced(str(earlier.body["id"]), list(_changes(earlier, chosen, of))),
    )


def _scope(wanted: Filter) -> str:
    asked = {field.name: value for field in fields(wanted) if (value := getattr(wanted, field.name)) is not None}
    said = [f"{name} {moment(value) if isinstance(value, dt.datetime) else value}" for name, value in asked.items()]
    return ", ".join(said) or "everything in the log"


def _intact(logbook: Logbook, drawn: Sequence[Picture]) -> str:
    """Check every entry, and the photos of this report; all the others of a large log would take minutes."""
    broken = [finding for finding in verify(logbook.folder, photos=False) if finding.broken]
    if broken:
        first = first_broken(broken)
        return f"NOT INTACT, {len(broken)} findings; " + (f"entry {first} is the first that is broken" if first else broken[0].message)
    if photos := sum(picture.broken for picture in drawn):
        return f"NOT INTACT: every entry is as it was written, but {photos} of the photos of this report are missing or changed"
    return "every entry is as it was written, and so are the photos of this report"


def _earlier(logbook: Logbook, report_id: str) -> Entry:
    for entry in logbook.find(Filter(kind=Kind.REPORT), 1_000_000):
        if entry.body["id"] == report_id:
            return entry
    raise UsageError(f"the log knows no report {report_id}", "list them by `lastwet log list --kind report`")


def _changes(earlier: Entry, chosen: Sequence[Standing], of: gather.Shop) -> Iterator[str]:
    """Say what the log holds since the earlier report, of what either covers."""
    before, then = set(earlier.body["entries"]), earlier.body["head"]["seq"]
    now = {standing.entry.seq for standing in chosen}
    if added := sorted(now - before):
        yield f"Added: entries {', '.join(map(str, added))}."
    if dropped := sorted(before - now):
        yield f"No longer covered: entries {', '.join(map(str, dropped))}."
    for entry in (entry for entries in of.entries.values() for entry in entries if entry.seq > then):
        yield f"Added to board {entry.body['board']}: {entry.kind}, entry {entry.seq}, by {entry.body.get('by') or 'nobody named'}."
    known = [standing for standing in chosen if standing.entry.seq in before]
    about = [*gather.amendments(known), *(gather.amendment(entry) for entries in of.about.values() for entry in entries)]
    for said in sorted(about, key=lambda each: each.entry):
        if said.entry > then:
            why = f": {said.reason}" if said.reason else ""
            yield f"Entry {said.concerns}: {said.words}, by {said.by or 'nobody named'}{why}."

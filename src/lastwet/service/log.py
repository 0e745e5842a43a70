"""Keep what was read: the log, and the picture of what was seen."""

from __future__ import annotations

import datetime as dt
import getpass
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from lastwet import __version__
from lastwet.config import logbook_place
from lastwet.errors import LastwetError, NotWritten, UsageError
from lastwet.gauge import Gauge
from lastwet.logbook.entry import Entry
from lastwet.logbook.faults import explained
from lastwet.logbook.kinds import Kind
from lastwet.logbook.store import LOG_FILE, Logbook
from lastwet.reading.photo import Photo
from lastwet.result import Film, Result
from lastwet.service.files import save_picture


@dataclass(frozen=True, slots=True)
class Kept:
    """What was kept of a result."""

    entry: int | None = None
    """Number of its log entry."""
    picture: Path | None = None
    """Where its annotated picture is."""
    faults: tuple[LastwetError, ...] = ()
    """What could not be written."""


def keep(result: Result, logbook: Logbook | None, by: str, pictures: Path | None, where: Mapping[str, Any] | None = None) -> Kept:
    """Log a result and write its picture, where wanted; a fault is told, and stops neither the other nor the next photo.

    `where` says more of the reading, as in `log_result`.
    """
    kept = Kept()
    try:
        if logbook and result.sha256:  # a mistyped name is no evidence
            kept = replace(kept, entry=log_result(logbook, result, by, where).seq)
    except LastwetError as fault:
        kept = replace(kept, faults=(fault,))
    try:
        if pictures:
            kept = replace(kept, picture=save_picture(result, pictures))
    except LastwetError as fault:
        kept = replace(kept, faults=(*kept.faults, fault))
    except Exception as error:  # as in `read_photo`
        message = f"the picture of {result.name} could not be drawn ({type(error).__name__}: {error})"
        kept = replace(kept, faults=(*kept.faults, NotWritten(message, "report this with the photo")))
    return kept


def open_log(stated: Path | None, *, to_read: bool = False) -> Logbook:
    """Open the logbook; with `to_read`, raise `UsageError` where there is none yet instead of beginning one."""
    place = logbook_place(stated)
    with explained("open the log", place):  # a folder that may not be looked into
        begun = (place / LOG_FILE).exists()
    if to_read and not begun:
        raise UsageError(f"there is no logbook in {place}", "read a photo first, or name the logbook by --log")
    return Logbook(place)


def log_result(logbook: Logbook, result: Result, by: str, where: Mapping[str, Any] | None = None) -> Entry:
    """Append a result to the log with the bytes of its photos; an unusable file is logged by its hash alone.

    `where` says more of the reading, such as the board that was dipped: see `lastwet.logbook.kinds`.
    """
    content = result.photo.original if result.photo else None
    return append(logbook, Kind.READING, {**_body(result, by), **(where or {})}, content, _more(result))


def _more(result: Result) -> list[bytes]:
    """Return the photos beside the one that says most: the others of the dip, and that of the clean gauge."""
    others = [part.original for part in result.parts if part.original is not None]
    return [*others, *([result.clean.photo.original] if result.clean and isinstance(result.clean.photo, Photo) else [])]


def append(logbook: Logbook, kind: str, body: Mapping[str, Any], content: bytes | None = None, more: Sequence[bytes] = ()) -> Entry:
    """Append an entry that is received now."""
    return logbook.append(kind, body, content, more=more, recorded_at=dt.datetime.now().astimezone())


def named(by: str) -> str:
    """Return a person's name without the blanks around it; raises `UsageError` where nothing is left."""
    if not by.strip():
        raise UsageError("a name is needed, and this one is empty", "say who, by --by")
    return by.strip()


def _body(result: Result, by: str) -> dict[str, Any]:
    """Return what the log keeps: enough to see later what was read, by what, and with which gauge's numbers."""
    import cv2  # here, as only the log needs its version, and its networks are run by it

    film, gauge = result.task.film, result.task.gauge
    return {
        "reading": result.as_json(),
        "by": by,
        "camera_time": result.photo.camera_time if result.photo else None,
        "gauge": gauge_json(gauge),
        "film": film_json(film),
        "software": {"version": __version__, "reader_settings": result.reader_settings, "opencv": cv2.__version__},
    }


def gauge_json(gauge: Gauge) -> dict[str, Any]:
    """Return what the log keeps of a gauge: the values stamped on it."""
    return {"name": gauge.name, "unit": gauge.unit, "sides": {side.id: list(side.teeth) for side in gauge.sides}}


def film_json(film: Film) -> dict[str, Any]:
    """Return what the log keeps of the paint; the wet range stands with the reading."""
    return {
        "coating": film.coating,
        "volume_solids": film.solids,
        "volume_solids_tolerance": film.solids_tolerance,
        "thinner": film.thinner,
        "thinner_stated": film.thinner is not None,
        "thinner_max": film.thinner_max,
    }


def user_name() -> str:
    """Return the name of the user who runs the program, as the system knows it."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # no such user in the system's list; KeyError before Python 3.13
        return "unknown"

"""The use cases, the same for every face: read photos, draw what was seen, keep the log.

The only module with a clock, the user's name and the user's files.
"""

from __future__ import annotations

import datetime as dt
import getpass
import hashlib
import json
import os
import sys
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cache, partial
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from lastwet import __version__
from lastwet.config import logbook_place
from lastwet.errors import LastwetError, NotWritten, UnusablePhoto, UsageError
from lastwet.film.coating import load_coating
from lastwet.film.dry import dry_fraction
from lastwet.gauge import Gauge, load_gauge
from lastwet.logbook.entry import Entry
from lastwet.logbook.faults import explained
from lastwet.logbook.store import LOG_FILE, Logbook
from lastwet.reading.outcome import Code, Outcome, Reason, Refusal
from lastwet.reading.photo import Photo, load_photo, read_original
from lastwet.result import Film, Result, Task
from lastwet.units import parse_range_um

Reader = Callable[[Photo, Gauge, str | None], Outcome]
Fetch = Callable[[str], bytes]
"""Gets the bytes of a photo by its name; raises `UnusablePhoto`."""

SUFFIXES = frozenset({".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif"})
"""What counts as a photo in a folder."""
FAILURE_CURE = "Read the gauge by eye, and report this with the photo"
"""What to do where the program itself failed."""
PICTURE_ENDING = "-overlay.jpg"
"""Ending of the annotated pictures, which are no photos to be read."""
LEAST_SOLIDS_PERCENT = 1.0
"""Volume solids below this are a fraction written for a percentage: 0.57 for 57 %."""
WORKERS = min(4, os.cpu_count() or 1)
"""Photos read at the same time; each takes up to 200 MB."""


def film(coating: str | None, solids_percent: float | None, thinner_percent: float, wet_range: str | None) -> Film:
    """Gather what is known of the paint from a coating card and from single values, which win over the card's.

    Raises `UsageError` for an impossible value, for a fraction in the place of a percentage, and for thinner without solids to thin.
    """
    card = None if coating is None else load_coating(coating)
    if solids_percent is not None and 0 < solids_percent < LEAST_SOLIDS_PERCENT:
        raise UsageError(f"volume solids of {solids_percent:g} % are too little for a paint", "write percent, as in 57 for 57 %")
    solids = solids_percent / 100 if solids_percent is not None else card.volume_solids if card else None
    if solids is not None:
        dry_fraction(solids, thinner_percent / 100)  # raises where they are impossible
    elif thinner_percent:
        raise UsageError("thinner alone predicts nothing", "give the volume solids too, by --solids or --coating")
    limits_um = parse_range_um(wet_range) if wet_range is not None else card.wet_range_um if card else None
    known = Film(solids=solids, thinner=thinner_percent / 100, wet_range_um=limits_um)
    if card is None:
        return known
    tolerance = card.volume_solids_tolerance if solids_percent is None else 0.0
    return replace(known, coating=card.name, solids_tolerance=tolerance, thinner_max=card.thinner_max)


def expand(names: Iterable[str]) -> list[str]:
    """Replace each folder by the photos in it, sorted by name; a folder without photos stays, to be reported as no photo."""
    return [photo for name in names for photo in (_photos_in(name) or [name])]


def _photos_in(name: str) -> list[str]:
    try:
        paths = sorted(Path(name).iterdir())
    except OSError:  # no folder, or one that may not be looked into: what is wrong shows when the photo is fetched
        return []
    return [
        str(path)
        for path in paths
        if path.suffix.lower() in SUFFIXES and not path.name.startswith(".") and not path.name.endswith(PICTURE_ENDING)
    ]


def fetch_file(name: str) -> bytes:
    """Read a photo's bytes from the file of that name."""
    return read_original(Path(name), _printable(name))


def _printable(name: str) -> str:
    """Escape what is not valid Unicode, as the name of a file can be: neither a terminal nor JSON would take it."""
    return name.encode(errors="backslashreplace").decode()


def read_photo(name: str, task: Task, fetch: Fetch = fetch_file, reader: Reader | None = None) -> Result:
    """Read one photo; a file that is not usable is a result too, and so is a failure of the reader."""
    start, shown, original, photo, failure = time.perf_counter(), _printable(name), None, None, None
    reader = reader or _default_reader()
    outcome: Outcome | UnusablePhoto
    try:
        original = fetch(name)
        photo = load_photo(original, shown)
        outcome = reader(photo, task.gauge, task.side_id)
    except UnusablePhoto as error:
        outcome = error
    except Exception as error:  # a fault of ours must not cost the other photos of the call
        failure = f"{type(error).__name__}: {error}"
        outcome = Refusal((Reason(Code.UNSURE, f"The program failed on this photo ({failure})", FAILURE_CURE),))
    sha256 = photo.sha256 if photo else hashlib.sha256(original).hexdigest() if original is not None else None
    return Result(shown, task, photo, outcome, sha256, time.perf_counter() - start, _settings_of(reader), failure)


def read_photos(names: Iterable[str], task: Task, fetch: Fetch = fetch_file, reader: Reader | None = None) -> Iterator[Result]:
    """Read photos side by side; results come in the order of `names`."""
    return _in_order(partial(read_photo, task=task, fetch=fetch, reader=reader), names)


def _in_order(work: Callable[[str], Result], names: Iterable[str]) -> Iterator[Result]:
    """Run `work` at most `WORKERS` photos ahead: results hold photos, and `Executor.map` would let all of them pile up."""
    with ThreadPoolExecutor(WORKERS) as pool:
        pending: deque[Future[Result]] = deque()
        for name in names:
            pending.append(pool.submit(work, name))
            if len(pending) > WORKERS:
                yield pending.popleft().result()
        while pending:
            yield pending.popleft().result()


def _default_reader() -> Reader:
    from lastwet.reading.reader import read  # here, as tests and faces may bring their own

    return read


@cache  # the reader hashes megabytes of networks for it
def _settings_of(reader: Reader) -> str | None:
    """Return what the reader's module calls its settings, so that the log says with which of them a photo was read."""
    return getattr(sys.modules.get(reader.__module__), "SETTINGS_ID", None)


@dataclass(frozen=True, slots=True)
class Kept:
    """What was kept of a result."""

    entry: int | None = None
    """Number of its log entry."""
    picture: Path | None = None
    """Where its annotated picture is."""
    faults: tuple[LastwetError, ...] = ()
    """What could not be written."""


def keep(result: Result, logbook: Logbook | None, by: str, pictures: Path | None) -> Kept:
    """Log a result and write its picture, where wanted; a fault is told, and stops neither the other nor the next photo."""
    kept = Kept()
    try:
        if logbook and result.sha256:  # a mistyped name is no evidence
            kept = replace(kept, entry=log_result(logbook, result, by).seq)
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


def log_result(logbook: Logbook, result: Result, by: str) -> Entry:
    """Append a result to the log with the photo's bytes; an unusable file is logged by its hash alone."""
    now = dt.datetime.now().astimezone()
    return logbook.append("reading", _body(result, by), result.photo.original if result.photo else None, recorded_at=now)


def _body(result: Result, by: str) -> dict[str, Any]:
    """Return what the log keeps: enough to see later what was read, by what, and with which gauge's numbers."""
    import cv2  # here, as only the log needs its version, and its networks are run by it

    film, gauge = result.task.film, result.task.gauge
    return {
        "reading": result.as_json(),
        "by": by,
        "camera_time": result.photo.camera_time if result.photo else None,
        "gauge": {"name": gauge.name, "unit": gauge.unit, "sides": {side.id: list(side.teeth) for side in gauge.sides}},
        "film": {
            "coating": film.coating,
            "volume_solids": film.solids,
            "volume_solids_tolerance": film.solids_tolerance,
            "thinner": film.thinner,
            "thinner_max": film.thinner_max,
        },
        "software": {"version": __version__, "reader_settings": result.reader_settings, "opencv": cv2.__version__},
    }


def user_name() -> str:
    """Return the name of the user who runs the program, as the system knows it."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # no such user in the system's list; KeyError before Python 3.13
        return "unknown"


def save_picture(result: Result, folder: Path) -> Path | None:
    """Draw what was seen and write it into `folder`, named after the photo; None where there is no photo to draw on."""
    if result.photo is None or isinstance(result.outcome, UnusablePhoto):
        return None
    from lastwet.reading.overlay import draw_overlay, save_overlay  # here, as only a picture needs drawing and fonts

    make_folder(folder)
    path = folder / f"{Path(result.name).stem or 'photo'}-{result.photo.sha256[:8]}{PICTURE_ENDING}"  # two photos may share a name
    save_overlay(path, draw_overlay(result.photo, result.outcome, result.task.gauge))
    return path


def make_folder(folder: Path) -> None:
    """Make a folder for results; raises `NotWritten`."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise NotWritten(f"the folder {folder} cannot be made ({error.strerror})", "name a folder that you may write to") from error


@dataclass(frozen=True, slots=True)
class Sample:
    """A sample photo that the package ships, and what it shows; all invented."""

    name: str
    photo: bytes
    task: Task


def samples() -> list[Sample]:
    """Return the sample photos, sorted by name."""
    folder = files("lastwet") / "data" / "photos"
    return [_sample(folder, card.name.removesuffix(".json")) for card in _by_name(folder) if card.name.endswith(".json")]


def read_sample(sample: Sample) -> Result:
    """Read a sample photo."""
    return read_photo(sample.name, sample.task, lambda _: sample.photo)


def _by_name(folder: Traversable) -> list[Traversable]:
    return sorted(folder.iterdir(), key=lambda item: item.name)


def _sample(folder: Traversable, name: str) -> Sample:
    shown = json.loads((folder / f"{name}.json").read_text("utf-8"))
    task = Task(load_gauge(shown["gauge"]), shown["side"], film(shown["coating"], None, 0.0, None))
    return Sample(f"{name}.jpg", (folder / f"{name}.jpg").read_bytes(), task)


def write_text(path: Path, text: str) -> None:
    """Write a text file; raises `NotWritten`."""
    try:
        path.write_text(text, "utf-8")
    except OSError as error:
        raise NotWritten(f"{path} could not be written ({error.strerror})", "name a folder that you may write to") from error

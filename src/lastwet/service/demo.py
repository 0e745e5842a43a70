"""The sample photos that the package ships, and a report of what was read in them."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from importlib.resources import files
from importlib.resources.abc import Traversable
from importlib.util import find_spec
from pathlib import Path

from lastwet.errors import LastwetError, NotWritten
from lastwet.film.coating import load_coating
from lastwet.gauge import load_gauge
from lastwet.logbook.find import Filter
from lastwet.logbook.store import Logbook
from lastwet.result import Result, Task
from lastwet.service.log import user_name
from lastwet.service.photos import film, read_photo


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


def none_read() -> LastwetError:
    """Return what is wrong where no sample was read: they were chosen to be, so the installation is at fault."""
    return LastwetError("no sample photo was read", "install lastwet again, or report this")


def report_samples(logbook: Logbook, folder: Path, since: dt.datetime) -> list[Path]:
    """Report on what was read since then, as HTML, and as PDF where that extra is installed; write over the last demo's reports."""
    from lastwet.report.model import Details  # here, as reports load much that reading does not need
    from lastwet.service.report import issue_report

    details = Details(
        organisation="Sample finishing shop (invented)",
        customer="nobody",
        job="lastwet demo",
        remarks="Sample photos of invented gauges, paints and data sheets.",
    )
    paths = [folder / "report.html", *([folder / "report.pdf"] if find_spec("fpdf") else [])]
    for path in paths:
        _remove(path)
        issue_report(logbook, Filter(since=since), path, user_name(), details=details)
    return paths


def _remove(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise NotWritten(f"{path} could not be written ({error.strerror})", "name another folder") from error


def _by_name(folder: Traversable) -> list[Traversable]:
    return sorted(folder.iterdir(), key=lambda item: item.name)


def _sample(folder: Traversable, name: str) -> Sample:
    shown = json.loads((folder / f"{name}.json").read_text("utf-8"))
    task = Task(load_gauge(shown["gauge"]), shown["side"], film(load_coating(shown["coating"]), None, None, None))
    return Sample(f"{name}.jpg", (folder / f"{name}.jpg").read_bytes(), task)

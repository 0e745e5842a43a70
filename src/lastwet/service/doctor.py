"""Is everything here that the program needs, and does it work? Looks, and tries out in a place of its own; changes nothing."""

from __future__ import annotations

import os
import platform
import shutil
import sqlite3
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from lastwet import __version__
from lastwet.config import LOG_VARIABLE, logbook_place
from lastwet.errors import LastwetError
from lastwet.logbook.store import LOG_FILE, Logbook
from lastwet.logbook.verify import verify
from lastwet.reading.outcome import Reading
from lastwet.service.demo import none_read, read_sample, samples
from lastwet.service.log import log_result

LEAST_FREE_MB = 500
"""Free space below this is told: a hundred photos of a phone, and room for SQLite."""
PACKAGES = ("numpy", "opencv-python-headless", "pillow", "scikit-image", "typer", "jinja2", "platformdirs")
EXTRAS = {"HEIC photos": ("pillow-heif", "heic"), "PDF reports": ("fpdf2", "pdf"), "the page": ("starlette", "web")}
"""What each extra gives: a package of it, and its name."""


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was looked at."""

    name: str
    found: str
    cure: str | None = None
    """What to do; None where all is well."""


def examine(stated: Path | None = None) -> Iterator[Check]:
    """Look at program, packages, extras, disk and log, then read a sample and log it in a folder that is thrown away."""
    yield Check("lastwet", f"{__version__}, from {Path(__file__).parents[1]}")
    yield Check("python", f"{platform.python_version()} on {platform.platform()}, {sys.executable}")
    yield from map(_package, PACKAGES)
    yield _opencv()
    yield Check("sqlite", sqlite3.sqlite_version)
    yield from (_extra(gives, *named) for gives, named in EXTRAS.items())
    yield from _place(logbook_place(stated))
    for name, attempt in (("reader", _try_reader), ("log", _try_log)):
        yield _tried(name, attempt)


def _package(name: str) -> Check:
    try:
        return Check(name, version(name))
    except PackageNotFoundError:
        return Check(name, "not found", "install lastwet again: pip install --force-reinstall lastwet")


def _opencv() -> Check:
    """`opencv-python` beside the headless one shares its folder: whichever came last wins, and removing one breaks both."""
    import cv2

    beside = [name for name in ("opencv-python", "opencv-contrib-python", "opencv-contrib-python-headless") if _has(name)]
    found = f"{cv2.__version__}, from {cv2.__file__}"
    return Check("cv2", found, f"pip uninstall {' '.join(beside)}, then install lastwet again" if beside else None)


def _has(package: str) -> bool:
    try:
        version(package)
    except PackageNotFoundError:
        return False
    return True


def _extra(gives: str, package: str, extra: str) -> Check:
    found = f"{package} {version(package)}" if _has(package) else f"not installed; pip install 'lastwet[{extra}]' adds it"
    return Check(gives, found)


def _place(place: Path) -> Iterator[Check]:
    said = "by --log or the default" if LOG_VARIABLE not in os.environ else f"by --log or {LOG_VARIABLE}"
    begun = (place / LOG_FILE).is_file()
    yield Check("logbook", f"{place} ({said}), {'begun' if begun else 'not begun yet'}")
    existing = next(folder for folder in (place, *place.absolute().parents) if folder.exists())
    writable = os.access(existing, os.W_OK)
    closed = None if writable else "make the folder writable, or choose another one for the log"
    yield Check("writable", "yes" if writable else "no", closed)
    free_mb = shutil.disk_usage(existing).free // 1_000_000
    yield Check("free space", f"{free_mb} MB", None if free_mb >= LEAST_FREE_MB else "free some space on that disk")
    if begun:
        broken = [finding for finding in verify(place, photos=False) if finding.broken]
        found = broken[0].message if broken else "every entry is as it was written (photos: lastwet log verify)"
        yield Check("entries", found, "lastwet log verify tells more" if broken else None)


def _tried(name: str, attempt: Callable[[], str]) -> Check:
    try:
        return Check(f"{name} tried", attempt())
    except LastwetError as error:
        return Check(f"{name} tried", error.message, error.cure)
    except Exception as error:  # whatever is wrong with an installation
        return Check(f"{name} tried", f"{type(error).__name__}: {error}", "install lastwet again, or report this")


def _try_reader() -> str:
    results = [read_sample(sample) for sample in samples()]
    read = sum(isinstance(result.outcome, Reading) for result in results)
    if not read:
        raise none_read()
    return f"{read} of {len(results)} sample photos read, {min(result.seconds for result in results):.2f} s the quickest"


def _try_log() -> str:
    with tempfile.TemporaryDirectory() as folder:
        book = Logbook(Path(folder) / "log")
        log_result(book, read_sample(samples()[0]), "doctor")
        findings = verify(book.folder)
    if findings:
        raise LastwetError(findings[0].message, "report this")
    return "a reading was logged and checked, and thrown away"

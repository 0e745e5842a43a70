"""Photos in, results out: names, bytes, the paint that was sprayed, and one reading."""

from __future__ import annotations

import hashlib
import sys
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cache
from glob import glob
from pathlib import Path
from typing import Protocol

from lastwet.errors import UnusablePhoto, UsageError
from lastwet.film.coating import Coating
from lastwet.film.dry import dry_fraction, reckoned_thinner
from lastwet.film.quantity import share_of
from lastwet.gauge import Gauge
from lastwet.reading.outcome import Code, Outcome, Reason, Refusal
from lastwet.reading.photo import Photo, load_photo, read_original
from lastwet.result import Clean, Film, Result, Task
from lastwet.service.files import PICTURE_ENDING
from lastwet.units import parse_range_um


class Reader(Protocol):
    """Reads a photo; `clean`, which shows the wiped gauge before the dip, is handed over only where there is one."""

    def __call__(self, photo: Photo, gauge: Gauge, side_id: str | None, *, clean: Photo | None = None) -> Outcome:
        """Read or refuse."""


Fetch = Callable[[str], bytes]
"""Gets the bytes of a photo by its name; raises `UnusablePhoto`."""

SUFFIXES = frozenset({".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif"})
"""What counts as a photo in a folder."""
FAILURE_CURE = "Read the gauge by eye, and report this with the photo"
"""What to do where the program itself failed."""


def film(card: Coating | None, solids_percent: float | None, thinner_percent: float | None, wet_range: str | None) -> Film:
    """Gather what is known of the paint from a coating card and from single values, which win over the card's; None is not stated.

    Raises `UsageError` for an impossible value, for a fraction in the place of a percentage, and for thinner without solids to thin.
    """
    stated = None if solids_percent is None else share_of(solids_percent, "volume solids")
    solids = stated if stated is not None else card.volume_solids if card else None
    thinner = None if thinner_percent is None else thinner_percent / 100
    if solids is not None:
        dry_fraction(solids, reckoned_thinner(thinner))  # raises where they are impossible
    elif thinner:
        raise UsageError("thinner alone predicts nothing", "give the volume solids too, by --solids or --coating")
    limits_um = parse_range_um(wet_range) if wet_range is not None else card.wet_range_um if card else None
    known = Film(solids=solids, thinner=thinner, wet_range_um=limits_um)
    if card is None:
        return known
    tolerance = card.volume_solids_tolerance if solids_percent is None else 0.0
    return replace(known, coating=card.name, solids_tolerance=tolerance, thinner_max=card.thinner_max)


def expand(names: Iterable[str]) -> list[str]:
    """Replace each folder and each pattern by its photos, sorted by name; one without photos stays, to be reported as no photo."""
    return [photo for name in names for photo in (_photos_in(name) or [name])]


def _photos_in(name: str) -> list[str]:
    """List the photos of a folder, or those that a pattern such as `shop/*.jpg` matches; a file of that very name is no pattern."""
    path = Path(name)
    try:
        named = [] if path.exists() else glob(name, recursive=True)  # noqa: PTH207  Path.glob takes no absolute pattern
        paths = path.iterdir() if path.is_dir() else map(Path, named)
        return [str(path) for path in sorted(paths) if _is_photo(path)]
    except OSError:  # a folder that may not be looked into: what is wrong shows when the photo is fetched
        return []


def _is_photo(path: Path) -> bool:
    return path.suffix.lower() in SUFFIXES and not path.name.startswith(".") and not path.name.endswith(PICTURE_ENDING)


def fetch_file(name: str) -> bytes:
    """Read a photo's bytes from the file of that name."""
    return read_original(Path(name), printable(name))


def printable(name: str) -> str:
    """Escape what is not valid Unicode, as the name of a file can be: neither a terminal nor JSON would take it."""
    return name.encode(errors="backslashreplace").decode()


def read_photo(name: str, task: Task, fetch: Fetch = fetch_file, reader: Reader | None = None, clean: Clean | None = None) -> Result:
    """Read one photo; a file that is not usable is a result too, and so is a failure of the reader.

    `clean` shows the wiped gauge before the dip; where that file is not usable, neither is the photo.
    """
    start, reader = time.perf_counter(), reader or default_reader()
    loaded = load(name, fetch)
    outcome, failure = _outcome(loaded.photo, task, reader, clean)
    photo = loaded.photo if isinstance(loaded.photo, Photo) else None
    seconds = time.perf_counter() - start
    return Result(loaded.name, task, photo, outcome, loaded.sha256, seconds, settings_of(reader), failure=failure, clean=clean)


def _outcome(photo: Photo | Exception, task: Task, reader: Reader, clean: Clean | None) -> tuple[Outcome | UnusablePhoto, str | None]:
    if isinstance(photo, Exception):
        return no_photo(photo)
    try:
        return faulty(clean) or reader(photo, task.gauge, task.side_id, **beside(clean)), None
    except Exception as error:  # as in `load`
        return failed(error)


def load_clean(name: str, fetch: Fetch = fetch_file) -> Clean:
    """Load the photo of the wiped gauge that somebody named; raises as `clean_of`, and `UsageError` where the file is no photo."""
    clean = clean_of(name, fetch)
    if error := faulty(clean):  # a mistyped name must not make the photo of the dip unusable for ever
        raise UsageError(error.message, error.cure)
    return clean


def clean_of(name: str, fetch: Fetch) -> Clean:
    """Load the photo of the wiped gauge; where the program itself fails on it, that is raised, as nothing can be held against it."""
    loaded = load(name, fetch)
    if not isinstance(loaded.photo, Photo | UnusablePhoto):
        raise loaded.photo
    return Clean(loaded.name, loaded.sha256, loaded.photo)


@dataclass(frozen=True, slots=True, eq=False)
class Loaded:
    """A photo, or why there is none."""

    name: str
    sha256: str | None
    photo: Photo | Exception
    """`UnusablePhoto` where the file is none, any other exception where the program itself failed."""


def load(name: str, fetch: Fetch = fetch_file) -> Loaded:
    """Load a photo; a file that is not usable is an answer too, and so is a failure of the program."""
    shown, original = printable(name), None
    try:
        original = fetch(name)
        photo = load_photo(original, shown)
    except Exception as error:  # a fault of ours must not cost the other photos of the call
        return Loaded(shown, sha256_of(original), error)
    return Loaded(shown, photo.sha256, photo)


def no_photo(error: Exception) -> tuple[Refusal | UnusablePhoto, str | None]:
    """Return what a file comes to of which there is no photo, and what went wrong where that was the program itself."""
    return (error, None) if isinstance(error, UnusablePhoto) else failed(error)


def beside(clean: Clean | None) -> dict[str, Photo]:
    """Return what a reader is to be told of the wiped gauge."""
    return {"clean": clean.photo} if clean and isinstance(clean.photo, Photo) else {}


def faulty(clean: Clean | None) -> UnusablePhoto | None:
    """Say why the file that ought to show the wiped gauge is no photo; None where it is one, or where none was given."""
    error = clean.photo if clean else None
    if not isinstance(error, UnusablePhoto):
        return None
    return UnusablePhoto(error.code, f"the photo of the clean gauge: {error.message}", error.cure)


def failed(error: Exception) -> tuple[Refusal, str]:
    """Return what a photo comes to on which the program itself failed, and what went wrong."""
    failure = f"{type(error).__name__}: {error}"
    return Refusal((Reason(Code.UNSURE, f"The program failed on this photo ({failure})", FAILURE_CURE),)), failure


def sha256_of(original: bytes | None) -> str | None:
    """Return the SHA-256 of a file's bytes, in hex; None where they could not be read."""
    return None if original is None else hashlib.sha256(original).hexdigest()


def default_reader() -> Reader:
    """Return the reader that photos are read by."""
    from lastwet.reading.reader import read  # here, as tests and faces may bring their own

    return read


def settings_of(reader: object) -> str | None:
    """Return what the reader's module calls its settings, so that the log says with which of them a photo was read."""
    return _settings(reader.__module__)


@cache  # the reader hashes megabytes of networks for it
def _settings(module: str) -> str | None:
    return getattr(sys.modules.get(module), "SETTINGS_ID", None)

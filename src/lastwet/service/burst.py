"""Several photos of one dip: read together, one result."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from lastwet.errors import UnusablePhoto, UsageError
from lastwet.gauge import Gauge
from lastwet.reading.outcome import Outcome, Together
from lastwet.reading.photo import Photo, load_photo
from lastwet.result import Part, Result, Task
from lastwet.service.photos import Fetch, failed, fetch_file, printable, settings_of, sha256_of

Combiner = Callable[[Sequence[Photo], Gauge, str | None], Together]

MOST_OF_A_DIP = 12
"""More photos than anybody takes of one dip: a folder of many dips was named. Each is kept in memory until all are read, at 30 MB."""


@dataclass(frozen=True, slots=True)
class _Loaded:
    name: str
    photo: Photo | UnusablePhoto
    sha256: str | None


def read_burst(names: Sequence[str], task: Task, fetch: Fetch = fetch_file, combiner: Combiner | None = None) -> Result:
    """Read photos of one dip together; files that are not usable add nothing, and are told.

    Raises `UsageError` for more photos than anybody takes of one dip.
    """
    if len(names) > MOST_OF_A_DIP:
        raise UsageError(f"{len(names)} photos are too many for one dip", f"give at most {MOST_OF_A_DIP}, all of the same dip")
    start = time.perf_counter()
    combiner = combiner or default_combiner()
    loaded = [_load(name, fetch) for name in names]
    photos = [each.photo for each in loaded if isinstance(each.photo, Photo)]
    if not photos:
        return _of_no_photo(loaded, task, time.perf_counter() - start)
    failure = None
    try:
        together = combiner(photos, task.gauge, task.side_id)
    except Exception as error:  # as in `read_photo`
        outcome, failure = failed(error)
        together = Together(outcome, 0, ())
    best = photos[together.best]
    name = next(each.name for each in loaded if each.photo is best)
    parts, seconds = _parts(loaded, together), time.perf_counter() - start
    return Result(name, task, best, together.outcome, best.sha256, seconds, settings_of(combiner), failure=failure, parts=parts)


def default_combiner() -> Combiner:
    """Return the reader that photos of one dip are read by."""
    from lastwet.reading.reader import read_together  # here, as tests and faces may bring their own

    return read_together


def _load(name: str, fetch: Fetch) -> _Loaded:
    shown, original = printable(name), None
    try:
        original = fetch(name)
        photo = load_photo(original, shown)
    except UnusablePhoto as error:
        return _Loaded(shown, error, sha256_of(original))
    return _Loaded(shown, photo, photo.sha256)


def _parts(loaded: Sequence[_Loaded], together: Together) -> tuple[Part, ...]:
    told = iter(together.each)
    parts = []
    for each in loaded:
        if isinstance(each.photo, UnusablePhoto):
            parts.append(Part(each.name, each.sha256, None, each.photo, used=False))
            continue
        said = next(told, None)  # none where the program failed
        outcome: Outcome = said.outcome if said else together.outcome
        parts.append(Part(each.name, each.sha256, each.photo.original, outcome, used=bool(said and said.used)))
    return tuple(parts)


def _of_no_photo(loaded: Sequence[_Loaded], task: Task, seconds: float) -> Result:
    first, errors = loaded[0], [each.photo for each in loaded if isinstance(each.photo, UnusablePhoto)]
    parts = tuple(Part(each.name, each.sha256, None, error, used=False) for each, error in zip(loaded, errors, strict=True))
    return Result(first.name, task, None, errors[0], first.sha256, seconds, parts=parts)

"""Several photos of one dip: read together, one result."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from typing import Protocol

from lastwet.errors import UnusablePhoto, UsageError
from lastwet.gauge import Gauge
from lastwet.reading.outcome import Outcome, Together, Told
from lastwet.reading.photo import Photo
from lastwet.result import Clean, Part, Result, Task
from lastwet.service.photos import Fetch, Loaded, beside, failed, faulty, fetch_file, load, no_photo, settings_of

MOST_OF_A_DIP = 12
"""More photos than anybody takes of one dip: a folder of many dips was named. Each is kept in memory until all are read, at 30 MB."""


class Combiner(Protocol):
    """Reads photos of one dip together; `clean` is handed over as to a `Reader`."""

    def __call__(self, photos: Sequence[Photo], gauge: Gauge, side_id: str | None, *, clean: Photo | None = None) -> Together:
        """Read or refuse."""


def read_burst(
    names: Sequence[str], task: Task, fetch: Fetch = fetch_file, combiner: Combiner | None = None, clean: Clean | None = None
) -> Result:
    """Read photos of one dip together; a file that is not usable, or on which the program fails, adds nothing and is told.

    `clean` is as in `read_photo`. Each name is fetched once, in their order, as two photos may have the same.

    Raises `UsageError` for more photos than anybody takes of one dip.
    """
    if len(names) > MOST_OF_A_DIP:
        raise UsageError(f"{len(names)} photos are too many for one dip", f"give at most {MOST_OF_A_DIP}, all of the same dip")
    start, combiner = time.perf_counter(), combiner or default_combiner()
    loaded = [load(name, fetch) for name in names]
    failure = _failure(loaded)
    usable = [(each, each.photo) for each in loaded if isinstance(each.photo, Photo)]
    if not usable:
        return _of_no_photo(loaded, task, time.perf_counter() - start, failure)
    try:
        together = combiner([photo for _, photo in usable], task.gauge, task.side_id, **beside(clean))
    except Exception as error:  # as in `read_photo`
        refusal, failure = failed(error)
        together = Together(refusal, 0, (Told(refusal, used=False),) * len(usable))
    best, photo = usable[together.best]
    outcome: Outcome | UnusablePhoto = faulty(clean) or together.outcome
    parts, seconds = _parts(loaded, iter(together.each)), time.perf_counter() - start
    return Result(
        best.name, task, photo, outcome, best.sha256, seconds, settings_of(combiner), failure=failure, parts=parts, clean=clean
    )  # fmt: skip


def default_combiner() -> Combiner:
    """Return the reader that photos of one dip are read by."""
    from lastwet.reading.reader import read_together  # here, as tests and faces may bring their own

    return read_together


def _failure(loaded: Sequence[Loaded]) -> str | None:
    """Say what went wrong in the program itself on the first of the files on which it failed."""
    return next((failure for each in loaded if isinstance(each.photo, Exception) and (failure := no_photo(each.photo)[1])), None)


def _parts(loaded: Sequence[Loaded], told: Iterator[Told]) -> tuple[Part, ...]:
    """Say what each file adds; `told` is what each photo among them says, in their order."""
    return tuple(
        _no_photo(each, each.photo) if isinstance(each.photo, Exception) else _part(each, each.photo, next(told)) for each in loaded
    )


def _part(file: Loaded, photo: Photo, told: Told) -> Part:
    return Part(file.name, file.sha256, photo.original, told.outcome, told.used)


def _no_photo(file: Loaded, error: Exception) -> Part:
    return Part(file.name, file.sha256, None, no_photo(error)[0], used=False)


def _of_no_photo(loaded: Sequence[Loaded], task: Task, seconds: float, failure: str | None) -> Result:
    parts = _parts(loaded, iter(()))
    shown = next((part for part in parts if part.sha256), parts[0])  # a mistyped name is no evidence
    return Result(shown.name, task, None, shown.outcome, shown.sha256, seconds, failure=failure, parts=parts)

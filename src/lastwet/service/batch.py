"""Many photos: one after the other, or side by side in processes of their own; results in the order of the photos."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from lastwet.result import Clean, Result, Task
from lastwet.service.photos import Fetch, Reader, fetch_file, read_photo

MOST_JOBS = 4
"""Photos read at the same time where nobody says how many; each takes up to 300 MB."""
WORTH_A_PROCESS = 4
"""A process takes as long to start as a photo or two to read, so each must have at least this many."""
NO_PIXELS = np.zeros((0, 0, 3), np.uint8)


def usual_jobs(photos: int) -> int:
    """Return how many processes a batch is worth on this machine."""
    return max(1, min(MOST_JOBS, os.cpu_count() or 1, photos // WORTH_A_PROCESS))


def read_photos(
    names: Iterable[str],
    task: Task,
    fetch: Fetch = fetch_file,
    reader: Reader | None = None,
    jobs: int = 1,
    pixels: bool = True,
    original: bool = True,
    clean: Clean | None = None,
) -> Iterator[Result]:
    """Read photos and yield their results in the order of `names`.

    With more than one job, each photo goes to one of as many processes; `fetch` and `reader` must then be functions that another
    process can import. A process that dies costs the photo that killed it and no other. Without `pixels`, for a caller who draws on
    no photo, those of a photo stay where it was read, and so do the bytes of its file without `original`, for one who keeps no log: to
    send them takes a twentieth and a thirtieth of the time of a reading. With `clean`, the wiped gauge before the dip, photos are read
    here, one by one.
    """
    if jobs == 1 or clean:
        return map(partial(read_photo, task=task, fetch=fetch, reader=reader, clean=clean), names)
    from lastwet.service.processes import in_order  # here, as a single photo needs none of it

    spared: dict[str, Any] = ({} if pixels else {"pixels": NO_PIXELS}) | ({} if original else {"original": b""})
    return in_order(partial(_read_photo_but, spared=spared, task=task, fetch=fetch, reader=reader), iter(names), jobs)


def _read_photo_but(name: str, spared: Mapping[str, Any], task: Task, fetch: Fetch, reader: Reader | None) -> Result:
    """Read a photo, and return it without what nobody wants of it: `spared` has what takes its place."""
    result = read_photo(name, task, fetch, reader)
    return replace(result, photo=replace(result.photo, **spared)) if result.photo else result

"""Many photos: one after the other, or side by side in processes of their own; results in the order of the photos."""

from __future__ import annotations

import os
import signal
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context

from lastwet.errors import UnusablePhoto
from lastwet.result import Result, Task
from lastwet.service.photos import FAILURE_CURE, Fetch, Reader, fetch_file, printable, read_photo

Work = partial[Result]
"""Reads the photo of a name."""

MOST_JOBS = 4
"""Photos read at the same time where nobody says how many; each takes up to 300 MB."""
WORTH_A_PROCESS = 4
"""A process takes as long to start as a photo or two to read, so each must have at least this many."""
LOST = "the process that read it was ended from outside, or broke down"


def usual_jobs(photos: int) -> int:
    """Return how many processes a batch is worth on this machine."""
    return max(1, min(MOST_JOBS, os.cpu_count() or 1, photos // WORTH_A_PROCESS))


def read_photos(
    names: Iterable[str], task: Task, fetch: Fetch = fetch_file, reader: Reader | None = None, jobs: int = 1
) -> Iterator[Result]:
    """Read photos and yield their results in the order of `names`.

    With more than one job, each photo goes to one of as many processes; `fetch` and `reader` must then be functions that another
    process can import. A process that dies costs the photo that killed it and no other.
    """
    work = partial(read_photo, task=task, fetch=fetch, reader=reader)
    return map(work, names) if jobs == 1 else _in_order(work, iter(names), jobs)


def _in_order(work: Work, names: Iterator[str], jobs: int) -> Iterator[Result]:
    """Run `work` at most `jobs` photos ahead: results hold photos, and `Executor.map` would let all of them pile up."""
    waiting: deque[str] = deque()
    futures: deque[Future[Result]] = deque()
    pool = _pool(jobs)
    try:
        for name in names:
            waiting.append(name)
            futures.append(pool.submit(work, name))
            if len(futures) > jobs:
                yield futures.popleft().result()
                waiting.popleft()
        while futures:
            yield futures.popleft().result()
            waiting.popleft()
    except BrokenExecutor:  # which of those in hand broke it shows when each is read alone
        yield from (_alone(work, name) for name in waiting)
        yield from _in_order(work, names, jobs)
    finally:
        pool.shutdown(cancel_futures=True)


def _alone(work: Work, name: str) -> Result:
    with _pool(1) as pool:
        try:
            return pool.submit(work, name).result()
        except BrokenExecutor:
            return _lost(printable(name), work.keywords["task"])


def _lost(name: str, task: Task) -> Result:
    """Return the result of a photo that took its process with it: nobody can say more than that it cannot be used."""
    return Result(name, task, None, UnusablePhoto("damaged", f"{name} could not be read, {LOST}", FAILURE_CURE), None, 0.0, failure=LOST)


def _pool(jobs: int) -> Executor:
    # spawned, since a forked child inherits OpenCV's threads in an unknown state
    return ProcessPoolExecutor(jobs, get_context("spawn"), _begin)


def _begin() -> None:
    """Prepare a process: one core for each, and no say in when the call is broken off."""
    import cv2

    cv2.setNumThreads(1)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the terminal tells every process; the first one ends the others

"""Processes that read photos side by side, each on a core of its own."""

from __future__ import annotations

import signal
from collections import deque
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context

from lastwet.errors import UnusablePhoto
from lastwet.result import Result, Task
from lastwet.service.photos import FAILURE_CURE, printable

Work = partial[Result]
"""Reads the photo of a name."""

LOST = "the process that read it was ended from outside, or broke down"


def in_order(work: Work, names: Iterator[str], jobs: int) -> Iterator[Result]:
    """Run `work` at most `jobs` photos ahead: results hold photos, and `Executor.map` would let all of them pile up."""
    waiting: deque[str] = deque()
    futures: deque[Future[Result]] = deque()
    pool = _pool(jobs)
    try:
        for name in names:
            waiting.append(name)
            futures.append(_submitted(pool, work, name))
            if len(futures) > jobs:
                yield futures.popleft().result()
                waiting.popleft()
        while futures:
            yield futures.popleft().result()
            waiting.popleft()
    except BrokenExecutor:  # which of those in hand broke it shows when each is read alone
        yield from (_alone(work, name) for name in waiting)
        yield from in_order(work, names, jobs)
    finally:
        pool.shutdown(cancel_futures=True)


def _submitted(pool: Executor, work: Work, name: str) -> Future[Result]:
    """Hand a photo to the pool; the process that may begin for it is deaf to Ctrl-C from its first moment on, as it inherits that."""
    if not hasattr(signal, "pthread_sigmask"):  # Windows
        return pool.submit(work, name)
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        return pool.submit(work, name)
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _alone(work: Work, name: str) -> Result:
    with _pool(1) as pool:
        try:
            return _submitted(pool, work, name).result()
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

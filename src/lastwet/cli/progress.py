"""A progress bar for a person who waits at a terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress(photos: int) -> Iterator[Callable[[], object]]:
    """Show how many photos are done, on standard error where that is a terminal; yields what counts one more."""
    if photos < 2 or not sys.stderr.isatty():
        yield lambda: None
        return
    from rich.console import Console  # here, as it takes as long to import as a photo to decode
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (BarColumn(), MofNCompleteColumn(), TextColumn("photos"), TimeRemainingColumn())
    both = sys.stdout.isatty()  # results then pass above the bar
    with Progress(*columns, console=Console(stderr=True), redirect_stdout=both) as bar:
        task = bar.add_task("", total=photos)
        yield lambda: bar.advance(task)

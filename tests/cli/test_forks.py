"""A forked process of the command is as one from nothing, and the process that forks touches nothing of the tests and outlives none."""

from __future__ import annotations

import re
import signal
import subprocess
import sys

import pytest

from lastwet.reading import reader
from tests.conftest import ROOT, Run


def timeless(said: str) -> str:
    """Leave out how long a reading took: two calls may differ in that."""
    return re.sub(r'"seconds": [0-9.e-]+', "", said)


@pytest.mark.parametrize("command", ["--help", "--nosuch", "log list", "film dry 100um --solids 57", "read - --gauge mil-card --json"])
def test_it_says_and_ends_as_one_from_nothing(run: Run, command: str) -> None:
    forked, new = run(*command.split()), run(*command.split(), FROM_NOTHING="1")
    assert (forked.returncode, timeless(forked.stdout), forked.stderr) == (new.returncode, timeless(new.stdout), new.stderr)


@pytest.mark.usefixtures("forks")
def test_the_tests_have_the_real_reader() -> None:
    assert reader.__name__ == "lastwet.reading.reader"


def test_it_ends_with_the_tests_even_when_they_are_killed() -> None:
    """Standard error, which both have, is closed when the last of the two has ended."""
    killed = "import os; from tests.cli.forks import Forks; forks = Forks(); os.kill(os.getpid(), 9)"
    done = subprocess.run([sys.executable, "-c", killed], cwd=ROOT, capture_output=True, timeout=60, check=False)
    assert (done.returncode, done.stderr) == (-signal.SIGKILL, b"")

"""What the tests of several rooms share."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from tests.cli.forks import Forks

settings.register_profile("steady", deadline=None, derandomize=True, print_blob=False)
settings.load_profile("steady")  # a busy machine is no fault, and a run that passed passes again

ROOT = Path(__file__).parent.parent

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(scope="session")
def forks() -> Iterator[Forks]:
    """A process that forks the command."""
    forks = Forks()
    yield forks
    forks.close()


@pytest.fixture
def run(tmp_path: Path, forks: Forks) -> Run:
    """Run the command in a process of its own, with the fake reader, in `tmp_path`; its log goes to `tmp_path`/log.

    With other variables of the environment the process is one from nothing: most are read only where Python and its libraries start.
    """

    def run(*arguments: str | Path, stdin: bytes = b"", **environment: str) -> subprocess.CompletedProcess[str]:
        env = {**os.environ, "PYTHONPATH": str(ROOT), "LASTWET_LOG": str(tmp_path / "log"), "COLUMNS": "160", **environment}
        command = [sys.executable, "-W", "error", "-m", "tests.cli.command", *map(str, arguments)]
        if environment.keys() - {"LASTWET_LOG"}:
            done = subprocess.run(command, cwd=tmp_path, env=env, input=stdin, capture_output=True, timeout=60, check=False)
            ended = done.returncode, done.stdout, done.stderr
        else:
            ended = forks.run(([*map(str, arguments)], tmp_path, env), stdin)
        return subprocess.CompletedProcess(command, ended[0], ended[1].decode(), ended[2].decode())

    return run


@pytest.fixture
def gauge_file(tmp_path: Path) -> Path:
    """An invented gauge of two sides."""
    path = tmp_path / "bench.toml"
    path.write_text(
        'name = "bench strip"\nunit = "um"\n'
        '[[side]]\nid = "fine"\nteeth = [40, 60, 85, 110, 140, 175, 215]\n'
        '[[side]]\nid = "coarse"\nteeth = [260, 310, 370, 440]\n'
    )
    return path

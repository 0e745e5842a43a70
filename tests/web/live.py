"""`lastwet serve` in a process of its own, as somebody starts it in a terminal."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]


@dataclass
class Live:
    """A server that runs."""

    origin: str
    link: str
    """The pairing link that it showed."""
    said: str
    """What it said up to the link."""
    process: subprocess.Popen[str]
    log: Path


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def serving(folder: Path, *options: str, module: str = "lastwet") -> Iterator[Live]:
    """Start the server with its log in `folder`, and end it; `module` is run in the place of the command."""
    port, log = free_port(), folder / "log"
    command = [sys.executable, "-m", module, "serve", "--port", str(port), "--log", str(log), *options]
    env = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True, env=env, cwd=folder) as process:
        assert process.stdout
        try:
            said = ""
            while not (link := re.search(r"(http://\S+)/pair/\S+", said)):
                line = process.stdout.readline()
                assert line, f"the server ended: {said}"
                said += line
            yield Live(link[1], link[0], said, process, log)
        finally:
            process.terminate()
            process.wait(20)

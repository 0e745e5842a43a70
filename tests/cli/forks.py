"""Processes for the command that need not import all of it each time: they are forked from one that has.

On a slow machine the imports and the list of commands take ten times as long as what a test asks for. `test_commands.py`, `test_read.py`,
`test_demo.py` and others start processes from nothing besides, as a user does. A request is a line of JSON: arguments, folder, environment
and the three files of a process; the answer is how it ended.
"""

from __future__ import annotations

import atexit
import gc
import importlib
import json
import os
import pkgutil
import signal
import subprocess
import sys
from functools import cache
from io import TextIOWrapper
from pathlib import Path
from typing import Any

import typer.main

import lastwet
from lastwet.cli.app import app
from tests.cli.command import main

ROOT = Path(__file__).parent.parent.parent
LONGEST_S = 60


class Forks:
    """A process that forks others."""

    def __init__(self) -> None:
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
        command = [sys.executable, "-W", "error", "-m", "tests.cli.forks"]
        self._server = subprocess.Popen(command, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def run(self, folder: Path, arguments: list[str], environment: dict[str, str], stdin: bytes, cwd: Path) -> tuple[int, str, str]:
        """Run the command; its three files lie in `folder`: (exit status, standard output, standard error)."""
        files = [str(folder / name) for name in ("stdin", "stdout", "stderr")]
        Path(files[0]).write_bytes(stdin)
        assert self._server.stdin and self._server.stdout
        asked = {"arguments": arguments, "environment": environment, "files": files, "cwd": str(cwd)}
        self._server.stdin.write(json.dumps(asked) + "\n")
        self._server.stdin.flush()
        status = os.waitstatus_to_exitcode(int(self._server.stdout.readline()))
        return status, *(Path(file).read_bytes().decode() for file in files[1:])  # type: ignore[return-value]

    def close(self) -> None:
        """End the process."""
        assert self._server.stdin and self._server.stdout
        self._server.stdin.close()
        self._server.wait()
        self._server.stdout.close()


def serve() -> None:
    """Fork a process for each request."""
    for module in pkgutil.walk_packages(lastwet.__path__, "lastwet."):
        if module.name != "lastwet.__main__":
            importlib.import_module(module.name)
    typer.main.get_command = cache(typer.main.get_command)
    typer.main.get_command(app)  # which takes longer than what a test asks for, too
    gc.freeze()
    for line in sys.stdin:
        asked = json.loads(line)
        child = os.fork()
        if not child:
            _become(asked)
        _, status = os.waitpid(child, 0)
        print(status, flush=True)


def _become(asked: dict[str, Any]) -> None:
    """Be the process that was asked for, and end as it does."""
    signal.alarm(LONGEST_S)
    for number, (file, flags) in enumerate(zip(asked["files"], (os.O_RDONLY, *[os.O_WRONLY | os.O_CREAT | os.O_TRUNC] * 2), strict=True)):
        os.dup2(os.open(file, flags, 0o600), number)
    os.environ.clear()
    os.environ.update(asked["environment"])
    os.chdir(asked["cwd"])
    sys.argv = ["lastwet", *asked["arguments"]]
    sys.stdin = open(0, closefd=False)  # noqa: SIM115, PTH123  the one of before has read ahead
    _encode(asked["environment"].get("PYTHONIOENCODING"))
    try:
        main()
        raise SystemExit(0)
    except SystemExit as end:
        atexit._run_exitfuncs()
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(end.code if isinstance(end.code, int) else bool(end.code))  # without tidying up all that was imported


def _encode(encoding: str | None) -> None:
    """Write as Python does where it is started with this encoding."""
    for stream in (sys.stdout, sys.stderr):
        if encoding and isinstance(stream, TextIOWrapper):
            stream.reconfigure(encoding=encoding)


if __name__ == "__main__":
    serve()

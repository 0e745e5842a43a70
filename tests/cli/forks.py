"""Processes for the command that are forked from one which has imported all of it, as importing takes most of the time of a short call.

The process that forks is started on its own, so that nothing of it comes into the tests' process: it gets a request and the three pipes of
the new process over a socket, answers how that process ended, and ends with the socket. The forked process runs `tests.cli.command` as
`python -m` does, so that processes which it starts itself find the fake reader too.

What Python and libraries read where they start, such as variables of the environment, signals or a terminal, needs a process from nothing.
"""

from __future__ import annotations

import atexit
import gc
import importlib
import os
import pkgutil
import runpy
import signal
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from multiprocessing import Pipe
from multiprocessing.connection import Connection
from multiprocessing.reduction import recv_handle, send_handle
from pathlib import Path

ROOT = Path(__file__).parents[2]
Asked = tuple[list[str], Path, dict[str, str]]
"""Arguments, folder and environment of a process."""


class Forks:
    """A process that forks others."""

    def __init__(self) -> None:
        self._asking, asked = Pipe()
        command = [sys.executable, "-W", "error", "-m", "tests.cli.forks", str(asked.fileno())]
        env = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}  # as the command has it; and a process of many threads cannot be forked
        files = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "pass_fds": [asked.fileno()]}
        self._process = subprocess.Popen(command, cwd=ROOT, env=env, process_group=0, **files)  # a group that Ctrl-C does not reach
        asked.close()

    def run(self, asked: Asked, stdin: bytes) -> tuple[int, bytes, bytes]:
        """Return exit status, standard output and standard error of a new process."""
        (read_in, write_in), (read_out, write_out), (read_errors, write_errors) = os.pipe(), os.pipe(), os.pipe()
        self._asking.send(asked)
        for end in (read_in, write_out, write_errors):
            send_handle(self._asking, end, self._process.pid)
            os.close(end)
        with ThreadPoolExecutor() as threads:
            said = threads.map(_read, (read_out, read_errors))
            with suppress(BrokenPipeError), os.fdopen(write_in, "wb") as pipe:
                pipe.write(stdin)
        return self._asking.recv(), *said

    def close(self) -> None:
        """End the process."""
        self._asking.close()
        self._process.communicate()


def _read(end: int) -> bytes:
    with os.fdopen(end, "rb") as pipe:
        return pipe.read()


def prepare() -> None:
    """Import all that the command may need, but for the reader, whose place the fake one takes; and make Typer ready."""
    for module in pkgutil.walk_packages(importlib.import_module("lastwet").__path__, "lastwet."):
        if module.name not in ("lastwet.__main__", "lastwet.reading.reader"):
            importlib.import_module(module.name)
    importlib.import_module("typer.rich_utils")  # for the first complaint
    typer, cli = importlib.import_module("typer.main"), importlib.import_module("lastwet.cli.app")
    cli.app = typer.get_command(cli.app)  # which else takes longer than what a test asks for
    cli.app.make_context("lastwet", ["log"], resilient_parsing=True)  # Typer imports what it parses with when it does so first
    gc.freeze()  # else collecting copies all this memory in each forked process


def forked(asking: Connection) -> Asked:
    """Fork a process for each request; return, in that process alone, what it is to be."""
    while True:
        try:
            asked = asking.recv()
        except EOFError:
            sys.exit()
        files = [recv_handle(asking) for _ in range(3)]
        if not (child := os.fork()):
            asking.close()
            for number, file in enumerate(files):
                os.dup2(file, number)
        for file in files:
            os.close(file)
        if not child:
            return asked
        asking.send(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))


def become(arguments: list[str], folder: Path, environment: dict[str, str]) -> None:
    """Run the command as `python -m` does, and end as it does, but for taking apart all that was imported: that would copy its memory."""
    signal.alarm(60)  # no command of a test may take longer
    os.environ.clear()
    os.environ.update(environment)
    os.chdir(folder)
    sys.argv[1:] = arguments
    try:
        runpy.run_module("tests.cli.command", run_name="__main__", alter_sys=True)
    except SystemExit as end:
        threading._shutdown()
        atexit._run_exitfuncs()
        gc.collect()  # what was left open complains
        sys.stdout.flush()
        os._exit(end.code or 0)


if __name__ == "__main__":
    prepare()
    become(*forked(Connection(int(sys.argv[1]))))

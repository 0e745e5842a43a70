"""The command line. Heavy libraries are imported inside the commands, so that `lastwet --help` stays quick."""

from __future__ import annotations

import os
import sys
import warnings
from io import TextIOWrapper
from typing import TYPE_CHECKING, NoReturn

from lastwet.errors import ExitCode, LastwetError

if TYPE_CHECKING:
    from lastwet.result import Result


def visible(line: str) -> str:
    """Escape what would steer the terminal, as the name of a file can."""
    return "".join(character if character.isprintable() else character.encode("unicode_escape").decode() for character in line)


def complain(of: object) -> None:
    """Say on standard error, in one line, what is wrong."""
    print(f"lastwet: {visible(str(of))}", file=sys.stderr)


def complain_of_failure(result: Result) -> None:
    """Say what went wrong in the program itself, where anything did."""
    if result.failure:
        complain(f"{', '.join(result.photos)}: {result.failure}")


def main() -> None:
    """Run the command; every expected failure ends here as one line and an exit code."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # NumPy's threads: of no use here, and each spins for 0.1 s when it is imported
    if not sys.warnoptions:
        warnings.simplefilter("ignore")  # such as Pillow's about a photo's broken label
    if isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")  # a pipe's encoding may lack a letter of a photo's name
    try:
        _run()
    except BrokenPipeError:
        _end_unread()
    except SystemExit as end:
        if isinstance(end.__context__, BrokenPipeError):  # Typer and Rich make exit code 1 of it, which is a fault of ours
            _end_unread()
        raise


def _run() -> None:
    from lastwet.cli.app import app

    try:
        app()
    except LastwetError as error:
        complain(error)
        sys.exit(error.exit_code)


def _end_unread() -> NoReturn:
    """End without a word where nobody reads any more, as `head` does not after its lines."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.__stdout__, sys.__stderr__):  # what they still hold would fail once more when Python ends
        if stream:
            os.dup2(nowhere, stream.fileno())
    sys.exit(ExitCode.UNREAD)

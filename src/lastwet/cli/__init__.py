"""The command line. Heavy libraries are imported inside the commands, so that `lastwet --help` stays quick."""

from __future__ import annotations

import os
import sys
import warnings
from io import TextIOWrapper
from typing import TYPE_CHECKING

from lastwet.errors import LastwetError

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
    from lastwet.cli.app import app

    if not sys.warnoptions:
        warnings.simplefilter("ignore")  # such as Pillow's about a photo's broken label
    if isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")  # a pipe's encoding may lack a letter of a photo's name
    try:
        app()
    except LastwetError as error:
        complain(error)
        sys.exit(error.exit_code)

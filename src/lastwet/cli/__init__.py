"""The command line. Heavy libraries are imported inside the commands, so that `lastwet --help` stays quick."""

from __future__ import annotations

import sys
import warnings

from lastwet.errors import LastwetError


def main() -> None:
    """Run the command; every expected failure ends here as one line and an exit code."""
    from lastwet.cli.app import app

    if not sys.warnoptions:
        warnings.simplefilter("ignore")  # such as Pillow's about a photo's broken label
    try:
        app()
    except LastwetError as error:
        print(f"lastwet: {error}", file=sys.stderr)
        sys.exit(error.exit_code)

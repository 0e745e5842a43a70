"""The command with the fake reader in the place of the real one, for tests in processes of their own."""

from __future__ import annotations

import sys

from lastwet.cli import main
from tests import fake_reader

sys.modules["lastwet.reading.reader"] = fake_reader  # in the processes that a batch starts, too: they import this module
if __name__ == "__main__":
    main()

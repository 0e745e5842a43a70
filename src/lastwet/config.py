"""Where the logbook stands when the command does not say so."""

from __future__ import annotations

import os
from pathlib import Path

LOG_VARIABLE = "LASTWET_LOG"
"""Environment variable that names the logbook's place."""


def logbook_place(stated: Path | None) -> Path:
    """Return the logbook's place: the one stated, else the environment variable's, else the user's data folder."""
    if stated is not None:
        return stated
    if place := os.environ.get(LOG_VARIABLE):
        return Path(place)
    from platformdirs import user_data_path  # here, as a stated place does without

    return user_data_path("lastwet", appauthor=False) / "logbook"

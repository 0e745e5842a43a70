"""Where the logbook and the shop's own cards stand when the command does not say so."""

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


def shop_place(logbook: Path) -> Path:
    """Return the folder of the shop's own gauges, coatings and reports, which lies beside the logbook."""
    return logbook.absolute().parent / "shop"

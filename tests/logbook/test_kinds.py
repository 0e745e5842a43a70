"""What entries say by the same keys in every body."""

from __future__ import annotations

from typing import Any

import pytest

from lastwet.logbook.kinds import thinner_of


@pytest.mark.parametrize(
    ("logged", "thinner"),
    [
        ({"thinner": 0.08, "thinner_stated": True}, 0.08),
        ({"thinner": 0.0, "thinner_stated": True}, 0.0),
        ({"thinner": None, "thinner_stated": False}, None),
        ({}, None),
        ({"thinner": 0.08}, 0.08),  # an early version, which logged 0 for what was not stated
        ({"thinner": 0.0}, None),
    ],
)
def test_thinner_that_was_not_stated_is_none(logged: dict[str, Any], thinner: float | None) -> None:
    assert thinner_of(logged) == thinner

"""The median, against NumPy's."""

from __future__ import annotations

import numpy as np
import pytest

from lastwet.reading.middle import median


@pytest.mark.parametrize("shape", [(1,), (2,), (7,), (8,), (5, 2), (6, 2)])
def test_it_is_numpys_to_the_last_bit(shape: tuple[int, ...]) -> None:
    values = np.random.default_rng(3).standard_normal(shape)
    assert np.array_equal(median(values), np.median(values, axis=0))

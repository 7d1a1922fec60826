"""Columns: runs of indexes."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from pegwright.columns import frozen_ints, looked_up, runs


@given(st.lists(st.tuples(st.integers(0, 50), st.integers(0, 4))))
def test_runs_are_ranges_one_after_another(bounds: list[tuple[int, int]]) -> None:
    """Against numpy's `arange`."""
    first, counts = (frozen_ints([each[side] for each in bounds]) for side in (0, 1))
    ranges = [np.arange(begin, begin + count) for begin, count in bounds]
    assert runs(first, counts).tolist() == [index for each in ranges for index in each.tolist()]


def test_a_value_is_asked_for_once_for_each_number_that_occurs() -> None:
    asked = []

    def squared(number: int) -> int:
        asked.append(number)
        return number**2

    assert looked_up(frozen_ints([7, 3, 7, 10**12, 3]), squared, np.object_).tolist() == [49, 9, 49, 10**24, 9]
    assert asked == [3, 7, 10**12]
    assert looked_up(frozen_ints([]), squared, np.int64).tolist() == []

"""After how many steps of the turn the hole grid repeats: starts farther on are no different."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from pegwright.columns import Ints, tuples
from pegwright.fit.turn import overhanging_pins
from pegwright.grid import HoleGrid, Line
from pegwright.wheel import Wheel


class DistinctStarts(NamedTuple):
    """The starts that differ.

    Args:
        steps: shape (d,), rising, each below the period.
        of_each: shape (s,), which of them each start is like.
    """

    steps: Ints
    of_each: Ints


def distinct_starts(starts: Sequence[int], period_steps: int) -> DistinctStarts:
    """The starts that differ, where they repeat after a period."""
    steps, of_each = np.unique(np.asarray(starts, dtype=np.int64) % period_steps, return_inverse=True)
    return DistinctStarts(steps, of_each)


@lru_cache(maxsize=8)
def grid_period_steps(grid: HoleGrid, wheel: Wheel) -> int:
    """The minimum number of steps by which the whole hole grid can be turned and is the same grid, for all pins."""
    step_units = grid.turn_units // wheel.turn_steps
    there = [_holes_and_pins(line, wheel) for line in set(grid.lines)]
    for steps in range(1, wheel.turn_steps):
        if wheel.turn_steps % steps == 0 and all(
            {((position + steps * step_units) % grid.turn_units, *hole) for position, *hole in kept} == kept
            for kept in there
        ):
            return steps
    return wheel.turn_steps


def _holes_and_pins(line: Line, wheel: Wheel) -> set[tuple[int, ...]]:
    """Position and row of the holes of a channel, and which pins would reach over an edge there."""
    over: dict[tuple[int, int], list[int]] = {}
    for pin, row, index in overhanging_pins(wheel):
        over.setdefault((row, index), []).append(pin)
    kept = line.loss == 0
    holes = tuples(line.position[kept], line.row[kept], line.index[kept])
    return {(position, row, *over.get((row, index), ())) for position, row, index in holes}

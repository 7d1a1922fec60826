"""After how many steps of the turn the hole grid repeats: starts farther on are no different."""

from __future__ import annotations

from functools import lru_cache

from pegwright.columns import tuples
from pegwright.grid import HoleGrid
from pegwright.wheel import Wheel


@lru_cache(maxsize=8)
def grid_period_steps(grid: HoleGrid, wheel: Wheel) -> int:
    """The minimum number of steps by which the whole hole grid can be turned and is the same grid."""
    step_units = grid.turn_units // wheel.turn_steps
    there = [set(tuples(line.position[line.loss == 0], line.row[line.loss == 0])) for line in set(grid.lines)]
    for steps in range(1, wheel.turn_steps):
        if wheel.turn_steps % steps == 0 and all(
            {((position + steps * step_units) % grid.turn_units, row) for position, row in kept} == kept
            for kept in there
        ):
            return steps
    return wheel.turn_steps

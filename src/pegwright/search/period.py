"""After how many steps of the turn the hole grid repeats: starts farther on are no different."""

from __future__ import annotations

from functools import lru_cache

from pegwright.grid import HoleGrid, Line
from pegwright.wheel import Wheel


@lru_cache(maxsize=8)
def grid_period_steps(grid: HoleGrid, wheel: Wheel) -> int:
    """The minimum number of steps by which the whole hole grid can be turned and is the same grid."""
    step_units = grid.turn_units // wheel.turn_steps
    lines = {id(line): line for line in grid.lines}.values()
    there = [set(_kept(line)) for line in lines]
    for steps in range(1, wheel.turn_steps):
        if wheel.turn_steps % steps == 0 and all(
            {((position + steps * step_units) % grid.turn_units, row) for position, row in kept} == kept
            for kept in there
        ):
            return steps
    return wheel.turn_steps


def _kept(line: Line) -> list[tuple[int, int]]:
    kept = line.loss == 0
    return list(zip(line.position[kept].tolist(), line.row[kept].tolist(), strict=True))

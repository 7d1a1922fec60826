"""What cutting an edge of a plate back costs: the holes that it takes, the pins in them, the shims that fill it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations_with_replacement

import numpy as np

from pegwright.frozen import frozen
from pegwright.grid import Loss, along_plate_mm, hole_grid
from pegwright.making import Held
from pegwright.placement import PinMap
from pegwright.plate.seams import MAX_SHIMS_PER_SEAM
from pegwright.wheel import Wheel


@frozen()
class CutHole:
    """Holes that an edge loses: those of a row at one place of a plate.

    Args:
        row: index into `Wheel.rows`.
        index: of the hole in its row and plate, 0-based.
        along_mm: from the plate's first step.
        pins: that stand there, over all plates and turns of a song.
    """

    row: int
    index: int
    along_mm: float
    pins: int = 0


@frozen()
class Cut:
    """What cutting back costs.

    Args:
        cut_mm: by how much.
        leading, trailing: the holes that each edge then loses, on every plate that is cut.
        shims_mm: of those owned the fewest that come nearest to it, thickest first; empty where none comes nearer.
    """

    cut_mm: float
    leading: tuple[CutHole, ...]
    trailing: tuple[CutHole, ...]
    shims_mm: tuple[float, ...]

    @property
    def left_mm(self) -> float:
        """What the shims leave open; below 0 they are thicker than what was cut."""
        return self.cut_mm - sum(self.shims_mm)


def cut_back(wheel: Wheel, held: Held, cut_mm: float, maps: Sequence[PinMap] = ()) -> Cut:
    """What cutting an edge of a plate back costs, for each of its two edges.

    Args:
        wheel: with every length known.
        held: gives the shims that are owned.
        cut_mm: by how much it is cut back.
        maps: the pins of a song's turns.
    """
    geometry, before = wheel.geometry, _holes(wheel)
    shorter = (
        replace(geometry, lead_edge_mm=geometry.lead_edge_mm - cut_mm),
        replace(geometry, trail_edge_mm=geometry.trail_edge_mm + cut_mm),
    )
    leading, trailing = (
        tuple(
            CutHole(row, index, along_plate_mm(wheel, row, index), _pins(maps, row, index))
            for row, index in sorted(before - _holes(replace(wheel, geometry=each)))
        )
        for each in shorter
    )
    return Cut(cut_mm, leading, trailing, _shims(held, cut_mm))


def _holes(wheel: Wheel) -> set[tuple[int, int]]:
    """Row and index of every hole that some channel has on some plate."""
    holes: set[tuple[int, int]] = set()
    for line in hole_grid(wheel).lines:
        live = line.loss == Loss.NONE
        holes |= set(zip(line.row[live].tolist(), line.index[live].tolist(), strict=True))
    return holes


def _pins(maps: Sequence[PinMap], row: int, index: int) -> int:
    return sum(int(np.count_nonzero((pins.row == row) & (pins.index == index))) for pins in maps)


def _shims(held: Held, cut_mm: float) -> tuple[float, ...]:
    thicknesses = sorted((shim.thickness_mm for shim in held.shims), reverse=True)
    counts = {shim.thickness_mm: shim.count for shim in held.shims}
    choices = (
        chosen
        for number in range(MAX_SHIMS_PER_SEAM + 1)
        for chosen in combinations_with_replacement(thicknesses, number)
        if all(chosen.count(each) <= counts[each] for each in chosen)
    )
    return min(choices, key=lambda chosen: (round(abs(cut_mm - sum(chosen)), 6), len(chosen)))

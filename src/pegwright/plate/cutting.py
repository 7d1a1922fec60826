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
from pegwright.plate.measured import nominal_plate
from pegwright.plate.placing import PlacedPlates
from pegwright.plate.seams import MAX_SHIMS_PER_SEAM
from pegwright.wheel import Wheel


@frozen(eq=False)
class SongPins:
    """The pins of a song.

    Args:
        name: of the song.
        maps: of its turns, each with the plate at every place of the rim, counted from 0.
    """

    name: str
    maps: tuple[tuple[PinMap, tuple[int, ...]], ...]


@frozen()
class CutHole:
    """Holes that an edge loses: those of a row at one place of a plate.

    Args:
        row: index into `Wheel.rows`.
        index: of the hole in its row and plate, 0-based.
        along_mm: from the plate's first step.
        songs: names of the songs whose pins stand there, with how many over all turns and the plates that are cut.
    """

    row: int
    index: int
    along_mm: float
    songs: tuple[tuple[str, int], ...] = ()

    @property
    def pins(self) -> int:
        """Pins that stand there."""
        return sum(pins for _, pins in self.songs)


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


@frozen()
class Trim:
    """What trimming a seam costs, all of it at one edge or at the other.

    Args:
        after: 0-based place of the plate before the seam.
        cut_mm: to be cut off its two edges together.
        before_plate, after_plate: numbers of the plates on both sides, from 1.
        trailing: holes that the plate before it loses where that is cut off its trailing edge.
        leading: holes that the plate after it loses where that is cut off its leading edge.
    """

    after: int
    cut_mm: float
    before_plate: int
    after_plate: int
    trailing: tuple[CutHole, ...]
    leading: tuple[CutHole, ...]


def cut_back(wheel: Wheel, held: Held, cut_mm: float, songs: Sequence[SongPins] = ()) -> Cut:
    """What cutting an edge of a plate back costs, for each of its two edges.

    Args:
        wheel: with every length known.
        held: gives the shims that are owned.
        cut_mm: by how much it is cut back.
        songs: whose pins are looked for.
    """
    leading = _lost(wheel, wheel.geometry.lead_edge_mm - cut_mm, wheel.geometry.trail_edge_mm, songs)
    trailing = _lost(wheel, wheel.geometry.lead_edge_mm, wheel.geometry.trail_edge_mm + cut_mm, songs)
    return Cut(cut_mm, leading, trailing, _shims(held, cut_mm))


def trims(placed: PlacedPlates, songs: Sequence[SongPins] = ()) -> tuple[Trim, ...]:
    """What the trimming costs that a plan asks for, by the edges as they were measured.

    Args:
        placed: the plates.
        songs: whose pins are looked for.
    """
    wheel, measured = placed.wheel, placed.measured
    nominal, geometry = nominal_plate(wheel, placed.row), wheel.geometry
    costs = []
    for seam in placed.seams:
        if not seam.trim_mm:
            continue
        then = (seam.after + 1) % wheel.plate_count
        lead_mm = geometry.lead_edge_mm + measured.plates[then].lead_mm - nominal.lead_mm
        trail_mm = geometry.trail_edge_mm - measured.plates[seam.after].trail_mm + nominal.trail_mm
        before, after = measured.order[seam.after], measured.order[then]
        trailing = _lost(wheel, geometry.lead_edge_mm, trail_mm + seam.trim_mm, songs, before - 1)
        leading = _lost(wheel, lead_mm - seam.trim_mm, geometry.trail_edge_mm, songs, after - 1)
        costs.append(Trim(seam.after, seam.trim_mm, before, after, trailing, leading))
    return tuple(costs)


def _lost(
    wheel: Wheel, lead_edge_mm: float, trail_edge_mm: float, songs: Sequence[SongPins], plate: int | None = None
) -> tuple[CutHole, ...]:
    """The holes that plates lose where their edges are these.

    Args:
        wheel: with the edges as its file has them.
        lead_edge_mm: of the leading edge, as `Geometry` has it.
        trail_edge_mm: of the trailing edge, likewise.
        songs: whose pins are looked for.
        plate: that is cut, 0-based; None for any.
    """
    cut = replace(wheel, geometry=replace(wheel.geometry, lead_edge_mm=lead_edge_mm, trail_edge_mm=trail_edge_mm))
    return tuple(
        CutHole(row, index, along_plate_mm(wheel, row, index), _pins(songs, row, index, plate))
        for row, index in sorted(_holes(wheel) - _holes(cut))
    )


def _holes(wheel: Wheel) -> set[tuple[int, int]]:
    """Row and index of every hole that some channel has on some plate."""
    holes: set[tuple[int, int]] = set()
    for line in hole_grid(wheel).lines:
        live = line.loss == Loss.NONE
        holes |= set(zip(line.row[live].tolist(), line.index[live].tolist(), strict=True))
    return holes


def _pins(songs: Sequence[SongPins], row: int, index: int, plate: int | None) -> tuple[tuple[str, int], ...]:
    """Songs with pins in a hole, and how many; `plate` is that of the hole, None for any."""
    counted = []
    for song in songs:
        pins = 0
        for one, order in song.maps:
            here = (one.row == row) & (one.index == index)
            if plate is not None:
                here &= np.array(order)[one.plate] == plate
            pins += int(np.count_nonzero(here))
        if pins:
            counted.append((song.name, pins))
    return tuple(counted)


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

"""The hole grid: every hole of a wheel with its place in the turn and whether it is lost at a seam.

Place of a hole = plate x steps a plate + step + phase, in whole units at the grid's resolution.
"""

from __future__ import annotations

import math
from enum import IntEnum
from fractions import Fraction
from functools import cache, lru_cache, partial

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.frozen import frozen
from pegwright.placement import Placement
from pegwright.wheel import LostHole, PinType, Wheel

LENGTH_SLACK_MM = 1e-9  # lengths closer than this are equal, so that a limit met exactly is met


class Loss(IntEnum):
    """Why a hole does not exist."""

    NONE = 0
    DECLARED = 1  # the wheel file says so
    LEAD_EDGE = 2  # too near the plate's leading cut edge
    TRAIL_EDGE = 3  # too near its trailing cut edge


@frozen(eq=False)
class Line:
    """All holes of one channel round the turn, by position, then row; columns of shape (h,).

    Args:
        position: units from the start of the turn, 0 to below the turn.
        plate, row, index: plate; row as an index into `Wheel.rows`; hole within row and plate.
        loss: a `Loss` value for each.
    """

    position: Ints
    plate: Ints
    row: Ints
    index: Ints
    loss: Ints


@frozen(eq=False)
class HoleGrid:
    """The holes of a wheel.

    Args:
        resolution: units per quarter note; the minimum at which every hole is at a whole unit.
        turn_units: a turn, in those units.
        lines: one for each channel, in wheel order; channels with equal holes share a line.
    """

    resolution: int
    turn_units: int
    lines: tuple[Line, ...]


def start_steps(wheel: Wheel, placement: Placement) -> Fraction:
    """Where on the turn a song begins as it was placed, in steps."""
    return Fraction(placement.start_ticks, placement.resolution) / wheel.step_quarters


def along_plate_mm(wheel: Wheel, row: int, index: int) -> float:
    """A hole's distance along the rim from its plate's first step, in mm.

    Args:
        wheel: with the hole.
        row: index into `Wheel.rows`.
        index: of the hole in its row and plate.
    """
    return _row_mm(wheel, row)[index]


@lru_cache(maxsize=256)  # every hole of every channel is drawn
def _row_mm(wheel: Wheel, row: int) -> tuple[float, ...]:
    return tuple(float(place) * wheel.step_mm for place in wheel.rows[row].positions_steps(wheel.steps_per_plate))


def place_units(wheel: Wheel, plate: Ints, row: Ints, index: Ints) -> Ints:
    """Places of holes in the turn, in units of `hole_grid`.

    Args:
        wheel: with the holes.
        plate: shape (n,), 0-based.
        row: shape (n,), indexes into `Wheel.rows`.
        index: shape (n,), of each hole in its row and plate.
    """
    plate_units, along_units = _along_plate_units(wheel)
    place = plate * plate_units
    for number, along in enumerate(along_units):
        here = row == number
        place[here] += along[index[here]]
    return frozen_ints(place)


@lru_cache(maxsize=8)
def _along_plate_units(wheel: Wheel) -> tuple[int, tuple[Ints, ...]]:
    """The length of a plate and, for each row, where its holes lie along it, in units of `hole_grid`."""
    unit_steps: Fraction = wheel.step_quarters * hole_grid(wheel).resolution
    rows = (
        frozen_ints([int(steps * unit_steps) for steps in row.positions_steps(wheel.steps_per_plate)])
        for row in wheel.rows
    )
    return int(wheel.steps_per_plate * unit_steps), tuple(rows)


def across_rim_mm(wheel: Wheel, channel: int, row: int) -> float:
    """A hole's distance across the rim from the middle of the first channel, in mm.

    Args:
        wheel: with the hole.
        channel: index into `Wheel.channels`.
        row: index into `Wheel.rows`.
    """
    return channel * wheel.geometry.channel_pitch_mm + wheel.rows[row].lateral_mm


def edges_mm(wheel: Wheel, row: int, index: int) -> tuple[float, float]:
    """From a hole's middle to the leading and to the trailing cut edge of its plate, below 0 beyond an edge.

    Args:
        wheel: with the hole.
        row: index into `Wheel.rows`.
        index: of the hole in its row and plate.
    """
    along_mm, plate_mm = along_plate_mm(wheel, row, index), wheel.plate_mm
    return along_mm + wheel.geometry.lead_edge_mm, plate_mm - wheel.geometry.trail_edge_mm - along_mm


def edge_loss(wheel: Wheel, row: int, index: int) -> Loss:
    """Whether a hole is too near a cut edge of its plate to exist, so far as the lengths of the edges are known.

    Args:
        wheel: with the hole.
        row: index into `Wheel.rows`.
        index: of the hole in its row and plate.
    """
    if not wheel.geometry.edges_known:
        return Loss.NONE
    lead_mm, trail_mm = edges_mm(wheel, row, index)
    needed_mm = wheel.geometry.edge_needed_mm - LENGTH_SLACK_MM
    if lead_mm < needed_mm:
        return Loss.LEAD_EDGE
    return Loss.TRAIL_EDGE if trail_mm < needed_mm else Loss.NONE


def overhangs(wheel: Wheel, row: int, index: int, pin_type: PinType) -> bool:
    """Whether a pin's collar, or the end of a bridge, reaches over a cut edge of its plate.

    Args:
        wheel: with the hole.
        row: index into `Wheel.rows`.
        index: of the hole in its row and plate.
        pin_type: of the pin.
    """
    if not (wheel.geometry.edges_known and wheel.geometry.pins_known):
        return False
    lead_mm, trail_mm = edges_mm(wheel, row, index)
    collar_mm, radius_mm = pin_type.collar_mm, wheel.geometry.pin_diameter_mm / 2 - LENGTH_SLACK_MM
    return min(lead_mm + collar_mm, trail_mm - collar_mm - pin_type.bridge_mm) < radius_mm


@lru_cache(maxsize=8)
def hole_grid(wheel: Wheel) -> HoleGrid:
    """Compute every hole of `wheel`."""
    places = [phase * wheel.step_quarters for row in wheel.rows for phase in row.phases]
    early = [channel.advance_steps * wheel.step_quarters for channel in wheel.channels]
    resolution = math.lcm(wheel.step_quarters.denominator, *(place.denominator for place in (*places, *early)))
    line_of = cache(partial(_line, wheel, resolution))
    lines = (
        line_of(channel.rows, tuple(lost for lost in wheel.lost_here if lost.channel in (None, channel.name)))
        for channel in wheel.channels
    )
    return HoleGrid(resolution, int(wheel.turn_quarters * resolution), tuple(lines))


@lru_cache(maxsize=8)
def meant_grid(wheel: Wheel) -> HoleGrid:
    """The holes of `wheel`, each at the place of the notes that it is for: `Channel.advance_steps` after itself."""
    grid, of_line = hole_grid(wheel), cache(_meant_line)
    if not any(channel.advance_steps for channel in wheel.channels):
        return grid
    unit_steps: Fraction = wheel.step_quarters * grid.resolution
    lines = (
        of_line(line, int(channel.advance_steps * unit_steps), grid.turn_units)
        for channel, line in zip(wheel.channels, grid.lines, strict=True)
    )
    return HoleGrid(grid.resolution, grid.turn_units, tuple(lines))


def _meant_line(line: Line, early_units: int, turn_units: int) -> Line:
    position = (line.position + early_units) % turn_units
    order = np.lexsort([line.row, position])
    columns = (position, line.plate, line.row, line.index, line.loss)
    return Line(*(frozen_ints(column[order]) for column in columns))


def _line(wheel: Wheel, resolution: int, rows: tuple[str, ...], declared: tuple[LostHole, ...]) -> Line:
    unit_steps: Fraction = wheel.step_quarters * resolution
    plate_units = int(wheel.steps_per_plate * unit_steps)
    holes = []
    for number, row in enumerate(wheel.rows):
        if row.name not in rows:
            continue
        for index, steps in enumerate(row.positions_steps(wheel.steps_per_plate)):
            units, by_edge = int(steps * unit_steps), int(edge_loss(wheel, number, index))
            without = [lost.plate for lost in declared if (lost.row, lost.index) == (row.name, index)]
            for plate in range(wheel.plate_count):
                loss = int(Loss.DECLARED) if plate in without or None in without else by_edge
                holes.append((plate * plate_units + units, number, plate, index, loss))
    holes.sort()
    columns = np.array(holes, dtype=np.int64).T
    position, row_number, plate_number, index_number, losses = (frozen_ints(column) for column in columns)
    return Line(position, plate_number, row_number, index_number, losses)

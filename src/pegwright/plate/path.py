"""The way of each drill over the sheet: its holes in order, how far it goes, and how long that takes."""

from __future__ import annotations

import math

import numpy as np

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.frozen import frozen
from pegwright.making import HoleKind, Machine, Pattern, Tool
from pegwright.plate.order import DrillOrder, drilling_order

PECK_CLEARANCE_MM = 0.254  # Source: RS-274/NGC, G83: 0.010 inch above the depth reached it feeds again (from memory)
_SHORTER_MM = 0.001  # a last peck of less is none: programs give depths to a thousandth of a millimetre


@frozen(eq=False)
class ToolPath:
    """What one program drills.

    Args:
        tool: the drill.
        fixing: whether the holes are fixing holes and marks, which are drilled first.
        holes: indexes into the holes of the pattern, in order, shape (n,).
        approached: whether the drill first goes `Machine.overshoot_mm` before the hole, shape (n,), 0 or 1.
        bottom_z_mm: to which every hole goes.
    """

    tool: Tool
    fixing: bool
    holes: Ints
    approached: Ints
    bottom_z_mm: float


@frozen()
class PathTime:
    """How long a path takes at the minimum: changes of speed and tools, and every wait, come on top.

    Args:
        travel_mm: over the sheet, from the first hole to the last.
        drilling_s: feeding down, and dwelling at the bottom.
        moving_s: in the air: over the sheet, up and down, between pecks.
    """

    travel_mm: float
    drilling_s: float
    moving_s: float


def tool_paths(pattern: Pattern, tools: tuple[Tool, ...], machine: Machine, order: DrillOrder) -> tuple[ToolPath, ...]:
    """The paths of a pattern: those of fixing holes and marks by tool, then those of pin holes by tool.

    Args:
        pattern: what is drilled.
        tools: of the plate file.
        machine: that drills.
        order: of the holes in a line.
    """
    holes = pattern.holes
    paths = []
    bottom_z_mm = -(pattern.layer.thickness_mm + machine.through_mm)
    of_fixings = (holes.kind >= HoleKind.DOWEL) & (holes.kind <= HoleKind.MARK)
    for fixing in (True, False):
        for tool in sorted(tools, key=lambda each: each.number):
            chosen = np.flatnonzero((of_fixings == fixing) & (holes.tool == tool.number))
            if not len(chosen):
                continue
            sequence, begins = drilling_order(holes, chosen, order)
            approached = np.zeros(len(sequence), dtype=np.int64)
            if order is DrillOrder.ONE_WAY and machine.overshoot_mm > 0:
                approached[begins] = 1
            paths.append(ToolPath(tool, fixing, sequence, frozen_ints(approached), bottom_z_mm))
    return tuple(paths)


def places_mm(pattern: Pattern, machine: Machine, path: ToolPath) -> tuple[Floats, Floats]:
    """Every point over the sheet that the drill goes to, approaches included, in order: x and y.

    Args:
        pattern: what is drilled.
        machine: how far before a hole an approach begins.
        path: of the tool.
    """
    x_mm, y_mm = pattern.holes.x_mm[path.holes], pattern.holes.y_mm[path.holes]
    times = 1 + path.approached
    ends = np.cumsum(times) - 1  # where the holes themselves are
    along, across = np.repeat(x_mm, times), np.repeat(y_mm, times)
    along[ends[path.approached == 1] - 1] -= machine.overshoot_mm
    return frozen_floats(along), frozen_floats(across)


def pecks_mm(tool: Tool, machine: Machine, bottom_z_mm: float) -> tuple[float, ...]:
    """Depths at which the drill stops on its way down, the bottom being the last.

    Args:
        tool: the drill.
        machine: gives the height from which it feeds.
        bottom_z_mm: the bottom of the hole.

    Source: RS-274/NGC, G83: pecks are counted from the retract height (from memory).
    """
    if tool.peck_mm <= 0:
        return (bottom_z_mm,)
    whole = math.ceil((machine.retract_z_mm - bottom_z_mm - _SHORTER_MM) / tool.peck_mm)
    stops = [machine.retract_z_mm - number * tool.peck_mm for number in range(1, whole)]
    return (*stops, bottom_z_mm)


def path_time(pattern: Pattern, machine: Machine, path: ToolPath) -> PathTime:
    """How far a drill goes, and the minimum time of it.

    Axes move together, each at up to the rapid rate, so a way over the sheet takes as long as its longer part.

    Args:
        pattern: what is drilled.
        machine: its heights and its rate in the air.
        path: of the tool.
    """
    x_mm, y_mm = places_mm(pattern, machine, path)
    along, across = np.abs(np.diff(x_mm)), np.abs(np.diff(y_mm))
    count, tool = len(path.holes), path.tool
    stops = pecks_mm(tool, machine, path.bottom_z_mm)
    fed_mm, lifted_mm = 0.0, 2 * (machine.safe_z_mm - machine.retract_z_mm)
    begin = machine.retract_z_mm
    for place, stop in enumerate(stops):
        fed_mm += begin - stop
        lifted_mm += machine.retract_z_mm - stop
        if place + 1 < len(stops):
            begin = stop + PECK_CLEARANCE_MM
            lifted_mm += machine.retract_z_mm - begin
    drilling_s = count * (fed_mm / tool.feed_mm_per_min * 60 + tool.dwell_s)
    over_mm = float(np.maximum(along, across).sum())
    moving_s = (over_mm + count * lifted_mm) / machine.rapid_mm_per_min * 60
    return PathTime(float(np.hypot(along, across).sum()), drilling_s, moving_s)

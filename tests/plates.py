"""Patterns and plate files for tests, made here from a wheel without the rooms that make them for users."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from pegwright.columns import frozen_floats, frozen_ints
from pegwright.grid import Loss, across_rim_mm, along_plate_mm, hole_grid
from pegwright.making import (
    DwellUnit,
    Face,
    HoleKind,
    Layer,
    Machine,
    Marks,
    MarkText,
    Material,
    Pattern,
    PatternHoles,
    PlateFile,
    Sheet,
    Tool,
)
from pegwright.wheel import Wheel

TOOLS = (
    Tool(1, 2.5, 6000.0, 300.0),
    Tool(2, 6.0, 3000.0, 200.0, peck_mm=3.0),
    Tool(3, 3.0, 5000.0, 250.0, dwell_s=0.5),
)
MACHINE = Machine(700.0, 400.0, 20.0, 2.0, 1.5, 12.0, 3000.0, 2.0, True, True, DwellUnit.SECONDS)
RATIO = 474.5 / 477.5  # neutral radius over rim radius of the demo plate
FIXINGS = (
    (HoleKind.DOWEL, 20.0, -8.0, 6.0, 2),
    (HoleKind.DOWEL, 470.0, 330.0, 6.0, 2),
    (HoleKind.MARK, 90.0, 330.0, 3.0, 3),
)


def pattern_of(
    wheel: Wheel, face: Face = Face.OUTER, fixings: Sequence[tuple[HoleKind, float, float, float, int]] = FIXINGS
) -> Pattern:
    """The pattern of the first plate of a wheel, without a look at heat."""
    geometry, sign = wheel.geometry, -1.0 if face is Face.OUTER else 1.0
    rows = [
        (int(kind), tool, diameter, -1, -1, -1, number, along, across)
        for number, (kind, along, across, diameter, tool) in enumerate(fixings)
    ]
    for channel, line in enumerate(hole_grid(wheel).lines):
        for row, index, plate, loss in zip(line.row, line.index, line.plate, line.loss, strict=True):
            if plate == 0 and loss == Loss.NONE:
                along, across = along_plate_mm(wheel, int(row), int(index)), across_rim_mm(wheel, channel, int(row))
                rows.append((0, 1, geometry.hole_diameter_mm, channel, int(row), int(index), -1, along, across))
    columns = [np.array(column) for column in zip(*rows, strict=True)] if rows else [np.zeros(0)] * 9
    kinds, tools, diameters, channels, row_numbers, indexes, numbers, rim_mm, lateral_mm = columns
    holes = PatternHoles(
        kind=frozen_ints(kinds),
        tool=frozen_ints(tools),
        diameter_mm=frozen_floats(diameters),
        channel=frozen_ints(channels),
        row=frozen_ints(row_numbers),
        index=frozen_ints(indexes),
        fixing=frozen_ints(numbers),
        x_mm=frozen_floats(rim_mm * RATIO),
        y_mm=frozen_floats(sign * lateral_mm),
        along_mm=frozen_floats(rim_mm),
        across_mm=frozen_floats(lateral_mm),
    )
    layer = Layer(
        "plate",
        geometry.radius_mm,
        geometry.thickness_mm,
        0.5,
        None,
        0.0,
        True,
        geometry.hole_diameter_mm,
        Material("HDPE"),
    )
    plate_mm = wheel.steps_per_plate * wheel.step_mm
    left, right = -geometry.lead_edge_mm * RATIO, (plate_mm - geometry.trail_edge_mm) * RATIO
    first, last = -sign * 15.0, sign * ((len(wheel.channels) - 1) * geometry.channel_pitch_mm + 15.0)
    outline = ((left, first), (right, first), (right, last), (left, last))
    arrow = ((200.0, sign * -9.0), (230.0, sign * -9.0), (225.0, sign * -11.0))
    texts = (MarkText("PLATE 1", 250.0, sign * -9.0, 4.0), MarkText("12", 50.0, sign * -9.0, 3.0, "start"))
    return Pattern(
        "plate", "plates 1 to 6", layer, tuple(range(wheel.plate_count)), face, holes, outline, Marks((arrow,), texts)
    )


def plate_file(pattern: Pattern, machine: Machine = MACHINE) -> PlateFile:
    """A plate file that suits a pattern."""
    return PlateFile(
        "wheel.toml", Sheet(15.0, 15.0, 0.0, pattern.face, 20.0, 20.0), (pattern.layer,), (), TOOLS, machine
    )


def with_holes(
    pattern: Pattern, x_mm: Sequence[float], y_mm: Sequence[float], channel: Sequence[int] | None = None
) -> Pattern:
    """The pattern with pin holes of tool 1 at these places alone."""
    count = len(x_mm)
    channels = frozen_ints(channel if channel is not None else [0] * count)
    zeros, places = frozen_ints([0] * count), (frozen_floats(x_mm), frozen_floats(y_mm))
    ones = frozen_ints([1] * count)
    holes = PatternHoles(
        zeros,
        ones,
        frozen_floats([2.5] * count),
        channels,
        zeros,
        frozen_ints(range(count)),
        zeros - 1,
        *places,
        *places,
    )
    return replace(pattern, holes=holes)

"""The layout of a wheel: where holes are and what they are called, by which a pin map outlives changes of a wheel file.

Plates, steps, the value of a step, rows with phases and period, channels with their rows, and pin types with offset
and bridge are listed; which holes exist, whatever takes the others, is in the hash alone. Stock, leads, remarks, the
name of the wheel and lengths that only say which pins touch are no part of it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache

from pegwright.columns import tuples
from pegwright.frozen import frozen
from pegwright.grid import Loss, hole_grid
from pegwright.units import printed
from pegwright.wheel import Wheel

DECIMALS = 6  # of a millimetre: lengths given in inches are no finer


@frozen()
class RowLayout:
    """A row: its name, the places of its holes within a period, and the period, in steps."""

    name: str
    phases: tuple[Fraction, ...]
    period_steps: int


@frozen()
class ChannelLayout:
    """A channel: its name and those of its rows."""

    name: str
    rows: tuple[str, ...]


@frozen()
class TypeLayout:
    """A pin type: its name, how far from its hole it trips, and how much longer than a plain pin it holds."""

    name: str
    offset_mm: float
    bridge_mm: float


@frozen()
class WheelLayout:
    """What can be listed of a layout.

    Args:
        plate_count: plates round the rim.
        steps_per_plate: whole steps on each.
        step_quarters: what a step is worth, in quarter notes.
        rows, channels, pin_types: in the order of the wheel, which numbers them.
    """

    plate_count: int
    steps_per_plate: int
    step_quarters: Fraction
    rows: tuple[RowLayout, ...]
    channels: tuple[ChannelLayout, ...]
    pin_types: tuple[TypeLayout, ...]


def layout_of(wheel: Wheel) -> WheelLayout:
    """The layout of a wheel."""
    return WheelLayout(
        wheel.plate_count,
        wheel.steps_per_plate,
        wheel.step_quarters,
        tuple(RowLayout(row.name, row.phases, row.period_steps) for row in wheel.rows),
        tuple(ChannelLayout(channel.name, channel.rows) for channel in wheel.channels),
        tuple(TypeLayout(kind.name, _length(kind.offset_mm), _length(kind.bridge_mm)) for kind in wheel.pin_types),
    )


@lru_cache(maxsize=8)
def layout_sha256(wheel: Wheel) -> str:
    """The hash of a layout: equal for two wheel files exactly where every hole is at the same place by the same name.

    It is taken over ASCII text whose lines end with a line feed; docs/file-formats.md gives them one by one.

    Returns:
        64 hex digits.
    """
    return hashlib.sha256("".join(f"{line}\n" for line in _lines(wheel)).encode("ascii")).hexdigest()


def _lines(wheel: Wheel) -> Iterator[str]:
    layout = layout_of(wheel)
    yield "pegwright layout 1"
    yield f"plates {layout.plate_count} steps {layout.steps_per_plate} quarters {layout.step_quarters}"
    for row in layout.rows:
        yield f"row {json.dumps(row.name)} period {row.period_steps} phases {' '.join(map(str, row.phases))}"
    for channel in layout.channels:
        yield f"channel {json.dumps(channel.name)} rows {' '.join(map(json.dumps, channel.rows))}"
    for number, line in enumerate(hole_grid(wheel).lines):
        gone = line.loss != Loss.NONE
        for hole in sorted(tuples(line.plate[gone], line.row[gone], line.index[gone])):
            yield f"lost {printed(number)} {' '.join(str(printed(part)) for part in hole)}"
    for kind in layout.pin_types:
        yield f"pin {json.dumps(kind.name)} offset {kind.offset_mm:.{DECIMALS}f} bridge {kind.bridge_mm:.{DECIMALS}f}"


def _length(length_mm: float) -> float:
    return round(length_mm, DECIMALS) + 0.0

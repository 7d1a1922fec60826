"""Pins set by hand on a small wheel whose lengths and times are round, and what the check of pin maps says of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np

from pegwright.check.pin_map import pin_faults
from pegwright.columns import frozen_ints
from pegwright.placement import PinMap
from pegwright.wheel import Channel, Collar, Geometry, Kind, PinType, Row, Wheel
from samples import HALF, ON, channel, wheel

Pin = tuple[int, ...]  # channel, plate, row, index, pin type
Told = tuple[str, tuple[int, ...], float, int]  # rule, pins, ms apart, limit
US_PER_QUARTER = 400_000  # a step of 10 mm passes in 100 ms
SLOW = Row("slow", (Fraction(1),), period_steps=2, lateral_mm=4.0)  # steps 1, 3, 5 and 7, aside from those of row on
BAR = channel("bar", [60], restrike_ms=50.0, rows=["on", "half", "slow"])
BLOCK = channel("block", [61], restrike_ms=50.0, rows=["on"])
HORN = channel("horn", [62], restrike_ms=100.0, rows=["on", "half", "slow"], kind=Kind.HOLD, hold_mm=10.0)
REED = replace(HORN, name="reed", pitches=(63,), hold_mm=5.0)
PEG, LATE, BRIDGE = PinType("peg", 99), PinType("late", 99, offset_mm=1.0), PinType("bridge", 99, bridge_mm=7.0)
NEVER: dict[str, Any] = {"restrike_ms": 0.0}
STAYS = PinType("stays", 99, offset_mm=1.0, collar=Collar.STAYS)


def geometry(circumference_mm: float = 160.0, **changes: Any) -> Geometry:  # noqa: ANN401  # of any field
    """Holes take 4.5 mm to a cut edge: the half step at the end of a plate is lost, and no other hole."""
    return replace(
        Geometry(circumference_mm / (2 * math.pi), 6.0, 4.0, 3.0, 2.5, 0.5, 14.0, 5.0, 5.3),
        **changes,
    )


def small(*channels: Channel, **changes: object) -> Wheel:
    """Two plates of eight steps of 10 mm; without pins that have an offset."""
    made: dict[str, object] = {
        "plate_count": 2,
        "steps_per_plate": 8,
        "rows": (ON, HALF, SLOW),
        "pin_types": (PEG,),
        "geometry": geometry(),
    }
    return wheel(channels or (BAR, BLOCK, HORN), **made | changes)


def at(channel: int, step: float, kind: int = 0) -> Pin:
    """A pin at a whole or half step of the turn, from 0, in row on or half."""
    plate, along = divmod(step, 8)
    return channel, int(plate), int(along % 1 > 0), int(along), kind


def aside(channel: int, step: int, kind: int = 0) -> Pin:
    """A pin at a step of the turn in row slow."""
    plate, along = divmod(step, 8)
    return channel, plate, 2, along // 2, kind


def told(on: Wheel, *pins: Pin, begins: Sequence[int] | int = 1, notes: Sequence[int] | int = -1) -> list[Told]:
    """The faults in plain types; what is left out of a pin at its end is 0.

    Args:
        on: the wheel.
        pins: set on it, in any order.
        begins: of each pin, see `pin_faults`, or of all of them.
        notes: of each pin, or of all of them.
    """
    whole = np.array([(*pin, 0, 0, 0, 0)[:5] for pin in pins], dtype=np.int64).reshape(-1, 5)
    each_note, each_begins = (np.broadcast_to(np.array(value), len(pins)) for value in (notes, begins))
    channel, plate, row, index, pin_type, note = (frozen_ints(column) for column in (*whole.T, each_note))
    columns = channel, plate, row, index, pin_type, note
    made = PinMap("Test song", on.name, *columns, US_PER_QUARTER, score_sha256="1" * 64, wheel_sha256=on.sha256)
    faults = pin_faults(on, made, frozen_ints(each_begins))
    assert type(faults) is tuple
    for fault in faults:
        assert type(fault.pins) is tuple
        assert {type(number) for number in (*fault.pins, fault.limit)} == {int}
        assert type(fault.apart_ms) is float
    return [(str(fault.rule), fault.pins, round(fault.apart_ms, 9), fault.limit) for fault in faults]


def rules(on: Wheel, *pins: Pin, **values: Any) -> list[tuple[str, tuple[int, ...]]]:  # noqa: ANN401  # see `told`
    """The faults without times and limits."""
    return [(rule, numbers) for rule, numbers, _, _ in told(on, *pins, **values)]

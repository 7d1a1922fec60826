"""Whether the pins of a wheel can stand side by side.

Pins of one channel may touch where rows are near each other or collars are off their holes: the fit then uses one of
the two holes. Plain pins of one row, and pins of different channels, must never touch, and no two holes may run into
each other.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations, product
from typing import NamedTuple

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.config.fields import Faults
from pegwright.grid import LENGTH_SLACK_MM, Loss, across_rim_mm, along_plate_mm, edge_loss
from pegwright.units import printed
from pegwright.wheel import Wheel


class _Holes(NamedTuple):
    """The holes of one row that plates have: 0-based index, and place along the plate, rising."""

    indexes: Ints
    along_mm: Floats


class _Near(NamedTuple):
    """Two holes near each other, by (channel, row, index), and the distance of their middles."""

    first: tuple[int, int, int]
    second: tuple[int, int, int]
    apart_mm: float


class _NearestHoles:
    """Finds the nearest holes of a wheel, on one plate and across a seam.

    Attributes:
        wheel: whose holes.
        nearer_mm: how much less than their holes two collars of different channels can be apart along the rim.
    """

    def __init__(self, wheel: Wheel) -> None:
        self.wheel = wheel
        collars_mm = [pin_type.collar_mm for pin_type in wheel.pin_types]
        self.nearer_mm = max(collars_mm) - min(collars_mm)
        self._plate_mm = wheel.steps_per_plate * wheel.step_mm
        self._holes = [_holes(wheel, row) for row in range(len(wheel.rows))]
        self._along = lru_cache(maxsize=None)(self._nearest_along)

    def nearest(self, channel: int, row: int, other_channel: int, other_row: int) -> _Near | None:
        """The nearest two holes of two rows, never a hole and itself; None if a row has none.

        Args:
            channel: of the first hole, 0-based.
            row: of the first hole, 0-based.
            other_channel: of the second hole.
            other_row: of the second hole.
        """
        same = (channel, row) == (other_channel, other_row)
        nearest = self._along(row, other_row, same)
        if nearest is None:
            return None
        along_mm, index, other_index = nearest
        if channel != other_channel:
            along_mm = max(0.0, along_mm - self.nearer_mm)
        across_mm = across_rim_mm(self.wheel, other_channel, other_row) - across_rim_mm(self.wheel, channel, row)
        first, second = (channel, row, index), (other_channel, other_row, other_index)
        return _Near(first, second, math.hypot(along_mm, across_mm))

    def _nearest_along(self, row: int, other: int, same: bool) -> tuple[float, int, int] | None:
        holes, others = self._holes[row], self._holes[other]
        if not len(holes.indexes) or not len(others.indexes):
            return None
        around_mm = np.concatenate([others.along_mm + turn * self._plate_mm for turn in (-1, 0, 1)])
        after = np.searchsorted(around_mm, holes.along_mm, side="right" if same else "left")
        before = after - (2 if same else 1)  # between the two lies, in the same row, the hole itself
        before_mm = holes.along_mm - around_mm[before]
        after_mm = around_mm[after] - holes.along_mm
        nearest = int(np.argmin(np.minimum(before_mm, after_mm).round(6)))  # the first of those equally near
        later = after_mm[nearest] <= before_mm[nearest]
        partner = int((after if later else before)[nearest]) % len(others.indexes)
        apart_mm = float((after_mm if later else before_mm)[nearest])
        return apart_mm, int(holes.indexes[nearest]), int(others.indexes[partner])


def check_pins_apart(wheel: Wheel, faults: Faults) -> None:
    """Note holes of a sound wheel that are too close, the nearest two of each kind."""
    rim, geometry = _NearestHoles(wheel), wheel.geometry
    pins_mm = geometry.pin_diameter_mm + geometry.pin_clearance_mm
    pins = (
        f"pins of {geometry.pin_diameter_mm:g} mm with {geometry.pin_clearance_mm:g} mm clearance need {pins_mm:g} mm"
    )
    holes = f"holes of {geometry.hole_diameter_mm:g} mm run into each other"

    def check(near: _Near | None, needed_mm: float, why: str, path: str, hint: str, verb: str = "are") -> None:
        if near and near.apart_mm < needed_mm - LENGTH_SLACK_MM:
            faults.add(path, f"{_apart_words(wheel, near, verb)}; {why}", hint)

    for row in range(len(wheel.rows)):
        hint = "give fewer phases, thinner pins or a larger wheel"
        check(rim.nearest(0, row, 0, row), pins_mm, pins, f"row[{printed(row)}].phases", hint)
    for row, other in sorted({pair for rows in _channel_rows(wheel) for pair in combinations(rows, 2)}):
        hint = "set the rows further apart with lateral_mm"
        near = rim.nearest(0, row, 0, other)
        check(near, geometry.hole_diameter_mm, holes, f"row[{printed(other)}].lateral_mm", hint)
    nearest = min(_between_channels(rim, pins_mm), key=lambda near: round(near.apart_mm, 6), default=None)
    hint = "give a larger channel_pitch_mm or smaller lateral_mm"
    verb = "can hold collars" if rim.nearer_mm else "are"
    check(nearest, pins_mm, pins, "geometry.channel_pitch_mm", hint, verb)


def _holes(wheel: Wheel, row: int) -> _Holes:
    name = wheel.rows[row].name
    never = {lost.index for lost in wheel.lost if lost.row == name and lost.plate is None and lost.channel is None}
    count = wheel.rows[row].hole_count(wheel.steps_per_plate)
    indexes = [index for index in range(count) if index not in never and edge_loss(wheel, row, index) == Loss.NONE]
    along_mm = np.array([along_plate_mm(wheel, row, index) for index in indexes], dtype=np.float64)
    return _Holes(np.array(indexes, dtype=np.int64), along_mm)


def _between_channels(rim: _NearestHoles, pins_mm: float) -> Iterator[_Near]:
    """The nearest holes of every two channels that are close enough for their pins, `pins_mm` apart, to touch."""
    wheel = rim.wheel
    rows = _channel_rows(wheel)
    lateral_mm = [row.lateral_mm for row in wheel.rows]
    reach_mm = pins_mm + max(lateral_mm) - min(lateral_mm)
    beyond = min(len(rows), math.ceil(reach_mm / wheel.geometry.channel_pitch_mm) + 1)
    for step in range(1, beyond):
        pairs: dict[tuple[tuple[int, ...], tuple[int, ...]], int] = {}
        for channel in range(len(rows) - step):
            pairs.setdefault((rows[channel], rows[channel + step]), channel)
        for (here, there), channel in pairs.items():
            nearest = (rim.nearest(channel, row, channel + step, other) for row, other in product(here, there))
            yield from filter(None, nearest)


def _channel_rows(wheel: Wheel) -> list[tuple[int, ...]]:
    numbers = {row.name: number for number, row in enumerate(wheel.rows)}
    return [tuple(numbers[name] for name in channel.rows) for channel in wheel.channels]


def _apart_words(wheel: Wheel, near: _Near, verb: str = "are") -> str:
    """Which two holes they are, and how far apart."""
    (channel, *first), (other_channel, *second) = near.first, near.second
    holes = [f'hole {printed(index)} of row "{wheel.rows[row].name}"' for row, index in (first, second)]
    if channel != other_channel:
        names = (wheel.channels[channel].name, wheel.channels[other_channel].name)
        holes = [f'{hole} on "{name}"' for hole, name in zip(holes, names, strict=True)]
    return f"{holes[0]} and {holes[1]} {verb} {near.apart_mm:.3f} mm apart"

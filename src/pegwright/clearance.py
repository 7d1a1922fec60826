"""How near the holes of a wheel are to each other, on one plate and across seams, and what that leaves between pins."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations, product
from typing import NamedTuple

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.grid import LENGTH_SLACK_MM, Loss, across_rim_mm, along_plate_mm, edge_loss
from pegwright.wheel import Wheel


class _Holes(NamedTuple):
    """The holes of one row that plates have: 0-based index, and place along the plate, rising."""

    indexes: Ints
    along_mm: Floats


class Near(NamedTuple):
    """Two holes near each other, by (channel, row, index), and the distance of their middles."""

    first: tuple[int, int, int]
    second: tuple[int, int, int]
    apart_mm: float


class NearestHoles:
    """Finds the nearest holes of a wheel, on one plate and across a seam.

    Attributes:
        wheel: whose holes.
        nearer_mm: how much less than their holes two collars of different channels can be apart along the rim.
    """

    def __init__(self, wheel: Wheel) -> None:
        self.wheel = wheel
        collars_mm = [pin_type.collar_mm for pin_type in wheel.pin_types]
        self.nearer_mm = max(collars_mm) - min(collars_mm)
        self._plate_mm = wheel.plate_mm
        self._holes = [_holes(wheel, row) for row in range(len(wheel.rows))]
        self._along = lru_cache(maxsize=None)(self._nearest_along)

    def nearest(self, channel: int, row: int, other_channel: int, other_row: int) -> Near | None:
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
        return Near(first, second, math.hypot(along_mm, across_mm))

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

    def in_rows(self) -> Iterator[tuple[int, Near]]:
        """The nearest two holes of each row."""
        for row in range(len(self.wheel.rows)):
            if near := self.nearest(0, row, 0, row):
                yield row, near

    def between_rows(self) -> Iterator[tuple[int, Near]]:
        """The nearest two holes of every two rows that some channel has, by the later row."""
        pairs = {pair for rows in _channel_rows(self.wheel) for pair in combinations(rows, 2)}
        for row, other in sorted(pairs):
            if near := self.nearest(0, row, 0, other):
                yield other, near

    def between_channels(self) -> Near | None:
        """The nearest two holes of different channels."""
        wheel, best = self.wheel, None
        rows, lateral_mm = _channel_rows(wheel), [row.lateral_mm for row in wheel.rows]
        for step in range(1, len(rows)):
            least_mm = step * wheel.geometry.channel_pitch_mm - (max(lateral_mm) - min(lateral_mm))
            if best and round(best.apart_mm, 6) <= least_mm:  # none farther on can be nearer
                break
            pairs: dict[tuple[tuple[int, ...], tuple[int, ...]], int] = {}
            for channel in range(len(rows) - step):
                pairs.setdefault((rows[channel], rows[channel + step]), channel)
            for (here, there), channel in pairs.items():
                pairs_near = (self.nearest(channel, row, channel + step, other) for row, other in product(here, there))
                best = min(filter(None, [best, *pairs_near]), key=lambda near: round(near.apart_mm, 6), default=None)
        return best


@frozen()
class Clearances:
    """The lowest clearance between pins, each None where no two of the kind are near each other.

    Args:
        in_row_mm: between two pins of one row.
        between_channels_mm: between pins of different channels.
        touching_rows: names of every two rows of one channel of which two pins can be too near.
    """

    in_row_mm: float | None
    between_channels_mm: float | None
    touching_rows: tuple[tuple[str, str], ...]


def clearances(wheel: Wheel) -> Clearances | None:
    """The lowest clearances of a wheel, or None where the lengths are not known that decide them."""
    geometry = wheel.geometry
    if not geometry.pins_known:
        return None
    rim, pin_mm = NearestHoles(wheel), geometry.pin_diameter_mm
    in_rows = [near.apart_mm - pin_mm for _, near in rim.in_rows()]
    between = rim.between_channels()
    touching = tuple(
        (wheel.rows[near.first[1]].name, wheel.rows[near.second[1]].name)
        for _, near in rim.between_rows()
        if near.apart_mm < geometry.apart_mm - LENGTH_SLACK_MM
    )
    return Clearances(min(in_rows, default=None), between and between.apart_mm - pin_mm, touching)


def rows_at_same_places(wheel: Wheel) -> tuple[tuple[str, str], ...]:
    """Names of every two rows of one channel that have the same places, so that one adds nothing to the other."""
    places = [frozenset(row.positions_steps(wheel.steps_per_plate)) for row in wheel.rows]
    pairs = {pair for rows in _channel_rows(wheel) for pair in combinations(rows, 2)}
    same = [pair for pair in sorted(pairs) if places[pair[0]] == places[pair[1]]]
    return tuple((wheel.rows[one].name, wheel.rows[other].name) for one, other in same)


def _holes(wheel: Wheel, row: int) -> _Holes:
    name = wheel.rows[row].name
    everywhere = (name, None, None)  # a hole that some plate, channel or set has can touch another
    never = {
        lost.index
        for lost in wheel.lost
        if (lost.row, lost.plate, lost.channel) == everywhere and lost.plate_set in (None, wheel.plate_set)
    }
    count = wheel.rows[row].hole_count(wheel.steps_per_plate)
    indexes = [index for index in range(count) if index not in never and edge_loss(wheel, row, index) == Loss.NONE]
    along_mm = np.array([along_plate_mm(wheel, row, index) for index in indexes], dtype=np.float64)
    return _Holes(np.array(indexes, dtype=np.int64), along_mm)


def _channel_rows(wheel: Wheel) -> list[tuple[int, ...]]:
    numbers = {row.name: number for number, row in enumerate(wheel.rows)}
    return [tuple(numbers[name] for name in channel.rows) for channel in wheel.channels]

"""The least distances between the pins of a channel."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints
from pegwright.fit.turn import Turn
from pegwright.wheel import Wheel


@dataclass(frozen=True, slots=True, eq=False)
class Gaps:
    """The least distances in ticks between pins of each channel.

    Args:
        by_rows: for each channel the distance for each pair of rows of the wheel, shape (rows, rows).
        greatest: shape (channels,), the greatest of those, which two pins in one row need; or one more than two
            pins of one hole can be apart, if that is greater.
        least: shape (channels,), the least for any two rows that the channel has.
        one: shape (channels,), whether all rows that the channel has need the same, and two pins of one hole less.
    """

    by_rows: tuple[Ints, ...]
    greatest: Ints
    least: Ints
    one: NDArray[np.bool_]

    def of(self, channels: list[int]) -> Gaps:
        """Those of some of the channels, in the order given; a channel may come more than once."""
        by_rows = tuple(self.by_rows[channel] for channel in channels)
        return Gaps(by_rows, self.greatest[channels], self.least[channels], self.one[channels])


def gaps_of(wheel: Wheel, turn: Turn) -> Gaps:
    """The re-strike and the room between pins, whichever is more, for each channel."""

    @cache
    def of(gap: int, rows: tuple[str, ...]) -> tuple[Ints, int, int]:
        matrix: Ints = np.maximum(gap, turn.touch_ticks)
        own = [number for number, row in enumerate(wheel.rows) if row.name in rows]
        return matrix, max(int(matrix.max()), turn.offset_spread_ticks + 1), int(matrix[np.ix_(own, own)].min())

    gaps = zip(turn.gap_ticks.tolist(), wheel.channels, strict=True)
    of_each = [of(gap, channel.rows) for gap, channel in gaps]
    by_rows = tuple(matrix for matrix, _, _ in of_each)
    most, least = np.array([ends for _, *ends in of_each], dtype=np.int64).reshape(-1, 2).T
    return Gaps(by_rows, most, least, least == most)

"""The least distances between the pins of a channel."""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints, frozen_ints, read_only
from pegwright.fit.turn import Turn
from pegwright.frozen import frozen
from pegwright.wheel import Wheel


@frozen(eq=False)
class Gaps:
    """The least distances in ticks between pins of each channel.

    What a pin is like is a number: see `Holes.likeness`.

    Args:
        between: for each channel two limits for each pair of likenesses, shape (2, likenesses, likenesses): two pins
            bar each other if the latter trips more than the first limit and less than the second after the former.
        greatest: shape (channels,), the greatest of the second limits, which two pins in one row need; or one more
            than two pins of one hole can be apart, if that is greater.
        least: shape (channels,), any two pins of the channel that trip less than this apart bar each other.
        one: shape (channels,), whether all rows that the channel has need the same, and two pins of one hole less.
    """

    between: tuple[Ints, ...]
    greatest: Ints
    least: Ints
    one: NDArray[np.bool_]

    def of(self, channels: list[int]) -> Gaps:
        """Those of some of the channels, in the order given; a channel may come more than once."""
        between = tuple(self.between[channel] for channel in channels)
        return Gaps(between, self.greatest[channels], self.least[channels], self.one[channels])


def gaps_of(wheel: Wheel, turn: Turn) -> Gaps:
    """The re-strike and the room between pins, whichever is more, for each channel."""
    rows = tuple(row.name for row in wheel.rows)
    channels = tuple(zip(turn.gap_ticks.tolist(), (channel.rows for channel in wheel.channels), strict=True))
    touch = tuple(map(tuple, turn.touch_ticks.tolist()))
    return _gaps_of(rows, channels, touch, tuple(turn.collar_ticks.tolist()), turn.offset_spread_ticks)


@lru_cache(maxsize=4)  # all turns and transpositions of a song have the same
def _gaps_of(
    row_names: tuple[str, ...],
    channels: tuple[tuple[int, tuple[str, ...]], ...],
    touch_ticks: tuple[tuple[int, ...], ...],
    collar_ticks: tuple[int, ...],
    spread_ticks: int,
) -> Gaps:
    """The gaps of channels of which each has a re-strike and rows; the rest is as in `Turn`."""
    low, high = touching(np.array(touch_ticks, dtype=np.int64), frozen_ints(collar_ticks))

    @cache
    def of(gap: int, rows: tuple[str, ...]) -> tuple[Ints, int, int]:
        own = np.repeat([name in rows for name in row_names], len(collar_ticks))
        at_once = low < gap  # then there is no room between the re-strike and where the pins begin to touch
        least = np.where(at_once, np.maximum(gap, high), gap)
        limits = frozen_ints(np.stack([np.where(at_once, -1, low), np.where(at_once, least, high)]))
        greatest = max(int(limits[1].max()), gap, spread_ticks + 1)
        return limits, greatest, int(least[np.ix_(own, own)].min())

    of_each = [of(gap, rows) for gap, rows in channels]
    between = tuple(limits for limits, _, _ in of_each)
    greatest, least = np.array([ends for _, *ends in of_each], dtype=np.int64).reshape(-1, 2).T
    return Gaps(between, read_only(greatest), read_only(least), read_only(least == greatest))


def touching(touch_ticks: Ints, collar_ticks: Ints) -> tuple[Ints, Ints]:
    """Two pins touch if one trips more than the first and less than the second after the other, by likeness."""
    kinds = len(collar_ticks)
    apart = np.repeat(np.repeat(touch_ticks, kinds, axis=0), kinds, axis=1)
    ahead = np.tile(collar_ticks, len(touch_ticks))
    more = ahead[None, :] - ahead[:, None]
    return np.where(apart, more - apart, -1), np.where(apart, more + apart, 0)

"""The room that the strikes of a bar leave one another, judged as the fit judges it: pins of a channel, and limits."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints, among
from pegwright.fit.gaps import Gaps, gaps_of
from pegwright.fit.limits import Limit, limits_of
from pegwright.fit.quantise import lay_out
from pegwright.fit.turn import Turn
from pegwright.grid import meant_grid
from pegwright.wheel import Wheel

Channels: TypeAlias = tuple[int, ...]  # that strike together
_At: TypeAlias = "int | Ints"


class TurnHoles:
    """The holes of a turn for plain pins, and how near pins of one channel may be.

    Args:
        wheel: the wheel.
        turn: with the tempo and the start.
    """

    def __init__(self, wheel: Wheel, turn: Turn) -> None:
        self._wheel, self.turn = wheel, turn
        self._gaps: Gaps = gaps_of(wheel, turn)
        self.limits: tuple[Limit, ...] = limits_of(wheel, turn)

    @cached_property
    def by_channel(self) -> dict[int, dict[int, int]]:
        """For each channel the places of its holes, each with what a pin in it is like (see `Holes.likeness`)."""
        holes = lay_out(meant_grid(self._wheel), self.turn)
        on_turn = (holes.position >= 0) & (holes.position < self.turn.turn_ticks) & (holes.pin == 0)
        which = np.flatnonzero(on_turn)[::-1]  # of holes at one place the first is kept
        places: dict[int, dict[int, int]] = {}
        columns = (holes.channel[which], holes.position[which], holes.likeness(which))
        for channel, position, like in zip(*(column.tolist() for column in columns), strict=True):
            places.setdefault(channel, {})[position] = like
        return places

    def barred(self, channel: int, one: tuple[_At, _At], other: tuple[_At, _At]) -> NDArray[np.bool_]:
        """Whether pins of a channel, each a place and what it is like, are too near others, either way round the turn.

        Args:
            channel: of them.
            one: pins.
            other: other pins, in columns that go together with theirs.
        """
        low, high = self._gaps.between[channel]
        (place, like), (later, later_like) = one, other
        restrike, turn_ticks = int(self.turn.gap_ticks[channel]), self.turn.turn_ticks
        after, before = (later - place) % turn_ticks, (place - later) % turn_ticks
        near: NDArray[np.bool_] = (
            (np.minimum(after, before) < restrike)
            | ((low[like, later_like] < after) & (after < high[like, later_like]))
            | ((low[later_like, like] < before) & (before < high[later_like, like]))
        )
        return near


class BarRoom:
    """Which places of its onsets a bar can have together.

    Args:
        holes: of the turn.
        channels: of each onset.
        bounds: where the bar begins and ends, in ticks.
        others: the pins of other bars: the channel of each, and where it trips.
    """

    def __init__(
        self, holes: TurnHoles, channels: Sequence[Channels], bounds: tuple[int, int], others: tuple[Ints, Ints]
    ) -> None:
        self._holes, self._channels = holes, channels
        self._apart: dict[int, frozenset[tuple[int, int]]] = {}
        self._shared: dict[tuple[int, int], list[frozenset[tuple[int, int]]]] = {}
        self._bounds = bounds
        self._near = [self._near_pins(limit, *others) for limit in holes.limits]
        self._strikes = [
            [sum(channel in limit.channels for channel in of) for of in channels] for limit in holes.limits
        ]

    def pair_allowed(self, first: int, place: int, later: int, other: int) -> bool:
        """Whether the pins of two onsets leave each other room.

        Args:
            first: number of the one.
            place: of it, in ticks.
            later: number of the other.
            other: its place.
        """
        pair = (first, later)
        if pair not in self._shared:
            shared = set(self._channels[first]) & set(self._channels[later])
            self._shared[pair] = [self._too_near(channel) for channel in sorted(shared)]
        return not any((place, other) in near for near in self._shared[pair])

    def within_limits(self, first: int, places: Sequence[int]) -> bool:
        """Whether limits allow some onsets in a row, beside the pins of other bars.

        Args:
            first: number of the first of them.
            places: of each.
        """
        for limit, near, strikes in zip(self._holes.limits, self._near, self._strikes, strict=True):
            own = [place for number, place in enumerate(places, first) for _ in range(strikes[number])]
            if own and _overfull(limit, sorted((*near, *own)), self._holes.turn.turn_ticks):
                return False
        return True

    def _too_near(self, channel: int) -> frozenset[tuple[int, int]]:
        """The pairs of places in the bar of which pins of a channel would be too near."""
        if channel not in self._apart:
            low, past = self._bounds
            here = {
                place: like for place, like in self._holes.by_channel.get(channel, {}).items() if low <= place < past
            }
            place, like = np.array(sorted(here.items()), dtype=np.int64).reshape(-1, 2).T
            near = self._holes.barred(channel, (place[:, None], like[:, None]), (place[None, :], like[None, :]))
            pairs = (place[index].tolist() for index in np.nonzero(near))
            self._apart[channel] = frozenset(zip(*pairs, strict=True))
        return self._apart[channel]

    def _near_pins(self, limit: Limit, channel: Ints, position: Ints) -> list[int]:
        """Where pins of other bars trip, of those that could be in one window with a strike of the bar."""
        turn_ticks, (low, past) = self._holes.turn.turn_ticks, self._bounds
        at = position[among(channel, limit.channels)] % turn_ticks
        after_bar, before_bar = (at - past) % turn_ticks, (low - at) % turn_ticks
        near = at[(after_bar < limit.window_ticks) | (before_bar < limit.window_ticks) | ((at >= low) & (at < past))]
        kept: list[int] = near.tolist()
        return kept


def _overfull(limit: Limit, at: Sequence[int], turn_ticks: int) -> bool:
    """Whether more strikes than a limit allows are in a window.

    Args:
        limit: see there.
        at: of each strike, on the turn, rising.
        turn_ticks: once round.
    """
    count = len(at)
    if count <= limit.most:
        return False
    for number, first in enumerate(at):
        laps, last = divmod(number + limit.most, count)
        if at[last] + laps * turn_ticks - first < limit.window_ticks:
            return True
    return False

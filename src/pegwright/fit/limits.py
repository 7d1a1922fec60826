"""Limits on strikes: a maximum number of strikes of some channels within a time.

The time is a window of whole ticks that is open at its end: of one strike more than the limit allows, the first and
the last must be at least the window apart. Two strikes at once are two. The turn has no end: a window goes round it.
"""

from __future__ import annotations

import numpy as np

from pegwright.columns import Ints, among, distinct
from pegwright.errors import UsageError
from pegwright.fit.turn import Turn
from pegwright.frozen import frozen
from pegwright.units import ms_to_ticks_up
from pegwright.wheel import Wheel


@frozen()
class Limit:
    """Of `channels` no more than `most` strikes in any window of `window_ticks`."""

    channels: tuple[int, ...]
    most: int
    window_ticks: int


def limits_of(wheel: Wheel, turn: Turn) -> tuple[Limit, ...]:
    """The limits of a wheel in ticks of a turn.

    Raises:
        UsageError: a window is longer than the turn.
    """
    limits = []
    for limit in wheel.strike_limits:
        window = ms_to_ticks_up(limit.window_ms, turn.resolution, turn.us_per_quarter)
        if window > turn.turn_ticks:
            raise UsageError(
                f"a whole turn lasts {turn.ms(turn.turn_ticks):.0f} ms at this tempo, less than the window of "
                f"limit {limit.name!r}, {limit.window_ms:g} ms",
                hint="choose a slower tempo",
            )
        limits.append(Limit(wheel.limited(limit), limit.strikes, max(1, window)))
    return tuple(limits)


def overfull(limit: Limit, channel: Ints, position: Ints, turn_ticks: int, turn: Ints | None = None) -> Ints:
    """The pins that stand in a window with more strikes than a limit allows, as places in the columns given.

    Args:
        limit: the limit.
        channel: of each pin, shape (p,).
        position: of each pin in ticks, on any lap.
        turn_ticks: once round.
        turn: of each pin, shape (p,), which of several turns it is pinned for; None for one.
    """
    own = np.flatnonzero(among(channel, limit.channels))
    if len(own) <= limit.most:
        return own[:0]
    at, on = position[own] % turn_ticks, np.zeros_like(own) if turn is None else turn[own]
    order = np.lexsort([at, on])
    own, at, on = own[order], at[order], on[order]
    head = np.searchsorted(on, on)
    count = np.searchsorted(on, on, side="right") - head
    later = np.arange(len(own)) - head + limit.most
    last = at[head + later % count] + later // count * turn_ticks
    full = np.flatnonzero((count > limit.most) & (last - at < limit.window_ticks))
    if not len(full):
        return own[:0]
    window = (later[full] - limit.most)[:, None] + np.arange(limit.most + 1)
    return distinct(own[(head[full][:, None] + window % count[full][:, None]).ravel()])

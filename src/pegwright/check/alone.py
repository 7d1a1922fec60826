"""Which pins break a rule that holds without a score, by their places in the columns that they are given in.

`pins.py` words it for the notes of a placement; `pin_map.py` gathers it for a pin map that has no score.
"""

from __future__ import annotations

import numpy as np

from pegwright.check.columns import Bools, Ints
from pegwright.check.subject import CheckedPins, CheckedRim, limited, too_soon, within
from pegwright.check.wheel import over_the_edge, touching_pairs
from pegwright.wheel import StrikeLimit


def sharing(rim: CheckedRim, pins: CheckedPins) -> Bools:
    """Shape (p,): which pins share their hole with another."""
    key = pins.lane * len(rim.holes.position) + pins.hole
    _, which, count = np.unique(key, return_inverse=True, return_counts=True)
    return np.asarray(count[which.reshape(-1)] > 1, dtype=bool)


def struck_again(rim: CheckedRim, pins: CheckedPins) -> tuple[Ints, Ints]:
    """Pins that are followed too soon by the next strike of their channel, round the turn, and those that follow."""
    by_lane = np.lexsort([pins.position_ticks, pins.lane])
    channel, position = pins.channel[by_lane], pins.position_ticks[by_lane]
    first, last = first_and_last(pins.lane[by_lane])
    following = np.arange(1, len(channel) + 1)
    following[last] = first
    apart = position[following] - position
    apart[last] += rim.turn_ticks
    soon = too_soon(rim, channel, apart)
    return by_lane[soon], by_lane[following[soon]]


def first_and_last(group: Ints) -> tuple[Ints, Ints]:
    """Places of the first and of the last pin of every group in a column that is sorted by group."""
    groups = np.flatnonzero(np.bincount(group))
    first, past = np.searchsorted(group, groups), np.searchsorted(group, groups, side="right")
    return np.asarray(first, dtype=np.int64), np.asarray(past - 1, dtype=np.int64)


def touching(rim: CheckedRim, pins: CheckedPins) -> tuple[Ints, Ints]:
    """Pairs of pins that touch in the plane of the rim, on one channel or on neighbouring ones; each pair both ways."""
    stand = (pins.lane, pins.hole, pins.collar_ticks)
    one, other = touching_pairs(rim.wheel, rim.holes, stand, stand)
    return one[one != other], other[one != other]


def over(rim: CheckedRim, pins: CheckedPins) -> Bools:
    """Shape (p,): which pins have a collar that reaches over an edge of their plate."""
    return over_the_edge(rim.wheel, rim.holes, pins.hole, pins.pin_type)


def crowds(rim: CheckedRim, pins: CheckedPins, limit: StrikeLimit) -> Ints:
    """The crowds of one strike too many within the window of a limit, also round the end of the turn.

    Args:
        rim: see there.
        pins: see there.
        limit: of the wheel.

    Returns:
        Shape (crowds, strikes + 1), the pins of each by time.
    """
    own = np.flatnonzero(limited(rim.wheel, limit, pins.channel))
    own = own[np.lexsort([pins.position_ticks[own], pins.turn[own]])]
    position, number = pins.position_ticks[own], np.arange(len(own))
    first, last = first_and_last(pins.turn[own])
    count = np.repeat(last + 1 - first, last + 1 - first)
    first = np.repeat(first, last + 1 - first)
    laps, place = np.divmod(number - first + limit.strikes, count)
    apart = position[first + place] - position + laps * rim.turn_ticks
    full = np.flatnonzero((count > limit.strikes) & within(rim, limit, apart))
    members = (
        first[full, None] + (number[full, None] - first[full, None] + np.arange(limit.strikes + 1)) % count[full, None]
    )
    return np.asarray(own[members], dtype=np.int64)

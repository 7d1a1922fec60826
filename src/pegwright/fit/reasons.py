"""Why a note is left out: the one reason that is true of it, in a fixed order of precedence.

    no channel; past the end of the turn; no hole within reach, lost or not: off the grid; only lost ones: lost at
    a seam; the nearest hole that exists is taken: hole already used; a pin of the channel is within the re-strike
    gap of that hole: re-strike too soon; its pin would touch another; else a limit on strikes would be broken: too
    many at once.

No note left out could be added to the placement, so its nearest hole is always barred by one of the last four.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from pegwright.columns import Ints, distinct, frozen_ints
from pegwright.fit.fitting import Fitting
from pegwright.fit.quantise import NO_NOTE
from pegwright.frozen import frozen
from pegwright.placement import Outcome


def outcomes(fitting: Fitting, turns: Sequence[Fitting]) -> Ints:
    """Shape (n,): an `Outcome` for every note of turns that were fitted together.

    Args:
        fitting: of all of them.
        turns: of each of them.
    """
    arrangement, turn, strikes = fitting.arrangement, fitting.turn, fitting.strikes
    outcome = np.full(len(arrangement.channel), Outcome.NO_CHANNEL, dtype=np.int64)
    outcome[(arrangement.channel >= 0) & (turn.onset_ticks >= turn.turn_ticks)] = Outcome.PAST_TURN
    outcome[strikes.note] = _strike_outcomes(fitting, turns)
    others = np.flatnonzero(strikes.unison != NO_NOTE)
    of_strike = outcome[strikes.unison[others]]
    outcome[others] = np.where(of_strike == Outcome.PLACED, Outcome.HOLE_USED, of_strike)
    return frozen_ints(outcome)


def _strike_outcomes(fitting: Fitting, turns: Sequence[Fitting]) -> Ints:
    outcome = np.full(len(fitting.chosen), Outcome.PLACED, dtype=np.int64)
    left_out = fitting.chosen < 0
    outcome[left_out & (fitting.nearest_of_every < 0)] = Outcome.OFF_GRID
    outcome[left_out & (fitting.nearest_of_every >= 0)] = Outcome.LOST_AT_SEAM
    barred = np.flatnonzero(left_out & (fitting.nearest_usable >= 0))
    firsts = np.cumsum([0, *(len(turn.chosen) for turn in turns)])
    of = np.searchsorted(firsts, barred, side="right") - 1
    for number in distinct(of).tolist():
        own = barred[slice(*np.searchsorted(of, [number, number + 1]))]
        outcome[own] = _barred_outcomes(turns[number], own - firsts[number])
    return outcome


def _barred_outcomes(fitting: Fitting, barred: Ints) -> Ints:
    """What bars the nearest holes of some strikes of a turn."""
    pins, hole = fitting.pins, fitting.nearest_usable[barred]
    outcome = np.full(len(barred), Outcome.TOO_MANY, dtype=np.int64)
    channel = fitting.usable.channel[hole]
    position = fitting.usable.position[hole] % fitting.turn.turn_ticks
    own = np.flatnonzero(np.isin(channel, pins.channel))  # a channel without any pin is barred by a limit alone
    barred, channel, hole, position = barred[own], channel[own], hole[own], position[own]
    before = pins.up_to(channel, position)
    since, until = position - pins.position[before], pins.position[before + 1] - position
    outcome[own] = Outcome.PINS_TOUCH
    limited = np.isin(channel, [number for limit in fitting.limits for number in limit.channels])
    for place in np.flatnonzero(limited).tolist():
        if obstacle(fitting, int(barred[place]), int(hole[place])).kind == Outcome.TOO_MANY:
            outcome[own[place]] = Outcome.TOO_MANY
    outcome[own[np.minimum(since, until) < fitting.turn.gap_ticks[channel]]] = Outcome.RESTRIKE
    used = np.zeros((len(fitting.wheel.channels), int(fitting.every.place.max(initial=0)) + 1), dtype=bool)
    used[pins.channel, pins.place] = True
    outcome[own[used[channel, fitting.usable.place[hole]]]] = Outcome.HOLE_USED
    return outcome


@frozen()
class Obstacle:
    """What keeps a strike out of a hole.

    Args:
        kind: `HOLE_USED`, `RESTRIKE`, `PINS_TOUCH` or `TOO_MANY`.
        strike: the strike whose pin is in the way; of several the first.
        ticks: from that pin to the hole; negative where the pin comes later. For `TOO_MANY` from the first
            to the last of the strikes that would be one too many, where they are closest.
        limit: for `TOO_MANY` which limit of the fitting would be broken.
    """

    kind: Outcome
    strike: int
    ticks: int
    limit: int = -1


def obstacle(fitting: Fitting, strike: int, hole: int) -> Obstacle:
    """What keeps a strike of the fitting out of a hole that exists.

    Args:
        fitting: the song as assigned.
        strike: whose own pin, if it has one, is not counted.
        hole: an index into `fitting.usable`.

    Raises:
        LookupError: nothing does.
    """
    channel = int(fitting.usable.channel[hole])
    position = int(fitting.usable.position[hole]) % fitting.turn.turn_ticks
    place = int(fitting.usable.place[hole])
    near = _pins_near(fitting, channel, position, strike)
    for ticks, pin, other in near:
        if fitting.pins.place[pin] == place:
            return Obstacle(Outcome.HOLE_USED, other, ticks)
    gap = int(fitting.turn.gap_ticks[channel])
    barring = [(abs(ticks), ticks, other) for ticks, _, other in near if abs(ticks) < gap]
    kind = Outcome.RESTRIKE if barring else Outcome.PINS_TOUCH
    if near and not barring:
        likeness, pins = fitting.usable.likeness(np.array([hole]))[0], fitting.pins.likeness
        low, high = fitting.gaps.between[channel]
        for ticks, pin, other in near:
            pair = (pins[pin], likeness) if ticks >= 0 else (likeness, pins[pin])
            if low[pair] < abs(ticks) < high[pair]:
                barring.append((abs(ticks), ticks, other))
    if not barring:
        return _too_many(fitting, channel, position, strike)
    _, ticks, other = min(barring)
    return Obstacle(kind, other, ticks)


def _too_many(fitting: Fitting, channel: int, position: int, own: int) -> Obstacle:
    """The limit that one strike more at a position would break, where its strikes would be closest."""
    pins, obstacles = fitting.pins, []
    for number, limit in enumerate(fitting.limits):
        if channel not in limit.channels:
            continue
        near = np.abs(pins.position - position) < limit.window_ticks
        near &= np.isin(pins.channel, limit.channels) & (pins.strike != own)
        listed = [*zip(pins.position[near].tolist(), pins.strike[near].tolist(), strict=True), (position, own)]
        listed.sort()
        for first, last in zip(listed, listed[limit.most :], strict=False):
            if last[0] - first[0] < limit.window_ticks and first[0] <= position <= last[0]:
                other = first[1] if first[1] != own else listed[listed.index(first) + 1][1]
                obstacles.append(Obstacle(Outcome.TOO_MANY, other, last[0] - first[0], number))
    if not obstacles:
        raise LookupError(f"nothing bars a pin at {position} ticks")
    return min(obstacles, key=lambda one: (Fraction(one.ticks, fitting.limits[one.limit].window_ticks), one.limit))


def _pins_near(fitting: Fitting, channel: int, position: int, own: int) -> list[tuple[int, int, int]]:
    """Pins of a channel within its maximum gap of a position: ticks since the pin, the pin, and its strike."""
    pins, reach = fitting.pins, int(fitting.gaps.greatest[channel]) - 1
    ends = pins.up_to(np.array([channel, channel]), np.array([position - reach - 1, position + reach])).tolist()
    return [
        (position - int(pins.position[pin]), pin, int(pins.strike[pin]))
        for pin in range(ends[0] + 1, ends[1] + 1)
        if pins.channel[pin] == channel and pins.strike[pin] != own
    ]

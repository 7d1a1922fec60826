"""Whether one pin more may stand where it would, every other pin staying as it is.

Slower, re-strikes and the windows of limits take fewer ticks, and everything else is measured along the rim. So a place
is free at one tempo and at every slower one, or at none.
"""

from __future__ import annotations

import numpy as np

from pegwright.columns import Ints, runs
from pegwright.fit.fitting import Fitting
from pegwright.fit.gaps import touching
from pegwright.fit.quantise import Holes, Strikes, pairs_in_reach
from pegwright.fit.turn import Turn
from pegwright.frozen import frozen

NEVER = np.iinfo(np.int64).max  # microseconds a quarter note: free at no tempo
_FAR_TICKS = 2**60


@frozen(eq=False)
class Places:
    """Places for a pin of some strikes; columns of shape (p,), by strike.

    Args:
        strike: which of the strikes it is for.
        hole: index into the list of holes that it was taken from.
        channel, row, pin: as in `Holes`.
        onset: of the strike, in ticks from tick 0 of the song.
        away: from there to where the pin would trip, in ticks; later is positive.
    """

    strike: Ints
    hole: Ints
    channel: Ints
    row: Ints
    pin: Ints
    onset: Ints
    away: Ints

    @classmethod
    def within_reach(cls, strikes: Strikes, holes: Holes, turn: Turn, moved_ticks: int = 0) -> Places:
        """Every hole within reach of some strikes.

        Args:
            strikes: with the channels that can sound each.
            holes: to choose from.
            turn: the reach is read here.
            moved_ticks: how much later on the turn the song starts than it does for `holes`.
        """
        pairs = pairs_in_reach(strikes.later(moved_ticks, turn.turn_ticks), holes, turn)
        strike, hole, onset = pairs.strike, pairs.hole, strikes.onset[pairs.strike]
        away = holes.position[hole] - (onset + moved_ticks) % turn.turn_ticks
        return cls(strike, hole, holes.channel[hole], holes.row[hole], holes.pin[hole], onset, away)


class OneMore:
    """The pins of a fitting, asked about places for one more.

    Args:
        fitting: with all its pins.
    """

    def __init__(self, fitting: Fitting) -> None:
        turn, pins, kinds = fitting.turn, fitting.pins, fitting.usable.pin_count
        self._fitting, self._pins, self._kinds = fitting, pins, kinds
        away_ticks = fitting.usable.position[fitting.chosen[pins.strike]] - fitting.strikes.onset[pins.strike]
        self._onset = pins.position - away_ticks
        self._row, pin = np.divmod(pins.likeness, kinds)
        self._middle = (pins.position - turn.offset_ticks[pin]) % turn.turn_ticks
        self._has_pins = np.zeros(len(fitting.wheel.channels), dtype=bool)
        self._has_pins[pins.channel] = True
        self._touch = touching(turn.touch_ticks, turn.collar_ticks)
        self._near_ticks = min(max(int(self._touch[1].max()), turn.offset_spread_ticks + 1), turn.turn_ticks)

    def free(self, places: Places) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Shape (p,): whether a pin may stand in each place at the tempo of the fitting."""
        return np.asarray(self.least_us(places) <= self._fitting.turn.us_per_quarter)

    def least_us(self, places: Places) -> Ints:
        """Shape (p,): the fastest tempo at which each place is free, in microseconds a quarter note, or `NEVER`."""
        turn = self._fitting.turn
        at = (places.onset + places.away) % turn.turn_ticks
        least = np.zeros(len(at), dtype=np.int64)
        beside = np.flatnonzero(self._has_pins[places.channel])
        least[beside] = self._least_beside(places, at, beside)
        left = np.flatnonzero(least < NEVER)
        least[left[self._touched_or_used(places, at, left)]] = NEVER
        left = left[least[left] < NEVER]
        for number in range(len(self._fitting.limits)):
            needed = self._least_by_limit(number, places.channel[left], at[left])
            least[left] = np.maximum(least[left], needed)
        return least

    def _least_beside(self, places: Places, at: Ints, which: Ints) -> Ints:
        """By the re-strike from and to the next pin of the channel, which must be those of the notes next to it."""
        pins, turn, channel = self._pins, self._fitting.turn, places.channel[which]
        at, onset = at[which], at[which] - places.away[which]
        before = pins.up_to(channel, at)
        apart = np.minimum(at - pins.position[before], pins.position[before + 1] - at)
        in_order = (self._onset[before] <= onset) & (onset <= self._onset[before + 1])
        needed = np.array([round(one.restrike_ms * 1000) for one in self._fitting.wheel.channels], dtype=np.int64)
        least = _least_us(needed[channel] * turn.resolution, apart - turn.held_ticks[channel])
        least[(apart == 0) | ~in_order] = NEVER
        return least

    def _touched_or_used(self, places: Places, at: Ints, which: Ints) -> Ints:
        """Which of some places are in a hole that has a pin, or have a pin so near that the two would touch."""
        pins, turn, channel, at = self._pins, self._fitting.turn, places.channel[which], at[which]
        row, pin = places.row[which], places.pin[which]
        low = pins.up_to(channel, at - self._near_ticks) + 1
        count = pins.up_to(channel, at + self._near_ticks - 1) + 1 - low
        place, other = np.repeat(np.arange(len(which)), count), runs(low, count)
        ticks, like = at[place] - pins.position[other], row[place] * self._kinds + pin[place]
        first = np.where(ticks >= 0, pins.likeness[other], like)
        last = np.where(ticks >= 0, like, pins.likeness[other])
        above, below = self._touch
        barred = (above[first, last] < np.abs(ticks)) & (np.abs(ticks) < below[first, last])
        middle = (at - turn.offset_ticks[pin]) % turn.turn_ticks
        barred |= (row[place] == self._row[other]) & (middle[place] == self._middle[other])
        return np.unique(place[barred])

    def _least_by_limit(self, number: int, channel: Ints, at: Ints) -> Ints:
        """By a limit: where its strikes would be closest, one too many must be its window apart."""
        fitting, pins, limit = self._fitting, self._pins, self._fitting.limits[number]
        counted, turn_ticks = np.zeros(len(self._has_pins), dtype=bool), fitting.turn.turn_ticks
        counted[list(limit.channels)] = True
        own = np.sort(pins.position[(pins.position >= 0) & (pins.position < turn_ticks) & counted[pins.channel]])
        beyond = np.full(limit.most, _FAR_TICKS)
        laps = np.concatenate([-beyond, own - turn_ticks, own, own + turn_ticks, beyond])
        place, span = np.searchsorted(laps, at), np.full(len(at), _FAR_TICKS)
        for before in range(limit.most + 1):
            first, last = laps[place - before], laps[place - before + limit.most - 1]
            span = np.minimum(span, np.maximum(last, at) - np.minimum(first, at))
        window_us = round(fitting.wheel.strike_limits[number].window_ms * 1000)
        least = _least_us(np.full(len(at), window_us * fitting.turn.resolution), span)
        least[span == 0] = NEVER
        return np.where(counted[channel], least, 0)


def _least_us(needed: Ints, ticks: Ints) -> Ints:
    """The tempo at which a number of ticks last as long as needed, in microseconds a quarter note.

    Args:
        needed: shape (p,), microseconds times ticks per quarter.
        ticks: shape (p,); too few where below 0, and where 0 unless nothing is needed.
    """
    least = -(-needed // np.maximum(ticks, 1))
    return np.where((ticks < 0) | ((ticks == 0) & (needed > 0)), NEVER, least)

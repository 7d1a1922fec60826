"""A song after the assignment of holes: the input of all later stages."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.columns import Ints, frozen_ints
from pegwright.fit.arrange import Arrangement
from pegwright.fit.coupled import Assignment
from pegwright.fit.gaps import Gaps
from pegwright.fit.limits import Limit
from pegwright.fit.quantise import Holes, Strikes
from pegwright.fit.turn import Turn
from pegwright.frozen import frozen
from pegwright.grid import HoleGrid
from pegwright.score import Score
from pegwright.wheel import Wheel


@frozen(eq=False)
class Pins:
    """The pins that were set, each also a turn earlier and a turn later; shape (3 p,), by channel, then position.

    Args:
        key: rising: position plus a stretch of its own for each channel.
        position: where it trips, in ticks from tick 0 of the song.
        channel, place, strike: where it is, as in `Holes`, and which strike it sounds.
        likeness: see `Holes.likeness`.
        turn_ticks: once round.
    """

    key: Ints
    position: Ints
    channel: Ints
    place: Ints
    strike: Ints
    likeness: Ints
    turn_ticks: int

    def up_to(self, channel: Ints, position: Ints) -> Ints:
        """The last pin of each channel at or before a position; the next one in the list is after it."""
        return np.searchsorted(self.key, channel * 4 * self.turn_ticks + self.turn_ticks + position, side="right") - 1


@frozen(eq=False)
class Fitting:
    """The input of a fit, what was computed from it, and which hole each strike was given.

    Args:
        score, wheel, options: the input.
        grid, turn, arrangement, strikes, gaps, limits: see there.
        usable: the holes that exist.
        every: those and the lost ones.
        assignment: the hole of each strike as an index into `usable`, and whether that is proved the best.
        nearest_usable: shape (s,), the nearest hole that exists within reach, or -1.
        nearest_of_every: shape (s,), the nearest hole, lost or not, as an index into `every`, or -1.
        channel: shape (s,), the channel of each strike: of its hole, or of the nearest one, or its first.
    """

    score: Score
    wheel: Wheel
    options: FitOptions
    grid: HoleGrid
    turn: Turn
    arrangement: Arrangement
    strikes: Strikes
    gaps: Gaps
    limits: tuple[Limit, ...]
    usable: Holes
    every: Holes
    assignment: Assignment
    nearest_usable: Ints
    nearest_of_every: Ints
    channel: Ints

    @property
    def chosen(self) -> Ints:
        """Shape (s,): an index into `usable` for each strike, or -1."""
        return self.assignment.chosen

    @property
    def pins(self) -> Pins:
        """The pins that the assignment sets."""
        return pins_set(self)


@lru_cache(maxsize=2)  # asked for note by note, where a turn has notes left out
def pins_set(fitting: Fitting) -> Pins:
    """The pins of the holes that the strikes of a turn were given."""
    holes, chosen, turn_ticks = fitting.usable, fitting.chosen, fitting.turn.turn_ticks
    strike = np.flatnonzero(chosen >= 0)
    once = holes.position[chosen[strike]] % turn_ticks
    position = np.concatenate([once - turn_ticks, once, once + turn_ticks])
    strike = np.tile(strike, 3)
    hole = chosen[strike]
    channel, place, likeness = holes.channel[hole], holes.place[hole], holes.likeness(hole)
    key = channel * 4 * turn_ticks + turn_ticks + position
    order = np.argsort(key, kind="stable")
    key, position, channel, place, strike, likeness = (
        frozen_ints(column[order]) for column in (key, position, channel, place, strike, likeness)
    )
    return Pins(key, position, channel, place, strike, likeness, turn_ticks)

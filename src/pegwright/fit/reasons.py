"""Why a note is left out: the one reason that is true of it, in a fixed order of truth.

    no channel; past the end of the turn; no hole within reach, lost or not: off the grid; only lost ones: lost at
    a seam; the nearest hole that exists is taken: hole already used; a pin of the channel is within the re-strike
    gap of that hole: re-strike too soon; else its pin would touch another.

The placement is a best one, so the nearest hole of a note left out is always barred by one of the last three.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.fit.fitting import Fitting
from pegwright.fit.quantise import NO_NOTE
from pegwright.placement import Outcome


def outcomes(fitting: Fitting) -> Ints:
    """Shape (n,): an `Outcome` for every note."""
    arrangement, turn, strikes = fitting.arrangement, fitting.turn, fitting.strikes
    outcome = np.full(len(arrangement.channel), Outcome.NO_CHANNEL, dtype=np.int64)
    outcome[(arrangement.channel >= 0) & (turn.onset_ticks >= turn.turn_ticks)] = Outcome.PAST_TURN
    outcome[strikes.note] = _strike_outcomes(fitting)
    others = np.flatnonzero(strikes.unison != NO_NOTE)
    of_strike = outcome[strikes.unison[others]]
    outcome[others] = np.where(of_strike == Outcome.PLACED, Outcome.HOLE_USED, of_strike)
    return frozen_ints(outcome)


def _strike_outcomes(fitting: Fitting) -> Ints:
    outcome = np.full(len(fitting.chosen), Outcome.PLACED, dtype=np.int64)
    left_out = fitting.chosen < 0
    outcome[left_out & (fitting.nearest_of_every < 0)] = Outcome.OFF_GRID
    outcome[left_out & (fitting.nearest_of_every >= 0)] = Outcome.LOST_AT_SEAM
    barred = np.flatnonzero(left_out & (fitting.nearest_usable >= 0))
    if not len(barred):
        return outcome
    pins, channel, hole = fitting.pins, fitting.strikes.channel[barred], fitting.nearest_usable[barred]
    position = fitting.usable.position[hole] % fitting.turn.turn_ticks
    before = pins.up_to(channel, position)
    since, until = position - pins.position[before], pins.position[before + 1] - position
    outcome[barred] = Outcome.PINS_TOUCH
    outcome[barred[np.minimum(since, until) < fitting.turn.gap_ticks[channel]]] = Outcome.RESTRIKE
    outcome[barred[(since == 0) & (pins.row[before] == fitting.usable.row[hole])]] = Outcome.HOLE_USED
    return outcome


@dataclass(frozen=True, slots=True)
class Obstacle:
    """What keeps a strike out of a hole.

    Args:
        kind: `HOLE_USED`, `RESTRIKE` or `PINS_TOUCH`.
        strike: the strike whose pin is in the way.
        ticks: from that pin to the hole; negative where the pin comes later.
    """

    kind: Outcome
    strike: int
    ticks: int


def obstacle(fitting: Fitting, strike: int, hole: int) -> Obstacle:
    """What keeps a strike of the fitting out of a hole that exists.

    Args:
        fitting: the song as assigned.
        strike: whose own pin, if it has one, is not counted.
        hole: an index into `fitting.usable`.

    Raises:
        LookupError: nothing does.
    """
    channel = int(fitting.strikes.channel[strike])
    position = int(fitting.usable.position[hole]) % fitting.turn.turn_ticks
    row = int(fitting.usable.row[hole])
    near = _pins_near(fitting, channel, position, strike)
    for ticks, pin_row, other in near:
        if ticks == 0 and pin_row == row:
            return Obstacle(Outcome.HOLE_USED, other, 0)
    gap, touch = int(fitting.turn.gap_ticks[channel]), fitting.turn.touch_ticks[row].tolist()
    needs = ((Outcome.RESTRIKE, [gap] * len(touch)), (Outcome.PINS_TOUCH, touch))
    for kind, need in needs:
        barring = [(abs(ticks), ticks, other) for ticks, pin_row, other in near if abs(ticks) < need[pin_row]]
        if barring:
            _, ticks, other = min(barring)
            return Obstacle(kind, other, ticks)
    raise LookupError(f"nothing bars hole {hole}")


def _pins_near(fitting: Fitting, channel: int, position: int, own: int) -> list[tuple[int, int, int]]:
    """Pins of a channel within its greatest gap of a position: ticks since the pin, its row and strike."""
    pins, reach = fitting.pins, int(fitting.gaps.greatest[channel]) - 1
    ends = pins.up_to(np.array([channel, channel]), np.array([position - reach - 1, position + reach])).tolist()
    return [
        (position - int(pins.position[pin]), int(pins.row[pin]), int(pins.strike[pin]))
        for pin in range(ends[0] + 1, ends[1] + 1)
        if pins.channel[pin] == channel and pins.strike[pin] != own
    ]

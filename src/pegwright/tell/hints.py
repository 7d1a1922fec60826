"""What would help a note that is left out: only what a computation for that note proved.

One function for each kind of help; each returns plain words, or nothing where it does not help.
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.fit.arrange import part_channels, pitched_table
from pegwright.fit.fitting import Fitting
from pegwright.fit.reasons import Obstacle
from pegwright.placement import Outcome
from pegwright.units import MICROSECONDS_PER_MINUTE, plural, quarters_per_minute, us_per_quarter

FINEST_REACH = 96  # of a quarter note


def plain_reach(quarters: Fraction) -> Fraction:
    """The smallest plain fraction of a quarter note that is at least this reach.

    Pins with an offset make odd distances.
    """
    if quarters.denominator <= FINEST_REACH:
        return quarters
    return Fraction(math.ceil(quarters * FINEST_REACH), FINEST_REACH)


def plain_tempo_tenths(least_us: Fraction) -> int:
    """The fastest tempo in whole tenths of a quarter a minute at which a quarter lasts so long; 0 where none does.

    Args:
        least_us: microseconds a quarter note.
    """
    tenths = int(10 * MICROSECONDS_PER_MINUTE / least_us)
    while tenths and us_per_quarter(Fraction(tenths, 10)) < least_us:
        tenths -= 1
    return tenths


def other_octave(fitting: Fitting, note: int) -> str:
    """Whether folding octaves would give a pitched note a channel."""
    score = fitting.score
    if fitting.options.fold_octaves or score.parts[int(score.part[note])].percussion:
        return ""
    among = part_channels(score, fitting.wheel, fitting.options)[int(score.part[note])]
    table = pitched_table(fitting.wheel, replace(fitting.options, fold_octaves=True), among)
    pitch = int(score.pitch_midi[note])
    if not table.choices[pitch]:
        return ""
    octave = table.octaves[pitch]
    name = fitting.wheel.channels[table.choices[pitch][0]].name
    way = "higher" if octave > 0 else "lower"
    return f"folding octaves would sound it {plural(abs(octave), 'octave')} {way}, on channel {name}"


def wider_reach(fitting: Fitting, ticks: int) -> str:
    """The reach that takes in the nearest hole that exists, at a distance of `ticks`."""
    reach = plain_reach(Fraction(ticks, fitting.turn.resolution))
    return f"a reach of {reach} quarter notes takes that hole in"


def other_start(fitting: Fitting, strike: int) -> str:
    """The smallest move of the start, in whole steps, that gives a strike a hole as near as the lost one."""
    turn, wheel = fitting.turn, fitting.wheel
    step_ticks = int(wheel.step_quarters * turn.resolution)
    steps = np.arange(1, wheel.turn_steps // 2 + 1)
    moves = np.stack([steps, -steps], axis=1).reshape(-1)  # the later start first
    onset = int(fitting.strikes.onset[strike])
    near = abs(int(fitting.every.position[fitting.nearest_of_every[strike]]) - onset)
    at = (onset + moves * step_ticks) % turn.turn_ticks
    low, past = fitting.usable.within(np.full(len(at), fitting.channel[strike]), at, near)
    helps = np.flatnonzero(past > low)
    if not len(helps):
        return ""
    move = int(moves[helps[0]])
    way = "later" if move > 0 else "earlier"
    return f"starting {plural(abs(move), 'step')} {way} on the turn gives it a hole"


def slower_tempo(fitting: Fitting, strike: int, barred_by: Obstacle) -> str:
    """The tempo at which the time to the pin in the way would be long enough; below half the tempo, no hint.

    Args:
        fitting: of the song.
        strike: the strike without a pin.
        barred_by: the pin or limit in the way, of kind `RESTRIKE` or `TOO_MANY`.
    """
    if barred_by.kind == Outcome.TOO_MANY:
        needed_ms = fitting.wheel.strike_limits[barred_by.limit].window_ms
        who = "they"
    else:
        needed_ms = fitting.wheel.channels[int(fitting.channel[strike])].restrike_ms
        who = "the two"
    held = int(fitting.turn.held_ticks[fitting.channel[strike]]) if barred_by.kind == Outcome.RESTRIKE else 0
    if abs(barred_by.ticks) <= held:
        return ""
    ticks, needed = abs(barred_by.ticks) - held, round(needed_ms * 1000) * fitting.turn.resolution
    tenths = plain_tempo_tenths(Fraction(needed, ticks))
    if 2 * tenths < 10 * quarters_per_minute(fitting.turn.us_per_quarter):
        return ""
    return f"at {tenths / 10:g} quarter notes a minute or slower {who} are far enough apart"

"""What would sound a note that is left out, in words.

Each hint was computed for its note with every other pin as it is (see `fit/openings.py`); a note for which a change
would do nothing has no hint of that kind.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

from pegwright.ask.table import AS_QUARTERS
from pegwright.columns import Ints
from pegwright.facts import tempo_tenths
from pegwright.fit.fitting import Fitting
from pegwright.fit.one_more import NEVER
from pegwright.fit.openings import Openings, folded, openings
from pegwright.tell.details import away_text, hole_name, nearest_of_channel
from pegwright.units import MICROSECONDS_PER_MINUTE, plural, quarters_per_minute, us_per_quarter

FINEST_REACH = 96  # of a quarter note
SLOWEST_TENTHS = 10  # a quarter note a minute, below which no tempo can be chosen


def plain_reach(quarters: Fraction) -> Fraction:
    """The smallest plain fraction of a quarter note that is at least this reach.

    Pins with an offset make odd distances.
    """
    if quarters.denominator <= FINEST_REACH:
        return quarters
    return Fraction(math.ceil(quarters * FINEST_REACH), FINEST_REACH)


def plain_tempo_tenths(least_us: Fraction) -> int:
    """The fastest tempo in whole tenths of a quarter note a minute at which a quarter lasts so long; 0 where none does.

    Args:
        least_us: microseconds a quarter note.
    """
    tenths = int(10 * MICROSECONDS_PER_MINUTE / least_us)
    while tenths and us_per_quarter(Fraction(tenths, 10)) < least_us:
        tenths -= 1
    return tenths


def hints_of(fitting: Fitting, notes: Ints, strike_of: Ints) -> list[str]:
    """For each of some notes left out what would sound it; empty where nothing does.

    Args:
        fitting: of the song.
        notes: shape (m,), numbers of the notes.
        strike_of: shape (m,), the strike that each has or shares, or -1.
    """
    hints = [""] * len(notes)
    silent = np.flatnonzero(fitting.arrangement.channel[notes] < 0)
    octaves = folded(fitting, notes[silent])
    for place, octave, channel in zip(silent.tolist(), octaves.octaves.tolist(), octaves.channel.tolist(), strict=True):
        if channel >= 0:
            hints[place] = folding_hint(octave, fitting.wheel.channels[channel].name)
    barred = np.flatnonzero((strike_of >= 0) & (fitting.chosen[strike_of] < 0)) if len(fitting.chosen) else silent[:0]
    which, of_note = np.unique(strike_of[barred], return_inverse=True)
    change = openings(fitting, which) if len(which) else None
    for place, number in zip(barred.tolist(), of_note.tolist(), strict=True):
        if change:
            words = (_tempo(fitting, change, number), _reach(fitting, change, number, which), _start(change, number))
            hints[place] = "; ".join(word for word in words if word)
    return hints


def folding_hint(octaves: int, channel_name: str = "", thing: str = "it") -> str:
    """What folding would do to a note, or to several.

    Args:
        octaves: by how many it would move, downward negative.
        channel_name: that would sound it; empty leaves it out.
        thing: what would sound.
    """
    way, on = "higher" if octaves > 0 else "lower", f", on channel {channel_name}" if channel_name else ""
    return f"folding octaves would sound {thing} {plural(abs(octaves), 'octave')} {way}{on}"


def _tempo(fitting: Fitting, change: Openings, number: int) -> str:
    """The fastest tempo in tenths; below half the tempo, and where none can be chosen, no hint."""
    least_us = int(change.least_us[number])
    tenths = 0 if least_us == NEVER else plain_tempo_tenths(Fraction(least_us))
    lowest, highest = tempo_tenths(fitting.wheel)
    tenths = min(tenths, highest or tenths)
    if tenths < max(SLOWEST_TENTHS, lowest or 0) or 2 * tenths < 10 * quarters_per_minute(fitting.turn.us_per_quarter):
        return ""
    return f"at {tenths / 10:g} quarter notes a minute or slower there is a hole for it"


def _reach(fitting: Fitting, change: Openings, number: int, which: Ints) -> str:
    """The reach that takes in the nearest free hole, as the option that is typed: a share of a whole note."""
    hole, ticks, strike = int(change.hole[number]), int(change.away_ticks[number]), int(which[number])
    if hole < 0:
        return ""
    exact = Fraction(abs(ticks), fitting.turn.resolution)
    plain = plain_reach(exact)
    chosen = plain if 2 * plain < fitting.wheel.turn_quarters else exact
    reach = f"--reach {AS_QUARTERS.written(chosen)}"
    channel, name = int(change.holes.channel[hole]), hole_name(fitting, change.holes, hole)
    if channel != fitting.channel[strike]:
        return f"{reach} gives it {name} of channel {fitting.wheel.channels[channel].name}, {away_text(fitting, ticks)}"
    named = nearest_of_channel(fitting, strike) if fitting.nearest_of_every[strike] < 0 else None
    if named and named[1] == ticks and hole_name(fitting, fitting.usable, named[0]) == name:
        return f"{reach} takes that hole in"
    return f"{reach} gives it {name}, {away_text(fitting, ticks)}"


def _start(change: Openings, number: int) -> str:
    """The smallest move of the start, in whole steps."""
    steps = int(change.start_steps[number])
    way = "later" if steps > 0 else "earlier"
    return f"starting {plural(abs(steps), 'step')} {way} on the turn gives it a hole" if steps else ""

"""What would give a note left out a place, every other pin staying as it is: another tempo, reach, start or octave.

Each change is computed for each note by itself, as if it were made for that note alone:

    a slower tempo   the fastest at which some hole within reach is free;
    a wider reach    the nearest free hole beyond the reach, as far as a reach can be chosen;
    another start    the smallest move of the start, in whole steps, at which some hole within reach is free, the other
                     pins keeping their times in the song;
    octave folding   for a note without a channel: a free hole within reach, or a pin of the same strike.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from pegwright.ask.options import MAX_REACH_QUARTERS
from pegwright.columns import Ints, frozen_ints
from pegwright.fit.arrange import PITCH_COUNT, Choices, part_channels, pitched_table
from pegwright.fit.fitting import Fitting
from pegwright.fit.one_more import NEVER, OneMore, Places
from pegwright.fit.quantise import Holes, Strikes, lay_out
from pegwright.frozen import frozen

NONE = -1


@frozen(eq=False)
class Openings:
    """What would give some strikes a place, each by itself; columns of shape (s,).

    Args:
        least_us: the fastest tempo, in microseconds a quarter note, or `NEVER`.
        hole: the nearest free hole beyond the reach, as an index into `holes`, or -1.
        away_ticks: from the strike to that hole; later is positive.
        start_steps: how much later the song would start, 0 where no start helps.
        holes: those that a wider reach has to choose from.
    """

    least_us: Ints
    hole: Ints
    away_ticks: Ints
    start_steps: Ints
    holes: Holes


@frozen(eq=False)
class Folded:
    """What octave folding would do to some notes without a channel; columns of shape (n,).

    Args:
        octaves: whole octaves it would move each by, downward negative.
        channel: that would sound it, or -1 where folding would not make it sound.
    """

    octaves: Ints
    channel: Ints


def openings(fitting: Fitting, which: Ints) -> Openings:
    """What would give some strikes a place.

    Args:
        fitting: of the song.
        which: shape (s,), strikes without a pin.
    """
    turn, strikes = fitting.turn, fitting.strikes.some(which)
    widest = min(int(MAX_REACH_QUARTERS * turn.resolution), (turn.turn_ticks - 1) // 2)
    wide = replace(turn, reach_ticks=max(widest, turn.reach_ticks))
    holes = lay_out(fitting.grid, wide)
    one_more, places = OneMore(fitting), Places.within_reach(strikes, holes, wide)
    least_us = one_more.least_us(places)
    near = np.abs(places.away) <= turn.reach_ticks
    fastest = np.full(len(which), NEVER)
    np.minimum.at(fastest, places.strike[near], least_us[near])
    nearest = _nearest(places, np.flatnonzero(~near & (least_us <= turn.us_per_quarter)), len(which))
    reached = np.flatnonzero(nearest >= 0)
    hole, away = np.full(len(which), NONE), np.zeros(len(which), dtype=np.int64)
    hole[reached], away[reached] = places.hole[nearest[reached]], places.away[nearest[reached]]
    starts = _starts(fitting, one_more, strikes)
    return Openings(frozen_ints(fastest), frozen_ints(hole), frozen_ints(away), starts, holes)


def _starts(fitting: Fitting, one_more: OneMore, strikes: Strikes) -> Ints:
    """See `Openings.start_steps`.

    Holes lie alike after every period of the rows, but for those that are lost. So places are looked for once for each
    step of a period, among all holes; which of the free ones exist is then looked up for every start.
    """
    turn, wheel, every = fitting.turn, fitting.wheel, fitting.every
    step_ticks, period = int(wheel.step_quarters * turn.resolution), math.lcm(*(row.period_steps for row in wheel.rows))
    steps = np.arange(1, wheel.turn_steps // 2 + 1)
    moves = np.stack([steps, -steps], axis=1).reshape(-1)  # the smallest first, the later of two
    rank, existing = np.full(len(strikes.onset), len(moves)), _codes(fitting, fitting.usable)
    for step in range(period if len(existing) else 0):
        ranks = np.flatnonzero((moves - step) % period == 0)
        if not len(ranks):
            continue  # the turn is so short that no start is reached by this step
        places = Places.within_reach(strikes, every, turn, step * step_ticks)
        free = np.flatnonzero(one_more.free(places))
        code = _codes(fitting, every, places.hole[free], (moves[ranks] - step) * step_ticks)
        place = np.minimum(np.searchsorted(existing, code), len(existing) - 1)
        exists = existing[place] == code
        some = exists.any(axis=1)
        np.minimum.at(rank, places.strike[free[some]], ranks[exists[some].argmax(axis=1)])
    return frozen_ints(np.append(moves, 0)[rank])


def _codes(fitting: Fitting, holes: Holes, which: Ints | None = None, later_ticks: Ints | None = None) -> Ints:
    """A number for each hole of a list with its pin, equal for equal ones, rising through the whole list.

    Args:
        fitting: of the song.
        holes: the list.
        which: shape (h,), some of the list; None for all.
        later_ticks: shape (m,), moves; with them the shape is (h, m), for each hole moved by each of them.
    """
    of_place = (holes.row * holes.pin_count + holes.pin)[:, None]
    key, kinds = holes.key[:, None], len(fitting.wheel.rows) * holes.pin_count
    if which is None or later_ticks is None:
        return (key * kinds + of_place)[:, 0]
    position = holes.position[which][:, None]
    key = key[which] - position + (position + later_ticks) % fitting.turn.turn_ticks
    return key * kinds + of_place[which]


def folded(fitting: Fitting, notes: Ints) -> Folded:
    """What octave folding would do to some notes.

    Args:
        fitting: of the song.
        notes: shape (n,), numbers of notes without a channel.
    """
    score, turn, channel = fitting.score, fitting.turn, np.full(len(notes), NONE)
    kinds, of_note = np.unique(score.part[notes] * PITCH_COUNT + score.pitch_midi[notes], return_inverse=True)
    octaves, choices = _folded_kinds(fitting, kinds)
    some = np.flatnonzero((octaves[of_note] != 0) & (turn.onset_ticks[notes] < turn.turn_ticks))
    if len(some):
        channel[some] = _channels(fitting, _strikes(fitting, notes[some], [choices[kind] for kind in of_note[some]]))
    return Folded(frozen_ints(octaves[of_note]), frozen_ints(channel))


def _folded_kinds(fitting: Fitting, kinds: Ints) -> tuple[Ints, list[Choices]]:
    """By how many octaves notes of these parts and pitches would be folded, and the channels that sound them then."""
    score, options = fitting.score, replace(fitting.options, fold_octaves=True)
    choices: list[Choices] = []
    octaves = np.zeros(len(kinds), dtype=np.int64)
    among = None if fitting.options.fold_octaves else part_channels(score, fitting.wheel, options)
    for place, (part, pitch) in enumerate(divmod(kind, PITCH_COUNT) for kind in kinds.tolist()):
        choices.append(())
        if among and not score.parts[part].percussion:
            table = pitched_table(fitting.wheel, options, among(part))
            octaves[place], choices[place] = table.octaves[pitch], table.choices[pitch]
    return octaves, choices


def _strikes(fitting: Fitting, notes: Ints, choices: list[Choices]) -> Strikes:
    """A strike for each of some notes, of channels of its own; each with its number among all sets of channels."""
    kinds = sorted(set(choices) | set(fitting.strikes.choices))
    numbers = {kind: number for number, kind in enumerate(kinds)}
    choice = frozen_ints([numbers[each] for each in choices])
    first = frozen_ints([each[0] for each in choices])
    weight, unison = fitting.arrangement.weight[notes], fitting.strikes.unison
    return Strikes(notes, first, fitting.turn.onset_ticks[notes], weight, unison, choice, tuple(kinds))


def _channels(fitting: Fitting, strikes: Strikes) -> Ints:
    """The channel that would sound each of some further strikes: of a pin that it shares, or of the nearest hole."""
    channel, own, turn = np.full(len(strikes.note), NONE), fitting.strikes, fitting.turn
    places = Places.within_reach(strikes, fitting.usable, turn)
    hole = _nearest(places, np.flatnonzero(OneMore(fitting).free(places)), len(channel))
    channel[hole >= 0] = places.channel[hole[hole >= 0]]
    pinned = np.flatnonzero(fitting.chosen >= 0)
    numbers = frozen_ints([strikes.choices.index(kind) for kind in own.choices])
    known = numbers[own.choice[pinned]] * turn.turn_ticks + own.onset[pinned]
    shares = strikes.choice * turn.turn_ticks + strikes.onset
    place = np.searchsorted(known, shares)  # strikes are in this order
    same = np.flatnonzero(np.append(known, NONE)[place] == shares)
    channel[same] = fitting.channel[pinned[place[same]]]
    return channel


def _nearest(places: Places, among: Ints, count: int) -> Ints:
    """For each strike the index of the nearest of some places, a plain pin before others, or -1."""
    nearest = np.full(count, NONE)
    order = among[np.lexsort([places.pin[among] > 0, np.abs(places.away[among]), places.strike[among]])]
    strike, first = np.unique(places.strike[order], return_index=True)
    nearest[strike] = order[first]
    return nearest

"""Fit a score to a turn of a wheel: arrange, quantise, assign, give reasons."""

from __future__ import annotations

from functools import partial

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.columns import Ints, frozen_floats, frozen_ints
from pegwright.findings import Finding
from pegwright.fit.arrange import arrange
from pegwright.fit.assign import assign
from pegwright.fit.fitting import Fitting, pins_set
from pegwright.fit.gaps import gaps_of
from pegwright.fit.limits import limits_of
from pegwright.fit.quantise import Holes, Strikes, lay_out, nearest, pairs_in_reach, strikes_of
from pegwright.fit.reasons import outcomes
from pegwright.fit.turn import turn_of
from pegwright.frozen import frozen
from pegwright.grid import hole_grid
from pegwright.placement import Placement, Status
from pegwright.score import Score
from pegwright.wheel import Wheel

NOTHING = -1


@frozen(eq=False)
class TurnFit:
    """One turn of a song on its wheel.

    Args:
        fitting: which hole each strike was given.
        placement: the outcome of every note, proved best or with a bound.
        findings: on tempo and channels.
    """

    fitting: Fitting
    placement: Placement
    findings: tuple[Finding, ...]


def place_song(score: Score, wheel: Wheel, options: FitOptions) -> Placement:
    """The placement alone; see `fit_turn`.

    Args:
        score: the song, or a section of it.
        wheel: what it is to be pinned on.
        options: as chosen by the maker.
    """
    return fit_turn(score, wheel, options).placement


def fit_turn(score: Score, wheel: Wheel, options: FitOptions) -> TurnFit:
    """Put every note of a score into the best hole, or leave it out for a reason.

    Args:
        score: the song, or a section of it.
        wheel: what it is to be pinned on.
        options: as chosen by the maker.

    Raises:
        UsageError: the options do not suit the score or the wheel.
    """
    turn, tempo_findings = turn_of(score, wheel, options)
    arrangement, arrange_findings = arrange(score, wheel, options)
    grid, strikes, gaps = hole_grid(wheel), strikes_of(arrangement, turn), gaps_of(wheel, turn)
    usable, every = lay_out(grid, turn), lay_out(grid, turn, with_lost=True)
    limits = limits_of(wheel, turn)
    assignment = assign(strikes, usable, gaps, limits, turn, options.channel_rule)
    nearest_usable = nearest(pairs_in_reach(strikes, usable, turn))
    nearest_of_every = nearest(pairs_in_reach(strikes, every, turn))
    fitting = Fitting(
        score=score,
        wheel=wheel,
        options=options,
        grid=grid,
        turn=turn,
        arrangement=arrangement,
        strikes=strikes,
        gaps=gaps,
        limits=limits,
        usable=usable,
        every=every,
        assignment=assignment,
        nearest_usable=nearest_usable,
        nearest_of_every=nearest_of_every,
        channel=_channel(strikes, usable, every, (assignment.chosen, nearest_usable, nearest_of_every)),
        pins=pins_set(usable, assignment.chosen, turn.turn_ticks),
    )
    return TurnFit(fitting, _placement(fitting), (*tempo_findings, *arrange_findings))


def _channel(strikes: Strikes, usable: Holes, every: Holes, chosen_or_nearest: tuple[Ints, Ints, Ints]) -> Ints:
    """The channel of the hole that each strike was given, or else of the nearest, or else its first."""
    if not strikes.shared:
        return strikes.channel
    chosen, nearest_usable, nearest_of_every = chosen_or_nearest
    channel = strikes.channel.copy()
    for holes, hole in ((every, nearest_of_every), (usable, nearest_usable), (usable, chosen)):
        channel[hole >= 0] = holes.channel[hole[hole >= 0]]
    return frozen_ints(channel)


def _placement(fitting: Fitting) -> Placement:
    turn, options, strikes, assignment = fitting.turn, fitting.options, fitting.strikes, fitting.assignment
    placed = np.flatnonzero(fitting.chosen >= 0)
    note, hole = strikes.note[placed], fitting.chosen[placed]
    column = partial(_of_notes, fitting, note)
    plate, index = _plate_and_index(fitting, hole)
    deviation = column(fitting.usable.position[hole] - strikes.onset[placed], 0)
    beyond = np.maximum(np.abs(deviation) - turn.tolerance_ticks, 0)
    rest = np.zeros(fitting.score.note_count)
    rest[note] = turn.offset_rest_ticks[fitting.usable.pin[hole]]
    weight = int(strikes.weight[placed].sum())
    return Placement(
        outcome=outcomes(fitting),
        channel=_note_channels(fitting),
        plate=column(plate),
        row=column(fitting.usable.row[hole]),
        index=column(index),
        pin_type=column(turn.pin_types[fitting.usable.pin[hole]]),
        deviation_ticks=deviation,
        deviation_ms=frozen_floats(np.where(beyond > 0, (deviation + rest) * turn.ms(1), 0.0)),
        unison=strikes.unison,
        resolution=turn.resolution,
        start_ticks=turn.start_ticks,
        transpose_semitones=options.transpose_semitones,
        us_per_quarter=turn.us_per_quarter,
        reach_ticks=turn.reach_ticks,
        score_sha256=fitting.score.sha256,
        wheel_sha256=fitting.wheel.sha256,
        weight=weight,
        weight_bound=weight + int(assignment.short.sum()),
        cost_ticks=int(beyond.sum()),
        status=Status.OPTIMAL if np.all(assignment.proved) else Status.BOUNDED,
        fold_octaves=options.fold_octaves,
        part_priorities=options.part_priorities,
        drum_keys=options.drum_keys,
        part_channels=options.part_channels,
        channel_rule=str(options.channel_rule),
    )


def _of_notes(fitting: Fitting, note: Ints, values: Ints, otherwise: int = NOTHING) -> Ints:
    """A column of the score's notes: values for some of them, `otherwise` for the others."""
    whole = np.full(fitting.score.note_count, otherwise, dtype=np.int64)
    whole[note] = values
    return frozen_ints(whole)


def _plate_and_index(fitting: Fitting, hole: Ints) -> tuple[Ints, Ints]:
    """Plate, and number in its row and plate, of some usable holes."""
    plate, index = np.zeros(len(hole), dtype=np.int64), np.zeros(len(hole), dtype=np.int64)
    for number, line in enumerate(fitting.grid.lines):
        here = fitting.usable.channel[hole] == number
        place = fitting.usable.place[hole[here]]
        plate[here], index[here] = line.plate[place], line.index[place]
    return plate, index


def _note_channels(fitting: Fitting) -> Ints:
    """Shape (n,): the channel of each note, -1 where none sounds it."""
    channel, strikes = fitting.arrangement.channel.copy(), fitting.strikes
    channel[strikes.note] = fitting.channel
    shared = strikes.unison >= 0
    channel[shared] = channel[strikes.unison[shared]]
    return frozen_ints(channel)

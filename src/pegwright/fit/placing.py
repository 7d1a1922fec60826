"""Fit a score to a turn of a wheel: arrange, quantise, assign, give reasons."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pegwright.ask.options import FitOptions
from pegwright.columns import Ints, frozen_floats, frozen_ints
from pegwright.findings import Finding
from pegwright.fit.arrange import arrange, arrange_findings
from pegwright.fit.assign import assign_turns
from pegwright.fit.fitting import Fitting
from pegwright.fit.gaps import gaps_of
from pegwright.fit.limits import limits_of
from pegwright.fit.quantise import Holes, Strikes, lay_out, nearest, pairs_in_reach, strikes_of
from pegwright.fit.reasons import outcomes
from pegwright.fit.together import batches, joined_notes, joined_turn, of_each_turn
from pegwright.fit.turn import Turn, turn_of
from pegwright.frozen import frozen
from pegwright.grid import meant_grid
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
    return fit_turns((score,), wheel, options)[0]


def fit_turns(scores: Sequence[Score], wheel: Wheel, options: FitOptions) -> list[TurnFit]:
    """The fits of turns of one song, as by `fit_turn`; arguments are like its.

    The notes of many turns are placed in one pass: one pass for each turn took some 0.7 ms, however few its notes.
    """
    fits: list[TurnFit] = []
    for batch in batches(scores):
        fits += _fit_together(batch, wheel, options)
    return fits


def _fit_together(scores: Sequence[Score], wheel: Wheel, options: FitOptions) -> list[TurnFit]:
    """The fits of the turns of one pass."""
    silent, tempo_findings = zip(*(turn_of(score, wheel, options) for score in scores), strict=True)
    if len(scores) == 1:
        whole = _fitting(scores[0], wheel, options, silent[0])
        turns: Sequence[Fitting] = (whole,)
    else:
        of_note = np.repeat(np.arange(len(scores)), [score.note_count for score in scores])
        whole = _fitting(joined_notes(scores), wheel, options, joined_turn(silent), of_note)
        turns = of_each_turn(whole, scores, silent)
    findings = [
        (*tempo, *arrange_findings(each.score, options, each.arrangement))
        for tempo, each in zip(tempo_findings, turns, strict=True)
    ]
    return list(map(TurnFit, turns, _placements(whole, turns), findings))


def _fitting(score: Score, wheel: Wheel, options: FitOptions, turn: Turn, turn_of_note: Ints | None = None) -> Fitting:
    """Which hole each strike is given.

    Args:
        score: the notes.
        wheel: what they are to be pinned on.
        options: as chosen by the maker.
        turn: with their onsets.
        turn_of_note: see `strikes_of`.
    """
    arrangement = arrange(score, wheel, options)
    grid, strikes, gaps = meant_grid(wheel), strikes_of(arrangement, turn, turn_of_note), gaps_of(wheel, turn)
    usable, every = lay_out(grid, turn), lay_out(grid, turn, with_lost=True)
    limits = limits_of(wheel, turn)
    assignment = assign_turns(strikes, usable, gaps, limits, turn, options.channel_rule)
    nearest_usable = nearest(pairs_in_reach(strikes, usable, turn))
    nearest_of_every = nearest(pairs_in_reach(strikes, every, turn))
    return Fitting(
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
    )


def _channel(strikes: Strikes, usable: Holes, every: Holes, chosen_or_nearest: tuple[Ints, Ints, Ints]) -> Ints:
    """The channel of the hole that each strike was given, or else of the nearest, or else its first."""
    if not strikes.shared:
        return strikes.channel
    chosen, nearest_usable, nearest_of_every = chosen_or_nearest
    channel = strikes.channel.copy()
    for holes, hole in ((every, nearest_of_every), (usable, nearest_usable), (usable, chosen)):
        channel[hole >= 0] = holes.channel[hole[hole >= 0]]
    return frozen_ints(channel)


def _placements(whole: Fitting, turns: Sequence[Fitting]) -> list[Placement]:
    """The placement of each turn of a fitting."""
    turn, options, assignment = whole.turn, whole.options, whole.assignment
    columns = _columns(whole, turns)
    beyond = np.maximum(np.abs(columns["deviation_ticks"]) - turn.tolerance_ticks, 0)
    note_ends = np.cumsum([0, *(each.score.note_count for each in turns)])
    strike_ends = np.cumsum([0, *(len(each.chosen) for each in turns)])
    weights = _sums(np.where(whole.chosen >= 0, whole.strikes.weight, 0), strike_ends)
    shorts, proofs = _sums(assignment.short, strike_ends), _sums(assignment.proved, strike_ends)
    sums = zip(turns, pairwise(note_ends.tolist()), weights, shorts, proofs, _sums(beyond, note_ends), strict=True)
    return [
        Placement(
            **{name: values[slice(*span)] for name, values in columns.items()},
            unison=each.strikes.unison,
            resolution=turn.resolution,
            start_ticks=turn.start_ticks,
            transpose_semitones=options.transpose_semitones,
            us_per_quarter=turn.us_per_quarter,
            reach_ticks=turn.reach_ticks,
            score_sha256=whole.score.sha256,
            wheel_sha256=whole.wheel.sha256,
            weight=weight,
            weight_bound=weight + short,
            cost_ticks=cost,
            status=Status.OPTIMAL if proved == len(each.chosen) else Status.BOUNDED,
            fold_octaves=options.fold_octaves,
            part_priorities=options.part_priorities,
            drum_keys=options.drum_keys,
            part_channels=options.part_channels,
            channel_rule=str(options.channel_rule),
        )
        for each, span, weight, short, proved, cost in sums
    ]


def _columns(whole: Fitting, turns: Sequence[Fitting]) -> dict[str, Any]:
    """The columns of a placement, for the notes of all turns."""
    turn, strikes = whole.turn, whole.strikes
    placed = np.flatnonzero(whole.chosen >= 0)
    note, hole = strikes.note[placed], whole.chosen[placed]
    column = partial(_of_notes, whole, note)
    plate, index = _plate_and_index(whole, hole)
    deviation = column(whole.usable.position[hole] - strikes.onset[placed], 0)
    beyond = np.abs(deviation) > turn.tolerance_ticks
    rest = np.zeros(whole.score.note_count)
    rest[note] = turn.offset_rest_ticks[whole.usable.pin[hole]]
    return {
        "outcome": outcomes(whole, turns),
        "channel": _note_channels(whole),
        "plate": column(plate),
        "row": column(whole.usable.row[hole]),
        "index": column(index),
        "pin_type": column(turn.pin_types[whole.usable.pin[hole]]),
        "deviation_ticks": deviation,
        "deviation_ms": frozen_floats(np.where(beyond, (deviation + rest) * turn.ms(1), 0.0)),
    }


def _sums(values: Ints | NDArray[np.bool_], ends: Ints) -> list[int]:
    """The sums of values of each of some turns, whose values end at these places."""
    sums: list[int] = np.diff(np.append(0, np.cumsum(values))[ends]).tolist()
    return sums


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

"""Upper bounds for every transposition and start: the strikes that have a channel and a hole within reach.

Losses that do not interact (no channel, off the grid, lost at a seam) are known for every start at a time without
placing anything, as a start only turns the song against the holes. What a placement then loses to
re-strike, touching pins, used holes or strike limits comes on top, so these figures bound every placement.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pegwright.ask.options import DEFAULT_PRIORITY, FitOptions
from pegwright.columns import Ints, distinct, firsts
from pegwright.fit.arrange import PITCH_COUNT, PRIORITY_WEIGHT, Choices, percussion_table, pitched_table
from pegwright.fit.quantise import Rim, once_round
from pegwright.fit.turn import Turn, turn_of
from pegwright.frozen import frozen
from pegwright.grid import HoleGrid, meant_grid
from pegwright.score import Score
from pegwright.search.choices import Search, unsettled
from pegwright.search.period import distinct_starts, grid_period_steps
from pegwright.wheel import Wheel


def can_be_bounded(options: FitOptions) -> bool:
    """Whether `bounds_of` holds for the options: it covers neither folding, priorities nor channels of parts."""
    return not (options.fold_octaves or options.part_priorities or options.drum_keys or options.part_channels)


def bounds_of(
    turns: Sequence[Score], wheel: Wheel, options: FitOptions, transpositions: Sequence[int], starts: Sequence[int]
) -> Search:
    """Bound every transposition with every start of a song, all its turns together.

    Args:
        turns: of one song, at least one; all begin on the same step of the turn.
        wheel: the wheel.
        options: for which `can_be_bounded`.
        transpositions: semitones, without duplicates.
        starts: steps, without duplicates.

    Returns:
        What the total weight cannot exceed, and the minimum total deviation of a placement that reaches it.

    Raises:
        UsageError: the options do not suit score or wheel.
    """
    turn, _ = turn_of(turns[0], wheel, options)
    grid = meant_grid(wheel)
    period = grid_period_steps(grid, wheel)
    different = distinct_starts(starts, period)
    strikes = _strikes(turns, turn, period * (turn.turn_ticks // wheel.turn_steps))
    pitched, percussion = (
        [_kinds_of(choices, grid) for choices in table(wheel, options).choices]
        for table in (pitched_table, percussion_table)
    )
    worth = {
        kind: _worth(strikes, kind, grid, turn, different.steps, wheel.turn_steps)
        for kind in dict.fromkeys(filter(None, (*pitched, *percussion)))
    }
    weight = np.zeros((len(transpositions), len(different.steps)), dtype=np.int64)
    cost = np.zeros_like(weight)
    for key in distinct(strikes.key).tolist():
        drum = key >= PITCH_COUNT
        for row, semitones in enumerate([0] * len(transpositions) if drum else transpositions):
            place = key - PITCH_COUNT if drum else key + semitones
            kind = (percussion if drum else pitched)[place] if 0 <= place < PITCH_COUNT else ()
            if kind:
                weight[row] += worth[kind][0][key]
                cost[row] += worth[kind][1][key]
    place = different.of_each
    return unsettled(transpositions, starts, weight[:, place], cost[:, place])


@frozen(eq=False)
class _Strikes:
    """The strikes of all turns by pitch (percussion keys have `PITCH_COUNT` added) and place in the grid's period."""

    key: Ints
    place: Ints
    weight: Ints
    count: Ints


def _strikes(turns: Sequence[Score], turn: Turn, period_ticks: int) -> _Strikes:
    scale = turn.resolution // turns[0].resolution
    number = np.repeat(np.arange(len(turns)), [section.note_count for section in turns])
    onset = np.concatenate([section.onset_ticks for section in turns]) * scale
    key = np.concatenate([section.percussion_notes() * PITCH_COUNT + section.pitch_midi for section in turns])
    velocity = np.concatenate([section.velocity for section in turns])
    order = np.lexsort([-velocity, onset, number, key])
    order = order[onset[order] < turn.turn_ticks]
    order = order[firsts(key[order], number[order], onset[order])]
    at, strike, count = np.unique(
        key[order] * period_ticks + onset[order] % period_ticks, return_inverse=True, return_counts=True
    )
    weight = PRIORITY_WEIGHT * DEFAULT_PRIORITY * count + np.bincount(strike, velocity[order]).astype(np.int64)
    return _Strikes(*np.divmod(at, period_ticks), weight, count)


def _kinds_of(choices: Choices, grid: HoleGrid) -> tuple[int, ...]:
    """The kinds of holes of the channels that sound a pitch, each by the first channel of the wheel that has them."""
    return tuple(dict.fromkeys(grid.lines.index(grid.lines[channel]) for channel in choices))


def _worth(
    strikes: _Strikes, channels: tuple[int, ...], grid: HoleGrid, turn: Turn, steps: Ints, turn_steps: int
) -> tuple[Ints, Ints]:
    """Weight within reach and minimum cost of every pitch on some channels' holes, shape (2 x 128, starts)."""
    rim, scale = Rim.of(turn), turn.resolution // grid.resolution
    holes = distinct(np.concatenate([once_round(grid.lines[channel], rim, scale)[0] for channel in channels]))
    step_ticks = turn.turn_ticks // turn_steps
    weight = np.zeros((2 * PITCH_COUNT, len(steps)), dtype=np.int64)
    cost = np.zeros_like(weight)
    if not len(holes):
        return weight, cost
    round_the_turn = np.concatenate([holes[-1:] - turn.turn_ticks, holes, holes[:1] + turn.turn_ticks])
    place = (strikes.place[:, None] + step_ticks * steps) % turn.turn_ticks
    after = np.searchsorted(round_the_turn, place)
    distance = np.minimum(round_the_turn[after] - place, place - round_the_turn[after - 1])
    within = distance <= turn.reach_ticks
    beyond = np.maximum(distance - turn.tolerance_ticks, 0) * strikes.count[:, None]
    np.add.at(weight, strikes.key, np.where(within, strikes.weight[:, None], 0))
    np.add.at(cost, strikes.key, np.where(within, beyond, 0))
    return weight, cost

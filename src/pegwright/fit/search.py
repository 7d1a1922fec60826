"""The best transposition and start of a song: every one of them weighed exactly, so the winner is proved.

On a wheel without coupled limits the channels do not depend on one another, so a transposition and a start
together are worth the sum of what their channels are worth. What a channel is worth depends only on
which pitches of the song it sounds, on its kind (holes and gaps), and on the start; and a start matters only
up to the period of the hole grid, which is a plate where all plates are alike. So each such part is solved once,
exactly, for all starts at a time, and the sums are looked up for all transpositions and starts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TypeAlias

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.errors import UsageError
from pegwright.fit.arrange import PITCH_COUNT, PRIORITY_WEIGHT, part_priorities, percussion_table, pitched_table
from pegwright.fit.assign import assign_without_limits
from pegwright.fit.gaps import gaps_of
from pegwright.fit.options import FitOptions
from pegwright.fit.quantise import Holes, Strikes, lay_out_lines
from pegwright.fit.turn import Turn, turn_of
from pegwright.grid import HoleGrid, Line, hole_grid
from pegwright.score import Score
from pegwright.wheel import Wheel

Keys: TypeAlias = tuple[int, ...]  # pitches of the score; a percussion key has PITCH_COUNT added
MOST_SEMITONES = 127


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to put the song on the wheel, and what it is worth.

    Args:
        transpose_semitones: for every pitch that is not percussion.
        start_steps: where on the turn the song begins, in whole steps from 0.
        weight: total weight placed.
        cost_ticks: total deviation beyond what counts as exact.
    """

    transpose_semitones: int
    start_steps: int
    weight: int
    cost_ticks: int


@dataclass(frozen=True, slots=True, eq=False)
class Search:
    """What every transposition and start is worth.

    Args:
        transpositions: shape (t,), semitones.
        starts: shape (s,), steps.
        weight, cost_ticks: shape (t, s), as in `Placement`.
    """

    transpositions: Ints
    starts: Ints
    weight: Ints
    cost_ticks: Ints

    def best(self) -> Choice:
        """The greatest weight, then the least cost, the least transposition (up before down), the earliest start."""
        return self.ranked(1)[0]

    def ranked(self, count: int) -> tuple[Choice, ...]:
        """The best start of each of the best `count` transpositions, best first."""
        start = np.array([np.lexsort([self.starts, self.cost_ticks[t], -self.weight[t]])[0] for t in self._rows()])
        rows = self._rows()
        weight, cost = self.weight[rows, start], self.cost_ticks[rows, start]
        order = np.lexsort([-self.transpositions, np.abs(self.transpositions), cost, -weight])[:count]
        return tuple(
            Choice(int(self.transpositions[row]), int(self.starts[start[row]]), int(weight[row]), int(cost[row]))
            for row in order
        )

    def equals(self, choice: Choice) -> int:
        """How many starts of a choice's transposition are worth the same, itself included."""
        row = int(np.flatnonzero(self.transpositions == choice.transpose_semitones)[0])
        same = (self.weight[row] == choice.weight) & (self.cost_ticks[row] == choice.cost_ticks)
        return int(np.count_nonzero(same))

    def _rows(self) -> Ints:
        return np.arange(len(self.transpositions))


def search(
    score: Score, wheel: Wheel, options: FitOptions, transpositions: Sequence[int], starts: Sequence[int]
) -> Search:
    """Weigh every transposition with every start.

    Args:
        score: the song.
        wheel: the wheel; its strike limits are not counted here.
        options: all but transposition and start, which are searched.
        transpositions: semitones, each once.
        starts: steps of the turn from 0, each once.

    Raises:
        UsageError: a range is empty or out of its bounds, or the options do not suit score or wheel.
    """
    _check(wheel, transpositions, starts)
    turn, _ = turn_of(score, wheel, replace(options, start_steps=Fraction(0), transpose_semitones=0))
    parts = _Parts(score, wheel, options, turn, grid_period_steps(hole_grid(wheel), wheel))
    weight = np.zeros((len(transpositions), len(starts)), dtype=np.int64)
    cost = np.zeros_like(weight)
    residues = np.array(starts, dtype=np.int64) % parts.period_steps
    for row, semitones in enumerate(transpositions):
        for channel, keys in _heard(score, wheel, replace(options, transpose_semitones=semitones)).items():
            part_weight, part_cost = parts.worth(channel, keys)
            weight[row] += part_weight[residues]
            cost[row] += part_cost[residues]
    return Search(frozen_ints(transpositions), frozen_ints(starts), frozen_ints(weight), frozen_ints(cost))


def grid_period_steps(grid: HoleGrid, wheel: Wheel) -> int:
    """The least number of steps by which the whole hole grid can be turned and is the same grid."""
    step_units = grid.turn_units // wheel.turn_steps
    lines = {id(line): line for line in grid.lines}.values()
    there = [set(_kept(line)) for line in lines]
    for steps in range(1, wheel.turn_steps):
        if wheel.turn_steps % steps == 0 and all(
            {((position + steps * step_units) % grid.turn_units, row) for position, row in kept} == kept
            for kept in there
        ):
            return steps
    return wheel.turn_steps


def _kept(line: Line) -> list[tuple[int, int]]:
    kept = line.loss == 0
    return list(zip(line.position[kept].tolist(), line.row[kept].tolist(), strict=True))


def _check(wheel: Wheel, transpositions: Sequence[int], starts: Sequence[int]) -> None:
    if not transpositions or not starts:
        what = "transpositions" if not transpositions else "starts"
        raise UsageError(f"there are no {what} to search", where="search", hint="widen the range")
    farthest = max(map(abs, transpositions))
    if farthest > MOST_SEMITONES:
        raise UsageError(f"{farthest} semitones is beyond the {MOST_SEMITONES} of MIDI pitches", where="search")
    if not 0 <= min(starts) <= max(starts) < wheel.turn_steps:
        raise UsageError(f"starts must be on the turn, steps 1 to {wheel.turn_steps}", where="search")


def _heard(score: Score, wheel: Wheel, options: FitOptions) -> dict[int, Keys]:
    """From each channel to the pitches and percussion keys of the song that it sounds."""
    percussion = score.percussion_notes().astype(np.int64) * PITCH_COUNT
    choices = pitched_table(wheel, options).choices + percussion_table(wheel, options).choices
    heard: dict[int, list[int]] = {}
    for key in np.unique(percussion + score.pitch_midi).tolist():
        if choices[key]:
            heard.setdefault(choices[key][0], []).append(key)
    return {channel: tuple(keys) for channel, keys in heard.items()}


class _Parts:
    """What channels are worth with the pitches they sound, each kind of channel solved once for all starts."""

    def __init__(self, score: Score, wheel: Wheel, options: FitOptions, turn: Turn, period_steps: int) -> None:
        self.period_steps = period_steps
        self._turn = turn
        self._grid = hole_grid(wheel)
        self._lines = self._grid.lines
        self._gaps = gaps_of(wheel, turn)
        step_ticks = turn.turn_ticks // wheel.turn_steps
        self._start_ticks = [step * step_ticks for step in range(period_steps)]
        self._key = score.percussion_notes().astype(np.int64) * PITCH_COUNT + score.pitch_midi
        self._weight = PRIORITY_WEIGHT * part_priorities(score, options)[score.part] + score.velocity
        self._holes: dict[int, Holes] = {}
        self._done: dict[tuple[object, ...], tuple[Ints, Ints]] = {}

    def worth(self, channel: int, keys: Keys) -> tuple[Ints, Ints]:
        """Weight placed and cost at every start up to the period, each of shape (period,)."""
        kind = (id(self._lines[channel]), self._gaps.by_rows[channel].tobytes(), keys)
        if kind not in self._done:
            self._done[kind] = self._solve(channel, keys)
        return self._done[kind]

    def _solve(self, channel: int, keys: Keys) -> tuple[Ints, Ints]:
        """Fit the notes of `keys` at every start at once, each start being a channel of its own."""
        turn, count = self._turn, self.period_steps
        onset, weight = self._strikes(keys)
        holes = self._holes_of(channel)
        start = np.repeat(np.arange(count), len(onset))
        onset, weight = np.tile(onset, count), np.tile(weight, count)
        gaps = self._gaps.repeated(channel, count)
        chosen = assign_without_limits(Strikes(start, start, onset, weight, start), holes, gaps, turn)
        placed = chosen >= 0
        beyond = np.maximum(np.abs(holes.position[chosen[placed]] - onset[placed]) - turn.tolerance_ticks, 0)
        # Totals stay far below 2**53, where a float64 still counts every whole number.
        total_weight = np.bincount(start[placed], weights=weight[placed], minlength=count)
        total_cost = np.bincount(start[placed], weights=beyond, minlength=count)
        return frozen_ints(total_weight), frozen_ints(total_cost)

    def _holes_of(self, channel: int) -> Holes:
        """The holes of a channel at every start, laid out once for all channels with a line like its own."""
        line = self._lines[channel]
        if id(line) not in self._holes:
            lines = [line] * self.period_steps
            self._holes[id(line)] = lay_out_lines(lines, self._start_ticks, self._grid.resolution, self._turn)
        return self._holes[id(line)]

    def _strikes(self, keys: Keys) -> tuple[Ints, Ints]:
        """Onsets within the turn of the notes of `keys`, each once with its greatest weight."""
        turn = self._turn
        here = np.isin(self._key, keys) & (turn.onset_ticks < turn.turn_ticks)
        onset, weight = turn.onset_ticks[here], self._weight[here]
        order = np.lexsort([-weight, onset])
        onset, first = np.unique(onset[order], return_index=True)
        return onset, weight[order][first]

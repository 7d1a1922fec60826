"""The best transposition and start of a song, proved: every one of them is weighed exactly or bounded below the best.

Parts of a wheel (see `parts.py`) do not depend on one another, so a transposition and a start together are worth the
sum of what their parts are worth, and bounded by the sum of their bounds. The most hopeful by its bound is solved
exactly, again and again, until the most hopeful one is solved already: then no other can be better.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints, frozen_ints
from pegwright.errors import UsageError
from pegwright.fit.arrange import PITCH_COUNT, Choices, part_channels, percussion_table, pitched_table
from pegwright.fit.options import FitOptions
from pegwright.fit.parts import Keys, LaidOut, Part, Parts
from pegwright.fit.turn import turn_of
from pegwright.grid import HoleGrid, Line, hole_grid
from pegwright.score import Score
from pegwright.wheel import Wheel

MOST_SEMITONES = 127
MOST_STRIKES = 100_000  # solved in a search for the best few; a bound on time that is the same on every machine


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
        weight, cost_ticks: shape (t, s), what was found where settled, else what they cannot be better than.
        short: shape (t, s), how much more weight than was found there could be at most; 0 where not settled.
        settled: shape (t, s), whether a placement has that weight and cost.
        proved: shape (t, s), whether none has better ones; False where not settled.
    """

    transpositions: Ints
    starts: Ints
    weight: Ints
    cost_ticks: Ints
    short: Ints
    settled: NDArray[np.bool_]
    proved: NDArray[np.bool_]

    def best(self) -> Choice:
        """The greatest weight, then the least cost, the least transposition (up before down), the earliest start."""
        return self.ranked(1)[0]

    def gap(self) -> int | None:
        """How much more weight than `best` any choice could place at most; None where it is proved the best.

        0 means that there could be one with the same weight and less deviation.
        """
        best = self.best()
        cost = np.where(self.settled, np.where(self.proved, self.cost_ticks, -1), self.cost_ticks)
        most = self.weight + self.short
        better = (most > best.weight) | ((most == best.weight) & (cost < best.cost_ticks))
        return int(most[better].max()) - best.weight if np.any(better) else None

    def ranked(self, count: int) -> tuple[Choice, ...]:
        """The best start of each of the best `count` transpositions, best first; those that are not settled last."""
        return self._ranked(count, ~self.settled)

    def hopeful(self, count: int) -> tuple[Choice, ...]:
        """The same by what each could be worth, settled or not."""
        return self._ranked(count, np.zeros_like(self.settled))

    def _ranked(self, count: int, last: NDArray[np.bool_]) -> tuple[Choice, ...]:
        rows = np.arange(len(self.transpositions))
        best_first = np.lexsort([np.broadcast_to(self.starts, last.shape), self.cost_ticks, -self.weight, last], axis=1)
        start = best_first[:, 0]
        late, cost, weight = last[rows, start], self.cost_ticks[rows, start], self.weight[rows, start]
        order = np.lexsort([-self.transpositions, np.abs(self.transpositions), cost, -weight, late])[:count]
        return tuple(
            Choice(int(self.transpositions[row]), int(self.starts[start[row]]), int(weight[row]), int(cost[row]))
            for row in order
        )

    def equals(self, choice: Choice) -> int:
        """How many starts of a choice's transposition are worth the same, itself included."""
        row = int(np.flatnonzero(self.transpositions == choice.transpose_semitones)[0])
        same = (self.weight[row] == choice.weight) & (self.cost_ticks[row] == choice.cost_ticks)
        return int(np.count_nonzero(same & self.settled[row]))


def search(
    score: Score,
    wheel: Wheel,
    options: FitOptions,
    transpositions: Sequence[int],
    starts: Sequence[int],
    best_few: int | None = None,
) -> Search:
    """Weigh every transposition with every start; see `search_turns`."""
    return search_turns((score,), wheel, options, transpositions, starts, best_few)


def search_turns(
    turns: Sequence[Score],
    wheel: Wheel,
    options: FitOptions,
    transpositions: Sequence[int],
    starts: Sequence[int],
    best_few: int | None = None,
) -> Search:
    """Weigh every transposition with every start, which all turns of a song share, by what they are worth together.

    Args:
        turns: of one song, at least one, all at one resolution.
        wheel: the wheel.
        options: all but transposition and start, which are searched.
        transpositions: semitones, each once.
        starts: steps of the turn from 0, each once.
        best_few: how many of `Search.ranked` are to be right, with what equals them; the others may stay bounds, which
            takes less time where channels depend on one another. Such a search is stopped after `MOST_STRIKES`; what
            `Search.gap` tells is then the proof that is lacking. None weighs every one exactly.

    Raises:
        UsageError: a range is empty or out of its bounds, or the options do not suit score or wheel.
    """
    _check(wheel, transpositions, starts)
    period = grid_period_steps(hole_grid(wheel), wheel)
    asked: list[list[Part]] = [[] for _ in transpositions]
    laid_out: LaidOut = {}
    for score in turns:
        turn, _ = turn_of(score, wheel, replace(options, start_steps=Fraction(0), transpose_semitones=0))
        parts = Parts(score, wheel, options, turn, period, laid_out)
        for row, semitones in zip(asked, transpositions, strict=True):
            row.extend(parts.of(_heard(score, wheel, replace(options, transpose_semitones=semitones), parts.key)))
    table = _Table(transpositions, starts, asked, period)
    if best_few is None:
        table.settle_all()
    else:
        table.settle_best(best_few, MOST_STRIKES)
    return table.search()


@lru_cache(maxsize=8)
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


def _heard(score: Score, wheel: Wheel, options: FitOptions, key: Ints) -> dict[Choices, Keys]:
    """From each set of channels to the keys of the song (of `Parts`) that it sounds."""
    tables = [
        table(wheel, options, among).choices
        for among in part_channels(score, wheel, options)
        for table in (pitched_table, percussion_table)
    ]
    heard: dict[Choices, list[int]] = {}
    for number in np.unique(key).tolist():
        choices = tables[number // PITCH_COUNT][number % PITCH_COUNT]
        if choices:
            heard.setdefault(choices, []).append(number)
    return {choices: tuple(keys) for choices, keys in heard.items()}


class _Table:
    """What every transposition and start is worth as far as it is known."""

    def __init__(
        self, transpositions: Sequence[int], starts: Sequence[int], parts: list[list[Part]], period: int
    ) -> None:
        self._transpositions, self._starts = frozen_ints(transpositions), frozen_ints(starts)
        self._parts = parts
        self._residue = self._starts % period
        shape = (len(transpositions), len(starts))
        self._weight, self._cost, self._short = (np.zeros(shape, dtype=np.int64) for _ in range(3))
        self._settled, self._proved = np.ones(shape, dtype=bool), np.ones(shape, dtype=bool)
        self._rows: dict[int, list[int]] = {}
        for row, of_row in enumerate(parts):
            for part in of_row:
                self._rows.setdefault(id(part), []).append(row)
            self._add_up(row)

    def settle_all(self) -> None:
        """Solve every one exactly."""
        for row in range(len(self._parts)):
            for residue in np.unique(self._residue[~self._settled[row]]).tolist():
                self._settle(row, residue)

    def settle_best(self, count: int, most_strikes: int) -> None:
        """Solve the most hopeful exactly until the best starts of the best `count` transpositions are known.

        At least one is solved for each of the `count`; then no more than so many strikes.
        """
        solved = 0
        while True:
            open_ones = []
            for choice in self.search().hopeful(count):
                row = int(np.flatnonzero(self._transpositions == choice.transpose_semitones)[0])
                level = (self._weight[row] == choice.weight) & (self._cost[row] == choice.cost_ticks)
                open_ones += [(row, column) for column in np.flatnonzero(level & ~self._settled[row]).tolist()[:1]]
            if not open_ones or solved > most_strikes:
                return
            for row, column in open_ones:
                solved += self._settle(row, int(self._residue[column]))

    def search(self) -> Search:
        """The table as it stands."""
        weight, cost, short = map(frozen_ints, (self._weight, self._cost, self._short))
        settled, proved = self._settled.copy(), self._proved.copy()
        return Search(self._transpositions, self._starts, weight, cost, short, settled, proved)

    def _settle(self, row: int, residue: int) -> int:
        """Solve one start of a transposition; how many strikes that took."""
        changed, solved = set(), 0
        for part in self._parts[row]:
            if not part.worth.settled[residue]:
                solved += part.settle(residue)
                changed.update(self._rows[id(part)])
        for other in changed:
            self._add_up(other)
        return solved

    def _add_up(self, row: int) -> None:
        worths = [part.worth for part in self._parts[row]]
        if worths:
            for told, columns in (
                (self._weight, [worth.weight for worth in worths]),
                (self._cost, [worth.cost_ticks for worth in worths]),
                (self._short, [worth.short for worth in worths]),
            ):
                told[row] = np.sum(columns, axis=0)[self._residue]
            self._settled[row] = np.all([worth.settled for worth in worths], axis=0)[self._residue]
            self._proved[row] = np.all([worth.proved for worth in worths], axis=0)[self._residue]

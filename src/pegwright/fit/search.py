"""The best transposition and start of a song, proved: every one of them is weighed exactly or bounded below the best.

Parts of a wheel (see `parts.py`) do not depend on one another, so a transposition and a start together are worth the
sum of what their parts are worth, and bounded by the sum of their bounds. The most hopeful by its bound is solved
exactly, again and again, until the most hopeful one is solved already: then no other can be better.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints, frozen_ints
from pegwright.errors import UsageError
from pegwright.fit.arrange import PITCH_COUNT, Choices, part_channels, percussion_table, pitched_table
from pegwright.fit.options import FitOptions
from pegwright.fit.parts import Keys, Part, Parts
from pegwright.fit.turn import turn_of
from pegwright.grid import HoleGrid, Line, hole_grid
from pegwright.score import Score
from pegwright.wheel import Wheel

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
        weight, cost_ticks: shape (t, s), as in `Placement` where proved; else what they cannot be better than or, if
            the search for it was stopped before the proof, what was found.
        proved: shape (t, s), or (1, 1) for all alike.
    """

    transpositions: Ints
    starts: Ints
    weight: Ints
    cost_ticks: Ints
    proved: NDArray[np.bool_] = field(default_factory=lambda: np.ones((1, 1), dtype=bool))

    def is_proved(self, choice: Choice) -> bool:
        """Whether what a choice is worth is proved."""
        row = self.transpositions == choice.transpose_semitones
        proved = np.broadcast_to(self.proved, self.weight.shape)[row][:, self.starts == choice.start_steps]
        return bool(np.all(proved))

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
    score: Score,
    wheel: Wheel,
    options: FitOptions,
    transpositions: Sequence[int],
    starts: Sequence[int],
    best_few: int | None = None,
) -> Search:
    """Weigh every transposition with every start.

    Args:
        score: the song.
        wheel: the wheel.
        options: all but transposition and start, which are searched.
        transpositions: semitones, each once.
        starts: steps of the turn from 0, each once.
        best_few: how many of `Search.ranked` are to be right, with what equals them; the others may stay bounds, which
            takes less time where channels depend on one another. None weighs every one exactly.

    Raises:
        UsageError: a range is empty or out of its bounds, or the options do not suit score or wheel.
    """
    _check(wheel, transpositions, starts)
    turn, _ = turn_of(score, wheel, replace(options, start_steps=Fraction(0), transpose_semitones=0))
    parts = Parts(score, wheel, options, turn, grid_period_steps(hole_grid(wheel), wheel))
    asked = [
        parts.of(_heard(score, wheel, replace(options, transpose_semitones=semitones), parts.key))
        for semitones in transpositions
    ]
    table = _Table(transpositions, starts, asked, parts.period_steps)
    if best_few is None:
        table.settle_all()
    else:
        table.settle_best(best_few)
    return table.search()


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
        self._weight, self._cost = np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=np.int64)
        self._settled, self._proved = np.ones(shape, dtype=bool), np.ones(shape, dtype=bool)
        self._rows: dict[int, list[int]] = {}
        for row, of_row in enumerate(parts):
            for part in of_row:
                self._rows.setdefault(id(part), []).append(row)
            self._add_up(row, np.arange(len(starts)))

    def settle_all(self) -> None:
        """Solve every one exactly."""
        for row in range(len(self._parts)):
            for column in np.flatnonzero(~self._settled[row]).tolist():
                self._settle(row, column)

    def settle_best(self, count: int) -> None:
        """Solve the most hopeful exactly until the best starts of the best `count` transpositions are known."""
        while True:
            open_ones = []
            for choice in self.search().ranked(count):
                row = int(np.flatnonzero(self._transpositions == choice.transpose_semitones)[0])
                level = (self._weight[row] == choice.weight) & (self._cost[row] == choice.cost_ticks)
                open_ones += [(row, column) for column in np.flatnonzero(level & ~self._settled[row]).tolist()]
            if not open_ones:
                return
            for row, column in open_ones:
                self._settle(row, column)

    def search(self) -> Search:
        """The table as it stands."""
        return Search(
            self._transpositions, self._starts, frozen_ints(self._weight), frozen_ints(self._cost), self._proved.copy()
        )

    def _settle(self, row: int, column: int) -> None:
        residue = int(self._residue[column])
        changed = set()
        for part in self._parts[row]:
            if not part.worth.settled[residue]:
                part.settle(residue)
                changed.update(self._rows[id(part)])
        for other in changed:
            self._add_up(other, np.arange(len(self._starts)))

    def _add_up(self, row: int, columns: Ints) -> None:
        residue = self._residue[columns]
        worths = [part.worth for part in self._parts[row]]
        self._weight[row, columns] = sum((worth.weight[residue] for worth in worths), np.zeros(len(columns), np.int64))
        self._cost[row, columns] = sum(
            (worth.cost_ticks[residue] for worth in worths), np.zeros(len(columns), np.int64)
        )
        self._settled[row, columns] = np.all(
            [np.ones(len(columns), bool), *(worth.settled[residue] for worth in worths)], axis=0
        )
        self._proved[row, columns] = np.all(
            [np.ones(len(columns), bool), *(worth.proved[residue] for worth in worths)], axis=0
        )

"""What transpositions and starts of a song are worth, and which is the best of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints


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

    @property
    def rank(self) -> tuple[int, int, int, int, int]:
        """For sorting, best first: weight, cost, size of the transposition (up before down), start."""
        semitones = self.transpose_semitones
        return -self.weight, self.cost_ticks, abs(semitones), -semitones, self.start_steps


@dataclass(frozen=True, slots=True, eq=False)
class Search:
    """What every transposition and start is worth.

    Args:
        transpositions: shape (t,), semitones.
        starts: shape (s,), steps.
        weight, cost_ticks: shape (t, s), of a placement where settled, else bounds.
        short: shape (t, s), how much more weight there could be at highest; 0 where not settled.
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
        """The maximum weight, then the minimum cost, smallest transposition (up before down), earliest start."""
        return self.ranked(1)[0]

    def gap(self) -> int | None:
        """How much more weight than `best` any choice could place at highest; None where it is proved the best.

        0 means that there could be one with the same weight and less deviation.
        """
        best = self.best()
        cost = np.where(self.settled, np.where(self.proved, self.cost_ticks, -1), self.cost_ticks)
        highest = self.weight + self.short
        better = (highest > best.weight) | ((highest == best.weight) & (cost < best.cost_ticks))
        return int(highest[better].max()) - best.weight if np.any(better) else None

    def ranked(self, count: int) -> tuple[Choice, ...]:
        """The best start of each of the best `count` transpositions, best first; those that are not settled last."""
        return self._ranked(count, ~self.settled)

    def ranked_by_bound(self, count: int) -> tuple[Choice, ...]:
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

    def equals(self, choice: Choice) -> tuple[int, ...]:
        """The starts of a choice's transposition that are worth the same, its own included."""
        row = int(np.flatnonzero(self.transpositions == choice.transpose_semitones)[0])
        same = (self.weight[row] == choice.weight) & (self.cost_ticks[row] == choice.cost_ticks)
        return tuple(self.starts[same & self.settled[row]].tolist())

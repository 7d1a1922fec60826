"""What strikes, groups of them, and transpositions and starts of a song are worth, and which choice is the best."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints, frozen_ints
from pegwright.frozen import frozen

Truths: TypeAlias = NDArray[np.bool_]


@frozen(eq=False)
class Worth:
    """What strikes, groups of them, or choices are worth; columns of one shape.

    Args:
        weight: placed, or what cannot be exceeded where it is not settled.
        cost_ticks: of that, beyond what counts as exact; or what it cannot be less than.
        short: how much more weight there could be at most where it is settled but not proved, else 0.
        settled: whether a placement has that weight and cost.
        proved: whether no placement is better; False too where it is not settled.
    """

    weight: Ints
    cost_ticks: Ints
    short: Ints
    settled: Truths
    proved: Truths

    @property
    def columns(self) -> tuple[NDArray[Any], ...]:
        """All of them, in that order."""
        return self.weight, self.cost_ticks, self.short, self.settled, self.proved

    def at(self, place: Ints | slice) -> Worth:
        """The worth at some places of the last axis."""
        return Worth(*(column[..., place] for column in self.columns))

    def sums(self, place: Ints, count: int) -> Worth:
        """Shape (count,): what all that is at each place is worth; far below 2**53, so a float64 counts it exactly."""
        weight, cost, short, open_ones, unproved = (
            np.bincount(place.ravel(), weights=column.ravel(), minlength=count).astype(np.int64)
            for column in (self.weight, self.cost_ticks, self.short, ~self.settled, ~self.proved)
        )
        return Worth(weight, cost, short, open_ones == 0, unproved == 0)

    def total(self) -> Worth:
        """What all along the first axis is worth together."""
        return Worth(
            *(column.sum(axis=0) for column in (self.weight, self.cost_ticks, self.short)),
            *(column.all(axis=0) for column in (self.settled, self.proved)),
        )


def stacked(worths: Iterable[Worth]) -> Worth:
    """Some of equal shape, at least one, along a new first axis."""
    return Worth(*map(np.stack, zip(*(worth.columns for worth in worths), strict=True)))


@frozen()
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


@frozen(eq=False)
class Search(Worth):
    """What every transposition and start is worth: columns of `Worth` of shape (t, s).

    Args:
        transpositions: shape (t,), semitones.
        starts: shape (s,), steps.
    """

    transpositions: Ints
    starts: Ints

    def best(self) -> Choice:
        """The maximum weight, then the minimum cost, smallest transposition (up before down), earliest start."""
        return self.ranked(1)[0]

    def gap(self) -> int | None:
        """How much more weight than `best` any choice could place at highest; None where it is proved the best.

        0 means that there could be one with the same weight and less deviation.
        """
        best = self.best()
        cost = np.where(self.settled & ~self.proved, -1, self.cost_ticks)
        highest = self.weight + self.short
        better = (highest > best.weight) | ((highest == best.weight) & (cost < best.cost_ticks))
        return int(highest[better].max()) - best.weight if np.any(better) else None

    def ranked(self, count: int) -> tuple[Choice, ...]:
        """The best start of each of the best `count` transpositions, best first; those that are not settled last."""
        return self._ranked(count, ~self.settled)

    def ranked_by_bound(self, count: int) -> tuple[Choice, ...]:
        """The same by what each could be worth, settled or not."""
        return self._ranked(count, np.zeros_like(self.settled))

    def _ranked(self, count: int, last: Truths) -> tuple[Choice, ...]:
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


def unsettled(transpositions: Sequence[int], starts: Sequence[int], weight: Ints, cost_ticks: Ints) -> Search:
    """A search of which only bounds are known.

    Args:
        transpositions: semitones.
        starts: steps.
        weight: shape (t, s).
        cost_ticks: shape (t, s).
    """
    no = np.zeros(weight.shape, dtype=bool)
    short, labels = np.zeros_like(weight), (frozen_ints(transpositions), frozen_ints(starts))
    return Search(weight, cost_ticks, short, no, no.copy(), *labels)

"""A sequence of visits with open places, filled with free songs at minimum cost: a dynamic program over sets of songs.

See `exact`, which makes playing orders of such sequences.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.frozen import frozen
from pegwright.show.problem import Problem
from pegwright.show.starts import BARRED

FREE = -1  # a place of the sequence that is to be filled

Template: TypeAlias = list[tuple[int, int]]  # strand, and visit or FREE
Domains: TypeAlias = tuple[tuple[int, tuple[int, ...]], ...]  # song, and the starts it may have


@dataclass(frozen=True, slots=True, order=True)
class Filled:
    """A sequence without open places.

    Args:
        cost: work during the show times `Problem.weight`, plus work before it.
        visits: in sequence.
        starts: for each visit the start of its song.
    """

    cost: int
    visits: tuple[int, ...]
    starts: tuple[int, ...]


@frozen(eq=False)
class _Layer:
    """The visits that may stand in one place of the sequence, with their costs.

    Args:
        visits: the candidates.
        costs: the minimum cost up to here, shape (sets of free songs, candidates, starts).
    """

    visits: Sequence[int]
    costs: Ints


class Sequencer:
    """Fills the open places of sequences with the visits of free songs, each of one visit.

    Args:
        problem: the show.
        free: the songs for the open places.
        coarse: give every link its own best starts; the cost is then a lower bound, and faster to compute.
    """

    def __init__(self, problem: Problem, free: Sequence[int], coarse: bool) -> None:
        self.free = [problem.first_visits[song] for song in free]
        self._problem = problem
        self._coarse = coarse
        self._starts = 1 if coarse else max(problem.starts(song) for song in range(len(problem.songs)))
        self._links: dict[tuple[int, int], Ints] = {}
        self._begins: dict[tuple[int, int], Ints] = {}
        count = np.array([chosen.bit_count() for chosen in range(1 << len(free))])
        self._layers = [np.flatnonzero(count == size) for size in range(len(free) + 1)]

    def fill(self, template: Template, domains: Mapping[int, tuple[int, ...]]) -> Filled:
        """Fill a sequence at minimum cost; `domains` gives the starts that some songs in given places may have."""
        layers = self._forward(template, domains)
        chosen = len(layers[0].costs) - 1
        flat = int(layers[-1].costs[chosen].argmin())
        cost = int(layers[-1].costs[chosen].flat[flat])
        return Filled(cost, *self._backward(template, layers, chosen, flat))

    def _forward(self, template: Template, domains: Mapping[int, tuple[int, ...]]) -> list[_Layer]:
        subsets = 1 << len(self.free)
        shared = np.full((subsets, len(self.free), self._starts), BARRED, dtype=np.int64)
        begun = np.full((subsets, 1, self._starts), BARRED, dtype=np.int64)
        begun[0] = 0
        layer = _Layer([FREE], begun)
        layers = []
        size = 0
        for number, (strand, visit) in enumerate(template):
            opened = strand if number == 0 or template[number - 1][0] != strand else None
            members = self._layers[size]
            if visit != FREE:
                costs = np.full((subsets, 1, self._starts), BARRED, dtype=np.int64)
                costs[members, 0] = self._arrive(opened, layer, members, visit) + self._barred(visit, domains)
                layer = _Layer([visit], costs)
            else:
                for index, new in enumerate(self.free):
                    without = members[members >> index & 1 == 0]
                    shared[without | 1 << index, index] = self._arrive(opened, layer, without, new)
                layer = _Layer(self.free, shared)
                size += 1
            layers.append(layer)
        return layers

    def _arrive(self, opened: int | None, layer: _Layer, members: Ints, new: int) -> Ints:
        """The minimum cost to end with `new`, shape (members, starts); `opened` is the strand that begins with it."""
        if opened is not None:
            ended: Ints = layer.costs[members].min(axis=(1, 2))
            return frozen_ints(np.minimum(ended[:, None] + self._begin(opened, new)[None, :], BARRED))
        best = np.full((len(members), self._starts), BARRED, dtype=np.int64)
        for index, old in enumerate(layer.visits):
            there = members >> index & 1 == 1 if layer.visits is self.free else np.ones(len(members), dtype=np.bool_)
            if there.any():
                costs = layer.costs[members[there], index]
                reached = (costs[:, :, None] + self._link(old, new)[None]).min(axis=1)
                best[there] = np.minimum(best[there], reached)
        return best

    def _backward(
        self, template: Template, layers: Sequence[_Layer], chosen: int, flat: int
    ) -> tuple[tuple[int, ...], tuple[int, ...]]:
        visits: list[int] = []
        starts: list[int] = []
        for number in range(len(template) - 1, -1, -1):
            index, start = divmod(flat, self._starts)
            visits.insert(0, layers[number].visits[index])
            starts.insert(0, start)
            if template[number][1] == FREE:
                chosen &= ~(1 << index)
            if number:
                earlier = layers[number - 1]
                costs = earlier.costs[chosen]
                if template[number - 1][0] == template[number][0]:
                    costs = costs + np.stack([self._link(old, visits[0])[:, start] for old in earlier.visits])
                flat = int(costs.argmin())
        return tuple(visits), tuple(starts)

    def _barred(self, visit: int, domains: Mapping[int, tuple[int, ...]]) -> Ints:
        """A cost for each start of a visit: 0 if its song may have it, else `BARRED`."""
        allowed = domains.get(self._problem.visits[visit].song)
        if allowed is None:
            return np.zeros(self._starts, dtype=np.int64)
        barred = np.full(self._starts, BARRED, dtype=np.int64)
        barred[list(allowed)] = 0
        return barred

    def _begin(self, strand: int, visit: int) -> Ints:
        if (strand, visit) not in self._begins:
            cost = self._problem.begin(strand, visit) + self._within(visit)
            self._begins[strand, visit] = self._padded(cost[None])[0]
        return self._begins[strand, visit]

    def _link(self, old: int, new: int) -> Ints:
        if (old, new) not in self._links:
            cost = self._problem.link(old, new) * self._problem.weight + self._within(new)
            self._links[old, new] = self._padded(cost)
        return self._links[old, new]

    def _within(self, visit: int) -> Ints:
        return self._problem.within(visit) * self._problem.weight

    def _padded(self, cost: Ints) -> Ints:
        """Costs padded to equal shapes, or their minimum if starts are not distinguished."""
        if self._coarse:
            return frozen_ints([[cost.min()]])
        padded = np.full((self._starts, self._starts), BARRED, dtype=np.int64)
        padded[: cost.shape[0], : cost.shape[1]] = cost
        return padded

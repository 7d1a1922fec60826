"""The playing order and all starts of a show with the least work, proved: a dynamic programme over sets of songs.

The sets of plates split the playing order into as many chains, and work arises along a chain only. Put end
to end, the chains are one sequence in which the links between two chains cost nothing, so the best order is a shortest
path through all songs (Held and Karp). Its state holds which songs are placed, the last of them, and its start.
Songs whose place is known stand in that sequence from the beginning: those that open or close the show, and songs
that take several sets of plates, for which every place is tried.

Source: M. Held, R. M. Karp, A dynamic programming approach to sequencing problems, J. SIAM 10 (1962)
    196-210 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise, permutations
from typing import TypeAlias

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.show.chain import BARRED
from pegwright.show.problem import Problem
from pegwright.show.turns import sets_taken

Unit: TypeAlias = tuple[int, ...]  # the pinnings that one set carries for one song, one after another
FREE: Unit = ()  # a place of the sequence that is to be filled

MOST_SONGS = 12
MOST_STEPS = 4_000_000_000  # of the innermost loop: some 10 seconds


def exact_steps(problem: Problem) -> int:
    """How many steps `exact_order` takes, at least as far as more than `MOST_STEPS` is told from less."""
    bound, free = _bound_and_free(problem)
    places = math.perm(len(problem.songs) - len(problem.fixed_places()), len(bound))
    starts = max(problem.works.starts(pinning) for song in problem.songs for pinning in song.pinnings)
    return places * (1 << min(len(free), 60)) * len(free) ** 2 * starts**2 // 4


def exact_order(problem: Problem) -> tuple[int, ...]:
    """The playing order with the least work during the show, then the least before it.

    Its starts are those of `chain.least_steps`. On a tie the song that comes first in the song set is put
    last in its chain.
    """
    bound, free = _bound_and_free(problem)
    sequence = _Sequence(problem, [problem.songs[song].units[0] for song in free])
    best, order = BARRED, tuple(range(len(problem.songs)))
    for fixed in _fixings(problem, bound):
        cost, filled = sequence.fill(_template(problem, fixed))
        if cost < best:
            best = cost
            order = _order(problem, fixed, [free[unit] for unit in filled])
    return order


def _bound_and_free(problem: Problem) -> tuple[list[int], list[int]]:
    """Songs of which every place is tried one by one, and songs that the programme places."""
    ends = problem.fixed_places().values()
    others = [song for song in range(len(problem.songs)) if song not in ends]
    bound = [song for song in others if problem.songs[song].turns.slot_count > 1]
    return bound, [song for song in others if song not in bound]


def _fixings(problem: Problem, bound: Sequence[int]) -> Iterator[dict[int, int]]:
    """Every way to give places to the songs that the programme does not place."""
    ends = problem.fixed_places()
    open_places = [place for place in range(len(problem.songs)) if place not in ends]
    for places in permutations(open_places, len(bound)):
        yield ends | dict(zip(places, bound, strict=True))


def _template(problem: Problem, fixed: dict[int, int]) -> list[tuple[int, Unit]]:
    """The chains end to end: for each link the set of plates, and the unit it carries or `FREE`."""
    chains: list[list[tuple[int, Unit]]] = [[] for _ in problem.carried]
    for place, taken in enumerate(_taken(problem, fixed)):
        for slot, plate_set in enumerate(taken):
            unit = problem.songs[fixed[place]].units[slot] if place in fixed else FREE
            chains[plate_set].append((plate_set, unit))
    return [link for chain in chains for link in chain]


def _order(problem: Problem, fixed: dict[int, int], filled: Sequence[int]) -> tuple[int, ...]:
    """The playing order whose free places are filled in the order of the template."""
    places = [
        place
        for plate_set in range(problem.plate_sets)
        for place, taken in enumerate(_taken(problem, fixed))
        if plate_set in taken and place not in fixed
    ]
    at = fixed | dict(zip(places, filled, strict=True))
    return tuple(at[place] for place in range(len(problem.songs)))


def _taken(problem: Problem, fixed: dict[int, int]) -> tuple[tuple[int, ...], ...]:
    """The sets that each place takes; a free one takes one set, whichever song stands there."""
    songs = problem.songs
    one_set = next((song.turns for song in songs if song.turns.slot_count == 1), songs[0].turns)
    turns = [songs[fixed[place]].turns if place in fixed else one_set for place in range(len(songs))]
    return sets_taken(turns, problem.plate_sets)


class _Sequence:
    """Fills the free places of a sequence of units with the free units, at least cost.

    Costs are work during the show times a weight, plus work before it.
    """

    def __init__(self, problem: Problem, free: list[Unit]) -> None:
        self.free = free
        self._works = problem.works
        self._carried = problem.carried
        pinnings = [pinning for song in problem.songs for pinning in song.pinnings]
        self._starts = max(self._works.starts(pinning) for pinning in pinnings)
        most = max(int(self._works.between(one, it).max()) for one in problem.carried for it in pinnings)
        self._weight = 1 + most * problem.plate_sets
        self._links: dict[tuple[Unit, Unit], Ints] = {}
        count = np.array([chosen.bit_count() for chosen in range(1 << len(free))])
        self._layers = [np.flatnonzero(count == size) for size in range(len(free) + 1)]

    def fill(self, template: Sequence[tuple[int, Unit]]) -> tuple[int, list[int]]:
        """The least cost, and the free units in the order of the free places."""
        tables = self._forward(template)
        chosen = len(tables[0][1]) - 1
        flat = int(tables[-1][1][chosen].argmin())
        cost = int(tables[-1][1][chosen].flat[flat])
        return cost, self._backward(template, tables, chosen, flat)

    def _forward(self, template: Sequence[tuple[int, Unit]]) -> list[tuple[list[Unit], Ints]]:
        """For each link its candidate units and the least cost, shape (sets of free units, candidates, starts)."""
        subsets = 1 << len(self.free)
        shared = np.full((subsets, len(self.free), self._starts), BARRED, dtype=np.int64)
        begun = np.full((subsets, 1, self._starts), BARRED, dtype=np.int64)
        begun[0] = 0
        tables: list[tuple[list[Unit], Ints]] = []
        units, table = [FREE], begun
        size = 0
        for number, (plate_set, unit) in enumerate(template):
            at_start = number == 0 or template[number - 1][0] != plate_set
            members = self._layers[size]
            if unit != FREE:
                made = np.full((subsets, 1, self._starts), BARRED, dtype=np.int64)
                made[members, 0] = self._arrive(plate_set if at_start else None, units, table[members], unit)
                units, table = [unit], made
            else:
                for index, new in enumerate(self.free):
                    without = members[members >> index & 1 == 0]
                    shared[without | 1 << index, index] = self._arrive(
                        plate_set if at_start else None, units, table[without], new
                    )
                units, table = self.free, shared
                size += 1
            tables.append((units, table))
        return tables

    def _arrive(self, opened: int | None, units: list[Unit], table: Ints, new: Unit) -> Ints:
        """The least cost to end with `new`, shape (sets, starts); `opened` is the set of plates whose chain begins."""
        if opened is not None:
            ended: Ints = table.min(axis=(1, 2))
            return frozen_ints(np.minimum(ended[:, None] + self._begin(opened, new)[None, :], BARRED))
        best = np.full((len(table), self._starts), BARRED, dtype=np.int64)
        for index, old in enumerate(units):
            there = table[:, index, 0] < BARRED
            if there.any():
                reached = (table[there, index, :, None] + self._link(old, new)[None]).min(axis=1)
                best[there] = np.minimum(best[there], reached)
        return best

    def _backward(
        self, template: Sequence[tuple[int, Unit]], tables: list[tuple[list[Unit], Ints]], chosen: int, flat: int
    ) -> list[int]:
        filled: list[int] = []
        for number in range(len(template) - 1, -1, -1):
            units, _ = tables[number]
            index, start = divmod(flat, self._starts)
            if template[number][1] == FREE:
                filled.insert(0, index)
                chosen &= ~(1 << index)
            if number:
                earlier, table = tables[number - 1]
                costs = table[chosen]
                if template[number - 1][0] == template[number][0]:
                    costs = costs + np.stack([self._link(old, units[index])[:, start] for old in earlier])
                flat = int(costs.argmin())
        return filled

    def _begin(self, plate_set: int, unit: Unit) -> Ints:
        return frozen_ints(self._through(self._works.between(self._carried[plate_set], unit[0])[:1], unit)[0])

    def _link(self, old: Unit, new: Unit) -> Ints:
        if (old, new) not in self._links:
            work = self._works.between(old[-1], new[0]) * self._weight
            self._links[old, new] = self._through(work, new)
        return self._links[old, new]

    def _through(self, cost: Ints, unit: Unit) -> Ints:
        """Cost to the start of the first pinning of a unit, carried on to its last and filled up to equal shapes."""
        for one, other in pairwise(unit):
            cost = (cost[:, :, None] + self._works.between(one, other)[None] * self._weight).min(axis=1)
        padded = np.full((self._starts, self._starts), BARRED, dtype=np.int64)
        padded[: cost.shape[0], : cost.shape[1]] = cost
        return padded

"""The best starts of the songs in a playing order: one for each song, over all sets of plates that it takes.

Each song in its place is a variable, its starts are the values; every swap is a table over the two songs, or over
the one song, that it lies between. The choice is exact (see `eliminate`), unless songs of several sets couple more
songs than tables of the permitted size can hold.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.errors import InternalError
from pegwright.frozen import frozen
from pegwright.show.eliminate import MAX_CELLS, Scope, StartSolution, Table, least
from pegwright.show.problem import Problem
from pegwright.show.time import Carried, Timetable

BARRED = 1 << 46  # more than any work; a hundred thousand times this is still within an int64


@frozen()
class Starts:
    """The starts of the songs in a playing order.

    Args:
        by_place: the start of the song at each place.
        during, before: work during the show and before it.
        floor: a lower bound on the work during the show; equal to `during` unless the choice is not exact.
    """

    by_place: tuple[int, ...]
    during: int
    before: int
    floor: int


def least_work(
    problem: Problem,
    order: Sequence[int],
    hurries: dict[Scope, Table] | None = None,
    max_hurry: float = np.inf,
    known: tuple[int, ...] | None = None,
    max_cells: int = MAX_CELLS,
) -> Starts:
    """The starts with the minimum work during the show, then the minimum before it.

    Args:
        problem: the show.
        order: the playing order.
        hurries: as `hurry_tables` gives them, if no swap may be more hurried than `max_hurry`.
        max_hurry: the maximum hurry allowed.
        known: starts within `max_hurry`.
        max_cells: of one table.
    """
    tables = work_tables(problem, order)
    for scope, table in (hurries or {}).items():
        tables[scope] = np.where(table > max_hurry, BARRED, tables[scope])
    solution = least(_sizes(problem, order), tables, np.add, max_cells, known)
    if solution.cost >= BARRED:
        raise InternalError(f"no starts are within the hurry {max_hurry:g} that was computed", where="plan")
    during, before = divmod(int(solution.cost), problem.weight)
    return Starts(solution.values, during, before, int(solution.floor) // problem.weight)


def least_hurry(problem: Problem, order: Sequence[int], hurries: dict[Scope, Table]) -> StartSolution:
    """The starts that minimise the hurry of the most hurried swap.

    Args:
        problem: the show.
        order: the playing order.
        hurries: as `hurry_tables` gives them.
    """
    return least(_sizes(problem, order), hurries, np.maximum)


def work_tables(problem: Problem, order: Sequence[int]) -> dict[Scope, Table]:
    """Work by places: that during the show counts `Problem.weight` times, that before it once."""
    place = {song: number for number, song in enumerate(order)}
    tables: dict[Scope, Table] = {}
    for number, song in enumerate(order):
        tables[(number,)] = problem.within_songs[song] * problem.weight
    for strand, visits in enumerate(problem.strands(order)):
        places = [place[problem.visits[visit].song] for visit in visits]
        if visits:
            tables[(places[0],)] = tables[(places[0],)] + problem.begin(strand, visits[0])
        for (old, new), scope in zip(pairwise(visits), pairwise(places), strict=True):
            work = problem.link(old, new) * problem.weight
            tables[scope] = tables[scope] + work if scope in tables else work
    return tables


def hurry_tables(problem: Problem, order: Sequence[int], table: Timetable) -> dict[Scope, Table]:
    """Hurry of the most hurried swap by places; empty where nothing is swapped during the show.

    Args:
        problem: the show.
        order: the playing order.
        table: its clock.
    """
    tables: dict[Scope, Table] = {}
    for old, new, stint in _swaps(problem, order, table):
        before = table.carried[old]
        needed_s = problem.needed_s(pinning_of(problem, order, before), new)
        hurry = hurries(needed_s, stint.available_s)
        scope: Scope = (before.place, stint.place)
        if before.place == stint.place:
            scope, hurry = (stint.place,), np.diagonal(hurry)
        tables[scope] = np.maximum(tables[scope], hurry) if scope in tables else hurry
    return tables


def hurries(needed_s: Floats, available_s: float) -> Floats:
    """What share of the available time each of some works needs, as `time.hurry`."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(needed_s == 0, 0.0, needed_s / available_s)


def pinning_of(problem: Problem, order: Sequence[int], stint: Carried) -> int:
    """The pinning that a set carries, numbered as in `Problem.works`.

    Args:
        problem: the show.
        order: the playing order.
        stint: what the set carries.
    """
    return problem.songs[order[stint.place]].of_use(stint.use)


class StrandWork:
    """The minimum work on each strand by itself, with any start of a song on each: a lower bound for all strands.

    Where strands are independent it is what the starts of `least_work` cost.
    """

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._known: dict[tuple[int, tuple[int, ...]], int] = {}

    def of(self, order: Sequence[int]) -> tuple[int, int]:
        """Work during the show, and before it."""
        strands = enumerate(self._problem.strands(order))
        during, before = divmod(sum(self._strand(*strand) for strand in strands), self._problem.weight)
        return during, before

    def _strand(self, strand: int, visits: tuple[int, ...]) -> int:
        if not visits:
            return 0
        if (strand, visits) not in self._known:
            self._known[strand, visits] = self._shortest(strand, visits)
        return self._known[strand, visits]

    def _shortest(self, strand: int, visits: tuple[int, ...]) -> int:
        problem = self._problem
        total: Ints = problem.begin(strand, visits[0]) + problem.within(visits[0]) * problem.weight
        for old, new in pairwise(visits):
            total = (total[:, None] + problem.link(old, new) * problem.weight).min(axis=0)
            total = total + problem.within(new) * problem.weight
        return int(total.min())


def _swaps(problem: Problem, order: Sequence[int], table: Timetable) -> Iterator[tuple[int, int, Carried]]:
    for stint in table.carried:
        if stint.before is not None:
            yield stint.before, pinning_of(problem, order, stint), stint


def _sizes(problem: Problem, order: Sequence[int]) -> list[int]:
    return [problem.starts(song) for song in order]

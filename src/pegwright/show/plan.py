"""The plan of a show: playing order and starts of minimum work or minimum hurry, with the bound that proves it.

The work during the show counts; what is pinned before it comes second.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum
from itertools import pairwise

from pegwright.frozen import frozen
from pegwright.show.anneal import Links, annealed
from pegwright.show.bound import work_floor
from pegwright.show.exact import MAX_STEPS, exact_order, exact_steps
from pegwright.show.hurry import MAX_STATES, Hurries, hurry_floor, least_worst_order, states
from pegwright.show.local import Order as PlayingOrder
from pegwright.show.local import improved, improved_often
from pegwright.show.problem import Problem
from pegwright.show.queue import queue_floor
from pegwright.show.starts import StrandWork, hurry_tables, least_hurry, least_work, pinning_of
from pegwright.show.time import Timetable, hurry, late_s

_SLACK = 1e-9  # hurries closer than this are equal
_SEARCH_CELLS = 1 << 18  # of one table, for each of the many orders of a search
_SEARCHES = 2  # each from another seed, with the starts of every song and with none
_LAST_SHARE = 0.02  # of a mean swap: the first threshold of the last search
_TRIALS = 1_200_000  # over the number of songs: how many orders one search takes the best starts of
_TRIALS_COUPLED = 60_000  # the same where songs couple the strands
_COARSE = 10  # times that number of orders are tried with the best starts of each link


class Aim(StrEnum):
    """What the playing order is chosen for."""

    GIVEN = "given"  # as the song set has it
    LEAST_WORK = "least-work"
    LEAST_WORST = "least-worst"  # the minimum hurry of the most hurried swap


@frozen(eq=False)
class Plan:
    """A show in a playing order, with the start of every song.

    Args:
        aim: what it was chosen for.
        order: songs by their number in the song set, in playing order.
        table: the clock; its `carried` is what is pinned, and the columns below go with that.
        starts: which of its starts each pinning has: the same one for all pinnings of a song.
        works: pins pulled plus pins set for each.
        needed_s, late_s: seconds of work, and how long the show waits for it.
        floor: a lower bound on the aim with the starts that were tried: work during the show, or hurry.
        starts_tried, starts_equal: of all songs together, those that were tried and those that are as good.
    """

    aim: Aim
    order: tuple[int, ...]
    table: Timetable
    starts: tuple[int, ...]
    works: tuple[int, ...]
    needed_s: tuple[float, ...]
    late_s: tuple[float, ...]
    floor: float
    starts_tried: int
    starts_equal: int

    @property
    def during(self) -> int:
        """Work during the show."""
        return sum(work for work, stint in zip(self.works, self.table.carried, strict=True) if stint.before is not None)

    @property
    def before(self) -> int:
        """Work before the show."""
        return sum(self.works) - self.during

    @property
    def hurries(self) -> tuple[float, ...]:
        """What share of its time each swap needs; 0 for what is pinned before the show."""
        pairs = zip(self.needed_s, self.table.carried, strict=True)
        return tuple(0.0 if stint.before is None else hurry(needed, stint.available_s) for needed, stint in pairs)

    @property
    def worst_hurry(self) -> float:
        """That of the most hurried swap."""
        return max(self.hurries, default=0.0)

    @property
    def reached(self) -> float:
        """The value of the aim in this plan."""
        return self.worst_hurry if self.aim == Aim.LEAST_WORST else float(self.during)

    @property
    def proved(self) -> bool:
        """Whether no plan can do better in its aim."""
        if self.starts_tried < self.starts_equal:
            return False
        return self.reached <= self.floor * (1 + _SLACK) + _SLACK


def plan_show(problem: Problem, aim: Aim) -> Plan:
    """Plan a show.

    Args:
        problem: the show; it has at least one song.
        aim: what to choose the playing order for. Starts are chosen for minimum work in any case; under
            `LEAST_WORST` among those that have the minimum worst hurry.
    """
    if aim == Aim.LEAST_WORK:
        return _least_work(problem)
    if aim == Aim.LEAST_WORST:
        return _least_worst(problem)
    return _plan(problem, Aim.GIVEN, tuple(range(len(problem.songs))))


def same_order_least_worst(problem: Problem, order: PlayingOrder) -> Plan:
    """The plan of a playing order with the starts that minimise the hurry of its most hurried swap."""
    calmest = _Calmest(problem, order)
    return replace(_plan(problem, Aim.LEAST_WORST, order, calmest), floor=calmest.solution.floor)


def _least_work(problem: Problem) -> Plan:
    begin, floor = problem.first_order(), 0
    if exact_steps(problem) <= MAX_STEPS:
        best = exact_order(problem, MAX_STEPS)
        begin, floor = best.order, best.floor
        if best.proved:
            return replace(_plan(problem, Aim.LEAST_WORK, best.order), floor=floor)
    plan = _plan(problem, Aim.LEAST_WORK, _searched(problem, begin))
    return replace(plan, floor=max(floor, _floor(problem, plan.during)))


def _floor(problem: Problem, reached: int) -> int:
    """A lower bound on the work during the show, for a show that is too long to be planned exactly."""
    floor = 0 if problem.independent else queue_floor(problem, reached)
    return floor or work_floor(problem, reached)


def _searched(problem: Problem, begin: PlayingOrder) -> PlayingOrder:
    """The best order of several searches, searched from once more in smaller steps."""
    work, strands, fixed = _Work(problem), problem.strand_count, list(problem.fixed_places())
    trials = _trials(problem)
    orders = [improved_often(begin, _OrderFloors(problem).work, strands, fixed, _COARSE * trials)]
    fine = Links(problem)
    for links in (Links(problem, coarse=True), fine):
        orders += [annealed(links, begin, fixed, seed) for seed in range(_SEARCHES)]
    best = min(orders, key=work.true)
    if not problem.independent:
        by_place = dict(zip(best, least_work(problem, best, max_cells=_SEARCH_CELLS).by_place, strict=True))
        starts = [by_place[song] for song in range(len(best))]
        best = min(best, annealed(fine, best, fixed, _SEARCHES, _LAST_SHARE, starts), key=work.true)
    floor = None if problem.independent else work.floor
    ends = [improved(order, work.true, strands, fixed, floor, trials) for order in dict.fromkeys((orders[0], best))]
    return min(ends, key=work.true)


def _trials(problem: Problem) -> int:
    """How many orders one search may take the best starts of."""
    return (_TRIALS if problem.independent else _TRIALS_COUPLED) // len(problem.songs)


def _least_worst(problem: Problem) -> Plan:
    floors = _OrderFloors(problem)
    fixed = list(problem.fixed_places())
    trials = _trials(problem)
    if states(problem) <= MAX_STATES:
        order, floor = least_worst_order(problem, floors.hurries)
    else:
        floor = hurry_floor(problem, floors.hurries)
        order = improved_often(problem.first_order(), floors.hurry, problem.plate_sets, fixed, 2 * trials)
    worst = _Calmest(problem, order).worst
    if worst > floors.hurry(order)[0] * (1 + _SLACK):  # no starts serve all its swaps as well as each can be served

        def true(trial: PlayingOrder) -> tuple[float, ...]:
            return (round(_Calmest(problem, trial).worst, 9),)

        def at_least(trial: PlayingOrder) -> tuple[float, ...]:
            return (round(floors.hurry(trial)[0], 9),)

        order = improved(order, true, problem.plate_sets, fixed, at_least, trials)
        worst = _Calmest(problem, order).worst

    def work(trial: PlayingOrder) -> tuple[float, ...]:
        return max(worst, floors.hurry(trial)[0]), *floors.work(trial)

    easier = improved(order, work, problem.plate_sets, fixed, max_trials=trials)
    if _Calmest(problem, easier).worst <= worst * (1 + _SLACK):
        order = easier
    return replace(_plan(problem, Aim.LEAST_WORST, order, _Calmest(problem, order, worst)), floor=floor)


class _OrderFloors:
    """What a playing order costs if every swap had its own best starts: lower bounds that are fast to compute."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._links: dict[tuple[int, int], int] = {}
        self.hurries = Hurries(problem)

    def work(self, order: PlayingOrder) -> tuple[float, ...]:
        return (sum(self._strand(visits) for visits in self._problem.strands(order)),)

    def hurry(self, order: PlayingOrder) -> tuple[float, ...]:
        each = [self.hurries.at(order, place) for place in range(len(order))]
        return max(each), sum(each)

    def _strand(self, visits: Sequence[int]) -> int:
        total = 0
        for link in pairwise(visits):
            if link not in self._links:
                self._links[link] = int(self._problem.link(*link).min())
            total += self._links[link]
        return total


class _Work:
    """What a playing order costs at the starts that are best for all its swaps together."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._strands = StrandWork(problem)

    def true(self, order: PlayingOrder) -> tuple[float, ...]:
        if self._problem.independent:
            return self._strands.of(order)
        starts = least_work(self._problem, order, max_cells=_SEARCH_CELLS)
        return starts.during, starts.before

    def floor(self, order: PlayingOrder) -> tuple[float, ...]:
        return self._strands.of(order)


class _Calmest:
    """The starts of a playing order with the minimum worst hurry, or with a worst hurry within what is allowed."""

    def __init__(self, problem: Problem, order: PlayingOrder, allowed: float = 0.0) -> None:
        self.tables = hurry_tables(problem, order, problem.timetable(order))
        self.solution = least_hurry(problem, order, self.tables)
        self.worst = self.solution.cost
        self.max_hurry = max(self.worst, allowed) * (1 + _SLACK)


def _plan(problem: Problem, aim: Aim, order: PlayingOrder, calmest: _Calmest | None = None) -> Plan:
    """The plan of a playing order with the starts of minimum work, none more hurried than `calmest` allows."""
    if calmest is None:
        starts = least_work(problem, order)
    else:
        starts = least_work(problem, order, calmest.tables, calmest.max_hurry, calmest.solution.values)
    table = problem.timetable(order)
    works, needed_s = [], []
    for stint in table.carried:
        old, new = problem.carried[stint.plate_set], pinning_of(problem, order, stint)
        one, other = 0, starts.by_place[stint.place]
        if stint.before is not None:
            before = table.carried[stint.before]
            old, one = pinning_of(problem, order, before), starts.by_place[before.place]
        works.append(int(problem.works.between(old, new)[one, other]))
        needed_s.append(float(problem.needed_s(old, new)[one, other]))
    return Plan(
        aim,
        tuple(order),
        table,
        tuple(starts.by_place[stint.place] for stint in table.carried),
        tuple(works),
        tuple(needed_s),
        late_s(table.carried, needed_s),
        starts.floor,
        problem.starts_tried,
        sum(problem.equal_starts) or problem.starts_tried,
    )

"""The plan of a show: playing order and starts, chosen for least work or least hurry, with the floor that proves it.

The work during the show counts; what is pinned before it comes second.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats
from pegwright.errors import InternalError
from pegwright.show.bound import work_floor
from pegwright.show.chain import Chain, least_steps, least_worst
from pegwright.show.exact import MOST_STEPS, exact_order, exact_steps
from pegwright.show.hurry import MOST_STATES, Hurries, hurry_floor, least_worst_order, states
from pegwright.show.local import Order as PlayingOrder
from pegwright.show.local import improved, improved_often
from pegwright.show.problem import Problem
from pegwright.show.time import Timetable, hurry, late_s

_SLACK = 1e-9  # hurries closer than this are equal


class Aim(StrEnum):
    """What the playing order is chosen for."""

    GIVEN = "given"  # as the song set has it
    LEAST_WORK = "least-work"
    LEAST_WORST = "least-worst"  # the most hurried swap as little hurried as can be


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """A show in a playing order, with the start of everything that is pinned.

    Args:
        aim: what it was chosen for.
        order: songs by their number in the song set, in playing order.
        table: the clock; its `carried` is what is pinned, and the columns below go with that.
        starts: which of its starts each pinning has.
        works: pins pulled plus pins set for each.
        needed_s, late_s: seconds of work, and how long the show waits for it.
        floor: what the aim cannot go below: work during the show, or hurry; None if no floor is known.
    """

    aim: Aim
    order: tuple[int, ...]
    table: Timetable
    starts: tuple[int, ...]
    works: tuple[int, ...]
    needed_s: tuple[float, ...]
    late_s: tuple[float, ...]
    floor: float | None

    @property
    def during(self) -> int:
        """Work during the show."""
        return sum(work for work, it in zip(self.works, self.table.carried, strict=True) if it.before is not None)

    @property
    def before(self) -> int:
        """Work before the show."""
        return sum(self.works) - self.during

    @property
    def hurries(self) -> tuple[float, ...]:
        """What share of its time each swap needs; 0 for what is pinned before the show."""
        pairs = zip(self.needed_s, self.table.carried, strict=True)
        return tuple(0.0 if it.before is None else hurry(needed, it.available_s) for needed, it in pairs)

    @property
    def worst_hurry(self) -> float:
        """That of the most hurried swap."""
        return max(self.hurries, default=0.0)

    @property
    def reached(self) -> float:
        """What the plan makes of its aim."""
        return self.worst_hurry if self.aim == Aim.LEAST_WORST else float(self.during)

    @property
    def proved(self) -> bool:
        """Whether no plan can do better in its aim."""
        return self.floor is not None and self.reached <= self.floor * (1 + _SLACK) + _SLACK


def plan_show(problem: Problem, aim: Aim) -> Plan:
    """Plan a show.

    Args:
        problem: the show; it has at least one song.
        aim: what to choose the playing order for. Starts are chosen for least work in any case; under
            `LEAST_WORST` for the least work among those that keep the worst hurry least.
    """
    if aim == Aim.LEAST_WORK:
        return _least_work(problem)
    if aim == Aim.LEAST_WORST:
        return _least_worst(problem)
    order = tuple(range(len(problem.songs)))
    during = sum(sum(steps) for steps in _during(problem, order))
    return _plan(problem, Aim.GIVEN, order, floor=during)


def same_order_least_worst(problem: Problem, order: PlayingOrder) -> Plan:
    """The plan of a playing order whose starts keep its most hurried swap as little hurried as can be."""
    worst = _least_hurry(problem, order)
    return _plan(problem, Aim.LEAST_WORST, order, floor=worst, most=worst)


def _least_work(problem: Problem) -> Plan:
    if exact_steps(problem) <= MOST_STEPS:
        order = exact_order(problem)
        return _plan(problem, Aim.LEAST_WORK, order, floor=sum(sum(steps) for steps in _during(problem, order)))
    fixed = list(problem.fixed_places())
    quick = improved_often(problem.first_order(), _Quick(problem).work, problem.plate_sets, fixed)
    order = improved(quick, _True(problem).work, problem.plate_sets, fixed)
    made = _plan(problem, Aim.LEAST_WORK, order)
    return replace(made, floor=work_floor(problem, made.during))


def _least_worst(problem: Problem) -> Plan:
    quick = _Quick(problem)
    fixed = list(problem.fixed_places())
    floor: float | None
    if states(problem) <= MOST_STATES:
        order, floor = least_worst_order(problem, quick.hurries)
    else:
        floor = hurry_floor(problem)
        order = improved_often(problem.first_order(), quick.hurry, problem.plate_sets, fixed)
    worst = _least_hurry(problem, order)
    if worst > quick.hurry(order)[0] * (1 + _SLACK):  # no starts serve all its swaps as well as each can be served

        def true(trial: PlayingOrder) -> tuple[float, ...]:
            return (round(_least_hurry(problem, trial), 9),)

        order = improved(order, true, problem.plate_sets, fixed)
        worst = _least_hurry(problem, order)

    def work(trial: PlayingOrder) -> tuple[float, ...]:
        return max(worst, quick.hurry(trial)[0]), *quick.work(trial)

    easier = improved(order, work, problem.plate_sets, fixed)
    if _least_hurry(problem, easier) <= worst * (1 + _SLACK):
        order = easier
    return _plan(problem, Aim.LEAST_WORST, order, floor=floor, most=worst)


class _Quick:
    """What a playing order costs if every swap could be had at its own best starts: a floor, and quick to tell."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._links: dict[tuple[int, int], int] = {}
        self.hurries = Hurries(problem)

    def work(self, order: PlayingOrder) -> tuple[float, ...]:
        return (sum(self._chain(chain.pinnings) for chain in self._problem.chains(order)),)

    def hurry(self, order: PlayingOrder) -> tuple[float, ...]:
        each = [self.hurries.at(order, place) for place in range(len(order))]
        return max(each), sum(each)

    def _chain(self, pinnings: Sequence[int]) -> int:
        total = 0
        for link in pairwise(pinnings):
            if link not in self._links:
                self._links[link] = int(self._problem.works.between(*link).min())
            total += self._links[link]
        return total


class _True:
    """What a playing order costs at the starts that are best for all its swaps together."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._chains: dict[Chain, tuple[int, int]] = {}

    def work(self, order: PlayingOrder) -> tuple[float, ...]:
        works = [self._chain(chain) for chain in self._problem.chains(order)]
        return sum(during for during, _ in works), sum(before for _, before in works)

    def _chain(self, chain: Chain) -> tuple[int, int]:
        if chain not in self._chains:
            steps = least_steps(chain, self._problem.works)
            assert steps is not None  # noqa: S101  # nothing is barred
            self._chains[chain] = (sum(steps.during), steps.before)
        return self._chains[chain]


def _least_hurry(problem: Problem, order: PlayingOrder) -> float:
    table = problem.timetable(order)
    return max(least_worst(_chain_hurries(problem, order, table, chain)) for chain in table.chains(problem.plate_sets))


def _chain_hurries(problem: Problem, order: PlayingOrder, table: Timetable, chain: Sequence[int]) -> list[Floats]:
    """Hurry of each swap along a chain, from each start to each start."""
    found = []
    for old, new in pairwise(chain):
        needed_s = problem.needed_s(_pinning(problem, order, table, old), _pinning(problem, order, table, new))
        available_s = table.carried[new].available_s
        with np.errstate(divide="ignore", invalid="ignore"):
            found.append(np.where(needed_s == 0, 0.0, needed_s / available_s))
    return found


def _pinning(problem: Problem, order: PlayingOrder, table: Timetable, number: int) -> int:
    it = table.carried[number]
    return problem.songs[order[it.place]].of_use(it.use)


def _during(problem: Problem, order: PlayingOrder) -> list[tuple[int, ...]]:
    found = [least_steps(chain, problem.works) for chain in problem.chains(order)]
    return [steps.during for steps in found if steps is not None]


def _plan(
    problem: Problem, aim: Aim, order: PlayingOrder, floor: float | None = None, most: float | None = None
) -> Plan:
    """The plan of a playing order with the starts of least work; `most` is the hurry that no swap may exceed."""
    table = problem.timetable(order)
    starts, works, needed_s = ([0] * len(table.carried) for _ in range(3))
    for chain, carries in zip(table.chains(problem.plate_sets), problem.chains(order), strict=True):
        barred: list[NDArray[np.bool_]] = []
        if most is not None:
            barred = [each > most * (1 + _SLACK) for each in _chain_hurries(problem, order, table, chain)]
        steps = least_steps(carries, problem.works, barred)
        if steps is None:
            raise InternalError("no starts keep to the hurry that was found", where="plan")
        pinnings = [carries.carried, *carries.pinnings]
        for place, number in enumerate(chain):
            starts[number] = steps.starts[place]
            works[number] = steps.during[place - 1] if place else steps.before
            old = steps.starts[place - 1] if place else 0
            needed_s[number] = problem.needed_s(pinnings[place], pinnings[place + 1])[old, starts[number]]
    return Plan(
        aim,
        tuple(order),
        table,
        tuple(starts),
        tuple(works),
        tuple(float(seconds) for seconds in needed_s),
        late_s(table.carried, needed_s),
        floor,
    )

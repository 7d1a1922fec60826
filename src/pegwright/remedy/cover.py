"""The smallest set of additions with one of every list: a set cover, exact."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain
from math import inf

import numpy as np

from pegwright.remedy.additions import Addition, AdditionKind

MAX_NODES = 3_000  # of the search; beyond it, which wheels and songs seldom come to, a general solver is faster


def smallest_cover(choices: Sequence[tuple[Addition, ...]], max_nodes: int = MAX_NODES) -> tuple[Addition, ...]:
    """The fewest additions with one of every list, no channel retuned twice; retuned and earlier ones on ties.

    Args:
        choices: lists of additions; each has one that retunes no channel.
        max_nodes: of the search, before it is left to a general solver.
    """
    known = dict.fromkeys(chain.from_iterable(choices))
    additions = sorted(known, key=lambda addition: addition.kind != AdditionKind.RETUNED)
    number = {addition: index for index, addition in enumerate(additions)}
    lists = [_bits(number[addition] for addition in choice) for choice in choices]
    retuned: dict[str, list[int]] = {}
    for index, addition in enumerate(additions):
        if addition.kind is AdditionKind.RETUNED:
            retuned.setdefault(addition.channel, []).append(index)
    once = [_bits(numbers) for numbers in retuned.values()]
    search = _Search(once, max_nodes)
    search.extend(lists, _bits(number.values()), ())
    taken = search.best if search.nodes <= max_nodes else _solved(lists, once, len(additions))
    return tuple(additions[index] for index in sorted(taken))


class _Search:
    """A search through covers by branch and bound.

    Args:
        once: sets of additions of which only one may be taken.
        max_nodes: after which it ends without a proof.
    """

    def __init__(self, once: Sequence[int], max_nodes: int) -> None:
        self.nodes = 0
        self.best: tuple[int, ...] = ()
        self._cost: tuple[float, float] = (inf, inf)
        self._once, self._max_nodes = once, max_nodes

    def extend(self, lists: Sequence[int], able: int, taken: tuple[int, ...]) -> None:
        """Try all that could be taken with some additions.

        Args:
            lists: those of which none is taken, as bits.
            able: additions that may still be taken, as bits.
            taken: so far.
        """
        self.nodes += 1
        if self.nodes > self._max_nodes:
            return
        left = sorted({choice & able for choice in lists}, key=lambda choice: (choice.bit_count(), choice))
        if not left:
            if (cost := (len(taken), sum(taken))) < self._cost:
                self.best, self._cost = taken, cost
            return
        if not left[0] or self._at_least(left, taken) >= self._cost:
            return
        for index in _numbers(left[0]):
            bit = 1 << index
            others = next((group for group in self._once if group & bit), 0)
            self.extend([choice for choice in left if not choice & bit], able & ~(others | bit), (*taken, index))
            able &= ~bit  # every cover with it has been tried

    def _at_least(self, left: Iterable[int], taken: tuple[int, ...]) -> tuple[int, int]:
        """What a cover costs at least: lists without a common addition take one each, their first at best."""
        count, total, met = len(taken), sum(taken), 0
        for choice in left:
            if not choice & met:
                met |= choice
                count, total = count + 1, total + next(_numbers(choice))
        return count, total


def _solved(lists: Sequence[int], once: Sequence[int], size: int) -> list[int]:
    """The same by integer programming.

    Args:
        lists: of each of which one is taken, as bits.
        once: sets of which only one may be taken.
        size: how many additions there are.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415  # slow to import, and seldom needed

    limits = [LinearConstraint(np.array([_row(choice, size) for choice in lists]), lb=1)]
    if once:
        limits.append(LinearConstraint(np.array([_row(group, size) for group in once]), ub=1))
    cost = 1 + np.arange(size) / size**2  # the second part stays below one addition in total
    solved = milp(cost, constraints=limits, integrality=np.ones(size, dtype=np.int64), bounds=Bounds(0, 1))
    assert solved.x is not None, solved.message  # noqa: S101  # taking everything but retuned channels is possible
    return [int(index) for index in np.flatnonzero(solved.x > 0.5)]


def _row(bits: int, size: int) -> list[float]:
    return [float(bits >> index & 1) for index in range(size)]


def _bits(numbers: Iterable[int]) -> int:
    return sum({1 << number for number in numbers})


def _numbers(bits: int) -> Iterator[int]:
    """The numbers of the bits, rising."""
    while bits:
        lowest = bits & -bits
        yield lowest.bit_length() - 1
        bits ^= lowest

"""Strikes that contend for holes, the rules between them, and what every solver of them has in common.

A way is a strike with a hole it could take. Strikes with all the rules between them come in one of two forms: `Spacing`
(see `cyclic.py`), where channels are independent and each needs one gap between pins, or else a `Cluster` with caps.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple, Protocol

import numpy as np

from pegwright.columns import Ints
from pegwright.fit.quantise import Pairs
from pegwright.frozen import frozen

LEFT_OUT = -1
LARGEST_INT = 2**62


@frozen(eq=False)
class Ways:
    """Every way to set some strikes, by strike, then in the order in which a strike prefers them; shape (w,).

    Args:
        first: shape (s + 1,), where the ways of each strike begin, and the count at the end; each strike has one.
        strike: from 0, in order of onset, then set of channels.
        hole: which hole of the list of holes it takes.
        aims: what taking it adds to each aim, the highest aim first; each is to be made as great as possible.
    """

    first: Ints
    strike: Ints
    hole: Ints
    aims: tuple[Ints, ...]


def ways_of(pairs: Pairs, weight: Ints) -> tuple[Ways, Ints]:
    """The ways of strikes, given the weight of each, and which of the strikes have one."""
    count = np.diff(pairs.first)
    some = np.flatnonzero(count)
    strike = np.repeat(np.arange(len(some)), count[some])
    aims = (weight[pairs.strike], -pairs.cost, -pairs.odd, -pairs.distance)
    return Ways(np.append(pairs.first[some], pairs.first[-1]), strike, pairs.hole, aims), some


class Cap(NamedTuple):
    """Of the ways into the holes `members` at most `most` may be taken."""

    members: tuple[int, ...]
    most: int


@frozen(eq=False)
class Cluster:
    """Strikes that bear on one another.

    Args:
        strikes: rising.
        spans: the ways of each strike, in order.
        caps: all that concern them.
    """

    strikes: Sequence[int]
    spans: Sequence[range]
    caps: Sequence[Cap]


class Solution(Protocol):
    """The best ways of a cluster, settled strike by strike.

    Attributes:
        short: how much more of the first aim there could be at most; 0 where its greatest is proved.
        proved: whether it is proved the best in every aim.
    """

    short: int
    proved: bool

    @property
    def total(self) -> int:
        """What the ways add to all aims together, see `Merit`."""

    def take(self, order: Sequence[int]) -> int:
        """Settle the next strike.

        Args:
            order: its ways, preferred ones first.

        Returns:
            The first way that an optimum allows, or `LEFT_OUT` where none does.
        """

    def take_all(self) -> list[int]:
        """Settle all strikes, each of which prefers its ways in their own order."""


@frozen()
class Merit:
    """What each way adds to all aims together: one whole number, in which a lower aim never outweighs a higher one.

    Args:
        of_way: above 0.
        factors: of the second aim and those below.
    """

    of_way: list[int]
    factors: tuple[int, ...]

    def split(self, total: int) -> tuple[int, ...]:
        """What a total of merits comes to in each aim."""
        sums: list[int] = []
        for factor in reversed(self.factors):
            sums.append(-(-total % factor))
            total = (total - sums[-1]) // factor
        return total, *reversed(sums)


def merit_of(aims: Sequence[Ints], most_strikes: int) -> Merit:
    """Pack aims into one.

    Args:
        aims: as in `Ways`; the first above 0, the others 0 or below.
        most_strikes: how many strikes a cluster has at most.
    """
    greatest = [int(np.abs(aim).max(initial=0)) for aim in aims]
    factors = tuple(1 + most_strikes * value for value in greatest[1:])
    fits = (greatest[0] + 1) * math.prod(factors) < LARGEST_INT
    merit = aims[0].astype(np.int64 if fits else object)
    for aim, factor in zip(aims[1:], factors, strict=True):
        if factor > 1:
            merit = merit * factor + aim
    return Merit(merit.tolist(), factors)

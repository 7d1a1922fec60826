"""Search of a cluster by a general solver for whole-number programmes (HiGHS, by way of scipy).

A variable for each way, 1 where it is taken; a row for each strike and for each cap; one aim after another, each
settled before the next. The solver reckons with floats, so numbers are kept far below what floats count exactly, and
what it returns is taken to the nearest whole numbers and reckoned again in those.

A settled aim is kept by a row of its own, which makes the next one hard: it joins all strikes. But where parts of ways
would do no better than whole ones, as is usual, the prices of that relaxed programme tell what every best solution has
in common (complementary slackness): ways that cost more than they bring are not taken, rows that have a price are
full. That holds the aim just as well, and leaves the programme as simple as it was.

Source: Q. Huangfu, J. A. J. Hall, "Parallelizing the dual revised simplex method", Mathematical Programming
Computation 10, 2018, 119-142 (from memory), the solver behind `scipy.optimize.milp`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from pegwright.columns import Ints
from pegwright.errors import InternalError
from pegwright.fit.caps import Cluster
from pegwright.fit.contest import LEFT_OUT

LARGEST_COEFFICIENT = 2**20  # the solver takes 1e-6 for nothing
SLACK = 0.01  # prices below this count as none, which only leaves more open; the solver errs by far less
MOST_NODES = 2_000  # of its search tree, for each aim; a bound on time that is the same on every machine


class General:
    """The best of a cluster, to be taken strike by strike.

    Args:
        cluster: the strikes.
        aims: what each way adds to each aim, the highest aim first.

    Attributes:
        proved: whether it is proved the best in every aim.
        short: how much more of the first aim there could be at most.
    """

    def __init__(self, cluster: Cluster, aims: Sequence[Ints]) -> None:
        self._cluster = cluster
        self._ways = [way for span in cluster.ways for way in span]
        self._column = {way: number for number, way in enumerate(self._ways)}
        self._rows, self._upper = _rows(cluster, self._column)
        self._held: list[tuple[Ints, int]] = []  # aims that are to be no less than so much, and are so all but surely
        self._floors: list[tuple[Ints, int]] = []  # the same, with a row of their own
        self._least, self._most = np.zeros(len(self._ways)), np.ones(len(self._ways))  # 1: must be taken; 0: must not
        self._full = np.full(len(self._upper), -np.inf)  # what each row is to hold at least
        self.proved, self.short = True, 0
        self._taken = np.zeros(len(self._ways), dtype=np.int64)
        for number, aim in enumerate(aims):
            self._settle(aim[self._ways], first=number == 0)
        if not self.proved:
            self._mend(aims)

    def ways_taken(self) -> list[int]:
        """The ways of the best that was found."""
        return [way for way, taken in zip(self._ways, self._taken.tolist(), strict=True) if taken]

    def take(self, order: Sequence[int]) -> int:
        """Settle the next strike; see `Counted.take`. Where the best is not proved, what was found stands."""
        columns = [self._column[way] for way in order]
        held = next((place for place, column in enumerate(columns) if self._taken[column]), len(columns))
        if held and self.proved:
            rank = np.zeros(len(self._ways), dtype=np.int64)
            rank[columns] = np.arange(len(columns), 0, -1)
            found, _ = self._solve(rank)
            if found is not None and (found @ rank) > (self._taken @ rank):
                self._taken = found
            held = next((place for place, column in enumerate(columns) if self._taken[column]), len(columns))
        if held == len(columns):
            return LEFT_OUT
        self._least[columns[held]] = 1
        return order[held]

    def _settle(self, aim: Ints, first: bool) -> None:
        """Make an aim as great as can be and keep it so."""
        if not np.any(aim):
            return
        found, bound = self._solve(aim)
        if found is None or (not first and found @ aim < self._taken @ aim):
            found = self._taken
        self._taken = found
        value = int(found @ aim)
        narrowed = bound == value and self._narrow(aim, value)
        (self._held if narrowed else self._floors).append((aim, value))
        if bound > value:
            self.proved = False
            self.short += bound - value if first else 0

    def _narrow(self, aim: Ints, value: int) -> bool:
        """Hold an aim at its greatest by what all solutions that reach it have in common, if that can be told."""
        from scipy.optimize import linprog  # noqa: PLC0415  # heavy, and seldom needed

        if self._floors:
            return False
        full = np.isfinite(self._full)
        rows: dict[str, Any] = {"A_ub": self._rows[~full], "b_ub": self._upper[~full]} if not np.all(full) else {}
        if np.any(full):
            rows |= {"A_eq": self._rows[full], "b_eq": self._upper[full]}
        limits = list(zip(self._least.tolist(), self._most.tolist(), strict=True))
        relaxed: Any = linprog(-aim.astype(np.float64), bounds=limits, method="highs", **rows)
        if relaxed.x is None or abs(relaxed.fun + value) > SLACK:
            return False
        most = np.where(relaxed.lower.marginals > SLACK, 0.0, self._most)
        least = np.where(relaxed.upper.marginals < -SLACK, 1.0, self._least)
        priced = np.flatnonzero(~full)[relaxed.ineqlin.marginals < -SLACK]
        self._most, self._least = np.maximum(most, self._least), np.minimum(least, self._most)
        self._full[priced] = self._upper[priced]
        return True

    def _mend(self, aims: Sequence[Ints]) -> None:
        """Let strikes take better ways that are open, one by one, until none has one."""
        worth = [tuple(aim[way] for aim in aims) for way in self._ways]
        spans = [[self._column[way] for way in span] for span in self._cluster.ways]
        changed = True
        while changed:
            changed = False
            for span in spans:
                held = [column for column in span if self._taken[column]]
                others = self._taken.copy()
                others[held] = 0
                for column in sorted(span, key=lambda column: worth[column], reverse=True):
                    if held and worth[column] <= worth[held[0]]:
                        break
                    others[column] = 1
                    if not np.any(self._rows @ others > self._upper):
                        self._taken, changed = others, True
                        break
                    others[column] = 0

    def _solve(self, aim: Ints) -> tuple[Ints | None, int]:
        """The best found for an aim, in whole numbers, and what none can exceed."""
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415  # heavy, and seldom needed

        self.proved &= int(np.abs(aim).max()) <= LARGEST_COEFFICIENT
        constraints = [LinearConstraint(self._rows, lb=self._full, ub=self._upper)]
        constraints += [LinearConstraint(floor[None, :].astype(float), lb=value - 0.5) for floor, value in self._floors]
        result: Any = milp(
            -aim.astype(np.float64),
            constraints=constraints,
            integrality=np.ones(len(aim), dtype=np.int64),
            bounds=Bounds(self._least, self._most),
            options={"node_limit": MOST_NODES, "mip_rel_gap": 0.0},
        )
        most = int(np.maximum(aim, 0).sum())
        bound = most if result.mip_dual_bound is None else min(most, math.floor(0.01 - result.mip_dual_bound))
        if result.x is None:
            return None, bound
        found = np.rint(result.x).astype(np.int64)
        if np.any(self._rows @ found > self._upper):
            raise InternalError("the solver's answer breaks a rule in whole numbers")
        if any(found @ held < value for held, value in self._held):
            self._floors, self._held = [*self._held, *self._floors], []
            return self._solve(aim)
        return found, max(bound, int(found @ aim))


def _rows(cluster: Cluster, column: dict[int, int]) -> tuple[Any, Ints]:
    """A row for each strike and each cap as a sparse matrix, and the most that each may hold."""
    from scipy.sparse import csr_array  # noqa: PLC0415  # heavy, and seldom needed

    members = [[column[way] for way in span] for span in cluster.ways]
    members += [[column[way] for way in cap.members] for cap in cluster.caps]
    most = [1] * len(cluster.ways) + [cap.most for cap in cluster.caps]
    index = np.array([place for row in members for place in row], dtype=np.int32)
    first = np.cumsum([0, *(len(row) for row in members)]).astype(np.int32)
    matrix = csr_array((np.ones(len(index)), index, first), shape=(len(members), len(column)))
    return matrix, np.array(most, dtype=np.int64)

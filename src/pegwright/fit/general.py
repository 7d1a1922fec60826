"""Search of a cluster by a general solver for whole-number programmes (HiGHS, by way of scipy).

A variable for each way, 1 where it is taken; a row for each strike and for each cap; one aim after another, each
settled before the next. The solver computes with floats, so numbers are kept far below the greatest that a float holds
exactly, and its results are rounded to whole numbers and checked in those.

A settled aim is kept by a row of its own, which makes the next one hard: it joins all strikes. But where parts of ways
would do no better than whole ones, as is usual, the prices of that relaxed programme show what all best solutions have
in common (complementary slackness): ways that cost more than they add are not taken, rows that have a price are full.
That holds the aim just as well, and leaves the programme as simple as it was.

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
from pegwright.fit.problem import LEFT_OUT, Cluster, Merit, Ways

LARGEST_COEFFICIENT = 2**20  # the solver treats 1e-6 as 0
SLACK = 0.01  # prices below this count as none, which only leaves more open; the errors of the solver are far smaller
MOST_NODES = 2_000  # of its search tree, for each aim; a bound on time that is the same on every machine


class General:
    """The best of a cluster; see `Solution`. Where it is not proved, the best that is known.

    Args:
        cluster: the strikes.
        ways: of all strikes.
        merit: of the ways.
    """

    def __init__(self, cluster: Cluster, ways: Ways, merit: Merit) -> None:
        self._spans = cluster.spans
        self._ways = [way for span in cluster.spans for way in span]
        self._column = {way: number for number, way in enumerate(self._ways)}
        self._rows, self._upper = _rows(cluster, ways.hole[self._ways].tolist(), self._column)
        self._held: list[tuple[Ints, int]] = []  # aims with minimums that are held by other means
        self._floors: list[tuple[Ints, int]] = []  # aims with minimums that have a row of their own
        self._least, self._most = np.zeros(len(self._ways)), np.ones(len(self._ways))  # 1: must be taken; 0: must not
        self._full = np.full(len(self._upper), -np.inf)  # the minimum of each row
        self.proved, self.short = True, 0
        self._taken = np.zeros(len(self._ways), dtype=np.int64)
        aims = ways.aims[: len(merit.factors) + 1]
        for number, aim in enumerate(aims):
            self._settle(aim[self._ways], first=number == 0)
        if not self.proved:
            self._mend(aims)
        self.total = sum(merit.of_way[self._ways[column]] for column in np.flatnonzero(self._taken))

    def take_all(self) -> list[int]:
        """See `Solution.take_all`."""
        return [self.take(span) for span in self._spans]

    def take(self, order: Sequence[int]) -> int:
        """See `Solution.take`."""
        columns = [self._column[way] for way in order]
        held = next((place for place, column in enumerate(columns) if self._taken[column]), len(columns))
        if held and self.proved:
            rank = np.zeros(len(self._ways), dtype=np.int64)
            rank[columns] = np.arange(len(columns), 0, -1)
            preferred, _ = self._solve(rank)
            if preferred is not None and preferred @ rank > self._taken @ rank:
                self._taken = preferred
            held = next((place for place, column in enumerate(columns) if self._taken[column]), len(columns))
        if held == len(columns):
            return LEFT_OUT
        self._least[columns[held]] = 1
        return order[held]

    def _settle(self, aim: Ints, first: bool) -> None:
        """Make an aim as great as possible and keep it so."""
        if not np.any(aim):
            return
        best, bound = self._solve(aim)
        if best is None or (not first and best @ aim < self._taken @ aim):
            best = self._taken
        self._taken = best
        value = int(best @ aim)
        narrowed = bound == value and self._narrow(aim, value)
        (self._held if narrowed else self._floors).append((aim, value))
        if bound > value:
            self.proved = False
            self.short += bound - value if first else 0

    def _narrow(self, aim: Ints, value: int) -> bool:
        """Try to hold an aim at its greatest by what all solutions that reach it have in common; whether it is held."""
        from scipy.optimize import linprog  # noqa: PLC0415  # heavy, and rarely needed

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
        spans = [[self._column[way] for way in span] for span in self._spans]
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
        """The best solution that is known for an aim, in whole numbers, and an upper bound of the aim."""
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415  # heavy, and rarely needed

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
        rounded = np.rint(result.x).astype(np.int64)
        if np.any(self._rows @ rounded > self._upper):
            raise InternalError("the solver's answer breaks a rule in whole numbers")
        if any(rounded @ held < value for held, value in self._held):
            self._floors, self._held = [*self._held, *self._floors], []
            return self._solve(aim)
        return rounded, max(bound, int(rounded @ aim))


def _rows(cluster: Cluster, hole: list[int], column: dict[int, int]) -> tuple[Any, Ints]:
    """A row for each strike and each cap as a sparse matrix, and the maximum of each; `hole`: of each column."""
    from scipy.sparse import csr_array  # noqa: PLC0415  # heavy, and rarely needed

    into: dict[int, list[int]] = {}
    for number, at in enumerate(hole):
        into.setdefault(at, []).append(number)
    members = [[column[way] for way in span] for span in cluster.spans]
    most = [1] * len(cluster.spans)
    for cap in cluster.caps:
        members.append(sorted(number for member in cap.members for number in into[member]))
        most.append(cap.most)
    index = np.array([place for row in members for place in row], dtype=np.int32)
    first = np.cumsum([0, *(len(row) for row in members)]).astype(np.int32)
    matrix = csr_array((np.ones(len(index)), index, first), shape=(len(members), len(column)))
    return matrix, np.array(most, dtype=np.int64)

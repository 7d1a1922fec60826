"""Search of a cluster by a general solver for whole-number programmes (HiGHS, by way of scipy).

A variable for each way, 1 where it is taken; a row for each strike and for each cap; one aim after another, each
settled before the next. The solver computes with floats, so numbers are kept far below the greatest that a float holds
exactly, and its results are rounded to whole numbers and checked in those.

A settled aim is kept by a row of its own, which makes the next one hard: it joins all strikes. But the prices of the
relaxed programme, where parts of ways may be taken, show what all best solutions have in common: a way is not taken, or
a row is full, where the other thing would cost more than parts of ways could add. That is settled and leaves the
programme. Where parts of ways would do no better than whole ones, as is usual, it holds the aim by itself
(complementary slackness). And the highest aim is first sought among what solutions near to that of parts could have.

The third aim settles many strikes at once: the ranks of their ways are the digits of one number to be made greatest.

Source: Q. Huangfu, J. A. J. Hall, "Parallelizing the dual revised simplex method", Mathematical Programming
Computation 10, 2018, 119-142 (from memory), the solver behind `scipy.optimize.milp`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.errors import InternalError
from pegwright.fit.problem import LEFT_OUT, Cluster, Merit, Ways
from pegwright.frozen import frozen

LARGEST_COEFFICIENT = 2**20  # the solver treats 1e-6 as 0
SLACK = 0.01  # prices below this count as none, which only leaves more open; the errors of the solver are far smaller
NEAR = 0.9995  # of the best with parts of ways; the best is mostly nearer
MOST_NODES = 2_000  # of its search trees for one cluster; a bound that is the same on every machine


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
        self._least = np.zeros(len(self._ways), dtype=np.int64)  # 1: must be taken
        self._most = np.ones_like(self._least)  # 0: must not be taken
        self._full = np.full(len(self._upper), -np.inf)  # the minimum of each row
        self.proved, self.short, self._nodes_left = True, 0, MOST_NODES
        self._taken = np.zeros(len(self._ways), dtype=np.int64)
        aims = ways.aims[: len(merit.factors) + 1]
        for number, aim in enumerate(aims):
            self._settle(aim[self._ways], first=number == 0)
        if not self.proved:
            self._mend(aims)
        self.total = sum(merit.of_way[self._ways[column]] for column in np.flatnonzero(self._taken))

    def take_all(self) -> list[int]:
        """See `Solution.take_all`."""
        self._prefer(self._spans)
        return [self.take(span) for span in self._spans]

    def take(self, order: Sequence[int]) -> int:
        """See `Solution.take`."""
        self._prefer([order])
        return next((way for way in order if self._taken[self._column[way]]), LEFT_OUT)

    def _prefer(self, orders: Sequence[Sequence[int]]) -> None:
        """Settle strikes: one after another, each takes the first way of its order that an optimum allows.

        As many as one aim has room for are settled at once: the ranks of their ways are the digits of one number.
        """
        digits: list[list[int]] = []
        radix = 1
        for order in orders if self.proved else ():
            columns = [self._column[way] for way in order]
            digit = [column for column in columns if self._least[column] < self._most[column]]
            if digit and radix * (len(digit) + 1) > LARGEST_COEFFICIENT:
                self._settle_ranks(digits)
                digits, radix = [], 1
            if digit:
                digits.append(digit)
                radix *= len(digit) + 1
        self._settle_ranks(digits)

    def _settle_ranks(self, digits: Sequence[Sequence[int]]) -> None:
        """Settle strikes, given the columns of each that are open, those it prefers first."""
        rank, radix, greatest = np.zeros(len(self._ways), dtype=np.int64), 1, 0
        for digit in reversed(digits):
            rank[digit] = radix * np.arange(len(digit), 0, -1)
            greatest += radix * len(digit)
            radix *= len(digit) + 1
        if self._taken @ rank < greatest:
            preferred, bound = self._solve(rank)
            if preferred is not None and preferred @ rank > self._taken @ rank:
                self._taken = preferred
            self.proved &= bound == int(self._taken @ rank)
        settled = [column for digit in digits for column in digit]
        self._least[settled] = self._most[settled] = self._taken[settled]

    def _settle(self, aim: Ints, first: bool) -> None:
        """Make an aim as great as possible and keep it so."""
        if not np.any(aim):
            return
        relaxed = self._relaxed(aim)
        best, bound = self._near_best(aim, relaxed) if first else self._solve(aim)
        if best is None or (not first and best @ aim < self._taken @ aim):
            best = self._taken
        self._taken = best
        value = int(best @ aim)
        held = self._narrow(relaxed, value) and not self._floors
        (self._held if held else self._floors).append((aim, value))
        if bound > value:
            self.proved = False
            self.short += bound - value if first else 0

    def _near_best(self, aim: Ints, relaxed: _Relaxed) -> tuple[Ints | None, int]:
        """As `_solve`, but first with what solutions near to the best with parts of ways could have, which is little.

        One of those that is found so near is the best of all. If none is, then one as good as what was found is sought.
        """
        before = self._least.copy(), self._most.copy(), self._full.copy()
        near = math.floor(relaxed.bound * NEAR)
        self._narrow(relaxed, near)
        best, bound = self._solve(aim)
        if best is None or best @ aim < near:
            self._least, self._most, self._full = before
            self._narrow(relaxed, 0 if best is None else int(best @ aim))
            best, bound = self._solve(aim)
        return best, bound

    def _relaxed(self, aim: Ints) -> _Relaxed:
        """The best of an aim with parts of ways."""
        from scipy.optimize import linprog  # noqa: PLC0415  # heavy, and rarely needed
        from scipy.sparse import csr_array, vstack  # noqa: PLC0415  # likewise

        left, settled = self._undecided(), int(aim @ self._least)
        if not len(left.columns):
            return _Relaxed(settled, left.columns, np.zeros(0), left.numbers, np.zeros(0))
        full = np.isfinite(left.least)
        result: Any = linprog(
            -aim[left.columns].astype(np.float64),
            A_ub=vstack([left.rows[~full], csr_array(-left.floors)]),
            b_ub=np.append(left.most[~full], -left.missing),
            A_eq=left.rows[full],
            b_eq=left.most[full],
            bounds=(0, 1),
        )
        if result.x is None:
            return _Relaxed(
                float(np.maximum(aim, 0).sum()), left.columns[:0], np.zeros(0), left.numbers[:0], np.zeros(0)
            )
        loss = result.lower.marginals + result.upper.marginals
        price = -result.ineqlin.marginals[: np.count_nonzero(~full)]
        return _Relaxed(settled - float(result.fun), left.columns, loss, left.numbers[~full], price)

    def _narrow(self, relaxed: _Relaxed, value: int) -> bool:
        """Settle what all solutions that reach a value of an aim have in common; whether all with that in common do."""
        above = max(0.0, relaxed.bound - value) + SLACK
        self._full[relaxed.rows[relaxed.price > above]] = self._upper[relaxed.rows[relaxed.price > above]]
        self._most[relaxed.columns[relaxed.loss > above]] = 0
        self._least[relaxed.columns[relaxed.loss < -above]] = 1
        return above < 2 * SLACK

    def _undecided(self) -> _Undecided:
        """What remains of the programme."""
        columns = np.flatnonzero(self._least < self._most)
        rows = self._rows[:, columns]
        most, least, width = self._upper - self._rows @ self._least, self._full, np.diff(rows.indptr)
        numbers = np.flatnonzero((width > 0) & (np.isfinite(least) | (width > most)))
        floors = np.array([floor for floor, _ in self._floors], dtype=np.int64).reshape(-1, len(self._ways))
        return _Undecided(
            columns=columns,
            numbers=numbers,
            rows=rows[numbers],
            least=np.where(np.isfinite(least), most, least)[numbers],
            most=most[numbers],
            floors=floors[:, columns],
            missing=np.array([value for _, value in self._floors], dtype=np.int64) - floors @ self._least,
        )

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

        left, solution = self._undecided(), self._least.astype(np.int64)
        if not len(left.columns):
            return solution, int(solution @ aim)
        self.proved &= int(np.abs(aim).max()) <= LARGEST_COEFFICIENT
        constraints = [LinearConstraint(left.rows, lb=left.least, ub=left.most)]
        if len(left.floors):
            constraints.append(LinearConstraint(left.floors.astype(np.float64), lb=left.missing - 0.5))
        result: Any = milp(
            -aim[left.columns].astype(np.float64),
            constraints=constraints,
            integrality=np.ones(len(left.columns), dtype=np.int64),
            bounds=Bounds(0, 1),
            options={"node_limit": self._nodes_left, "mip_rel_gap": 0.0},
        )
        self._nodes_left = max(0, self._nodes_left - (result.mip_node_count or 0))
        bound = int(np.maximum(aim[left.columns], 0).sum())
        if result.mip_dual_bound is not None:
            bound = min(bound, math.floor(0.01 - result.mip_dual_bound))
        bound += int(solution @ aim)
        if result.x is None:
            return None, bound
        solution[left.columns] = np.rint(result.x).astype(np.int64)
        if np.any(self._rows @ solution > self._upper):
            raise InternalError("the solver's answer breaks a rule in whole numbers")
        if any(solution @ held < value for held, value in self._held):
            self._floors, self._held = [*self._held, *self._floors], []
            return self._solve(aim)
        return solution, max(bound, int(solution @ aim))


@frozen(eq=False)
class _Undecided:
    """What remains of a programme where some columns are settled.

    Args:
        columns: shape (c,), those that are not.
        numbers: shape (r,), the rows that can still be broken.
        rows: shape (r, c).
        least, most: shape (r,), what the columns may come to in each row; `least` is minus infinity or `most`.
        floors: shape (f, c), aims that have a row of their own.
        missing: shape (f,), what the columns must come to in each of those at least.
    """

    columns: Ints
    numbers: Ints
    rows: Any
    least: Floats
    most: Ints
    floors: Ints
    missing: Ints


class _Relaxed(NamedTuple):
    """The best of an aim with parts of ways, and what it says of the columns and rows that were not settled.

    Args:
        bound: the aim cannot exceed it; far above where the programme was not solved.
        columns: shape (c,).
        loss: shape (c,), how much of the bound each costs at least if it is taken; below 0, if it is not.
        rows: shape (r,).
        price: shape (r,), how much of the bound each costs at least if it is not full.
    """

    bound: float
    columns: Ints
    loss: Floats
    rows: Ints
    price: Floats


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

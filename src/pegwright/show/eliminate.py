"""The values of several variables with the minimum cost, by eliminating one variable after another.

The cost is the sum, or the maximum, of tables that depend on a few variables each. To eliminate a variable, the
tables that depend on it are joined and the best of its values is taken for every combination of its neighbours,
which gives a table over the neighbours. The variable with the fewest neighbours goes first (on a tie the lowest
number). Read backwards, the tables give the values; on a tie the lowest value is taken. The work grows with the
number of neighbours only, so a chain costs a shortest path.

Where a joined table would be larger than allowed, its parts are minimised one by one (mini-buckets): the result is then
a lower bound, and the values read backwards are improved one at a time.

Source: U. Bertele, F. Brioschi, Nonserial Dynamic Programming, Academic Press 1972; R. Dechter, Bucket elimination:
    a unifying framework for reasoning, Artificial Intelligence 113 (1999) 41-85; R. Dechter, I. Rish, Mini-buckets: a
    general scheme for bounded inference, Journal of the ACM 50 (2003) 107-153 (all from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import reduce
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from pegwright.frozen import frozen

MAX_CELLS = 1 << 24  # of one table: 128 MiB
_AT_ONCE = 1 << 20  # cells of a joined table that are held at once

Scope: TypeAlias = tuple[int, ...]  # the variables that a table depends on, in the order of its axes
Table: TypeAlias = NDArray[Any]  # of int64 or float64
Factor: TypeAlias = tuple[Scope, Table]


@frozen()
class StartSolution:
    """A value for each variable.

    Args:
        values: one index for each variable.
        cost: of these values.
        floor: a lower bound on the cost; equal to `cost` unless a table was too large.
    """

    values: tuple[int, ...]
    cost: float
    floor: float


def least(
    sizes: Sequence[int],
    costs: Mapping[Scope, Table],
    combine: np.ufunc,
    max_cells: int = MAX_CELLS,
    known: tuple[int, ...] | None = None,
) -> StartSolution:
    """Choose the values of minimum cost.

    Args:
        sizes: for each variable how many values it has.
        costs: tables by the variables that they depend on, all non-negative.
        combine: `np.add` for the sum of all tables, `np.maximum` for the maximum of them.
        max_cells: of one table.
        known: values to improve where the result is not exact.
    """
    sequence = elimination_order(len(sizes), costs)
    rank = {variable: number for number, variable in enumerate(sequence)}
    buckets: list[list[Factor]] = [[] for _ in sequence]
    for scope, table in costs.items():
        buckets[min(map(rank.__getitem__, scope))].append((scope, table))
    floor: Any = 0
    exact = True
    for variable, bucket in zip(sequence, buckets, strict=True):
        parts = _parts(bucket, variable, sizes, max_cells)
        exact &= len(parts) <= 1
        for part in parts:
            scope, table = _without(part, variable, combine)
            if scope:
                buckets[min(map(rank.__getitem__, scope))].append((scope, table))
            else:
                floor = combine(floor, table[()])
    values = _values(sequence, buckets, combine)
    if exact:
        return StartSolution(values, _number(floor), _number(floor))
    trials = [_descended(trial, costs, combine) for trial in ([values] if known is None else [values, known])]
    reached, values = min((_cost(trial, costs, combine), trial) for trial in trials)
    return StartSolution(values, _number(reached), _number(floor))


def elimination_order(count: int, scopes: Mapping[Scope, Table]) -> list[int]:
    """The variables, always the one with the fewest neighbours next; its neighbours become neighbours of each other."""
    neighbours: list[set[int]] = [set() for _ in range(count)]
    for scope in scopes:
        for variable in scope:
            neighbours[variable].update(scope)
    for variable in range(count):
        neighbours[variable].discard(variable)
    left = set(range(count))
    sequence = []
    while left:
        variable = min(left, key=lambda candidate: (len(neighbours[candidate]), candidate))
        left.remove(variable)
        for other in neighbours[variable]:
            neighbours[other] |= neighbours[variable]
            neighbours[other] -= {other, variable}
        sequence.append(variable)
    return sequence


def _parts(bucket: Sequence[Factor], variable: int, sizes: Sequence[int], max_cells: int) -> list[list[Factor]]:
    """The tables of a bucket in few groups, each of at most `max_cells` cells once the variable is eliminated."""
    if not _too_large(bucket, variable, sizes, max_cells):
        return [list(bucket)] if bucket else []
    parts: list[list[Factor]] = []
    for factor in sorted(bucket, key=lambda factor: -factor[1].size):
        fitting = (part for part in parts if not _too_large([*part, factor], variable, sizes, max_cells))
        part = next(fitting, None)
        if part is None:
            parts.append([factor])
        else:
            part.append(factor)
    return parts


def _too_large(factors: Sequence[Factor], variable: int, sizes: Sequence[int], max_cells: int) -> bool:
    return math.prod(sizes[other] for other in _joined(factors, variable)) > max_cells


def _joined(factors: Sequence[Factor], variable: int) -> Scope:
    """The variables of some tables except one of them."""
    return tuple(sorted({other for scope, _ in factors for other in scope} - {variable}))


def _without(factors: Sequence[Factor], variable: int, combine: np.ufunc) -> Factor:
    """One table in place of some: their joint cost at the best value of a variable."""
    scope = _joined(factors, variable)
    tables = [_aligned(factor, (variable, *scope)) for factor in factors]
    cells = math.prod(max(sizes) for sizes in zip(*(table.shape for table in tables), strict=True))
    if cells <= _AT_ONCE:
        return scope, reduce(combine, tables).min(axis=0)
    best = np.array(reduce(combine, [table[0] for table in tables]))
    for value in range(1, len(tables[0])):
        np.minimum(best, reduce(combine, [table[value] for table in tables]), out=best)
    return scope, best


def _aligned(factor: Factor, axes: Scope) -> Table:
    """A table with an axis for each of some variables, of size 1 where it does not depend on it."""
    scope, table = factor
    kept = [axis for axis in axes if axis in scope]
    moved = table.transpose([scope.index(axis) for axis in kept])
    return moved.reshape([moved.shape[kept.index(axis)] if axis in scope else 1 for axis in axes])


def _values(sequence: Sequence[int], buckets: Sequence[Sequence[Factor]], combine: np.ufunc) -> tuple[int, ...]:
    """The best value of each variable, the last one to be eliminated first."""
    values = [0] * len(sequence)
    for variable, bucket in zip(reversed(sequence), reversed(buckets), strict=True):
        if bucket:
            values[variable] = int(_by_value(bucket, variable, values, combine).argmin())
    return tuple(values)


def _by_value(factors: Sequence[Factor], variable: int, values: Sequence[int], combine: np.ufunc) -> Table:
    """The cost of some tables by the value of one variable, the others having theirs."""
    sliced = [
        table[tuple(slice(None) if axis == variable else values[axis] for axis in scope)] for scope, table in factors
    ]
    joint: Table = reduce(combine, sliced)
    return joint


def _descended(values: tuple[int, ...], costs: Mapping[Scope, Table], combine: np.ufunc) -> tuple[int, ...]:
    """The values after changing single ones for as long as that reduces the cost."""
    factors: list[list[Factor]] = [[] for _ in values]
    for scope, table in costs.items():
        for variable in scope:
            factors[variable].append((scope, table))
    improved = list(values)
    changed = True
    while changed:
        changed = False
        for variable, mine in enumerate(factors):
            if mine:
                by_value = _by_value(mine, variable, improved, combine)
                best = int(by_value.argmin())
                if by_value[best] < by_value[improved[variable]]:
                    improved[variable], changed = best, True
    return tuple(improved)


def _cost(values: Sequence[int], costs: Mapping[Scope, Table], combine: np.ufunc) -> Any:  # noqa: ANN401  # as the tables
    return reduce(combine, [table[tuple(values[axis] for axis in scope)] for scope, table in costs.items()], 0)


def _number(cost: Any) -> float:  # noqa: ANN401  # as the tables
    number: float = cost.item() if isinstance(cost, np.generic) else cost
    return number

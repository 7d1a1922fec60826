"""The best values of variables, against trying all of them and against an exact solver."""

from __future__ import annotations

from functools import reduce
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

import shows
import thorough
from pegwright.show.eliminate import Scope, Table, elimination_order, least
from pegwright.show.exact import exact_order, exact_steps
from pegwright.show.plan import Aim, plan_show
from pegwright.show.starts import least_hurry, least_work, work_tables

COMBINE = {"sum": np.add, "maximum": np.maximum}


def random_tables(seed: int, whole: bool) -> tuple[list[int], dict[Scope, Table]]:
    """Up to six variables of up to four values, and tables over one to three of them."""
    rng = np.random.default_rng(seed)
    sizes = rng.integers(1, 5, int(rng.integers(1, 7))).tolist()
    tables: dict[Scope, Table] = {}
    for _ in range(int(rng.integers(0, 12))):
        scope = rng.choice(len(sizes), min(len(sizes), int(rng.integers(1, 4))), replace=False).tolist()
        table = rng.integers(0, 20, [sizes[variable] for variable in scope])
        tables[tuple(scope)] = table if whole else table / 7
    return sizes, tables


def cost(values: tuple[int, ...], tables: dict[Scope, Table], combine: np.ufunc) -> float:
    each = [table[tuple(values[variable] for variable in scope)] for scope, table in tables.items()]
    return float(reduce(combine, each, 0))


@settings(max_examples=thorough.cases(60, 300))
@given(st.integers(0, 10**6), st.sampled_from(["sum", "maximum"]), st.booleans())
def test_the_choice_equals_trying_every_value(seed: int, kind: str, whole: bool) -> None:
    sizes, tables = random_tables(seed, whole)
    best = min(cost(values, tables, COMBINE[kind]) for values in product(*map(range, sizes)))
    choice = least(sizes, tables, COMBINE[kind])
    assert choice.cost == choice.floor == pytest.approx(best)
    assert cost(choice.values, tables, COMBINE[kind]) == pytest.approx(best)


@settings(max_examples=thorough.cases(60, 300))
@given(st.integers(0, 10**6), st.sampled_from(["sum", "maximum"]), st.sampled_from([1, 4, 16]))
def test_with_tables_too_large_there_is_a_floor(seed: int, kind: str, max_cells: int) -> None:
    sizes, tables = random_tables(seed, True)
    best = min(cost(values, tables, COMBINE[kind]) for values in product(*map(range, sizes)))
    known = tuple(0 for _ in sizes)
    choice = least(sizes, tables, COMBINE[kind], max_cells, known)
    assert choice.floor <= best <= choice.cost == cost(choice.values, tables, COMBINE[kind])
    assert choice.cost <= cost(known, tables, COMBINE[kind])


def test_some_of_these_floors_are_below_the_best_and_some_are_not() -> None:
    exact = []
    for seed in range(60):
        choice = least(*random_tables(seed, True), np.add, 4)
        exact.append(choice.cost == choice.floor)
    assert 10 < sum(exact) < 60


def test_a_large_joined_table_is_minimised_value_by_value(monkeypatch: pytest.MonkeyPatch) -> None:
    for seed in range(40):
        sizes, tables = random_tables(seed, True)
        at_once = least(sizes, tables, np.add)
        with monkeypatch.context() as patch:
            patch.setattr("pegwright.show.eliminate._AT_ONCE", 0)
            assert least(sizes, tables, np.add) == at_once


def test_a_chain_is_eliminated_from_its_beginning() -> None:
    links: dict[Scope, Table] = {(0, 2): np.zeros((1, 1)), (2, 4): np.zeros((1, 1)), (1, 3): np.zeros((1, 1))}
    sequence = elimination_order(5, links)
    assert [it for it in sequence if it % 2 == 0] == [0, 2, 4]
    assert [it for it in sequence if it % 2] == [1, 3]


def test_on_a_tie_the_last_song_has_its_first_start() -> None:
    problem = shows.show(3, [(0,)] * 5, 1, starts=4, share=0.0)
    assert least_work(problem, range(5)).by_place == (0,) * 5


@pytest.mark.parametrize("seed", range(6))
def test_starts_against_an_exact_solver(seed: int) -> None:
    """HiGHS through scipy.optimize.milp: one start a song, and for each swap a pair of starts that agrees."""
    runnings = [(0,), (0, 1), (0, 1, 0), (0,), (0, 1, 2), (0,), (0, 1)]
    problem = shows.show(seed, runnings, 3, starts=4, plates=3, holes=30)
    order = range(len(runnings))
    tables = work_tables(problem, order)
    columns = {(scope, at): number for number, (scope, at) in enumerate(
        (scope, at) for scope, table in tables.items() for at in np.ndindex(table.shape)
    )}  # fmt: skip
    costs = np.array([float(tables[scope][at]) for scope, at in columns])
    rows, sums = [], []
    for place in order:
        rows.append([float(scope == (place,)) for scope, _ in columns])
        sums.append(1.0)
    for scope in tables:
        for axis, place in enumerate(scope if len(scope) > 1 else ()):
            for start in range(problem.starts(place)):
                pairs = [float(it == scope and at[axis] == start) for it, at in columns]
                rows.append([a - float(it == ((place,), (start,))) for a, it in zip(pairs, columns, strict=True)])
                sums.append(0.0)
    found = milp(
        costs,
        constraints=LinearConstraint(np.array(rows), sums, sums),
        bounds=Bounds(0, 1),
        integrality=np.ones(len(costs), dtype=np.int64),
        options={"mip_rel_gap": 0.0},
    )
    assert found.success, found.message
    assert found.fun is not None
    starts = least_work(problem, order)
    assert starts.during * problem.weight + starts.before == round(found.fun)
    assert starts.floor == starts.during


def test_starts_that_no_table_can_hold_are_bounded() -> None:
    problem = shows.show(5, [(0, 1), (0,), (0, 1, 2), (0,), (0, 1), (0, 1, 0)], 3, starts=4)
    exact = least_work(problem, range(6))
    bounded = least_work(problem, range(6), max_cells=1, known=(0,) * 6)
    assert bounded.floor <= exact.during <= bounded.during
    assert exact.floor == exact.during


def test_a_hurry_that_cannot_be_kept_to_is_a_fault_of_ours() -> None:
    problem = shows.show(5, [(0,)] * 3, 1, starts=2, holes=30)
    tables: dict[Scope, Table] = {(0, 1): np.ones((problem.starts(0), problem.starts(1)))}
    assert least_hurry(problem, range(3), tables).cost == 1.0
    with pytest.raises(Exception, match=r"no starts are within the hurry 0.5"):
        least_work(problem, range(3), tables, 0.5)


@pytest.mark.parametrize("seed", range(8))
def test_a_search_that_is_cut_short_has_a_floor(seed: int) -> None:
    problem = shows.show(seed, [(0, 1), (0, 1, 0), (0,), (0,), (0,)], 3, starts=4, plates=3, holes=60)
    whole = exact_order(problem)
    assert whole.proved
    assert whole.floor == plan_show(problem, Aim.LEAST_WORK).during
    for more in (0, 200_000, 2_000_000):
        part = exact_order(problem, exact_steps(problem) + more)
        assert part.floor <= whole.floor
        assert sorted(part.order) == list(range(5))
        assert not part.proved or part.floor == whole.floor
    assert not exact_order(problem, 0).proved

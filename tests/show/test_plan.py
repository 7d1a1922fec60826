"""Plans against exhaustive search, an exact solver and their own floors."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

import pegwright.show.plan as plan_module
import shows
from pegwright.show.bound import work_floor
from pegwright.show.hurry import Hurries, hurry_floor
from pegwright.show.plan import Aim, Plan, plan_show, same_order_least_worst
from pegwright.show.problem import Problem
from pegwright.show.queue import queue_floor
from pegwright.show.work import PinTypes

CASES = settings(max_examples=40)


def tables_of(problem: Problem) -> list[PinTypes]:
    return list(problem.works._tables)  # what the random show was made of


def heuristic(problem: Problem, aim: Aim, monkeypatch: pytest.MonkeyPatch) -> Plan:
    with monkeypatch.context() as patch:
        patch.setattr(plan_module, "MAX_STEPS", 0)
        patch.setattr(plan_module, "MAX_STATES", 0)
        patch.setattr("pegwright.show.anneal.TRIALS_OF_A_SONG", 20)  # these shows are small
        return plan_show(problem, aim)


@CASES
@given(st.integers(0, 10**6), shows.runnings(4), st.integers(2, 3), st.booleans())
def test_least_work_equals_trying_every_order_start_and_exchange(
    seed: int, runnings: list[tuple[int, ...]], plate_sets: int, keep: bool
) -> None:
    allowed = shows.fixed_plates(2, *([0] if keep else []))
    problem = shows.show(seed, runnings, plate_sets, allowed=allowed)
    plan = plan_show(problem, Aim.LEAST_WORK)
    assert (plan.during, plan.before) == shows.least_work_by_trying(problem, tables_of(problem), allowed)
    assert plan.proved


@CASES
@given(st.integers(0, 10**6), shows.runnings(3))
def test_the_same_with_one_set_of_plates(seed: int, runnings: list[tuple[int, ...]]) -> None:
    """Then a song of several turns is pinned anew while it plays."""
    problem = shows.show(seed, runnings, 1, most_times=1)
    best = 10**9
    for order in shows.every_order(problem):
        chain = []  # song and pinning
        for song in order:
            running = problem.songs[song].turns.running
            again = [turn > 0 and running[turn - 1] == pinning for turn, pinning in enumerate(running)]
            pinned = [problem.songs[song].pinnings[it] for it, same in zip(running, again, strict=True) if not same]
            chain += [(song, pinning) for pinning in pinned]
        for at in shows.every_start(problem):
            works = [int(problem.works.between(a, b)[at[old], at[new]]) for (old, a), (new, b) in pairwise(chain)]
            best = min(best, sum(works))
    plan = plan_show(problem, Aim.LEAST_WORK)
    assert plan.during == plan.floor == best


@CASES
@given(st.integers(0, 10**6), st.integers(2, 5), st.integers(1, 3), st.data())
def test_songs_that_open_or_close_the_show_do(seed: int, count: int, plate_sets: int, data: st.DataObject) -> None:
    ends = data.draw(st.permutations(range(count)))
    first, last = data.draw(st.sampled_from([(ends[0], ends[1]), (ends[0], None), (None, ends[1])]))
    problem = shows.show(seed, [(0,)] * count, plate_sets, first=first, last=last)
    for aim in (Aim.LEAST_WORK, Aim.LEAST_WORST):
        plan = plan_show(problem, aim)
        assert first in (None, plan.order[0])
        assert last in (None, plan.order[-1])
        assert sorted(plan.order) == list(range(count))
    tables = tables_of(problem)
    work = plan_show(problem, Aim.LEAST_WORK)
    assert (work.during, work.before) == shows.least_work_by_trying(problem, tables, shows.fixed_plates(2))


def test_least_worst_is_mostly_proved_where_songs_differ_as_songs_do() -> None:
    shows_of_many_pins = [shows.show(seed, [(0,)] * 7, 2, starts=4, plates=3, holes=300) for seed in range(20)]
    assert sum(plan_show(problem, Aim.LEAST_WORST).proved for problem in shows_of_many_pins) >= 17


def least_work_by_solver(problem: Problem) -> int:
    """HiGHS through scipy.optimize.milp: songs and starts to places, and a flow from each place to k further on."""
    nodes = [(song, start) for song in range(len(problem.songs)) for start in range(problem.works.starts(song))]
    songs, k = len(problem.songs), problem.plate_sets
    at = {(node, place): number for number, (node, place) in enumerate(product(nodes, range(songs)))}
    links = [(a, b, place) for place in range(songs - k) for a in nodes for b in nodes if a[0] != b[0]]
    link = {key: len(at) + number for number, key in enumerate(links)}
    cost = np.zeros(len(at) + len(link))
    for (a, b, _), column in link.items():
        cost[column] = problem.works.between(a[0], b[0])[a[1], b[1]]
    rows, sums = [], []

    def equal(columns: list[int], minus: list[int], total: int) -> None:
        row = np.zeros(len(cost))
        row[columns] = 1
        row[minus] = -1
        rows.append(row)
        sums.append(total)

    for song in range(songs):
        equal([at[node, place] for node in nodes if node[0] == song for place in range(songs)], [], 1)
    for place in range(songs):
        equal([at[node, place] for node in nodes], [], 1)
    for place in range(songs - k):
        for node in nodes:
            equal([link[key] for key in links if key[0] == node and key[2] == place], [at[node, place]], 0)
            equal([link[key] for key in links if key[1] == node and key[2] == place], [at[node, place + k]], 0)
    found = milp(
        cost,
        constraints=LinearConstraint(np.array(rows), sums, sums),
        bounds=Bounds(0, 1),
        integrality=np.ones(len(cost), dtype=np.int64),
    )
    assert found.success, found.message
    assert found.fun is not None
    return round(found.fun)


@pytest.mark.parametrize(("seed", "plate_sets"), [(1, 1), (2, 2), (3, 2), (4, 3), (5, 1), (6, 2)])
def test_least_work_against_an_exact_solver(seed: int, plate_sets: int) -> None:
    problem = shows.show(seed, [(0,)] * 6, plate_sets, starts=3, plates=3)
    assert plan_show(problem, Aim.LEAST_WORK).during == least_work_by_solver(problem)


@CASES
@given(st.integers(0, 10**6), shows.runnings(6), st.integers(1, 3))
def test_no_floor_is_above_what_can_be_reached(seed: int, runnings: list[tuple[int, ...]], plate_sets: int) -> None:
    problem = shows.show(seed, runnings, plate_sets)
    plan = plan_show(problem, Aim.LEAST_WORK)
    assert work_floor(problem, plan.during) <= plan.during
    assert work_floor(problem, 0) <= plan.during
    assert max(queue_floor(problem, plan.during), queue_floor(problem, 0)) <= plan.during
    assert plan_show(problem, Aim.GIVEN).during >= plan.during
    floor = hurry_floor(problem, Hurries(problem))
    worst = plan_show(problem, Aim.LEAST_WORST).worst_hurry
    assert floor <= worst * (1 + 1e-9) or floor == worst


@pytest.mark.parametrize(("seed", "plate_sets"), [(11, 1), (12, 2), (13, 3)])
def test_the_search_for_long_shows_comes_near_the_best(
    seed: int, plate_sets: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    problem = shows.show(seed, [(0,)] * 10, plate_sets, starts=3, plates=3, holes=100)
    exact = plan_show(problem, Aim.LEAST_WORK)
    quick = heuristic(problem, Aim.LEAST_WORK, monkeypatch)
    assert exact.during <= quick.during <= exact.during * 1.01
    assert 0.97 * exact.during <= quick.floor <= exact.during
    exact, quick = plan_show(problem, Aim.LEAST_WORST), heuristic(problem, Aim.LEAST_WORST, monkeypatch)
    assert exact.worst_hurry <= quick.worst_hurry * (1 + 1e-9)
    assert quick.worst_hurry <= exact.worst_hurry * 1.2


@pytest.mark.parametrize("aim", list(Aim))
def test_the_plan_is_the_same_on_every_run(aim: Aim, monkeypatch: pytest.MonkeyPatch) -> None:
    runs = [plan_show(shows.show(7, [(0,), (0, 1), *[(0,)] * 4], 2), aim) for _ in range(2)]
    runs += [heuristic(shows.show(7, [(0,), (0, 1), *[(0,)] * 4], 2), aim, monkeypatch) for _ in range(2)]
    assert (runs[0].order, runs[0].starts, runs[0].works) == (runs[1].order, runs[1].starts, runs[1].works)
    assert (runs[2].order, runs[2].starts, runs[2].works) == (runs[3].order, runs[3].starts, runs[3].works)


@CASES
@given(st.integers(0, 10**6), shows.runnings(5), st.integers(1, 3))
def test_other_starts_in_the_same_order_are_never_more_hurried(
    seed: int, runnings: list[tuple[int, ...]], plate_sets: int
) -> None:
    problem = shows.show(seed, runnings, plate_sets)
    given_order = plan_show(problem, Aim.GIVEN)
    calmer = same_order_least_worst(problem, given_order.order)
    assert calmer.worst_hurry <= given_order.worst_hurry * (1 + 1e-9)
    assert calmer.during >= given_order.during
    assert calmer.order == given_order.order


def test_a_show_of_one_song_has_nothing_to_swap() -> None:
    for aim in Aim:
        plan = plan_show(shows.show(1, [(0,)], 2), aim)
        assert (plan.order, plan.during, plan.worst_hurry) == ((0,), 0, 0.0)
        assert plan.before > 0
        assert plan.proved

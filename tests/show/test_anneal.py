"""The search for the order of many songs: its running sums against sums made anew, and what it leads to."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import shows
from pegwright.show.anneal import Links, _drawn, _State, annealed
from pegwright.show.bound import work_floor
from pegwright.show.plan import Aim, plan_show
from pegwright.show.queue import queue_floor
from pegwright.show.starts import least_work, work_tables


@settings(max_examples=40)
@given(st.integers(0, 10**6), shows.runnings(7), st.integers(1, 4), st.booleans())
def test_the_work_of_a_changed_order_is_that_of_the_order_made_anew(
    seed: int, runnings: list[tuple[int, ...]], plate_sets: int, coarse: bool
) -> None:
    problem = shows.show(seed, runnings, plate_sets, starts=3)
    songs = len(runnings)
    links = Links(problem, coarse)
    state, random = _State(links, range(songs), [0] * songs), Random(seed).random  # noqa: S311
    for _ in range(60 if songs > 1 else 0):
        change = _drawn(random, state.order, 0, songs)
        if change is not None:
            state.attempt(change, random() * 4)
            assert state.work == _State(links, state.order, state.starts).work
    assert sorted(state.order) == list(range(songs))
    if not coarse:
        starts = [state.starts[song] for song in state.order]
        tables = work_tables(problem, state.order).items()
        during = sum(int(table[tuple(starts[place] for place in scope)]) // problem.weight for scope, table in tables)
        before = sum(int(table[tuple(starts[place] for place in scope)]) % problem.weight for scope, table in tables)
        assert state.work == during + before // problem.weight


@pytest.mark.parametrize("ends", [(), (0,), (5,), (0, 5)])
def test_songs_at_the_ends_stay_where_they_must(ends: tuple[int, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pegwright.show.anneal.TRIALS_OF_A_SONG", 50)
    links = Links(shows.show(3, [(0,), (0, 1), (0,), (0, 1), (0,), (0,)], 3, starts=3))
    order = annealed(links, (4, 1, 0, 2, 3, 5), ends, seed=1)
    assert [order[place] for place in ends] == [(4, 1, 0, 2, 3, 5)[place] for place in ends]
    assert order == annealed(links, (4, 1, 0, 2, 3, 5), ends, seed=1)


@pytest.mark.parametrize(("seed", "plate_sets"), [(1, 2), (2, 3), (3, 3)])
def test_songs_of_two_sets_are_searched_to_the_best_and_bounded_closely(
    seed: int, plate_sets: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The bound of queues is nearer than that of walks from set to set, of which it takes the place."""
    problem = shows.show(seed, [(0, 1), (0,), (0, 1), (0,), (0,), (0,)], plate_sets, starts=4, plates=3, holes=100)
    best = plan_show(problem, Aim.LEAST_WORK).during
    monkeypatch.setattr("pegwright.show.anneal.TRIALS_OF_A_SONG", 500)
    order = annealed(Links(problem), tuple(range(6)), (), seed=1)
    assert best <= least_work(problem, order).during <= best * 1.005
    assert work_floor(problem, best) < queue_floor(problem, best) <= best
    assert queue_floor(problem, best) >= 0.96 * best

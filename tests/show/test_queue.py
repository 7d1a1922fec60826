"""The cheapest walk from queue to queue, against trying every walk."""

from __future__ import annotations

from collections import Counter
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import shows
from pegwright.columns import frozen_floats
from pegwright.show.problem import Problem
from pegwright.show.queue import _Queues, _Walks, queue_floor


def cost_of(problem: Problem, walk: tuple[int, ...]) -> int | None:
    """The work of songs one after another, each at its best start; None if one is played while a set holds it."""
    firsts = problem.first_visits
    queue: list[int | None] = [None] * problem.strand_count
    total = 0
    for song in walk:
        if any(visit is not None and problem.visits[visit].song == song for visit in queue):
            return None
        turns = problem.songs[song].turns
        by_start = problem.within_songs[song].copy()
        for slot in range(turns.slot_count):
            old = queue.pop(0)
            if old is not None:
                by_start += problem.link(old, firsts[song] + slot).min(axis=0)
        queue += [firsts[song] + slot for slot in turns.freed()]
        total += int(by_start.min())
    return total


def walks(problem: Problem) -> _Walks:
    queues = _Queues(problem)
    return _Walks([queues.ways(sets) for sets in queues.set_counts], len(queues.all), problem)


@settings(max_examples=60)
@given(
    st.integers(0, 10**6),
    st.lists(st.sampled_from([(0,), (0, 1), (0, 1, 0)]), min_size=2, max_size=5),
    st.integers(2, 3),
    st.booleans(),
    st.data(),
)
def test_the_cheapest_walk_is_the_cheapest_of_all(
    seed: int, runnings: list[tuple[int, ...]], plate_sets: int, bound: bool, data: st.DataObject
) -> None:
    songs = len(runnings)
    problem = shows.show(seed, [*runnings[:-1], (0, 1)], plate_sets, last=0 if bound else None)
    if problem.independent:  # every song takes all sets, so that the bound is another one
        return
    prices = np.array(data.draw(st.lists(st.integers(-20, 20), min_size=songs, max_size=songs)))
    costs = {walk: cost_of(problem, walk) for walk in product(range(songs), repeat=songs) if not bound or walk[-1] == 0}
    priced = {walk: cost + int(prices[list(walk)].sum()) for walk, cost in costs.items() if cost is not None}
    if not priced:
        return
    cost, played = walks(problem).cheapest(frozen_floats(prices))
    assert cost == pytest.approx(min(priced.values()))
    best = {tuple(sorted(Counter(walk).items())) for walk, total in priced.items() if total == min(priced.values())}
    assert tuple((song, times) for song, times in enumerate(played.tolist()) if times) in best


def test_a_show_with_too_many_queues_has_no_such_floor(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = shows.show(1, [(0,), (0, 1)] * 4, 3)
    assert queue_floor(problem, 0) > 0
    monkeypatch.setattr("pegwright.show.queue.MAX_WAYS", 100)
    assert queue_floor(problem, 0) == 0

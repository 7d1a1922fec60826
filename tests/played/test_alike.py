"""Earlier clusters that are like each: by melody, bass or chord, the longer the more."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.played.alike import KEPT, LONGEST, POWER, Outline, alike_before

Pitches = list[tuple[int, int]]


def run_of(values: list[int], earlier: int, later: int, *, steps: bool) -> int:
    """How far both go on alike, counted one by one; a step belongs to the clusters on either side."""
    if not steps and values[earlier] != values[later]:
        return 0
    before = 0
    while before < LONGEST and earlier - 1 - before >= 0 and values[earlier - 1 - before] == values[later - 1 - before]:
        before += 1
    after, first = 0, 0 if steps else 1
    while (
        after < LONGEST
        and later + first + after < len(values) - (not steps)
        and values[earlier + first + after] == values[later + first + after]
    ):
        after += 1
    return before + after


@given(st.lists(st.tuples(st.integers(60, 63), st.integers(40, 42)), min_size=1, max_size=60))
def test_each_that_is_like_another_lies_before_it_and_weighs_by_how_long_both_go_on_alike(pitches: Pitches) -> None:
    high, low = np.array([one for one, _ in pitches]), np.array([other for _, other in pitches])
    chord, size = high * 128 + low, np.full(len(high), 2)
    first, which, weight = alike_before(Outline(high, low, chord), size)
    assert len(first) == len(high) + 1
    assert first[0] == 0
    assert first[-1] == len(which) == len(weight)
    assert (np.diff(first) >= 0).all()
    assert (np.diff(first) <= KEPT).all()
    ways = [(np.diff(high).tolist(), True), (np.diff(low).tolist(), True), (chord.tolist(), False)]
    for cluster in range(len(high)):
        own = which[first[cluster] : first[cluster + 1]].tolist()
        assert len(set(own)) == len(own)
        for earlier, one in zip(own, weight[first[cluster] : first[cluster + 1]].tolist(), strict=True):
            assert 0 < earlier < cluster
            longest = max(run_of(values, earlier, cluster, steps=steps) for values, steps in ways)
            assert one == pytest.approx((longest / 2) ** POWER)


def test_a_melody_that_comes_back_higher_is_like_itself() -> None:
    melody = np.array([60, 64, 62, 67, 65, 60, 69, 71])
    high = np.concatenate([melody, melody + 5])
    one = np.ones(16, dtype=np.int64)
    first, which, weight = alike_before(Outline(high, np.arange(16) ** 2, np.arange(16)), one)
    inner = range(9, 15)
    assert [which[first[at] : first[at + 1]].tolist() for at in inner] == [[at - 8] for at in inner]
    assert weight[first[12]] == pytest.approx((7 / 2) ** POWER)


def test_chords_that_come_back_are_alike_though_their_melody_differs_before() -> None:
    chord = np.array([1, 2, 3, 4, 9, 8, 7, 2, 3, 4, 5])
    high = np.arange(11) ** 2
    first, which, _ = alike_before(Outline(high, high, chord), np.ones(11, dtype=np.int64))
    assert which[first[8] : first[9]].tolist() == [2]
    assert which[first[9] : first[10]].tolist() == [3]

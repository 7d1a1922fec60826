"""Ways drawn from a search: each as often as it is likely, compared with a path where most of it agrees."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.played.bar_fronts import Trace
from pegwright.played.drawn_ways import MODULUS, MULTIPLIER, WAYS_DRAWN, share_alike, ways_drawn


def chain(ways: list[list[int]], chances: list[float]) -> Trace:
    """Each way by itself from its start to its end: one hypothesis at each cluster, with all its chance at the end."""
    count, clusters = len(ways), len(ways[0])
    own = np.tile(np.arange(count, dtype=np.int16), (clusters, 1))
    score = np.zeros((clusters, count), dtype=np.float32)
    score[-1] = np.log(chances)
    return Trace(
        kept=np.full(clusters, count),
        unit=np.array(ways, dtype=np.int32).T.copy(),
        quarter_s=np.full((clusters, count), 0.5, dtype=np.float32),
        parent=own,
        edges=np.full(clusters, count),
        before=own,
        after=own,
        step=np.diff(np.array(ways, dtype=np.int32).T, axis=0, prepend=0),
        score=score,
        start=np.zeros(count),
    )


STEADY = list(range(0, 240, 24))


def sure_of(*others: tuple[list[int], float]) -> list[float]:
    """Of the steady way, beside others with so much of its chance."""
    trace = chain([STEADY, *(way for way, _ in others)], [1.0, *(chance for _, chance in others)])
    sure: list[float] = share_alike(ways_drawn(trace) - np.array(STEADY)[:, None], np.ones(WAYS_DRAWN)).tolist()
    return sure


def test_a_place_is_as_sure_as_the_share_of_ways_through_it() -> None:
    other = [*STEADY[:-1], STEADY[-1] + 2]
    assert sure_of((other, 0.5)) == pytest.approx([1.0] * 9 + [2 / 3], abs=0.14)
    assert sure_of() == [1.0] * 10


def test_a_song_that_may_begin_on_another_beat_is_no_less_sure() -> None:
    assert sure_of(([unit + 24 for unit in STEADY], 1.0)) == [1.0] * 10


def test_where_a_beat_may_be_lost_what_comes_before_or_after_is_in_doubt() -> None:
    """Both begin elsewhere and end alike, so neither the first beat nor the last says which is right."""
    early = [unit + 24 * (number < 3) for number, unit in enumerate(STEADY)]
    assert sure_of((early, 1.0)) == pytest.approx([0.5] * 3 + [1.0] * 7, abs=0.14)
    late = [unit - 96 * (number >= 8) for number, unit in enumerate(STEADY)]
    assert sure_of((late, 1.0)) == pytest.approx([1.0] * 8 + [0.5] * 2, abs=0.14)


@given(st.lists(st.sampled_from([0.05, 0.3, 1.0, 2.5]), min_size=2, max_size=5))
def test_each_way_is_drawn_as_often_as_it_is_likely(chances: list[float]) -> None:
    drawn = ways_drawn(chain([[number] * 4 for number in range(len(chances))], chances))
    assert (drawn == drawn[0]).all(), "no way changes into another"
    count = np.bincount(drawn[0], minlength=len(chances)) / WAYS_DRAWN
    assert count.tolist() == pytest.approx((np.array(chances) / sum(chances)).tolist(), abs=0.14)


@given(st.integers(1, 399), st.sampled_from([-12, -6, 8, 6, 12, 24, 96]))
def test_a_slip_makes_the_shorter_side_unsure(slip: int, units: int) -> None:
    alike = share_alike(np.where(np.arange(400) >= slip, units, 0)[:, None], np.ones(1))
    if slip != 200:
        assert alike.tolist() == [float((2 * slip > 400) == (number < slip)) for number in range(400)]


@given(st.integers(-480, 480))
def test_a_way_that_lies_elsewhere_throughout_is_alike(units: int) -> None:
    assert share_alike(np.full((40, 1), units), np.ones(1)).tolist() == [1.0] * 40


def test_the_sequence_that_ways_are_drawn_by_is_the_published_one() -> None:
    """From 1, the ten thousandth number is 399268537 (ISO/IEC 14882, C++, minstd_rand; from memory)."""
    number = 1
    for _ in range(10_000):
        number = number * MULTIPLIER % MODULUS
    assert number == 399268537


def test_forks_one_after_another_are_drawn_independently() -> None:
    """From either of two hypotheses to either of two, nine times in ten to the first."""
    clusters = 40
    score = np.log(np.tile([0.9, 0.1, 0.9, 0.1], (clusters, 1))).astype(np.float32)
    trace = Trace(
        kept=np.full(clusters, 2),
        unit=np.array([[24 * cluster, 24 * cluster + 12] for cluster in range(clusters)], dtype=np.int32),
        quarter_s=np.full((clusters, 2), 0.5, dtype=np.float32),
        parent=np.zeros((clusters, 2), dtype=np.int16),
        edges=np.full(clusters, 4),
        before=np.tile(np.array([0, 0, 1, 1], dtype=np.int16), (clusters, 1)),
        after=np.tile(np.array([0, 1, 0, 1], dtype=np.int16), (clusters, 1)),
        step=np.tile(np.array([24, 36, 12, 24], dtype=np.int32), (clusters, 1)),
        score=score,
        start=np.log([0.9, 0.1]),
    )
    second = ways_drawn(trace) % 24 == 12
    assert second.mean() == pytest.approx(0.1, abs=0.02)
    for apart in range(1, 20):
        both = (second[apart:] & second[:-apart]).mean()
        assert both == pytest.approx(0.01, abs=0.012)


def test_ways_that_meet_a_bar_apart_keep_their_own_steps() -> None:
    """Two hypotheses a bar apart lead to one, which has the holes of the first: the second way began a bar earlier."""
    trace = Trace(
        kept=np.array([2, 1, 1]),
        unit=np.array([[0, -96], [24, 0], [48, 0]], dtype=np.int32),
        quarter_s=np.full((3, 2), 0.5, dtype=np.float32),
        parent=np.zeros((3, 2), dtype=np.int16),
        edges=np.array([0, 2, 1]),
        before=np.array([[0, 0], [0, 1], [0, 0]], dtype=np.int16),
        after=np.zeros((3, 2), dtype=np.int16),
        step=np.array([[0, 0], [24, 24], [24, 0]], dtype=np.int32),
        score=np.zeros((3, 2), dtype=np.float32),
        start=np.zeros(2),
    )
    drawn = ways_drawn(trace)
    assert np.diff(drawn, axis=0).tolist() == [[24] * WAYS_DRAWN] * 2


@given(st.lists(st.floats(0.1, 1.0), min_size=2, max_size=6))
def test_ways_that_weigh_more_count_for_more(weight: list[float]) -> None:
    apart = np.zeros((10, len(weight)), dtype=np.int64)
    apart[-1, 0] += 12
    alike = share_alike(apart, np.array(weight))
    assert alike.tolist() == pytest.approx([1.0] * 9 + [1 - weight[0] / sum(weight)])

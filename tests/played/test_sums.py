"""The sums over rhythms equal what counting out every way gives.

Both are the definitions, counted out for small cases: ways to deal onsets to places, and ways through the quarters.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from pegwright.columns import Ints, frozen_floats, frozen_ints
from pegwright.played import habits
from pegwright.played.habits import Habits, first_habits
from pegwright.played.likelihood import Onsets, closeness, pattern_likelihoods, split_candidates
from pegwright.played.model import RhythmModel, rhythm_model
from pegwright.played.path import SPLITS_KEPT, best_path

FEW_PLACES = (Fraction(0), Fraction(1, 3), Fraction(1, 2), Fraction(2, 3))


@st.composite
def a_few_onsets(draw: st.DrawFn, most: int = 7, quarters: int = 3) -> Onsets:
    """Onsets of some quarters, now and then one voice twice."""
    at = sorted(draw(st.lists(st.floats(0, quarters - 1.01), min_size=1, max_size=most)))
    voice = draw(st.lists(st.integers(0, 2), min_size=len(at), max_size=len(at)))
    count = len(at)
    return Onsets(
        frozen_floats(at),
        frozen_floats(np.full(count, draw(st.floats(0.3, 0.8)))),
        frozen_floats(np.zeros(count)),
        frozen_ints(voice),
        frozen_ints(np.zeros(count, dtype=int)),
        int(at[-1]) + 2,
        draw(st.floats(0.01, 0.05)),
    )


def ways_to_deal(
    near: NDArray[np.float64],
    own: NDArray[np.int64],
    together: NDArray[np.float64],
    quarter: int,
    slots: list[int],
    notes: range,
) -> float:
    """The likelihoods of all ways to give the notes to the places in order, each place at least one, added up."""
    total = 0.0
    for moves in itertools.product((0, 1), repeat=len(notes)):
        chance, reached = 1.0, -1
        for note, move in zip(notes, moves, strict=True):
            reached += move
            if not 0 <= reached < len(slots):
                chance = 0.0
                break
            side = min(max(quarter - int(own[note]) + 1, 0), 2)
            chance *= float(near[note, side, slots[reached]]) * float(1 - together[note] if move else together[note])
        if reached == len(slots) - 1:
            total += chance
    return total


@given(a_few_onsets(), st.integers(0, 2**32))
def test_dealing_equals_counting_out_every_way(onsets: Onsets, seed: int) -> None:
    model = rhythm_model(FEW_PLACES)
    rng = np.random.default_rng(seed)
    near = closeness(model, onsets)
    splits = split_candidates(onsets, SPLITS_KEPT)
    chosen = frozen_ints(np.array([rng.permutation(model.pattern_count)[:6] for _ in range(onsets.quarter_count)]))
    together = frozen_floats(rng.uniform(0.03, 0.97, len(onsets.quarters)))
    found = pattern_likelihoods(model, onsets, near, chosen, splits, together)
    own = np.floor(onsets.quarters).astype(np.int64)
    for quarter, number in np.ndindex(chosen.shape):
        pattern = int(chosen[quarter, number])
        slots = model.slot[pattern, : model.size[pattern]].tolist()
        for first, last in np.ndindex(splits.shape[1], splits.shape[1]):
            start, end = int(splits[quarter, first]), int(splits[quarter + 1, last])
            expected = (
                ways_to_deal(near, own, together, quarter, slots, range(start, end)) if min(start, end) >= 0 else 0.0
            )
            assert found[quarter, number, first, last] == pytest.approx(expected, rel=1e-9)


def counted_out(model: RhythmModel, onsets: Onsets, kept: NDArray[np.int64]) -> NDArray[np.float64]:
    """Shape (quarters, m): probability of each pattern kept, by every way through the quarters and their splits."""
    habits, splits = first_habits(model, onsets), split_candidates(onsets, SPLITS_KEPT)
    fit = pattern_likelihoods(model, onsets, closeness(model, onsets), frozen_ints(kept), splits, habits.together)
    quarters, most = kept.shape
    share = np.zeros(kept.shape)
    for patterns in itertools.product(range(most), repeat=quarters):
        chance = float(habits.usage[kept[0, patterns[0]]])
        for quarter in range(1, quarters):
            before, after = kept[quarter - 1, patterns[quarter - 1]], kept[quarter, patterns[quarter]]
            chance *= float(model.follow[before, after])
        ways = (splits[0] >= 0).astype(float)
        for quarter, pattern in enumerate(patterns):
            ways = ways @ fit[quarter, pattern]
        chance *= float(ways @ (splits[-1] >= 0))
        share[np.arange(quarters), patterns] += chance
    share /= share.sum(axis=1, keepdims=True)
    return share


@settings(max_examples=60)
@given(a_few_onsets(most=6, quarters=4))
def test_certainty_of_patterns_equals_counting_out_every_way(onsets: Onsets) -> None:
    path = best_path(rhythm_model(FEW_PLACES), onsets, (4,))
    assert path.certainty == pytest.approx(counted_out(path.model, onsets, path.kept), abs=1e-9)


@pytest.mark.parametrize("crowd", [60, 400])
def test_a_crowd_of_onsets_stays_in_range(crowd: int) -> None:
    at = np.sort(np.random.default_rng(crowd).uniform(0, 2.9, crowd))
    one = frozen_ints(np.zeros(crowd, dtype=int))
    onsets = Onsets(frozen_floats(at), frozen_floats(np.full(crowd, 0.5)), frozen_floats(np.zeros(crowd)), one, one, 4)
    path = best_path(rhythm_model(), onsets)
    assert np.isfinite(path.certainty).all()
    assert (path.certainty <= 1 + 1e-9).all()
    if crowd < 100:  # beyond what numbers can hold nothing is sure any more, and the notes are told as unsure
        assert path.certainty.sum(axis=1) == pytest.approx(1.0)


def long_song(quarters: int) -> Onsets:
    """An onset in every fourth quarter, a little early or late."""
    at = 4 * np.arange(quarters // 4) + 0.5 * (np.arange(quarters // 4) % 3) + 0.01
    none = np.zeros(len(at))
    voice = frozen_ints(none)
    return Onsets(frozen_floats(at), frozen_floats(none + 0.5), frozen_floats(none), voice, voice, quarters)


def test_pairs_of_patterns_are_in_memory_for_some_quarters_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pair of patterns for every quarter of a long silence would take more memory than all else together."""
    longest: list[int] = []

    def seen(self: Habits, kept: Ints, backward: bool = False) -> Iterator[NDArray[np.float64]]:
        for steps in steps_of(self, kept, backward):
            longest.append(len(steps))
            yield steps

    steps_of = Habits.steps
    monkeypatch.setattr(Habits, "steps", seen)
    best_path(rhythm_model(FEW_PLACES), long_song(4 * habits.BLOCK_QUARTERS))
    assert longest
    assert max(longest) == habits.BLOCK_QUARTERS


def test_how_many_quarters_are_summed_at_a_time_changes_no_bit(monkeypatch: pytest.MonkeyPatch) -> None:
    model, onsets = rhythm_model(FEW_PLACES), long_song(100)
    whole = best_path(model, onsets)
    for quarters in (1, 7, 98):
        monkeypatch.setattr(habits, "BLOCK_QUARTERS", quarters)
        path = best_path(model, onsets)
        assert np.array_equal(path.pattern, whole.pattern)
        assert np.array_equal(path.certainty, whole.certainty)
        assert np.array_equal(path.together, whole.together)

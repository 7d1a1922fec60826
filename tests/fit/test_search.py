"""The search: what every transposition and start is worth, against fitting each of them."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import samples
import strategies
from pegwright.errors import UsageError
from pegwright.fit.fit_song import fit_song
from pegwright.fit.options import FitOptions
from pegwright.fit.search import grid_period_steps, search
from pegwright.grid import hole_grid
from pegwright.score import Score
from pegwright.wheel import LostHole, Wheel


@settings(max_examples=200)
@given(strategies.scores(), strategies.wheels(), strategies.options(), st.data())
def test_search_equals_fitting_every_transposition_and_start(
    score: Score, wheel: Wheel, options: FitOptions, data: st.DataObject
) -> None:
    """Brute force: the whole fit, once for each."""
    semitones = sorted(data.draw(st.sets(st.integers(-14, 14), min_size=1, max_size=3)))
    starts = range(wheel.turn_steps)
    found = search(score, wheel, options, semitones, starts)
    ranked = []
    for row, transpose in enumerate(semitones):
        for column, start in enumerate(starts):
            asked = replace(options, transpose_semitones=transpose, start_steps=Fraction(start))
            placement, _ = fit_song(score, wheel, asked)
            assert (found.weight[row, column], found.cost_ticks[row, column]) == (
                placement.weight,
                placement.cost_ticks,
            )
            ranked.append((-placement.weight, placement.cost_ticks, abs(transpose), -transpose, start, transpose))
    assert np.all(found.proved)
    best = found.best()
    *_, start, transpose = min(ranked)
    assert (best.transpose_semitones, best.start_steps) == (transpose, start)
    assert found.equals(best) == sum(rank[:2] == min(ranked)[:2] and rank[5] == transpose for rank in ranked)
    few = search(score, wheel, options, semitones, starts, best_few=2)
    assert few.ranked(2) == found.ranked(2)
    for choice in few.ranked(2):
        assert few.is_proved(choice)
        assert few.equals(choice) == found.equals(choice)
    bound = np.stack([few.weight, -few.cost_ticks])
    exact = np.stack([found.weight, -found.cost_ticks])
    assert np.all((bound == exact).all(axis=0) | ~few.proved)
    assert np.all((bound[0] > exact[0]) | ((bound[0] == exact[0]) & (bound[1] >= exact[1])))


def test_the_grid_repeats_every_plate_unless_a_plate_differs() -> None:
    alike = samples.wheel()
    assert grid_period_steps(hole_grid(alike), alike) == 32
    odd = samples.wheel(lost=(LostHole("on", 3, plate=4),))
    assert grid_period_steps(hole_grid(odd), odd) == 192
    whole = samples.wheel(geometry=replace(samples.GEOMETRY, min_wall_mm=0.1))
    assert grid_period_steps(hole_grid(whole), whole) == 2, "the triplet row repeats every two steps"


def test_best_few_are_one_for_each_transposition_best_first() -> None:
    wheel = samples.wheel()
    score = samples.score([(0, 66), (24, 72), (48, 73)])  # channels for 60 to 72
    found = search(score, wheel, FitOptions(), range(-12, 13), range(192))
    ranked = found.ranked(5)
    assert ranked[0].transpose_semitones == -1
    assert [choice.transpose_semitones for choice in ranked] == [-1, -2, -3, -4, -5]
    assert len({choice.weight for choice in ranked}) == 1
    assert found.equals(ranked[0]) == 192


@pytest.mark.parametrize(
    ("semitones", "starts", "said"),
    [
        ([], [0], "no transpositions"),
        ([0], [], "no starts"),
        ([200], [0], "200 semitones"),
        ([0], [192], "steps 1 to 192"),
        ([0], [-1], "steps 1 to 192"),
    ],
)
def test_impossible_ranges_are_refused(semitones: list[int], starts: list[int], said: str) -> None:
    with pytest.raises(UsageError, match=said):
        search(samples.score([(0, 60)]), samples.wheel(), FitOptions(), semitones, starts)

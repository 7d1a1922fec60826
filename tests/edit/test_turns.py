"""Songs cut at the turns of the wheel."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

import samples
import strategies
from pegwright.ask.options import FitOptions
from pegwright.columns import frozen_ints
from pegwright.draw.bars import bar_marks
from pegwright.edit.turns import cut_turns, length_turns
from pegwright.fit.placing import place_song
from pegwright.score import BarMap, Score
from pegwright.wheel import Wheel

WHEEL = samples.wheel(plate_count=2, steps_per_plate=8)  # a turn of 4 quarters


@given(strategies.scores(), strategies.wheels())
def test_every_note_is_in_one_turn_and_keeps_its_place_in_it(score: Score, wheel: Wheel) -> None:
    turns = cut_turns(score, wheel)
    assert sum(turn.note_count for turn in turns) == score.note_count
    assert turns[-1].note_count or len(turns) == 1
    placed = []
    for number, turn in enumerate(turns):
        begins = number * wheel.turn_quarters
        for note in range(turn.note_count):
            quarters = begins + Fraction(int(turn.onset_ticks[note]), turn.resolution)
            placed.append((quarters, int(turn.part[note]), int(turn.pitch_midi[note]), int(turn.velocity[note])))
        if len(turns) > 1:
            assert (turn.onset_ticks >= 0).all()
            assert max(turn.onset_ticks.tolist(), default=0) < wheel.turn_quarters * turn.resolution
    tolerance = Fraction(score.tolerance_ticks, score.resolution)
    columns = (score.onset_ticks, score.part, score.pitch_midi, score.velocity)
    written = [
        (Fraction(onset, score.resolution), part, pitch, velocity)
        for onset, part, pitch, velocity in zip(*(column.tolist() for column in columns), strict=True)
    ]
    for found, meant in zip(placed, written, strict=True):
        assert found[1:] == meant[1:]
        at, was = found[0], meant[0]
        assert at == was or (0 < at - was <= tolerance and at % wheel.turn_quarters == 0)


def test_a_song_that_is_held_to_its_first_turns_keeps_every_note() -> None:
    score = samples.score([(0, 60), (100, 62), (150, 64), (288, 65)], resolution=24)
    assert cut_turns(score, WHEEL, first_turns=1) == (score,)
    assert cut_turns(score, replace(WHEEL, repinned_within_song=False)) == (score,)
    first, rest = cut_turns(score, WHEEL, first_turns=2)
    assert (first.note_count, rest.note_count) == (1, 3)
    assert rest.onset_ticks.tolist() == [4, 54, 192]
    assert rest.bar_map.labels == ("2", "3", "4")
    assert [turn.note_count for turn in cut_turns(score, WHEEL, first_turns=9)] == [1, 2, 0, 1]


def test_a_song_of_one_turn_is_left_as_it_is() -> None:
    score = samples.score([(0, 60), (95, 62)], resolution=24)
    assert cut_turns(score, WHEEL) == (score,)
    assert length_turns(score, WHEEL) == 1


def test_a_note_that_rounding_puts_before_the_turn_begins_it() -> None:
    """Tick 95 of 96 is one tick early: within the file's own rounding it is the first of the next turn."""
    exact = samples.score([(0, 60), (95, 62)], resolution=24)
    first, second = cut_turns(replace(exact, tolerance_ticks=1), WHEEL)
    assert (first.note_count, second.onset_ticks.tolist()) == (1, [0])


def test_bars_tempi_and_places_of_notes_go_along() -> None:
    score = samples.score([(0, 60), (100, 62), (150, 64), (288, 65)], resolution=24)
    turns = cut_turns(score, WHEEL)
    assert [turn.bar_map.labels for turn in turns] == [("1",), ("2",), ("3",), ("4",)]
    assert [turn.note_count for turn in turns] == [1, 2, 0, 1]
    assert str(turns[1].source(1)) == str(score.source(2))
    assert [turn.bar_map.end_ticks for turn in turns] == [96] * 4


def test_a_bar_that_is_cut_says_so() -> None:
    """Bars of three quarters on a turn of four."""
    bars = BarMap(frozen_ints([0, 72]), ("1", "2"), frozen_ints([3, 3]), frozen_ints([4, 4]), 144)
    score = replace(samples.score([(0, 60), (120, 62)], resolution=24), bar_map=bars)
    first, second = cut_turns(score, WHEEL)
    assert first.bar_map.labels == ("1", "2")
    assert (second.bar_map.labels, second.bar_map.cut_ticks) == (("2",), 24)
    assert second.bar_map.ticks.tolist() == [0]
    assert str(second.source(0)) == str(score.source(1))
    placement = place_song(second, WHEEL, FitOptions())
    assert [(mark.label, list(map(int, mark.beats))) for mark in bar_marks(second, WHEEL, placement)] == [
        ("2 from beat 2", [4]),
        ("end", []),
    ]
    assert second.length_ticks == 48


def test_a_turn_that_the_scores_ticks_do_not_divide() -> None:
    """A turn of 16 thirds of a quarter at 4 ticks a quarter: 21 1/3 ticks."""
    wheel = samples.wheel(plate_count=2, steps_per_plate=8, step_quarters=Fraction(1, 3))
    first, second = cut_turns(samples.score([(21, 60), (22, 62)], resolution=4), wheel)
    assert (first.resolution, first.onset_ticks.tolist(), second.onset_ticks.tolist()) == (12, [63], [2])


@given(st.integers(1, 6))
def test_a_song_past_the_end_of_its_bars_is_cut_too(turns: int) -> None:
    score = samples.score([(0, 60), (96 * turns + 5, 61)], resolution=24)
    short = replace(score, bar_map=replace(score.bar_map, end_ticks=96))
    made = cut_turns(short, WHEEL)
    assert len(made) == turns + 1
    assert np.all(np.array([turn.length_ticks for turn in made]) > 0)

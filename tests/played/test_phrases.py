"""Waits whole phrases apart speak for a way: those of the whole together, and each by those before it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.played.bar_places import BarPlaces, metre_of
from pegwright.played.free_beat import song_bar
from pegwright.played.model import PLACES
from pegwright.played.phrases import learn_wait, no_waits, phrases_gain, wait_favour

QUARTER = 24
PLACES_OF = {metre: song_bar(PLACES, metre_of(metre)) for metre in ("4/4", "3/4", "6/8")}

metres = st.sampled_from(sorted(PLACES_OF))
lengths = st.sampled_from([2, 3, 4])
ends = st.lists(st.integers(0, 100), min_size=2, max_size=12, unique=True)


def favour(places: BarPlaces, waits: list[int], hole: int) -> float:
    """How much likelier a wait is before a hole after other waits."""
    learnt = no_waits(1, places)
    for unit in waits:
        learn_wait(learnt, 0, unit, places.bar_units, places.resolution)
    return wait_favour(learnt, 0, hole, places.bar_units, places.resolution)


@given(metres, lengths, ends, st.integers(0, 400))
def test_waits_whole_phrases_apart_are_likelier_than_any_others(
    metre: str, bars: int, phrases: list[int], first: int
) -> None:
    places = PLACES_OF[metre]
    regular = first + bars * places.bar_units * np.array(phrases)
    others = regular + np.where(np.arange(len(phrases)) % 2, QUARTER, 0)
    assert phrases_gain(regular, places) > phrases_gain(others, places)
    assert phrases_gain(regular, places) > 0


@given(metres, lengths, ends, st.integers(0, 400), st.integers(-12, 12))
def test_a_wait_within_half_a_quarter_counts_as_one_at_the_end(
    metre: str, bars: int, phrases: list[int], first: int, away: int
) -> None:
    places = PLACES_OF[metre]
    regular = first + bars * places.bar_units * np.array(phrases)
    moved = regular + np.where(np.arange(len(phrases)) == 1, away, 0)
    assert phrases_gain(moved, places) == phrases_gain(regular, places)


def test_one_wait_says_nothing_of_phrases() -> None:
    places = PLACES_OF["4/4"]
    assert phrases_gain(np.array([100]), places) == phrases_gain(np.zeros(0, dtype=np.int64), places) == 0
    assert favour(places, [], 100) == 0


@given(metres, lengths, st.integers(2, 10), st.integers(-400, 400))
def test_after_waits_whole_phrases_apart_the_next_is_expected_there(
    metre: str, bars: int, count: int, first: int
) -> None:
    """And less so half-way, the more waits there were; the same from the last note to the first, below zero."""
    phrase = bars * PLACES_OF[metre].bar_units
    waits = [first + phrase * each for each in range(count)]
    there = [favour(PLACES_OF[metre], waits[:some], first + phrase * count) for some in (2, count)]
    assert 0 < there[0] <= there[1]
    beside = first + phrase * count + 2 * QUARTER
    assert favour(PLACES_OF[metre], waits, beside) < favour(PLACES_OF[metre], waits[:1], beside) < there[0]


@pytest.mark.parametrize("metre", sorted(PLACES_OF))
def test_a_player_who_waits_anywhere_shows_no_phrases(metre: str) -> None:
    """Of waits at random places the next is expected about as much in one place as in another."""
    places = PLACES_OF[metre]
    waits = np.random.default_rng(4).integers(0, 4000, 400).tolist()
    assert max(favour(places, waits, hole) for hole in range(0, 12 * places.bar_units, 6)) < 0.5

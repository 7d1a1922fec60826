"""One way through a song: the likelihood that the search gave it, what the rhythms of its bars cost, and its waits."""

from __future__ import annotations

import math
from collections import Counter
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commands import SONGS
from pegwright.columns import Ints
from pegwright.played.bar_fronts import Given, Start
from pegwright.played.bar_laws import MOVING
from pegwright.played.bar_places import metre_of
from pegwright.played.bar_search import BarBeat, given_to_search, search_bars
from pegwright.played.beats import seconds_of
from pegwright.played.free_beat import song_bar
from pegwright.played.model import PLACES
from pegwright.played.one_way import follow_way, rhythms_cost
from pegwright.played.struck import struck_by
from pegwright.read import read_score
from played.test_free_beat import notes_at, slowed

BAR = 96
START = Start(0.0, 0, 0.5, MOVING.start_spread)


def searched(name: str) -> tuple[Given, BarBeat]:
    """A bundled song whose phrases slow down, as the search follows it."""
    song, _ = read_score(SONGS / name)
    performance, _ = slowed(song, 0.3)
    struck = struck_by(notes_at(seconds_of(performance, performance.onset_ticks), performance.pitch_midi))
    bar = song_bar(PLACES, metre_of("4/4", Fraction(0)))
    return given_to_search(bar, struck, MOVING), search_bars(bar, struck, [START], MOVING)


@pytest.mark.parametrize("name", ["turnstile-tango.mid", "salt-water-shuffle.musicxml", "pier-masters-hornpipe.mid"])
def test_the_likeliest_way_has_by_itself_the_likelihood_and_tempo_of_the_search(name: str) -> None:
    to_search, beat = searched(name)
    way = follow_way(to_search, START, beat.unit)
    assert way.so_far[-1] == pytest.approx(beat.fit * len(beat.unit), rel=1e-3)
    assert way.quarter_s == pytest.approx(beat.quarter_s, rel=1e-4)


def test_what_an_onset_out_of_place_costs_is_seen_from_there_on() -> None:
    to_search, beat = searched("turnstile-tango.mid")
    moved = beat.unit.copy()
    moved[60] += 6 if moved[61] > moved[60] + 6 else 3
    right, wrong = (follow_way(to_search, START, unit) for unit in (beat.unit, moved))
    assert wrong.so_far[:60].tolist() == right.so_far[:60].tolist()
    assert wrong.so_far[60] < right.so_far[60]
    assert wrong.score < right.score


def test_a_way_that_falls_far_behind_is_given_up() -> None:
    to_search, beat = searched("turnstile-tango.mid")
    right = follow_way(to_search, START, beat.unit)
    double = follow_way(to_search, START, 2 * beat.unit, right)
    assert double.score == -math.inf
    assert follow_way(to_search, START, 2 * beat.unit).score < right.score


bars = st.lists(st.frozensets(st.integers(0, BAR - 1), min_size=1, max_size=6), min_size=1, max_size=40)


def units(rhythms: list[frozenset[int]]) -> Ints:
    return np.array([BAR * bar + place for bar, rhythm in enumerate(rhythms) for place in sorted(rhythm)])


@given(bars)
def test_rhythms_cost_what_it_takes_to_name_them(rhythms: list[frozenset[int]]) -> None:
    """The entropy of their shares, times the bars (C. E. Shannon, "A mathematical theory of communication", 1948)."""
    entropy = -sum(count * math.log(count / len(rhythms)) for count in Counter(rhythms).values())
    assert rhythms_cost(units(rhythms), BAR) == pytest.approx(entropy, abs=1e-9)


@given(bars, st.integers(-3, 3), st.integers(0, 400))
def test_neither_the_bar_that_is_first_nor_chords_change_what_rhythms_cost(
    rhythms: list[frozenset[int]], first: int, twice: int
) -> None:
    plain = units(rhythms)
    chords = np.sort(np.append(plain, plain[twice % len(plain)]))
    assert rhythms_cost(chords + first * BAR, BAR) == rhythms_cost(plain, BAR)

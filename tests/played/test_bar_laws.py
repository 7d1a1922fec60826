"""How a player goes from onset to onset: even steps, held notes, stops, and how rough the playing is."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.columns import Floats
from pegwright.played.bar_laws import (
    BEAT_PARTS,
    CHANGED,
    CHANGING,
    EVEN,
    HELD,
    IMPOSSIBLE,
    LONGEST_CHORD_S,
    MAX_QUARTER_S,
    MIN_QUARTER_S,
    MOVING,
    QUARTER,
    ROUGH,
    SEEN,
    TIME,
    USUAL,
    Laws,
    begin,
    go,
    stay,
    stay_score,
    step_score,
)

QUARTER_S = 0.5


def at_rest() -> Floats:
    """At 120 a minute, on the beat."""
    beat = np.zeros(BEAT_PARTS)
    begin(MOVING, beat, 0.0, QUARTER_S, 0.01)
    return beat


def gone(beat: Floats, lasts: float, when_s: float, *, how: int = USUAL, laws: Laws = MOVING) -> Floats:
    after = np.zeros(BEAT_PARTS)
    go(laws, beat, float(beat[QUARTER]), lasts, how, when_s, max(when_s - float(beat[TIME]), 1e-3), after)
    return after


@given(st.sampled_from([0.25, 0.5, 1.0, 2.0]), st.floats(-0.005, 0.005))
def test_the_step_that_the_time_shows_is_the_likeliest(lasts: float, late_s: float) -> None:
    when_s = lasts * QUARTER_S + late_s
    scores = {
        each: step_score(MOVING, at_rest(), QUARTER_S, each, 0.0, when_s, when_s)[0]
        for each in (0.25, 1 / 3, 0.5, 2 / 3, 1.0, 1.5, 2.0)
    }
    assert max(scores, key=scores.__getitem__) == lasts


@pytest.mark.parametrize("wait_s", [0.3, 0.6, 1.0])
def test_after_a_stop_the_note_was_held_and_the_tempo_is_that_before(wait_s: float) -> None:
    when_s = QUARTER_S + wait_s
    _, how = step_score(MOVING, at_rest(), QUARTER_S, 1.0, 0.0, when_s, when_s)
    assert how == HELD
    after = gone(at_rest(), 1.0, when_s, how=HELD)
    assert after[TIME] == pytest.approx(when_s)
    assert after[QUARTER] == QUARTER_S


def test_a_stop_is_likelier_where_it_is_favoured() -> None:
    plain, favoured = (step_score(MOVING, at_rest(), QUARTER_S, 1.0, favour, 1.1, 1.1)[0] for favour in (0.0, 1.5))
    assert favoured == pytest.approx(plain + 1.5)


@given(st.floats(0.0, 5.0), st.floats(0.0, 5.0))
def test_who_plays_evenly_never_waits(late_s: float, favour: float) -> None:
    when_s = QUARTER_S + late_s
    score, how = step_score(EVEN, at_rest(), QUARTER_S, 1.0, favour, when_s, when_s)
    assert how == USUAL
    assert score == step_score(EVEN, at_rest(), QUARTER_S, 1.0, 0.0, when_s, when_s)[0]


def test_late_notes_move_an_even_tempo_less_than_one_that_moves() -> None:
    even, moving = (gone(at_rest(), 1.0, 0.55, laws=laws)[QUARTER] for laws in (EVEN, MOVING))
    assert QUARTER_S < even < moving


def test_an_early_onset_is_never_held() -> None:
    assert step_score(MOVING, at_rest(), QUARTER_S, 1.0, 5.0, 0.4, 0.4)[1] == USUAL


@pytest.mark.parametrize("times", [0.8, 1.25])
def test_the_tempo_becomes_another_at_once_where_the_laws_allow_it(times: float) -> None:
    when_s = QUARTER_S * times
    even, changing = (step_score(laws, at_rest(), QUARTER_S, 1.0, 0.0, when_s, when_s) for laws in (EVEN, CHANGING))
    assert (even[1], changing[1]) == (USUAL, CHANGED)
    assert changing[0] > even[0]
    after, usual = (gone(at_rest(), 1.0, when_s, how=how, laws=CHANGING)[QUARTER] for how in (CHANGED, USUAL))
    assert abs(after - when_s) < abs(usual - when_s)
    assert after == pytest.approx(when_s, abs=0.2 * abs(when_s - QUARTER_S))


def test_on_time_no_tempo_becomes_another() -> None:
    assert step_score(CHANGING, at_rest(), QUARTER_S, 1.0, 0.0, QUARTER_S, QUARTER_S)[1] == USUAL


@pytest.mark.parametrize(("jitter_s", "rougher"), [(0.001, False), (0.04, True)])
def test_how_rough_the_playing_is_is_learnt(jitter_s: float, rougher: bool) -> None:
    rng, beat = np.random.default_rng(4), at_rest()
    for step in range(1, 80):
        beat = gone(beat, 1.0, step * QUARTER_S + float(rng.normal(0, jitter_s)))
    assert (beat[ROUGH] / beat[SEEN] > 1) == rougher


@given(st.floats(0.001, 6.0), st.floats(0.05, 5.0), st.booleans())
def test_the_tempo_stays_within_bounds(gap_s: float, lasts: float, held: bool) -> None:
    after = gone(at_rest(), lasts, gap_s, how=HELD if held else USUAL)
    assert MIN_QUARTER_S <= after[QUARTER] <= MAX_QUARTER_S
    assert np.isfinite(after).all()


def test_an_onset_soon_after_may_be_of_the_chord_and_moves_the_beat_a_little() -> None:
    beat, after = at_rest(), np.zeros(BEAT_PARTS)
    assert stay_score(beat, 0.03, 0.03) > stay_score(beat, 0.1, 0.1) > IMPOSSIBLE
    assert stay_score(beat, LONGEST_CHORD_S, LONGEST_CHORD_S) == IMPOSSIBLE
    stay(beat, 0.05, 0.05, after)
    assert 0 < after[TIME] < 0.05

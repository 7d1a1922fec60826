"""Players whose tempo moves: phrase ends that slow down, pauses, and beats of which two readings fit."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from commands import SONGS
from pegwright.ask.request import Beat
from pegwright.columns import Ints, frozen_floats, frozen_ints
from pegwright.played.beat_chain import FreeBeat, follow_freely
from pegwright.played.free_beat import free_from_start, struck_by, sure_beside, sure_of_beat
from pegwright.played.free_tempo import steps_as_played, tempo_band, usual_steps
from pegwright.played.model import PLACES
from pegwright.played.quantise import quantise_performed
from pegwright.read import read_score
from pegwright.score import Score
from played.test_quantise import PER_SECOND, UNITS, played

PHRASE_QUARTERS = 8


def slowed(song: Score, slowing: float, seed: int = 1) -> tuple[Score, Ints]:
    """A song at 120 whose phrases slow down over their last three quarters, with 8 ms of jitter; the true holes."""
    made, true = played(song, 0.0)
    count = int(true.max()) // UNITS + 3
    lengths = np.full(count, 0.5)
    for end in range(PHRASE_QUARTERS, count, PHRASE_QUARTERS):
        lengths[end - 3 : end] *= 1 + slowing * np.arange(1, 4) / 3
    lines = np.append(0.0, np.cumsum(lengths))
    jitter = np.random.default_rng(seed).normal(0, 0.008, len(true))
    at = np.interp(true / UNITS, np.arange(len(lines)), lines) + jitter + 0.2
    ticks = np.round(at * PER_SECOND).astype(np.int64)
    order = np.lexsort([made.pitch_midi, made.part, ticks])
    return replace(made.with_notes(order), onset_ticks=frozen_ints(ticks[order])), frozen_ints(true[order])


def right_but_for_a_shift(units: Ints, true: Ints) -> np.ndarray:
    values, count = np.unique(units - true, return_counts=True)
    right: np.ndarray = units - true == values[count.argmax()]
    return right


@pytest.mark.parametrize("name", ["turnstile-tango.mid", "salt-water-shuffle.musicxml"])
def test_phrases_that_slow_down_by_30_per_cent_keep_their_beat(name: str) -> None:
    song, _ = read_score(SONGS / name)
    performance, true = slowed(song, 0.3)
    result, _ = quantise_performed(performance, None, Beat.FOLLOW)
    assert right_but_for_a_shift(result.onset_units, true).mean() > 0.95


def test_where_the_beat_is_lost_its_notes_are_unsure_and_the_stretch_is_reported_from_bar_to_bar() -> None:
    song, _ = read_score(SONGS / "salt-water-shuffle.musicxml")
    performance, true = slowed(song, 0.4)
    result, findings = quantise_performed(performance, None, Beat.FOLLOW)
    wrong = ~right_but_for_a_shift(result.onset_units, true)
    assert wrong.mean() > 0.1  # else nothing was lost, and the test needs a harder performance
    assert (result.confidence[wrong] < 0.9).mean() > 0.7
    unsure = [finding for finding in findings if finding.code == "beat-unsure"]
    assert unsure
    assert all("from here to bar 1" in finding.message and "beat is uncertain" in finding.message for finding in unsure)


def test_chances_of_steps_and_of_tempi_sum_to_one() -> None:
    steps = usual_steps(PLACES)
    assert (np.exp(steps.here).sum(axis=1) + np.exp(steps.there).sum(axis=1)).tolist() == pytest.approx([1.0] * 12)
    for change in tempo_band(0.5, 1.5).changes:
        assert np.exp(change).sum(axis=1).tolist() == pytest.approx([1.0] * len(change))


def test_a_song_of_sixteenths_has_no_places_for_triplets() -> None:
    usual = usual_steps(PLACES)
    place = np.tile([0, 3, 6, 9], 40)  # 0 6 12 18 of 24
    own = steps_as_played(usual, place, np.full(159, 0.25), 0.02)
    assert own.quarters.tolist() == [0.0, 0.25, 0.5, 0.75]


def straight_line(onset_s: np.ndarray) -> FreeBeat:
    steps, band = usual_steps((Fraction(0), Fraction(1, 2))), tempo_band(0.5, 1.3)
    start = np.zeros((2, len(band.quarter_s)))
    return follow_freely(onset_s, np.zeros((len(onset_s), 2)), steps, band, start, sums=True)


def test_a_pause_costs_one_step_and_the_beat_goes_on_from_it() -> None:
    onset_s = np.arange(40) * 0.25
    onset_s[20:] += 0.13  # half an eighth: no hole lies there
    beat = straight_line(onset_s)
    assert np.diff(beat.hole_quarters)[np.arange(39) != 19].tolist() == [0.5] * 38
    assert beat.certainty.min() == beat.certainty[20]
    assert beat.certainty[20] < 0.95 < np.delete(beat.certainty, [0, 20]).min()


def test_a_doubtful_step_makes_the_shorter_side_unsure() -> None:
    beat = straight_line(np.arange(40) * 0.25)
    certainty = np.ones(40)
    certainty[30] = 1e-5
    sure = sure_of_beat(replace(beat, certainty=certainty))
    assert sure[:30].min() > 0.95
    assert sure[30:].max() < 0.5


def test_where_two_readings_differ_all_notes_are_unsure() -> None:
    beat = straight_line(np.arange(40) * 0.25)
    quarters = beat.hole_quarters + 3.0 + np.where(np.arange(40) < 10, 0.5, 0.0)
    assert sure_beside(quarters, beat).tolist() == [0.5] * 10 + [1.0] * 30


def test_the_songs_own_steps_are_tried_only_where_a_tempo_that_moves_may_fit() -> None:
    song, _ = read_score(SONGS / "turnstile-tango.mid")
    performance, _ = slowed(song, 0.3)
    seconds = performance.onset_ticks / PER_SECOND
    struck = struck_by(frozen_floats(seconds), performance.pitch_midi, performance.pitch_midi)
    hopeless, tried = (free_from_start(PLACES, struck, 0.5, at_least) for at_least in (np.inf, -np.inf))
    assert tried.fit > hopeless.fit + 0.5
    assert hopeless.certainty.min() == 1.0 > tried.certainty.min()

"""Songs played freely to beats that were tapped or annotated: the song's own grid is learnt, and kept to.

The players are simulated: the tempo swells, most onsets lie near, some far off, and what is late makes the next late.
How well it does with real ones is measured by tests/benchmarks/bench_played.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np
import pytest

import samples
from pegwright.ask.request import Beat
from pegwright.columns import Ints, frozen_floats, frozen_ints
from pegwright.played.beats import TAP_SPREAD_S, BeatTrack
from pegwright.played.chords import chords_of
from pegwright.played.evened import evened
from pegwright.played.families import families_of
from pegwright.played.model import PLACES
from pegwright.played.quantise import quantise_performed
from pegwright.score import Score

UNITS, PER_SECOND, QUARTERS = 24, 10_000, 60
SIXTEENTHS, EIGHTHS, TRIPLETS = (0, 6, 12, 18), (0, 12), (0, 8, 16)


def freely_played(places: Sequence[tuple[int, ...]], seed: int, tap_s: float) -> tuple[Score, BeatTrack, Ints]:
    """A melody with the given places in each quarter, played freely; its beats; and the hole of every note in 24ths."""
    chance = np.random.default_rng(seed)
    true = np.array([quarter * UNITS + unit for quarter, each in enumerate(places) for unit in each])
    beat = np.arange(len(places) + 2)
    lengths_s = 0.55 * np.exp(0.15 * np.sin(2 * np.pi * beat / 8) + 0.03 * chance.normal(size=len(beat)))
    lines_s = 1 + np.append(0, np.cumsum(lengths_s))
    spread_s = np.where(chance.random(len(true)) < 0.25, 0.04, 0.01)
    late_s = chance.normal(size=len(true)) * spread_s
    for note in range(1, len(late_s)):
        late_s[note] += 0.5 * late_s[note - 1]
    at = np.sort(np.interp(true / UNITS, np.arange(len(lines_s)), lines_s) + late_s)
    rows = [(round(each * PER_SECOND), 60 + note % 12) for note, each in enumerate(at.tolist())]
    score = samples.score(rows, resolution=PER_SECOND // 2)
    tapped_s = lines_s + chance.normal(0, tap_s, len(lines_s)) if tap_s else lines_s
    beats = BeatTrack(frozen_floats(tapped_s), frozen_floats(np.arange(len(lines_s))), tap_s)
    return score, beats, frozen_ints(true)


@pytest.mark.parametrize("tap_s", [0.0, TAP_SPREAD_S])
def test_a_song_of_sixteenths_has_no_triplets_however_freely_it_is_played(tap_s: float) -> None:
    places = [SIXTEENTHS if quarter % 4 else EIGHTHS for quarter in range(QUARTERS)]
    for seed in range(3):
        score, beats, true = freely_played(places, seed, tap_s)
        result, _ = quantise_performed(score, beats, Beat.KEEP)
        others = np.mean(result.onset_units % 6 != 0)
        assert others < 0.01, "holes of half-steps and triplets"
        assert np.mean(result.onset_units == true) > 0.93


@pytest.mark.parametrize("tap_s", [0.0, TAP_SPREAD_S])
def test_a_song_that_has_triplets_keeps_them(tap_s: float) -> None:
    places = [TRIPLETS if quarter // 8 % 2 else SIXTEENTHS for quarter in range(QUARTERS)]
    for seed in range(3):
        score, beats, true = freely_played(places, seed, tap_s)
        result, _ = quantise_performed(score, beats, Beat.KEEP)
        assert np.mean(result.onset_units == true) > 0.93


@pytest.mark.parametrize("tap_s", [0.0, TAP_SPREAD_S])
def test_a_short_note_before_the_beat_is_a_32nd_and_no_sixth_of_a_quarter(tap_s: float) -> None:
    """Doubly dotted notes: five sixths of a quarter are seldom struck without the third before them."""
    places = [(0, 21) if quarter % 4 < 2 else (0, 12, 21) for quarter in range(QUARTERS)]
    right = []
    for seed in range(8):
        score, beats, true = freely_played(places, seed, tap_s)
        result, _ = quantise_performed(score, beats, Beat.KEEP)
        right.append(np.mean(result.onset_units == true))
    assert np.mean(right) > 0.8


def test_runs_of_six_in_a_quarter_are_kept() -> None:
    places = [(0, 4, 8, 12, 16, 20) if quarter % 4 == 3 else EIGHTHS for quarter in range(QUARTERS)]
    for seed in range(4):
        score, beats, true = freely_played(places, seed, TAP_SPREAD_S)
        result, _ = quantise_performed(score, beats, Beat.KEEP)
        assert np.mean(result.onset_units == true) > 0.95


def drums_tapped_along(hits: Sequence[tuple[int, int]], seed: int) -> tuple[Score, BeatTrack]:
    """Drum strokes (hole in 24ths, key) at 100 quarters a minute with 20 ms of jitter, and taps with as much."""
    chance = np.random.default_rng(seed)
    at_s = np.array([place / UNITS * 0.6 for place, _ in hits]) + 1 + chance.normal(0, 0.02, len(hits))
    order = np.argsort(at_s, kind="stable")
    rows = [(round(at_s[each] * PER_SECOND), hits[each][1]) for each in order.tolist()]
    drums = samples.score([(*row, 80, 1) for row in rows], resolution=PER_SECOND // 2)
    lines_s = 1 + 0.6 * np.arange(max(place for place, _ in hits) // UNITS + 3)
    taps_s = lines_s + chance.normal(0, 0.02, len(lines_s))
    return drums, BeatTrack(frozen_floats(taps_s), frozen_floats(np.arange(len(lines_s))), TAP_SPREAD_S)


def test_drums_on_the_eighths_of_triplets_are_heard_with_taps() -> None:
    """Five, three and four strokes spread evenly over twelve places of a bar; the patterns put 90 to 96 % right."""
    voices = ((36, (0, 2, 4, 7, 9)), (38, (2, 6, 10)), (42, (1, 4, 7, 10)))
    hits = sorted((96 * bar + 8 * place, key) for bar in range(16) for key, places in voices for place in places)
    true = np.array([place for place, _ in hits])
    for seed in range(3):
        score, beats = drums_tapped_along(hits, seed)
        result, _ = quantise_performed(score, beats, Beat.KEEP)
        holes = np.sort(result.onset_units)
        assert np.mean(holes - holes[0] == true - true[0]) > 0.98


def test_notes_a_step_apart_are_a_melody_and_notes_further_apart_a_chord() -> None:
    seconds, pitch = np.array([0.0, 0.03, 0.5, 0.53, 1.0, 1.03]), np.array([60, 62, 60, 64, 60, 60])
    chords = chords_of(seconds, pitch, pitch)
    assert chords.by_step.tolist() == [False, True, True, False, False, False]
    assert chords_of(seconds, pitch, np.zeros(6, dtype=np.int64)).by_step.sum() == 0, "drums have no steps"


def test_taps_are_made_even_and_a_sudden_tempo_stays() -> None:
    chance = np.random.default_rng(4)
    lines_s = np.cumsum(np.append(0.0, np.where(np.arange(40) < 20, 0.5, 0.8)))
    tapped = BeatTrack(frozen_floats(lines_s + chance.normal(0, 0.02, 41)), frozen_floats(np.arange(41)), TAP_SPREAD_S)
    track = evened(tapped)
    off_s = np.abs(track.seconds_at(np.arange(41, dtype=np.float64)) - lines_s)
    assert np.mean(off_s**2) < 0.6 * np.mean((tapped.seconds - lines_s) ** 2)
    assert track.quarter_s_at(np.array([5.0, 25.0])) == pytest.approx([0.5, 0.8], abs=0.02)


def test_beats_that_slow_down_are_joined_by_a_curve() -> None:
    """Halfway between beats at 0.5 q + 0.05 q² s, a straight line is late by 12.5 ms."""
    quarters = np.arange(8, dtype=np.float64)
    beats = BeatTrack(frozen_floats(0.5 * quarters + 0.05 * quarters**2), frozen_floats(quarters))
    middle = quarters[1:6] + 0.5
    exact_s = 0.5 * middle + 0.05 * middle**2
    assert np.abs(beats.seconds_at(middle) - exact_s).max() == pytest.approx(0.0125)
    assert np.abs(evened(beats).seconds_at(middle) - exact_s).max() < 0.003


def test_places_fall_into_families() -> None:
    assert [family.parts for family in families_of(PLACES)] == [4, 8, 6]
    fifths = tuple(Fraction(fifth, 5) for fifth in range(5))
    assert [family.parts for family in families_of((*fifths, Fraction(1, 2), Fraction(1, 16)))] == [4, 16, 5]
    only_off_beats = families_of((Fraction(1, 3), Fraction(2, 3)))
    assert [family.units.tolist() for family in only_off_beats] == [[8, 16]]


def test_a_song_played_to_a_click_keeps_the_beat_of_its_file_and_says_so() -> None:
    chance = np.random.default_rng(3)
    exact = [quarter + place / UNITS for quarter in range(1, QUARTERS) for place in (SIXTEENTHS, EIGHTHS)[quarter % 2]]
    codes, right = [], []
    for drift in (0.0, 0.01):
        lines = np.append(0, np.cumsum(np.exp(np.cumsum(chance.normal(0, drift, QUARTERS + 1)))))
        at = np.interp(exact, np.arange(len(lines)), lines) + chance.normal(0, 0.04, len(exact))
        rows = [(round(each * PER_SECOND), 60 + note % 12) for note, each in enumerate(np.sort(at).tolist())]
        result, findings = quantise_performed(samples.score(rows, resolution=PER_SECOND))
        codes.append({finding.code for finding in findings})
        right.append(np.mean(result.onset_units == np.round(np.array(exact) * UNITS)))
    assert "own-beat-kept" in codes[0]
    assert "own-beat-kept" not in codes[1]
    assert right[0] > 0.97


def test_a_song_of_thick_chords_that_keeps_to_a_click_keeps_the_beat_of_its_file() -> None:
    """The first hundred notes are then too few chords to compare two beats by; the song has enough."""
    chance = np.random.default_rng(4)
    exact = [quarter + place / UNITS for quarter in range(1, QUARTERS) for place in (0, 12)]
    at = np.array(exact) + chance.normal(0, 0.02, len(exact))
    rows = [(round(each * PER_SECOND), 50 + 4 * note) for each in at.tolist() for note in range(6)]
    _, findings = quantise_performed(samples.score(rows, resolution=PER_SECOND))
    assert "own-beat-kept" in {finding.code for finding in findings}

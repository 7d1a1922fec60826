"""Players whose tempo moves: phrase ends that slow down, pauses, and beats of which two readings fit."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import product

import numpy as np
import pytest

from commands import SONGS
from pegwright.ask.request import Beat
from pegwright.columns import Ints, frozen_ints
from pegwright.played.bar_laws import BEAT_PARTS, EVEN, MOVING, QUARTER, Laws, begin, drawn_back
from pegwright.played.bar_places import SongMetre, counted_in, metre_of
from pegwright.played.free_beat import (
    FreeBeat,
    Tempo,
    free_beat,
    likeliest_metre,
    sure_beside,
)
from pegwright.played.model import PLACES
from pegwright.played.quantise import quantise_performed
from pegwright.played.settled import settled
from pegwright.played.struck import StruckNotes, struck_by
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


@pytest.mark.parametrize("name", ["turnstile-tango.mid", "salt-water-shuffle.musicxml", "shrimpers-jig.mid"])
def test_phrases_that_slow_down_by_30_per_cent_keep_their_beat(name: str) -> None:
    song, _ = read_score(SONGS / name)
    performance, true = slowed(song, 0.3)
    result, _ = quantise_performed(performance, None, Beat.FOLLOW)
    assert right_but_for_a_shift(result.onset_units, true).mean() > 0.95


def stumbling(song: Score, seed: int) -> tuple[Score, Ints]:
    """A song whose player stops at random, for up to a second before one note in twelve; the true holes."""
    made, true = played(song, 0.008)
    rng = np.random.default_rng(seed)
    stops = np.where(rng.random(len(true)) < 1 / 12, rng.uniform(0.1, 1.0, len(true)), 0.0)
    stops[np.append(False, np.diff(true) == 0)] = 0.0
    ticks = made.onset_ticks + np.round(np.cumsum(stops) * PER_SECOND).astype(np.int64)
    order = np.lexsort([made.pitch_midi, made.part, ticks])
    return replace(made.with_notes(order), onset_ticks=frozen_ints(ticks[order])), frozen_ints(true[order])


def test_where_the_beat_is_lost_its_notes_are_unsure_and_the_stretch_is_reported_from_bar_to_bar() -> None:
    song, _ = read_score(SONGS / "turnstile-tango.mid")
    performance, true = stumbling(song, 2)
    result, findings = quantise_performed(performance, None, Beat.FOLLOW)
    wrong = ~right_but_for_a_shift(result.onset_units, true)
    assert wrong.mean() > 0.1  # else nothing was lost, and the test needs a harder performance
    assert (result.confidence[wrong] < 0.9).mean() > 0.7
    unsure = [finding for finding in findings if finding.code == "beat-unsure"]
    assert unsure
    assert all("from here to bar " in finding.message and "beat is uncertain" in finding.message for finding in unsure)


def notes_at(onset_s: np.ndarray, pitch: np.ndarray | None = None) -> StruckNotes:
    """Notes struck evenly, of one pitch unless others are given."""
    same = np.full(len(onset_s), 60) if pitch is None else pitch
    return StruckNotes(onset_s, np.arange(len(onset_s)), same, np.full(len(onset_s), 80), np.ones(len(onset_s)))


def followed(onset_s: np.ndarray, pitch: np.ndarray | None = None, metre: str = "4/4", laws: Laws = MOVING) -> FreeBeat:
    """From a tempo of 120, the first onset on a bar line."""
    tempo = Tempo(0.5, 0.0, trusted=True)
    return free_beat(PLACES, struck_by(notes_at(onset_s, pitch)), tempo, metre_of(metre, Fraction(0)), laws)


def test_after_a_pause_the_beat_goes_on_from_it() -> None:
    onset_s = np.arange(64) * 0.25
    onset_s[32:] += 0.11  # a hole lies near: half as long again
    assert np.diff(followed(onset_s).hole_quarters).tolist() == [0.5] * 63


def test_a_phrase_end_that_slows_by_a_third_and_goes_on_at_the_old_tempo_is_followed() -> None:
    gaps = np.full(80, 0.25)
    gaps[36:40] *= [1.08, 1.15, 1.25, 1.33]
    assert np.diff(followed(np.append(0.0, np.cumsum(gaps))).hole_quarters).tolist() == [0.5] * 80


def test_plain_quarters_are_followed_in_halves_through_phrase_ends_that_slow_down() -> None:
    gaps = np.full(96, 0.6)
    gaps[6::8], gaps[7::8] = 0.72, 0.86
    assert np.diff(followed(np.append(0.0, np.cumsum(gaps)) * 0.8).hole_quarters).tolist() == [1.0] * 96


def test_fast_notes_before_a_beat_do_not_move_it() -> None:
    beats = np.arange(48) * 0.5
    graces = np.concatenate([beats[8::8] - 0.14, beats[8::8] - 0.07])
    onset_s = np.sort(np.concatenate([beats, graces]))
    on_beat = np.isin(onset_s, beats)
    assert followed(onset_s).hole_quarters[on_beat].tolist() == list(range(48))


@pytest.mark.parametrize("laws", [EVEN, MOVING])
@pytest.mark.parametrize(("metre", "beats"), [("3/4", 3), ("4/4", 4)])
def test_the_metre_is_that_of_the_bass(metre: str, beats: int, laws: Laws) -> None:
    pitch = np.where(np.arange(96) % beats == 0, 40, 67)
    struck = struck_by(notes_at(np.arange(96) * 0.5, pitch))
    assert (
        likeliest_metre(PLACES, struck, Tempo(0.5, 0.0, trusted=True), laws).bar_quarters
        == metre_of(metre).bar_quarters
    )


def test_metres_are_read_as_they_are_written() -> None:
    assert metre_of("3/4") == SongMetre(Fraction(3), Fraction(1))
    assert metre_of("6/8") == SongMetre(Fraction(3), Fraction(3, 2))
    assert metre_of("2/2", Fraction(1, 2)) == SongMetre(Fraction(4), Fraction(2), Fraction(1, 2))


def test_a_slip_is_made_good_by_the_bass_of_the_bar() -> None:
    gaps = np.full(160, 0.25)
    gaps[32:34] = [0.31, 0.62]  # as if a quarter had come in between: the note after is a bass on the bar line
    onset_s, pitch = np.append(0.0, np.cumsum(gaps)), np.where(np.arange(161) % 8 == 0, 36, 72)
    pitch[34:] = np.where(np.arange(34, 161) % 8 == 0, 36, 72)
    holes = followed(onset_s, pitch).hole_quarters
    assert ((holes[80:] - np.arange(80, 161) / 2) % 4 == 0).all()


@pytest.mark.parametrize("laws", [EVEN, MOVING])
@pytest.mark.parametrize("tempo", [44.0, 88.0, 176.0])
def test_where_no_tempo_is_given_quarters_are_neither_very_slow_nor_very_fast(tempo: float, laws: Laws) -> None:
    struck = struck_by(notes_at(np.arange(96) * 60 / tempo))
    found = 60 / float(np.median(free_beat(PLACES, struck, None, metre_of("4/4"), laws).quarter_s))
    assert 60 < found < 180
    ratio = found / tempo
    assert min(abs(ratio / power - 1) for power in (0.5, 1.0, 2.0)) < 0.02


@pytest.mark.parametrize("name", ["turnstile-tango.mid", "pier-masters-hornpipe.mid", "shrimpers-jig.mid"])
def test_a_file_that_says_120_does_not_bind_a_player_at_93(name: str) -> None:
    song, _ = read_score(SONGS / name)
    performance, true = slowed(song, 0.3)
    slower = replace(performance, onset_ticks=frozen_ints(performance.onset_ticks * 120 // 93))
    result, _ = quantise_performed(slower, None, Beat.FOLLOW)
    assert right_but_for_a_shift(result.onset_units, true).mean() > 0.9


def test_a_shuffle_is_in_triplets_or_in_eighths_of_compound_time_and_the_tempo_is_reported() -> None:
    song, _ = read_score(SONGS / "salt-water-shuffle.musicxml")
    performance, true = slowed(song, 0.3)
    slower = replace(performance, onset_ticks=frozen_ints(performance.onset_ticks * 120 // 93))
    result, findings = quantise_performed(slower, None, Beat.FOLLOW)
    as_triplets = frozen_ints(result.onset_units * 2 // 3)
    right = [right_but_for_a_shift(units, true).mean() for units in (result.onset_units, as_triplets)]
    assert max(right) > 0.9
    assert "tempo-open" in {finding.code for finding in findings}


@pytest.mark.parametrize("stop_s", [0.3, 0.6, 0.9])
def test_after_a_stop_at_the_end_of_each_phrase_the_beat_goes_on_where_it_was(stop_s: float) -> None:
    """Eighths with a bass on bar lines; at the end of a phrase a quarter, as long as a half or more with the stop."""
    steps = np.tile(np.append(np.full(14, 0.5), 1.0), 12)
    gaps = steps * 0.5
    gaps[14::15] += stop_s
    quarters = np.append(0.0, np.cumsum(steps))
    pitch = np.where(quarters % 4 == 0, 40, 60 + (np.arange(len(quarters)) * 5) % 12)
    found = followed(np.append(0.0, np.cumsum(gaps)), pitch)
    assert np.diff(found.hole_quarters).tolist() == steps.tolist()


def test_where_two_readings_differ_all_notes_are_unsure() -> None:
    assert sure_beside(3.0 + np.where(np.arange(40) < 10, 0.5, 0.0)).tolist() == [0.5] * 10 + [1.0] * 30


def test_drawing_back_goes_to_the_average_tempo() -> None:
    beat = np.zeros(BEAT_PARTS)
    begin(MOVING, beat, 0.0, 0.5, 0.01)
    beat[QUARTER] = 0.7
    assert 0.5 < drawn_back(MOVING, beat, 2.0) < drawn_back(MOVING, beat, 0.1) < 0.7


@pytest.mark.parametrize("first", range(-1, 24))
def test_a_song_may_begin_between_the_places_of_the_wheel(first: int) -> None:
    """What is given of the first note need not be a place of the wheel, and a spread chord may be first."""
    onset_s = np.sort(np.append(np.arange(60) * 0.25, 0.06))
    tempo = Tempo(0.5, first / 24, trusted=True)
    beat = free_beat(PLACES, struck_by(notes_at(onset_s)), tempo, metre_of("4/4", Fraction(first, 24)), MOVING)
    assert np.median(np.diff(beat.hole_quarters)) == 0.5
    assert len(beat.hole_quarters) == 61


@pytest.mark.parametrize("seed", range(12))
def test_any_onsets_on_any_places_get_a_hole_of_the_wheel(seed: int) -> None:
    chance = np.random.default_rng(seed)
    parts = int(chance.choice([1, 2, 3, 4, 6, 8]))
    every = [Fraction(part, parts) for part in range(parts)]
    places = tuple(place for place in every if place == 0 or chance.random() < 0.6)
    onset_s = np.cumsum(chance.exponential(0.3, 80)) + 0.01
    for metre in (None, metre_of("5/8", Fraction(int(chance.integers(0, 60)), 24)), metre_of("3/4")):
        for tempo, laws in product((None, Tempo(0.5, float(chance.random()), trusted=bool(seed % 2))), (EVEN, MOVING)):
            struck = struck_by(notes_at(onset_s))
            beat = free_beat(places, struck, tempo, metre, laws)
            whole = settled(places, struck, beat)
            beat, sure = whole.beat, whole.doubts.sure()
            assert len(beat.hole_quarters) == len(sure) == beat.quarter_s.size
            assert (np.diff(beat.hole_quarters) >= 0).all()
            assert ((sure >= 0) & (sure <= 1)).all()


@pytest.mark.parametrize(
    ("written", "counted", "firsts"),
    [
        ("2/4", SongMetre(Fraction(4), Fraction(1), Fraction(1, 2), Fraction(2)), [12, 60]),
        ("2/2", SongMetre(Fraction(4), Fraction(1), Fraction(1, 2)), [12]),
        ("4/2", SongMetre(Fraction(4), Fraction(1), Fraction(1, 2)), [12]),
        ("3/2", SongMetre(Fraction(6), Fraction(1), Fraction(1, 2)), [12]),
        ("3/4", SongMetre(Fraction(3), Fraction(1), Fraction(1, 2)), [12]),
        ("6/8", SongMetre(Fraction(3), Fraction(3, 2), Fraction(1, 2)), [12]),
    ],
)
def test_songs_are_counted_in_quarters_and_at_least_three_of_them(
    written: str, counted: SongMetre, firsts: list[int]
) -> None:
    metre = counted_in(metre_of(written, Fraction(1, 2)))
    assert metre == counted
    assert metre.first_units(UNITS) == firsts
    assert counted_in(metre_of(written)).first_units(UNITS) == []


@pytest.mark.parametrize("first", [0, 2])
def test_a_song_in_two_quarters_may_begin_in_either_bar_of_two(first: int) -> None:
    """A bass on every second bar line; with the first note on the first or on the second of two."""
    quarters = first + np.arange(0, 64, 0.5)
    pitch = np.where(quarters % 4 == 0, 36, 60 + (quarters * 2 % 4).astype(int))
    struck = struck_by(notes_at((quarters - first) * 0.5, pitch))
    beat = free_beat(PLACES, struck, Tempo(0.5, 0.0, trusted=True), metre_of("2/4", Fraction(0)), MOVING)
    assert beat.unit[0] % 96 == 24 * first
    assert np.diff(beat.hole_quarters).tolist() == [0.5] * 127

"""Even playing and a tempo that moves: each is followed as what it is, by melodies and by drums."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

import samples
from commands import SONGS
from pegwright.ask.request import Beat
from pegwright.columns import Ints, frozen_ints
from pegwright.played.bar_laws import EVEN, MOVING, SUPPLE
from pegwright.played.bar_places import metre_of
from pegwright.played.beat_tracking import Known, from_start
from pegwright.played.beats import beats_of_tempo_map, seconds_of
from pegwright.played.free_beat import Tempo, free_beat
from pegwright.played.model import PLACES
from pegwright.played.players import likeliest_player
from pegwright.played.playing import playing
from pegwright.played.quantise import quantise_performed
from pegwright.played.struck import struck_by
from pegwright.read import read_score
from pegwright.score import Score, TempoMap
from played.test_free_beat import notes_at, right_but_for_a_shift, slowed
from played.test_quantise import PER_SECOND, SONG_FILES, UNITS, beats_at, played

LOST = ("salt-water-shuffle.musicxml", 0.67, 2, (16,))  # of 78 chords, heard with a stop of another length
WALTZ = ((36, (0,)), (38, (24, 48)), (42, (0, 12, 24, 36, 48, 60)))  # keys of General MIDI, and places in a bar of 3/4


@pytest.mark.parametrize("name", SONG_FILES)
@pytest.mark.parametrize("seed", [1, 2])
def test_songs_whose_tempo_drifts_are_followed_and_nothing_is_in_doubt_for_long(name: str, seed: int) -> None:
    song, _ = read_score(SONGS / name)
    performance, true = played(song, 15, seed, wander=0.01)
    result, findings = quantise_performed(performance, beats_at(0.5, 60), Beat.FOLLOW)
    assert right_but_for_a_shift(result.onset_units, true).mean() > 0.97
    assert not any(finding.code == "beat-unsure" for finding in findings)


def test_over_a_long_note_even_playing_keeps_count_though_the_bar_speaks_for_a_held_one() -> None:
    """In 3/4, a note of seven quarters before a bass: six would bring the bass to the bar line."""
    steps = np.concatenate([np.full(48, 1.0), [7.0], np.full(40, 1.0)])
    quarters = np.append(0.0, np.cumsum(steps))
    pitch = np.where(np.arange(len(quarters)) % 3 == 0, 36, 72)
    pitch[49:] = np.where((np.arange(49, len(quarters)) - 49) % 3 == 0, 36, 72)
    struck = struck_by(notes_at(quarters * 0.5, pitch))
    tempo, metre = Tempo(0.5, 0.0, trusted=True), metre_of("3/4", Fraction(0))
    even = free_beat(PLACES, struck, tempo, metre, EVEN)
    moving = free_beat(PLACES, struck, tempo, metre, MOVING)
    assert np.diff(even.hole_quarters).tolist() == steps.tolist()
    assert np.diff(moving.hole_quarters).tolist() != steps.tolist(), "else the bar says nothing"


@pytest.mark.parametrize(("slowing", "moves"), [(0.0, False), (0.3, True)])
def test_a_tempo_that_moves_fits_players_who_slow_down_better_and_others_less(slowing: float, moves: bool) -> None:
    song, _ = read_score(SONGS / "turnstile-tango.mid")
    performance, _ = slowed(song, slowing)
    seconds = seconds_of(performance, performance.onset_ticks)
    play = playing(performance, seconds, beats_of_tempo_map(performance))
    struck = struck_by(notes_at(play.time_s, play.pitch))
    tempo = Tempo(0.5, 0.4, trusted=True, placed=False)
    even, moving = (free_beat(PLACES, struck, tempo, None, laws) for laws in (EVEN, MOVING))
    assert (moving.fit > even.fit) == moves
    likeliest = likeliest_player(PLACES, struck, tempo, None)
    assert (likeliest.beat.laws in (MOVING, SUPPLE)) == moves
    track, path = from_start(PLACES, play, Known(own_beat=True))
    assert path is None
    assert track.holes is not None
    assert track.doubts is not None
    assert (track.doubts.other is None) == (likeliest.other is None)


def drummed(slowing: float) -> tuple[Score, Ints]:
    """A waltz on drums at 120 for 24 bars; every fourth bar slows down by this share over its quarters."""
    bars = np.arange(24)
    hits = sorted((72 * bar + place, key) for bar in bars.tolist() for key, places in WALTZ for place in places)
    lengths = np.full(72 + 3, 0.5)
    for end in range(12, 73, 12):
        lengths[end - 3 : end] *= 1 + slowing * np.arange(1, 4) / 3
    lines_s = np.append(0.2, 0.2 + np.cumsum(lengths))
    true = np.array([place for place, _ in hits])
    at_s = np.interp(true / UNITS, np.arange(len(lines_s)), lines_s)
    at_s += np.random.default_rng(2).normal(0, 0.006, len(true))
    order = np.argsort(at_s, kind="stable")
    rows = [(round(float(at_s[each]) * PER_SECOND), hits[each][1], 80, 1) for each in order.tolist()]
    return samples.score(rows, resolution=PER_SECOND // 2), frozen_ints(true[order])


@pytest.mark.parametrize("slowing", [0.0, 0.3])
def test_drums_are_followed_whether_they_slow_down_or_not(slowing: float) -> None:
    score, true = drummed(slowing)
    assert score.percussion_notes().all()
    result, _ = quantise_performed(score, None, Beat.FOLLOW)
    assert right_but_for_a_shift(result.onset_units, true).mean() > 0.95


def stopped(song: Score, at_quarters: Sequence[int], stop_s: float, seed: int) -> tuple[Score, Ints]:
    """A song at 120, with 10 ms of jitter, whose player stops before some quarters; the true holes."""
    made, true = played(song, 10.0, seed)
    stops = sum(stop_s * (true >= UNITS * at) for at in at_quarters)
    ticks = made.onset_ticks + np.round(stops * PER_SECOND).astype(np.int64)
    return replace(made, onset_ticks=frozen_ints(ticks)), true


@pytest.mark.parametrize("name", ["turnstile-tango.mid", "pier-masters-hornpipe.mid", "salt-water-shuffle.musicxml"])
@pytest.mark.parametrize("stop_s", [0.31, 0.4, 0.67])
@pytest.mark.parametrize("seed", [1, 2])
def test_who_plays_evenly_but_for_a_stop_or_two_keeps_the_beat(name: str, stop_s: float, seed: int) -> None:
    """Stops that are no part of a beat of 0.5 s: one that is says itself a longer note."""
    song, _ = read_score(SONGS / name)
    for at in ((16,), (16, 32)):
        performance, true = stopped(song, at, stop_s, seed)
        result, findings = quantise_performed(performance, beats_at(0.5, 60), Beat.FOLLOW)
        lost = right_but_for_a_shift(result.onset_units, true).mean() <= 0.97
        assert lost == ((name, stop_s, seed, at) == LOST)
        assert not lost or any(finding.code == "beat-unsure" for finding in findings)


@pytest.mark.parametrize("name", ["turnstile-tango.mid", "pier-masters-hornpipe.mid", "salt-water-shuffle.musicxml"])
@pytest.mark.parametrize("late", [0.13, 0.3, 0.61, 0.87])
def test_a_song_may_begin_anywhere_in_a_quarter_of_the_file(name: str, late: float) -> None:
    song, _ = read_score(SONGS / name)
    performance, true = played(song, 8.0, wander=0.01, seconds_per_quarter=0.55)
    begun = replace(
        performance, onset_ticks=frozen_ints(performance.onset_ticks + round(late * performance.resolution))
    )
    result, _ = quantise_performed(begun, None, Beat.FOLLOW)
    right = right_but_for_a_shift(result.onset_units, true)
    assert right.mean() > 0.97
    assert right[:4].all()
    assert (result.onset_units - true)[right][0] % UNITS == 0, "on the beat"


@pytest.mark.parametrize("name", ["turnstile-tango.mid", "pier-masters-hornpipe.mid", "salt-water-shuffle.musicxml"])
@pytest.mark.parametrize("slowing", [0.2, 0.3])
def test_a_few_bars_that_slow_down_at_a_phrase_end_keep_their_beat(name: str, slowing: float) -> None:
    performance, true = slowed(read_score(SONGS / name)[0], slowing)
    first = np.flatnonzero(true < 24 * UNITS)
    few = performance.with_notes(first)
    assert 12 < len(np.unique(true[first])) < 60
    result, _ = quantise_performed(few, beats_at(0.5, 60), Beat.FOLLOW)
    assert right_but_for_a_shift(result.onset_units, frozen_ints(true[first])).mean() > 0.9


@pytest.mark.parametrize("late", [0.2, 0.45, 0.8])
def test_drums_may_begin_anywhere_in_a_quarter_of_the_file(late: float) -> None:
    drums, true = drummed(0.0)
    tempo_map = TempoMap(frozen_ints([0]), frozen_ints([550_000]))
    ticks = drums.onset_ticks * 1.004 + late * drums.resolution  # not to its click
    begun = replace(drums, tempo_map=tempo_map, onset_ticks=frozen_ints(np.round(ticks)))
    result, _ = quantise_performed(begun, None, Beat.FOLLOW)
    assert not result.own_beat_kept
    right = right_but_for_a_shift(result.onset_units, true)
    assert right.mean() > 0.95
    assert (result.onset_units - true)[right][0] % UNITS == 0, "on the beat"


def test_drums_that_stop_once_are_followed() -> None:
    drums, true = drummed(0.0)
    late = 0.35 * (true >= 72 * 11)
    stopped_drums = replace(drums, onset_ticks=frozen_ints(np.round(drums.onset_ticks + late * PER_SECOND)))
    result, _ = quantise_performed(stopped_drums, beats_at(0.5, 90), Beat.FOLLOW)
    assert right_but_for_a_shift(result.onset_units, true).mean() > 0.95

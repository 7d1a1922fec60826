"""Performed input: notes played by hand come back to the holes that were meant.

How often they do on unseen pieces is measured by tests/benchmarks/bench_performed.py; here stand the properties, and a
floor on the bundled songs, which took no part in the tuning.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import samples
from commands import SONGS
from pegwright.ask.request import Beat
from pegwright.columns import Ints, frozen_floats, frozen_ints
from pegwright.errors import InputError, UsageError
from pegwright.findings import Severity
from pegwright.played.beam_search import follow_pulses
from pegwright.played.beats import BeatTrack, tapped_beats
from pegwright.played.model import PLACES, wheel_places
from pegwright.played.on_grid import score_on_grid
from pegwright.played.quantise import quantise_performed
from pegwright.played.result import PerformedResult
from pegwright.played.track import Pulse
from pegwright.read import read_score
from pegwright.read.beats import parse_beats
from pegwright.score import BarMap, Part, Score, TempoMap

UNITS = 24
PER_SECOND = 10_000  # ticks: a tenth of a millisecond


def played(
    song: Score, jitter_ms: float, seed: int = 1, wander: float = 0.0, seconds_per_quarter: float = 0.5
) -> tuple[Score, Ints]:
    """A performance of a score as MIDI would hold it, and the hole of every note in 24ths of a quarter.

    The tempo map says what the tempo is at the start; with `wander` each quarter then differs at random from the last.
    """
    chance = np.random.default_rng(seed)
    true = song.onset_ticks * UNITS // song.resolution
    quarters = int(true.max()) // UNITS + 3
    lengths = seconds_per_quarter * np.exp(np.cumsum(np.append(0, chance.normal(0, wander, quarters))))
    lines = np.append(0, np.cumsum(lengths))
    at = np.interp(true / UNITS, np.arange(len(lines)), lines) + chance.normal(0, jitter_ms / 1000, len(true))
    ticks = np.round((at + 0.2) * PER_SECOND).astype(np.int64)
    order = np.lexsort([song.pitch_midi, song.part, ticks])
    resolution = round(PER_SECOND * seconds_per_quarter)
    shifted = 0.2 / seconds_per_quarter
    made = replace(
        song,
        resolution=resolution,
        tolerance_ticks=1,
        onset_ticks=frozen_ints(ticks[order]),
        duration_ticks=frozen_ints(np.full(len(true), resolution // 8)),
        pitch_midi=frozen_ints(song.pitch_midi[order]),
        velocity=frozen_ints(song.velocity[order]),
        part=frozen_ints(song.part[order]),
        tempo_map=TempoMap(frozen_ints([0]), frozen_ints([round(seconds_per_quarter * 1e6)])),
        bar_map=BarMap(frozen_ints([0]), ("1",), frozen_ints([4]), frozen_ints([4]), int(ticks.max()) + 8 * resolution),
    )
    assert shifted < 1
    return made, frozen_ints(true[order])


def beats_at(seconds_per_quarter: float, count: int) -> BeatTrack:
    return BeatTrack(frozen_floats(0.2 + seconds_per_quarter * np.arange(count)), frozen_floats(np.arange(count)))


def share_right(result: PerformedResult, true: Ints) -> float:
    """Of notes on the hole that was meant, counting holes from the first note's quarter."""
    shift = round(float(np.median(result.onset_units - true)) / UNITS) * UNITS
    return float(np.mean(result.onset_units - shift == true))


SONG_FILES = ("turnstile-tango.mid", "pier-masters-hornpipe.mid", "shrimpers-jig.mid", "salt-water-shuffle.musicxml")


@pytest.mark.parametrize("name", SONG_FILES)
@pytest.mark.parametrize(("jitter_ms", "least"), [(8, 0.98), (15, 0.93)])
def test_bundled_songs_come_back_with_the_beat_known(name: str, jitter_ms: float, least: float) -> None:
    song, _ = read_score(SONGS / name)
    performance, true = played(song, jitter_ms)
    result, _ = quantise_performed(performance, beats_at(0.5, 60), Beat.KEEP)
    assert len(result.onset_units) == song.note_count
    assert share_right(result, true) >= least


@pytest.mark.parametrize("name", SONG_FILES[:2])
def test_a_drifting_tempo_is_followed_where_the_clock_would_be_lost(name: str) -> None:
    song, _ = read_score(SONGS / name)
    performance, true = played(song, 8, wander=0.02, seed=3)
    clock = np.round((performance.onset_ticks / PER_SECOND - 0.2) / 0.5 * UNITS).astype(np.int64)
    result, _ = quantise_performed(performance, beats_at(0.5, 60), Beat.FOLLOW)
    assert np.mean(clock == true) < 0.7
    assert share_right(result, true) > 0.93


@pytest.mark.parametrize("seed", range(4))
def test_long_waits_are_counted_out_and_not_taken_for_strays(seed: int) -> None:
    chance = np.random.default_rng(seed)
    holes = np.cumsum(np.append(0, chance.choice([4, 8], 59)))
    lines = np.append(0, np.cumsum(0.5 * np.exp(np.cumsum(chance.normal(0, 0.01, int(holes[-1]))))))
    time_s = frozen_floats(lines[holes] + chance.normal(0, 0.01, len(holes)))
    each = frozen_ints(np.arange(len(holes)))
    hypothesis = follow_pulses(
        time_s, each, [0] * len(holes), PLACES, [(0.0, Pulse(0.0, 0.5, 0.03, 0.01, 0.012))], 0.024
    )
    assert len(hypothesis.hole_quarters) == len(holes)


def test_exact_playing_comes_back_exactly_and_surely() -> None:
    song, _ = read_score(SONGS / "salt-water-shuffle.musicxml")
    performance, true = played(song, 0)
    result, findings = quantise_performed(performance, beats_at(0.5, 60), Beat.KEEP)
    assert share_right(result, true) == 1
    assert np.mean(result.confidence) > 0.95
    assert not [finding for finding in findings if finding.code == "low-confidence"]


def test_a_note_that_may_be_meant_elsewhere_is_a_doubt_and_no_change() -> None:
    song, _ = read_score(SONGS / "salt-water-shuffle.musicxml")
    performance, _ = played(song, 60)
    result, findings = quantise_performed(performance, beats_at(0.5, 60), Beat.KEEP)
    (doubt,) = (finding for finding in findings if finding.code == "low-confidence")
    notes = int(np.count_nonzero(result.confidence < 0.9))
    assert doubt.severity == Severity.NOTE
    assert doubt.message.startswith(f"{notes} notes in doubt: another hole than the one chosen may be meant (bars ")
    assert doubt.count == notes


@settings(max_examples=25)
@given(st.integers(0, 10_000), st.sampled_from([0.0, 5.0, 25.0, 80.0]), st.integers(1, 40))
@example(497, 5.0, 27)  # written in half the quarters that were followed
def test_every_note_comes_out_on_a_hole_with_a_confidence(seed: int, jitter_ms: float, notes: int) -> None:
    chance = np.random.default_rng(seed)
    rows = list(zip(chance.integers(0, 400, notes).tolist(), chance.integers(60, 72, notes).tolist(), strict=True))
    performance, _ = played(samples.score(rows), jitter_ms, seed)
    result, findings = quantise_performed(performance, None, Beat.FOLLOW)
    on_grid = score_on_grid(performance, result)
    assert on_grid.note_count == performance.note_count == len(result.onset_units)
    assert sorted(on_grid.pitch_midi.tolist()) == sorted(performance.pitch_midi.tolist())
    assert ((result.confidence >= 0) & (result.confidence <= 1)).all()
    places = {int(place * UNITS) for place in PLACES}
    assert set((result.onset_units % UNITS).tolist()) <= places
    assert findings
    again, _ = quantise_performed(performance, None, Beat.FOLLOW)
    assert again.onset_units.tolist() == result.onset_units.tolist()


def test_a_spread_chord_stays_together_and_repeats_stay_apart() -> None:
    chords = [(48 * bar, pitch) for bar in range(8) for pitch in (60, 64, 67)]
    song = samples.score(chords + [(24 + 48 * bar, 72) for bar in range(8)])
    performance, _ = played(song, 0)
    late = {64: 200, 67: 400}  # ticks of a tenth of a ms
    spread = performance.onset_ticks + np.array([late.get(pitch, 0) for pitch in performance.pitch_midi.tolist()])
    order = np.lexsort([performance.pitch_midi, spread])
    rolled = replace(
        performance, onset_ticks=frozen_ints(spread[order]), pitch_midi=frozen_ints(performance.pitch_midi[order])
    )
    result, _ = quantise_performed(rolled, beats_at(0.5, 30), Beat.KEEP)
    by_pitch = {pitch: result.onset_units[rolled.pitch_midi == pitch].tolist() for pitch in (60, 64, 67)}
    assert by_pitch[60] == by_pitch[64] == by_pitch[67]
    quick = samples.score([(6 * step, 60) for step in range(32)])
    repeated, true = played(quick, 10)
    result, _ = quantise_performed(repeated, beats_at(0.5, 20), Beat.KEEP)
    assert len(set(result.onset_units.tolist())) == 32
    assert share_right(result, true) > 0.9


@pytest.mark.parametrize("beat", list(Beat))
def test_a_unison_of_merged_parts_is_put_on_one_hole(beat: Beat) -> None:
    """One key struck twice within a few milliseconds was two parts that met, not a repeat."""
    upper, lower = [72, 74, 76, 77, 79, 77, 76, 74], [60, 72, 64, 65, 60, 77, 64, 62]
    eighths = [(12 * step, pitch) for step in range(192) for pitch in (upper[step % 8], lower[step % 8])]
    performance, true = played(samples.score(eighths), 8)
    result, findings = quantise_performed(performance, beats_at(0.5, 98) if beat is Beat.KEEP else None, beat)
    meets = performance.pitch_midi == 77
    assert len(np.unique(result.onset_units[meets])) == len(np.unique(true[meets])) == meets.sum() - 24
    assert share_right(result, true) == 1
    assert "repeats-share-hole" not in {finding.code for finding in findings}


def test_places_come_from_the_wheel() -> None:
    assert wheel_places(samples.wheel()) == PLACES
    plain = samples.wheel(rows=(samples.ON,), channels=[samples.channel("a", [60], rows=["on"])])
    assert [float(place) for place in wheel_places(plain)] == [0, 0.25, 0.5, 0.75]
    song, _ = read_score(SONGS / "salt-water-shuffle.musicxml")
    performance, _ = played(song, 5)
    places = wheel_places(plain)
    result, _ = quantise_performed(performance, beats_at(0.5, 60), Beat.KEEP, places=places)
    assert set((result.onset_units * 4 % result.resolution).tolist()) == {0}


def test_tapped_beats_are_taken_out_of_the_score() -> None:
    parts = (Part("Tune"), Part("Taps"))
    score = samples.score(
        [(0, 60, 80, 0), (24, 62, 80, 0), (0, 37, 80, 1), (24, 37, 80, 1), (48, 37, 80, 1)], parts=parts
    )
    rest, beats = tapped_beats(score, "Taps")
    assert rest.note_count == 2
    assert beats.seconds.tolist() == [0, 0.5, 1.0]
    assert tapped_beats(score, "Taps", Fraction(3, 2))[1].quarters.tolist() == [0, 1.5, 3]
    with pytest.raises(UsageError, match="no part 'Tap'"):
        tapped_beats(score, "Tap")


def test_a_beat_file_is_read() -> None:
    assert parse_beats("seconds\n0.5\n1.0\n1.6\n", "beats.csv").seconds.tolist() == [0.5, 1.0, 1.6]
    assert parse_beats("0.5\n1.0\n1.6\n", "beats.csv", Fraction(3, 2)).quarters.tolist() == [0, 1.5, 3]
    track = parse_beats("0.5,4\n1.5,6\n", "beats.csv", Fraction(3, 2))
    assert track.quarters.tolist() == [4, 6]


@pytest.mark.parametrize(
    ("text", "error", "said"),
    [
        ("", UsageError, "beat"),
        ("1.0\n", UsageError, "beat"),
        ("1.0\n0.5\n2\n", UsageError, "line 2"),
        ("1.0\n1.0\n", UsageError, "line 2"),
        ("1.0\nnan\n", UsageError, "line 2"),
        ("0.1\nx\n", InputError, "line 2"),
        ("1,2,3\n4,5,6\n", InputError, "3 columns"),
        ("1,2\n4\n", InputError, "line 2"),
        ("1,5\n2,4\n", UsageError, "line 2"),
    ],
)
def test_beats_that_run_backwards_or_are_no_numbers_are_told(
    text: str, error: type[UsageError | InputError], said: str
) -> None:
    with pytest.raises(error) as told:
        parse_beats(text, "beats.csv")
    assert "beats.csv" in str(told.value)
    assert said in str(told.value)


def test_an_empty_score_is_told() -> None:
    result, findings = quantise_performed(samples.score([]))
    assert len(result.onset_units) == 0
    assert [finding.code for finding in findings] == ["no-notes"]

"""Long silences in songs played by hand: what is heard on either side is the same, and they cost nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pegwright.ask.request import Beat
from pegwright.columns import Floats, frozen_floats, frozen_ints
from pegwright.played import quantise
from pegwright.played.beats import BeatTrack, beats_of_tempo_map
from pegwright.played.playing import Playing, playing
from pegwright.played.quantise import quantise_performed
from pegwright.played.silences import LEAST_QUARTERS, LONGEST_QUARTERS, TAKEN_QUARTERS, silences_of
from pegwright.score import LOW_CONFIDENCE, Score, TempoMap
from samples import score

RESOLUTION = 500  # ticks a quarter of half a second: a tick is a millisecond
AT_118 = TempoMap(frozen_ints([0]), frozen_ints([508_475]))
LOWEST = 0.9


def played(silence_quarters: int, seed: int) -> Score:
    """Sixteen eighths with 8 ms of jitter, a silence, and sixteen more."""
    chance = np.random.default_rng(seed)
    places = np.concatenate([np.arange(16), 16 + 2 * silence_quarters + np.arange(16)]) * RESOLUTION // 2
    jitter = np.clip(np.rint(chance.normal(0, 8, 32)), -20, 20).astype(np.int64)
    pitches = 60 + chance.integers(0, 12, 32)
    onsets = np.maximum(places + jitter + 30, 0).tolist()
    return score(list(zip(onsets, pitches.tolist(), strict=True)), resolution=RESOLUTION)


@pytest.mark.parametrize("beat", list(Beat))
@given(seed=st.integers(0, 1_000), longer=st.integers(1, 5_000))
@settings(max_examples=6, deadline=None)
def test_a_longer_silence_moves_what_follows_by_whole_quarters(beat: Beat, seed: int, longer: int) -> None:
    short, _ = quantise_performed(played(LONGEST_QUARTERS, seed), beat=beat)
    long, _ = quantise_performed(played(LONGEST_QUARTERS + longer, seed), beat=beat)
    moved = long.onset_units - short.onset_units
    assert set(moved[:16].tolist()) == {0}
    assert len(set(moved[16:].tolist())) == 1
    assert moved[-1] % long.resolution == 0
    assert np.allclose(long.confidence, short.confidence, atol=0.05)
    expected = longer * long.resolution
    # The tempo before the silence says how many quarters it lasted: exactly where the beat is given.
    assert abs(moved[-1] - expected) <= (0 if beat is Beat.KEEP else 0.1 * expected + long.resolution)


def test_the_quarters_of_a_silence_are_not_followed(monkeypatch: pytest.MonkeyPatch) -> None:
    followed = []

    def spied(notes: Score, seconds: Floats, guide: BeatTrack) -> Playing:
        followed.append(playing(notes, seconds, guide))
        return followed[-1]

    monkeypatch.setattr(quantise, "playing", spied)
    result, _ = quantise_performed(played(90_000, seed=1), beat=Beat.KEEP)
    assert followed[0].time_s[-1] < (16 + LEAST_QUARTERS + 2) / 2
    assert result.onset_units[-1] // result.resolution == 90_000 + 15
    assert len(result.beats.seconds) < 50


def test_a_guide_keeps_its_tempi_around_what_is_taken_out() -> None:
    guide = BeatTrack(frozen_floats([0.0, 1.0, 20.0, 21.0]), frozen_floats([0.0, 2.0, 10.0, 90.0]))
    seconds = frozen_floats([0.5, 1.5, 21.5])
    silences, shorter = silences_of(seconds, guide)
    kept = silences.shortened(seconds)
    quarters, before = shorter.quarters_at(kept), guide.quarters_at(seconds)
    removed = before[2] - quarters[2]
    assert quarters[:2].tolist() == pytest.approx(before[:2].tolist())
    assert removed == pytest.approx(round(removed))
    assert 0 < quarters[2] - quarters[1] <= LONGEST_QUARTERS + 1
    assert shorter.quarter_s_at(kept).tolist() == pytest.approx(guide.quarter_s_at(seconds).tolist())


def test_silences_that_are_short_change_nothing() -> None:
    song = played(LONGEST_QUARTERS // 2, seed=2)
    guide = beats_of_tempo_map(song)
    seconds = frozen_floats(guide.seconds_at(song.onset_ticks / song.resolution))
    silences, same = silences_of(seconds, guide)
    assert same is guide
    assert silences.shortened(seconds).tolist() == seconds.tolist()
    units = frozen_ints(np.arange(len(seconds)))
    assert silences.restored(guide, seconds, units, 12, silences.quarters)[1].tolist() == units.tolist()


@given(seed=st.integers(0, 1_000))
@settings(max_examples=10, deadline=None)
def test_beats_that_are_given_count_the_quarters_of_a_silence(seed: int) -> None:
    """Tapped along, at a tempo that drifts while nothing is played."""
    chance = np.random.default_rng(seed)
    quarters = np.concatenate([np.arange(16), 2 * LONGEST_QUARTERS + 100 + np.arange(16)]) / 2
    line_s = 0.03 + np.cumsum(0.5 * np.exp(np.cumsum(chance.normal(0, 0.01, int(quarters[-1]) + 3))))
    at_s = np.interp(quarters, np.arange(len(line_s)), line_s) + chance.normal(0, 0.004, len(quarters))
    notes = [(int(1000 * at), 60 + number % 12) for number, at in enumerate(at_s)]
    taps = BeatTrack(frozen_floats(line_s), frozen_floats(np.arange(len(line_s))))
    result, _ = quantise_performed(score(notes, resolution=RESOLUTION), taps, Beat.KEEP)
    assert (result.onset_units / result.resolution).tolist() == quarters.tolist()


def test_bars_go_on_after_a_long_silence() -> None:
    """Where the tempo drifts, the bars of what follows say how many quarters it lasted; else that is in doubt."""
    settled = 0
    for seed in range(8):
        chance = np.random.default_rng(seed)
        bar = [(0, 48), (0, 64), (12, 72), (24, 67), (36, 72), (48, 60), (48, 76), (60, 72), (72, 67), (84, 74)]
        written = [(96 * at + place, pitch) for at in [*range(12), *range(20, 32)] for place, pitch in bar]
        place, pitch = np.array(written).T
        tempo = np.zeros(200)
        for quarter in range(1, 200):
            tempo[quarter] = 0.9 * tempo[quarter - 1] + chance.normal(0, 0.01)
        line_s = np.append(0, np.cumsum(0.5 * np.exp(tempo)))
        at_s = np.interp(place / 24, np.arange(201), line_s) + chance.normal(0, 0.01, len(place)) + 0.1
        order = np.argsort(at_s, kind="stable")
        notes = list(zip(np.rint(1000 * at_s[order]).astype(int).tolist(), pitch[order].tolist(), strict=True))
        result, _ = quantise_performed(replace(score(notes, resolution=RESOLUTION), tempo_map=AT_118))
        apart = result.onset_units - place[order]
        right = apart == np.median(apart[: len(apart) // 4])
        settled += bool(right.mean() > LOWEST)
        assert right.mean() > LOWEST or (result.confidence[~right] < LOW_CONFIDENCE).mean() > LOWEST
    assert settled >= 7


def test_many_long_silences_are_shortened_more() -> None:
    """As many quarters are followed as there are notes, and eight times as many."""
    seconds = frozen_floats(np.arange(50) * 60.0)
    silences, guide = silences_of(seconds, BeatTrack(frozen_floats([0.0, 0.5]), frozen_floats([0.0, 1.0])))
    left = guide.quarters_at(silences.shortened(seconds))
    assert np.diff(left).max() <= LEAST_QUARTERS + 1e-9
    assert set((np.diff(left) - 120) % TAKEN_QUARTERS) == {0.0}

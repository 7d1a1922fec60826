"""Long silences in songs played by hand: what is heard on either side is the same, and they cost nothing."""

from __future__ import annotations

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
from pegwright.played.silences import LONGEST_QUARTERS, silences_of
from pegwright.score import Score
from samples import score

RESOLUTION = 500  # ticks a quarter of half a second: a tick is a millisecond


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
    assert followed[0].time_s[-1] < (16 + LONGEST_QUARTERS + 2) / 2
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
    song = played(LONGEST_QUARTERS - 2, seed=2)
    guide = beats_of_tempo_map(song)
    seconds = frozen_floats(guide.seconds_at(song.onset_ticks / song.resolution))
    silences, same = silences_of(seconds, guide)
    assert same is guide
    assert silences.shortened(seconds).tolist() == seconds.tolist()
    units = frozen_ints(np.arange(len(seconds)))
    assert silences.restored(guide, seconds, units, 12)[1].tolist() == units.tolist()

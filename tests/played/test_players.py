"""Who plays evenly, stops, changes tempo or lets it sway is followed as such, and as nothing else."""

from __future__ import annotations

import numpy as np
import pytest

from pegwright.columns import Floats
from pegwright.played import players
from pegwright.played.bar_laws import CHANGING, EVEN, HALTING, MOVING, SUPPLE
from pegwright.played.bar_places import metre_of
from pegwright.played.free_beat import Tempo, sure_beside
from pegwright.played.model import PLACES
from pegwright.played.players import Believed, likeliest_player
from pegwright.played.struck import struck_by
from played.test_free_beat import notes_at, right_but_for_a_shift
from played.test_settled import tune

BARS, STOP_AT = 24, 60  # notes; six a bar
TEMPO = Tempo(0.5, 0.0, trusted=True)


def played_by(time_s: Floats, pitch: np.ndarray) -> Believed:
    """The reading of notes in 4/4 at 120."""
    return likeliest_player(PLACES, struck_by(notes_at(time_s, pitch)), TEMPO, metre_of("4/4"))


def right(believed: Believed, unit: np.ndarray) -> float:
    """The share of notes on their hole."""
    holes = np.round(24 * believed.beat.hole_quarters).astype(np.int64)
    return float(right_but_for_a_shift(holes, unit).mean())


def with_jitter(time_s: Floats, seed: int, jitter_s: float = 0.005) -> Floats:
    return time_s + np.random.default_rng(seed).normal(0, jitter_s, len(time_s))


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("stop_s", [0.2, 0.31, 0.43, 0.7])
def test_a_stop_that_is_no_part_of_a_beat_is_heard(stop_s: float, seed: int) -> None:
    time_s, unit, pitch = tune(BARS)
    late_s = np.where(np.arange(len(unit)) >= STOP_AT + 3, stop_s, 0.0)
    believed = played_by(with_jitter(time_s + late_s, seed), pitch)
    assert believed.beat.laws in (HALTING, SUPPLE, MOVING)
    assert right(believed, unit) > 0.98


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("times", [0.8, 0.9, 1.15, 1.3])
def test_a_tempo_that_becomes_another_at_once_is_followed(times: float, seed: int) -> None:
    time_s, unit, pitch = tune(BARS)
    late_s = np.maximum(time_s - time_s[STOP_AT], 0.0) * (times - 1)
    believed = played_by(with_jitter(time_s + late_s, seed), pitch)
    assert right(believed, unit) > 0.98
    assert believed.beat.quarter_s[-1] == pytest.approx(0.5 * times, rel=0.02)


@pytest.mark.parametrize("seed", [1, 2])
def test_a_tempo_that_sways_without_stops_is_followed(seed: int) -> None:
    _, unit, pitch = tune(BARS)
    lines = np.append(0.0, np.cumsum(0.5 * (1 + 0.15 * np.sin(np.arange(4 * BARS + 1) * np.pi / 8))))
    believed = played_by(with_jitter(np.interp(unit / 24, np.arange(len(lines)), lines), seed), pitch)
    assert believed.beat.laws in (SUPPLE, MOVING)
    assert right(believed, unit) > 0.98


@pytest.mark.parametrize("seed", range(6))
def test_even_playing_is_even_and_nothing_else_comes_near(seed: int) -> None:
    time_s, unit, pitch = tune(BARS)
    believed = played_by(with_jitter(time_s, seed), pitch)
    assert believed.beat.laws == EVEN
    assert believed.other is None
    assert right(believed, unit) == 1.0


@pytest.mark.parametrize("seed", range(8))
def test_triplets_throughout_are_no_other_tempo(seed: int) -> None:
    """As eighths at one and a half times the tempo they would be likelier, from the second note on."""
    chance = np.random.default_rng(seed)
    unit = np.append(0, np.cumsum(chance.choice([8, 8, 8, 16, 24], 160)))
    believed = played_by(with_jitter(unit / 48, seed), 60 + unit // 8 * 5 % 12)
    assert believed.beat.laws != CHANGING
    assert believed.beat.quarter_s[-1] == pytest.approx(0.5, rel=0.05)


@pytest.mark.parametrize("seed", range(12))
def test_what_only_the_bars_of_all_the_rest_speak_for_is_no_stop(seed: int) -> None:
    """Melodies without any metre, played evenly: some stop or other always brings chance in the bars to agree."""
    chance = np.random.default_rng(seed)
    unit = np.append(0, np.cumsum(chance.choice([6, 6, 12, 12, 18, 24], 300)))
    time_s = unit / 48 + chance.normal(0, 0.012, len(unit))
    believed = played_by(time_s, chance.integers(60, 72, len(unit)))
    assert believed.beat.laws == EVEN
    assert right(believed, unit) > 0.95


def test_another_reading_is_told_where_it_is_near_and_counts_otherwise(monkeypatch: pytest.MonkeyPatch) -> None:
    time_s, _, pitch = tune(BARS)
    late_s = np.where(np.arange(len(time_s)) >= STOP_AT + 3, 0.43, 0.0)
    notes = with_jitter(time_s + late_s, 1)
    assert played_by(notes, pitch).other is None
    monkeypatch.setattr(players, "NEAR", 1e6)
    monkeypatch.setattr(players, "NEAR_CLUSTER", 1e6)
    other = played_by(notes, pitch).other
    assert other is not None
    assert 0 < np.mean(sure_beside(other) < 1) < 1

"""Stops in even playing are found, and none where nobody stopped."""

from __future__ import annotations

import numpy as np
import pytest

from pegwright.played.bar_laws import EVEN
from pegwright.played.bar_places import metre_of
from pegwright.played.free_beat import Tempo, free_beat
from pegwright.played.halting import with_stops
from pegwright.played.model import PLACES
from pegwright.played.struck import struck_by
from played.test_free_beat import notes_at, right_but_for_a_shift
from played.test_settled import tune

BARS, STOP_AT = 24, 60  # notes; six a bar


def halted(stop_s: float, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Bars at 120 with 5 ms of jitter and a stop in the middle of one: times, holes without the stop, pitches."""
    time_s, unit, pitch = tune(BARS)
    number = np.arange(len(unit))
    late_s = np.where(number >= STOP_AT + 3, stop_s, 0.0) + np.random.default_rng(seed).normal(0, 0.005, len(unit))
    return time_s + late_s, unit, pitch


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("stop_s", [0.2, 0.31, 0.43, 0.7])
def test_a_stop_that_is_no_part_of_a_beat_is_heard(stop_s: float, seed: int) -> None:
    time_s, unit, pitch = halted(stop_s, seed)
    struck = struck_by(notes_at(time_s, pitch))
    tempo = Tempo(0.5, 0.0, trusted=True)
    even = free_beat(PLACES, struck, tempo, metre_of("4/4"), EVEN)
    halting = with_stops(PLACES, struck, tempo, even)
    assert halting.likelier
    holes = np.round(24 * halting.beat.hole_quarters).astype(np.int64)
    assert right_but_for_a_shift(holes, unit).mean() > 0.98


@pytest.mark.parametrize("seed", range(6))
def test_even_playing_has_no_stops(seed: int) -> None:
    time_s, unit, pitch = halted(0.0, seed)
    struck = struck_by(notes_at(time_s, pitch))
    tempo = Tempo(0.5, 0.0, trusted=True)
    even = free_beat(PLACES, struck, tempo, metre_of("4/4"), EVEN)
    assert right_but_for_a_shift(np.round(24 * even.hole_quarters).astype(np.int64), unit).all()
    halting = with_stops(PLACES, struck, tempo, even)
    assert not halting.likelier
    assert not halting.doubted


@pytest.mark.parametrize("seed", range(12))
def test_what_only_the_bars_of_all_the_rest_speak_for_is_no_stop(seed: int) -> None:
    """Melodies without any metre, played evenly: some stop or other always brings chance in the bars to agree."""
    rng = np.random.default_rng(seed)
    unit = np.append(0, np.cumsum(rng.choice([6, 6, 12, 12, 18, 24], 300)))
    time_s = unit / 48 + rng.normal(0, 0.012, len(unit))
    struck = struck_by(notes_at(time_s, rng.integers(60, 72, len(unit))))
    tempo = Tempo(0.5, 0.0, trusted=True)
    even = free_beat(PLACES, struck, tempo, metre_of("4/4"), EVEN)
    assert right_but_for_a_shift(np.round(24 * even.hole_quarters).astype(np.int64), unit).mean() > 0.95
    assert not with_stops(PLACES, struck, tempo, even).likelier

"""In which note values a song is written: a tempo and steps that are usual, common practice, no source."""

from __future__ import annotations

import numpy as np
import pytest

from pegwright.played.note_values import RATIOS, USUAL_STEP, mean_step, written_ratio


@pytest.mark.parametrize("tempo", [80, 100, 120, 140])
@pytest.mark.parametrize("step", [0.5, 0.7, 1.0])
def test_quarters_and_eighths_at_a_usual_tempo_stay_what_they_are(tempo: int, step: float) -> None:
    assert written_ratio(60 / tempo, step) == 1.0


@pytest.mark.parametrize(
    ("tempo", "step", "ratio"), [(40, 1.0, 2.0), (35, 0.75, 2.0), (230, 0.5, 0.5), (200, 1.0, 0.5)]
)
def test_what_is_very_slow_is_written_in_shorter_values_and_very_fast_in_longer(
    tempo: int, step: float, ratio: float
) -> None:
    assert written_ratio(60 / tempo, step) == ratio


@pytest.mark.parametrize("tempo", [20, 60, 110, 300])
def test_at_one_tempo_longer_steps_are_never_written_longer_still(tempo: int) -> None:
    ratios = [written_ratio(60 / tempo, step) for step in np.geomspace(0.05, 8, 60).tolist()]
    assert ratios == sorted(ratios, reverse=True)
    assert set(ratios) <= set(RATIOS)


def test_the_mean_step_is_geometric_and_leaves_chords_out() -> None:
    assert mean_step(np.array([0.0, 0.0, 0.25, 1.25, 1.25])) == pytest.approx(0.5)
    assert mean_step(np.array([3.0, 3.0])) == USUAL_STEP

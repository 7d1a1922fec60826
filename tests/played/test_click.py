"""Who plays to the beat that a file states, and who only plays steadily at nearly that tempo."""

from __future__ import annotations

import numpy as np
import pytest

import samples
from pegwright.ask.request import Beat
from pegwright.played.quantise import quantise_performed
from pegwright.score import Score
from played.test_free_beat import right_but_for_a_shift

RESOLUTION, US = 960, 600_000
NOTES = 300


def steady(slower: float, seed: int) -> tuple[Score, np.ndarray]:
    """A melody played steadily, with 15 ms of jitter, by this share slower than the file says; where notes were meant.

    Args:
        slower: 0.001 for a thousandth.
        seed: for the melody and the jitter.
    """
    rng = np.random.default_rng(seed)
    steps = rng.choice([6, 6, 12, 12, 18, 24], NOTES)
    true = np.cumsum(steps) + (-np.sum(steps[:1])) % 24
    ticks = np.round(true / 24 * RESOLUTION * (1 + slower) + rng.normal(0, 0.015e6 / US, NOTES) * RESOLUTION)
    notes = [(int(tick), int(60 + pitch)) for tick, pitch in zip(ticks, rng.integers(0, 12, NOTES), strict=True)]
    return samples.score(notes, resolution=RESOLUTION, us_per_quarter=US), true


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("slower", [0.001, -0.002, 0.005, -0.01])
def test_a_steady_tempo_that_is_nearly_the_files_own_is_followed(slower: float, seed: int) -> None:
    """A thousandth less than the file's tempo is an eighth of a quarter by the end, and more than a hole."""
    score, true = steady(slower, seed)
    result, findings = quantise_performed(score, None, Beat.FOLLOW)
    assert right_but_for_a_shift(result.onset_units, true).mean() > 0.97
    assert not any(finding.code == "own-beat-kept" for finding in findings)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_files_own_tempo_is_kept(seed: int) -> None:
    score, true = steady(0.0, seed)
    result, findings = quantise_performed(score, None, Beat.FOLLOW)
    assert (result.onset_units == true).mean() > 0.97
    assert any(finding.code == "own-beat-kept" for finding in findings)

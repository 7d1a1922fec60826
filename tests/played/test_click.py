"""Who plays to the beat that a file states, and who only plays steadily at nearly that tempo."""

from __future__ import annotations

import numpy as np
import pytest

import samples
from pegwright.ask.request import Beat
from pegwright.played.quantise import quantise_performed
from pegwright.score import Score
from played.test_free_beat import right_but_for_a_shift
from played.test_settled import tune

RESOLUTION, US = 960, 600_000
BARS = 64


def steady(slower: float, seed: int) -> tuple[Score, np.ndarray]:
    """A tune played steadily, with 15 ms of jitter, by this share slower than the file says; where notes were meant.

    Args:
        slower: 0.001 for a thousandth.
        seed: for the jitter.
    """
    _, true, pitch = tune(BARS)
    jitter = np.random.default_rng(seed).normal(0, 0.015e6 / US, len(true))
    ticks = np.round((true / 24 * (1 + slower) + 1 + jitter) * RESOLUTION).astype(np.int64)
    notes = list(zip(ticks.tolist(), pitch.tolist(), strict=True))
    return samples.score(notes, resolution=RESOLUTION, us_per_quarter=US), true + 24


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("slower", [0.001, -0.002, 0.005, -0.01])
def test_a_steady_tempo_that_is_nearly_the_files_own_is_followed(slower: float, seed: int) -> None:
    """A thousandth less than the file's tempo is a quarter of a quarter by the end, and more than a hole."""
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

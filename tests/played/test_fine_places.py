"""Where beats are dotted notes, thirds of a quarter are taken in runs of sixths alone."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

import samples
from pegwright.ask.request import Beat
from pegwright.columns import Ints, frozen_floats
from pegwright.played.beats import BeatTrack
from pegwright.played.fine_places import LONE_THIRD, fine_places
from pegwright.played.quantise import quantise_performed

PER_SECOND, UNITS, BEAT_UNITS, BEAT_S = 10_000, 24, 36, 0.8
ROCKING, SWAYING, RUN = (0, 18, 24), (0, 24), (0, 4, 8, 12, 16, 20, 24, 30)
AHEAD = (0.0, 16.8, 21.0)  # where a player struck those of ROCKING


def heard(
    beats: Sequence[tuple[int, ...]], played: Sequence[tuple[float, ...]], apart_quarters: float
) -> tuple[Ints, Ints]:
    """The holes of what was played in each beat, and those that were meant, in 24ths of a quarter.

    Args:
        beats: places in each, in 24ths of a quarter.
        played: where in each the player struck, likewise.
        apart_quarters: how far the beats that are given lie apart.
    """
    chance = np.random.default_rng(6)
    at_s = [(beat + each / BEAT_UNITS) * BEAT_S for beat, places in enumerate(played) for each in places]
    at = 1 + np.array(at_s) + chance.normal(0, 0.006, len(at_s))
    rows = [(round(each * PER_SECOND), 60 + note % 12) for note, each in enumerate(np.sort(at).tolist())]
    quarters = np.arange(0, 1.5 * len(beats) + 3, apart_quarters)
    track = BeatTrack(frozen_floats(1 + quarters * BEAT_S / 1.5), frozen_floats(quarters))
    result, _ = quantise_performed(samples.score(rows, resolution=PER_SECOND // 2), track, Beat.KEEP)
    return result.onset_units, np.array(
        [BEAT_UNITS * beat + each for beat, places in enumerate(beats) for each in places]
    )


def test_a_rocking_figure_that_runs_ahead_has_no_triplets_between_dotted_beats() -> None:
    """Of quarters given beside it, it could as well be one of triplets."""
    beats = [ROCKING if beat % 2 else SWAYING for beat in range(40)]
    played = [AHEAD if beat % 2 else tuple(map(float, SWAYING)) for beat in range(40)]
    got, meant = heard(beats, played, 1.5)
    assert np.mean(got == meant) > 0.85
    assert np.mean(got % 6 != 0) < 0.05
    other, _ = heard(beats, played, 1.0)
    assert np.mean(other % 6 != 0) > 0.3, "the same notes beside quarters"


def test_a_run_of_sixths_is_kept_between_dotted_beats() -> None:
    beats = [RUN if beat % 4 == 3 else (0, 12, 24) for beat in range(40)]
    got, meant = heard(beats, [tuple(map(float, places)) for places in beats], 1.5)
    assert np.mean(got == meant) > 0.95


@pytest.mark.parametrize(("apart", "rare"), [(1.5, True), (0.75, True), (1.0, False), (2.0, False), (3.0, False)])
def test_thirds_cost_something_between_dotted_beats_alone(apart: float, rare: bool) -> None:
    """From the beat to its third, and from the third to the next."""
    places = fine_places(np.array([[0], [8], [12]]), UNITS, apart)
    cost = places.cost(np.array([[[8]], [[4]]]), 0, 2)
    assert cost.ravel().tolist() == [LONE_THIRD if rare else 0, 0]

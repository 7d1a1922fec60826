"""What comes again in a song is placed together: the times that it is played say more than any one of them."""

from __future__ import annotations

import numpy as np
import pytest

import samples
from pegwright.ask.request import Beat
from pegwright.columns import Floats, frozen_floats
from pegwright.played.alike_places import WEIGHT, Recurring, recurring, said_by_alike
from pegwright.played.beats import BeatTrack
from pegwright.played.quantise import quantise_performed

UNITS, PER_SECOND, TIMES = 24, 10_000, 12
PASSAGE = (0, 12, 24, 30, 36, 48, 56, 64, 72, 84, 90, 96, 108, 114, 120, 132, 144, 152, 160, 168)
PASSAGE_QUARTERS, JITTER_S = 8, 0.02


def share_right(pitches: np.ndarray, seed: int) -> float:
    """The share of notes on their hole of the passage played again and again at 120 a minute, up to a shift."""
    chance = np.random.default_rng(seed)
    true = np.add.outer(PASSAGE_QUARTERS * UNITS * np.arange(TIMES), PASSAGE).ravel() + UNITS
    at = np.sort(true / UNITS / 2 + chance.normal(0, JITTER_S, len(true)))
    rows = [(round(each * PER_SECOND), int(pitch)) for each, pitch in zip(at, pitches, strict=True)]
    beat = np.arange(PASSAGE_QUARTERS * TIMES + 3)
    beats = BeatTrack(frozen_floats(beat / 2), frozen_floats(beat), 0.0)
    result, _ = quantise_performed(samples.score(rows, resolution=PER_SECOND // 2), beats, Beat.KEEP)
    return float(np.unique(result.onset_units - true, return_counts=True)[1].max() / len(true))


def test_a_passage_that_comes_again_is_heard_better_than_one_whose_notes_never_do() -> None:
    melody = np.random.default_rng(1).integers(50, 80, len(PASSAGE))
    again, never = [], []
    for seed in range(6):
        again.append(share_right(np.tile(melody, TIMES), seed))
        never.append(share_right(np.random.default_rng(seed).integers(50, 80, len(PASSAGE) * TIMES), seed))
    assert np.mean(again) > np.mean(never) + 0.01
    assert sum(one > other for one, other in zip(again, never, strict=True)) > 3


def said(alike: Recurring, certainty: Floats) -> np.ndarray:
    place = np.tile([0, 6, 8], (len(certainty), 1))
    return said_by_alike(alike, place, certainty, UNITS)


def test_a_group_learns_from_those_that_are_alike_and_nothing_from_others() -> None:
    pairs = Recurring(
        np.arange(4), np.ones(4, dtype=np.int64), np.array([1, 0]), np.array([0, 1]), np.array([2.0, 2.0])
    )
    certainty = np.array([[0.0, 1.0, 0.0], [0.0, 0.5, 0.5], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    likelier = said(pairs, certainty)
    assert likelier[1].argmax() == 1
    assert (likelier[2:] == 0).all()
    # that the likest lies elsewhere is never out of the question
    assert likelier.min() >= WEIGHT * np.log(0.2) - 1e-9


@pytest.mark.parametrize("drums", [False, True])
def test_clusters_are_compared_by_pitch_and_on_drums_by_what_is_struck(drums: bool) -> None:
    struck = np.tile([36, 42, 38, 42, 47, 41], 4)
    seconds = np.arange(len(struck)) / 5
    pitch = np.zeros_like(struck) if drums else struck
    alike = recurring(frozen_floats(seconds), struck, pitch, np.arange(len(struck)))
    assert set((np.abs(alike.cluster - alike.other) % 6).tolist()) == {0}
    assert len(alike.weight) > len(struck)

"""Onsets that nearly coincide, taken together: struck by one hand, a few milliseconds apart."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen

GAP_S = 0.012  # between notes of one chord, where the beats are given: a few milliseconds then matter
LONGEST_CLUSTER_S = 0.07
STEP_SEMITONES = 2  # of a scale, at most
UNISON_S = 0.03  # nobody strikes a key again so soon: two parts meet on one note; common practice, no source


def voices(key: Ints, seconds: Floats) -> Ints:
    """Shape (n,): equal for notes that cannot be struck together: those of one key, but for unisons of merged parts.

    Args:
        key: shape (n,), of each note.
        seconds: shape (n,), when each was played, rising.
    """
    order, at = np.argsort(key, kind="stable"), np.arange(len(key))
    again = np.append(False, (np.diff(key[order]) == 0) & (np.diff(seconds[order]) < UNISON_S))
    number = np.zeros(len(key), dtype=np.int64)  # of each note in its unison
    number[order] = at - np.maximum.accumulate(np.where(again, 0, at))
    _, voice = np.unique(key * (number.max(initial=0) + 1) + number, return_inverse=True)
    return voice


def clusters(onset_s: Floats, voice: Ints, gap_s: float) -> Ints:
    """Shape (n,): which cluster each onset is in; onsets that nearly coincide share one, unless a voice strikes twice.

    Args:
        onset_s: shape (n,), seconds, rising.
        voice: shape (n,), equal for notes that cannot be struck together.
        gap_s: onsets further apart than this are not of one cluster.
    """
    which, cluster, began, before, inside = [], -1, 0.0, -math.inf, set[int]()
    for onset, own in zip(onset_s.tolist(), voice.tolist(), strict=True):
        if onset - before > gap_s or onset - began > LONGEST_CLUSTER_S or own in inside:
            cluster, began, inside = cluster + 1, onset, set()
        before = onset
        inside.add(own)
        which.append(cluster)
    return np.array(which, dtype=np.int64)


@frozen(eq=False)
class Chords:
    """Groups of notes in order of time; columns of shape (c,) but the first.

    Args:
        which: shape (n,), the group of each note.
        time_s: its mean time.
        repeats: whether a note of it is struck in the group before too, so that both cannot lie in one place.
        by_step: whether a note of it lies a step from one of the group before, as in a melody and seldom in a chord.
    """

    which: Ints
    time_s: NDArray[np.float64]
    repeats: NDArray[np.bool_]
    by_step: NDArray[np.bool_]


def chords_of(seconds: Floats, voice: Ints, pitch: Ints) -> Chords:
    """Group notes that nearly coincide.

    Args:
        seconds: shape (n,), rising.
        voice: shape (n,), equal for notes that cannot be struck together.
        pitch: shape (n,), in semitones; 0 where it is none.
    """
    which = clusters(seconds, voice, GAP_S)
    time_s = np.bincount(which, seconds) / np.bincount(which)
    order = np.lexsort([which, voice])
    again = (np.diff(voice[order]) == 0) & (np.diff(which[order]) == 1)
    repeats = np.zeros(len(time_s), dtype=bool)
    repeats[which[order[1:]][again]] = True
    return Chords(which, time_s, repeats, _by_step(which, pitch))


def _by_step(which: Ints, pitch: Ints) -> NDArray[np.bool_]:
    """Whether the nearest notes of each group and the one before lie 1 or 2 semitones apart."""
    struck = np.split(pitch, np.flatnonzero(np.diff(which)) + 1)
    nearest = [int(np.abs(later[:, None] - early).min()) for early, later in pairwise(struck)]
    return np.array([False, *(1 <= apart <= STEP_SEMITONES for apart in nearest)])

"""Onsets that all but coincide, as one: struck together by one hand, a few milliseconds apart."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.beam_search import clusters

GAP_S = 0.012


@frozen(eq=False)
class Chords:
    """Groups of notes in order of time; columns of shape (c,) but the first.

    Args:
        which: shape (n,), the group of each note.
        time_s: its mean time.
        repeats: whether a note of it is struck in the group before too, so that both cannot lie in one place.
    """

    which: Ints
    time_s: NDArray[np.float64]
    repeats: NDArray[np.bool_]


def chords_of(seconds: Floats, voice: Ints) -> Chords:
    """Group notes that all but coincide.

    Args:
        seconds: shape (n,), rising.
        voice: shape (n,), equal for notes that cannot be struck together.
    """
    which = clusters(seconds, voice, GAP_S)
    time_s = np.bincount(which, seconds) / np.bincount(which)
    order = np.lexsort([which, voice])
    again = (np.diff(voice[order]) == 0) & (np.diff(which[order]) == 1)
    repeats = np.zeros(len(time_s), dtype=bool)
    repeats[which[order[1:]][again]] = True
    return Chords(which, time_s, repeats)

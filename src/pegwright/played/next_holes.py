"""Holes on which the next onset may lie: those near where the beat expects it, and whole beats about these.

Who stops for a while comes in beats later than expected, so holes on beats well before it come into question as well;
and over a long note a little error of the tempo is more than a few holes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints
from pegwright.frozen import frozen
from pegwright.played.bar_habits import BarHabits

SIDEWAYS = 3  # places on either side of the nearest
BEATS_BEFORE, BEATS_AFTER = 4, 1  # the first of these in the quarter itself


@frozen(eq=False)
class NextHoles:
    """For each hypothesis some holes; of shape (h, m).

    Args:
        unit: hole, from the bar line at which the song is counted.
        quarter: the quarter it lies in.
        place: which place of that.
        ahead: whether it lies ahead, and is not the same as one more.
    """

    unit: Ints
    quarter: Ints
    place: Ints
    ahead: NDArray[np.bool_]


def holes_about(habits: BarHabits, unit: Ints, expected: Ints) -> NextHoles:
    """Holes near those that are expected, then beats about them.

    Args:
        habits: the places of the wheel, and the metre.
        unit: shape (h,), last holes.
        expected: shape (h,), where the next onsets are expected.
    """
    resolution, count = habits.resolution, len(habits.units)
    nearest = expected // resolution * count + habits.nearest[expected % resolution]
    quarter, place = np.divmod(nearest[:, None] + np.arange(-SIDEWAYS, SIDEWAYS + 1), count)
    near = quarter * resolution + habits.units[place]
    beats = (expected // habits.step_units)[:, None] + np.arange(BEATS_AFTER, -BEATS_BEFORE, -1)
    far = beats * habits.step_units
    another = (far < near[:, :1]) | (far > near[:, -1:])
    holes = np.concatenate([near, far], axis=1)
    ahead = holes > unit[:, None]
    ahead[:, near.shape[1] :] &= another
    return NextHoles(
        holes,
        np.concatenate([quarter, far // resolution], axis=1),
        np.concatenate([place, habits.place(far)], axis=1),
        ahead,
    )

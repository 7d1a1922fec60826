"""What fine places cost without those beside them, for few are struck alone.

A sixth of a quarter is seldom struck without the next third, five sixths without the third before, and an odd eighth of
a quarter without the sixteenth that follows it. Where beats are dotted notes they are divided in three already, so a
third of a quarter is struck in a run of sixths only.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen

# By how much less likely, as a logarithm, places are without those beside them.
LONE_SIXTH, LONE_EIGHTH, LONE_THIRD = 5.0, 1.0, 4.0
DOTTED = (0.75, 1.5)  # quarters of a dotted eighth and a dotted quarter
NEAR = 0.01


@frozen(eq=False)
class FinePlaces:
    """Which states lie on fine places; of shape (c, s).

    Args:
        first_sixth, last_sixth: a sixth of a quarter, and five.
        odd_eighth: eighths that are no quarters.
        third: thirds and sixths that are no halves, where beats are dotted; nowhere else.
        resolution: units a quarter.
    """

    first_sixth: NDArray[np.bool_]
    last_sixth: NDArray[np.bool_]
    odd_eighth: NDArray[np.bool_]
    third: NDArray[np.bool_]
    resolution: int

    def cost(self, units: NDArray[np.int64], first: int, past: int) -> Floats:
        """Shape (steps, s, s): what steps cost that leave fine places without those beside them, as a logarithm.

        Args:
            units: shape (steps, s, s), how far each step goes.
            first: the onset from which the first of them goes.
            past: the one to which the last goes.
        """
        left, come = slice(first, past), slice(first + 1, past + 1)
        sixths = self.first_sixth[left, :, None] | self.last_sixth[come, None, :]
        thirds = self.third[left, :, None].astype(np.float64) + self.third[come, None, :]
        cost = (LONE_SIXTH * sixths + LONE_THIRD * thirds) * (6 * units != self.resolution)
        lone: Floats = cost + LONE_EIGHTH * (self.odd_eighth[left, :, None] & (8 * units != self.resolution))
        return lone


def fine_places(unit: Ints, resolution: int, beat_quarters: float) -> FinePlaces:
    """Which of some places are fine.

    Args:
        unit: shape (c, s), the places.
        resolution: units a quarter.
        beat_quarters: how far the beats given lie apart.
    """
    within = unit % resolution
    third = (6 * within % resolution == 0) & (2 * within % resolution != 0)
    if not np.isclose(beat_quarters, DOTTED, atol=NEAR).any():
        third = np.zeros_like(third)
    odd_eighth = 8 * within % (2 * resolution) == resolution
    return FinePlaces(6 * within == resolution, 6 * within == 5 * resolution, odd_eighth, third, resolution)

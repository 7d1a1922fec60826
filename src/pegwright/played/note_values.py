"""In which note values a song is written, where nothing says it: those that are usual for its tempo and its steps."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

from pegwright.columns import Floats

OTHER_TEMPI = (Fraction(2), Fraction(1, 2), Fraction(3, 2), Fraction(2, 3))  # at which the same song is often written
RATIOS = (1.0, 2.0, 0.5)  # of quarters as followed to quarters as written
# Medians of what is written and their spread, as logarithms: set by hand, checked on the building half of the bench.
WRITTEN_TEMPO, WRITTEN_SPREAD = 115.0, 0.5  # quarter notes a minute
USUAL_STEP, STEP_SPREAD = 0.5, 1.2  # the mean step, in quarters


def mean_step(quarters: Floats) -> float:
    """The geometric mean of the steps from onset to onset, in quarters.

    Args:
        quarters: shape (c,), holes in order.
    """
    steps = np.diff(quarters)
    return float(np.exp(np.mean(np.log(steps[steps > 0])))) if (steps > 0).any() else USUAL_STEP


def written_ratio(quarter_s: float, step_quarters: float) -> float:
    """Quarters that are written for each that was followed, which may be an eighth, or a half.

    Args:
        quarter_s: seconds for each that was followed.
        step_quarters: the mean step in these.
    """

    def fits(ratio: float) -> float:
        tempo = math.log(60 / quarter_s * ratio / WRITTEN_TEMPO) / WRITTEN_SPREAD
        step = math.log(step_quarters * ratio / USUAL_STEP) / STEP_SPREAD
        return -(tempo**2) - step**2

    return max(RATIOS, key=fits)

"""Where phrases end: who waits at the end of one waits at the ends of others, whole phrases apart.

A phrase has two, three or four bars (common practice, no source); the player may wait on either side of where one ends.
Which of these it is, and where phrases begin, each way through a song learns for itself from where the player has
waited so far. Once the whole way is there, all its waits are looked at together.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints
from pegwright.played.bar_places import BarPlaces
from pegwright.played.compiled import compiled_in_place

WAITED_S = 0.1  # from which a player who is late waited
SHORTEST, LONGEST = 2, 4  # bars of a phrase
ABOUT_QUARTERS = 0.5  # on either side of the end of a phrase
BESIDE = 0.4  # what a wait half a quarter beside another counts
WEIGHT, PRIOR, RAREST = 0.6, 1.0, -2.0  # of what is learnt on the way; waits it counts as; a bound, as a logarithm
# Of the whole: how much likelier a way is for each wait whole phrases from another, by the bars of a phrase, and how
# much less likely for each other wait.
WAITS_ALIKE, OTHER_WAITS = (1.5, 1.75, 2.0), 0.75

Counts = NDArray[np.float32]


def no_waits(hypotheses: int, places: BarPlaces) -> Counts:
    """Shape (h, 1 + bins): before any wait is learnt; the first counts all, the others by places in a phrase.

    Args:
        hypotheses: their number.
        places: of the bar.
    """
    half = max(places.resolution // 2, 1)
    bins = sum(bars * places.bar_units // half for bars in range(SHORTEST, LONGEST + 1))
    return np.zeros((hypotheses, 1 + bins), dtype=np.float32)


@compiled_in_place
def learn_wait(waits: Counts, which: int, unit: int, bar_units: int, resolution: int) -> None:
    """Count a wait, by one hypothesis.

    Args:
        waits: of all.
        which: the hypothesis.
        unit: the hole before which the player waited.
        bar_units: length of a bar.
        resolution: units in a quarter.
    """
    waits[which, 0] += 1
    half, first = max(resolution // 2, 1), 1
    for bars in range(SHORTEST, LONGEST + 1):
        phrase = bars * bar_units
        bins = phrase // half
        waits[which, first + unit % phrase // half % bins] += 1
        first += bins


@compiled_in_place
def wait_favour(waits: Counts, which: int, unit: int, bar_units: int, resolution: int) -> float:
    """How much likelier than elsewhere it is that the player waits before a hole, a logarithm; 0 before the first wait.

    Args:
        waits: of all hypotheses.
        which: one of them.
        unit: the hole.
        bar_units: length of a bar.
        resolution: units in a quarter.
    """
    total = waits[which, 0]
    if total == 0:
        return 0.0
    half, first, best = max(resolution // 2, 1), 1, 0.0
    for bars in range(SHORTEST, LONGEST + 1):
        phrase = bars * bar_units
        bins = phrase // half
        at, chance = unit % phrase // half % bins, (1 + 2 * BESIDE) / bins
        beside = waits[which, first + (at or bins) - 1] + waits[which, first + (at + 1 if at + 1 < bins else 0)]
        best = max(best, (waits[which, first + at] + BESIDE * beside + PRIOR * chance) / chance)
        first += bins
    return WEIGHT * max(math.log(best / (total + PRIOR)), RAREST)


def phrases_gain(waits: Ints, places: BarPlaces) -> float:
    """How much likelier a way is as a whole by how many of its waits are whole phrases apart, a logarithm.

    Args:
        waits: shape (w,), units at which the player came in late.
        places: of the bar.
    """
    if len(waits) < 2:
        return 0.0
    best, about = 0.0, ABOUT_QUARTERS * places.resolution
    for bars, gain in zip(range(SHORTEST, LONGEST + 1), WAITS_ALIKE, strict=True):
        phrase = bars * places.bar_units
        at = np.sort(waits % phrase)
        around = np.concatenate([at - phrase, at, at + phrase])
        last = np.searchsorted(around, at + about, side="right")
        alike = int((last - np.searchsorted(around, at - about)).max())
        best = max(best, gain * (alike - 1) - OTHER_WAITS * (len(waits) - alike))
    return best

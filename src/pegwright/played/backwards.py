"""The same onsets followed from the last to the first: where both ways count alike, the beat is hardly another.

A search that follows a player who holds back can take the held note for a longer one, and what follows then lies
elsewhere. Backwards it meets the same place from the other side, with other habits learnt, and seldom goes wrong alike.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats
from pegwright.played.bar_fronts import Start
from pegwright.played.bar_laws import EVEN, Laws
from pegwright.played.bar_places import SongMetre, bar_places
from pegwright.played.bar_search import search_bars
from pegwright.played.struck import Struck, turned_round

LAST_CLUSTERS = 20  # whose tempo it begins with
TEMPI = {1.0: 0.0, 0.8: -1.0, 1.25: -1.0}  # times that tempo, and the logarithm of how likely, if it moves
TEMPO_SPREAD = 0.1
EVEN_TEMPO, EVEN_SPREAD = {1.0: 0.0}, 0.03
PARTS = 12  # of a quarter, in which distances between the two ways are counted
NEAR_PARTS = 2  # that still are the same distance
ABOUT = 16  # clusters on either side
IN_ALL = 0.1  # power of the share of all clusters on which two readings agree


def followed_backwards(
    places: tuple[Fraction, ...], struck: Struck, metre: SongMetre, quarter_s: Floats, laws: Laws
) -> Floats:
    """Shape (c,): holes of clusters of onsets, in quarters from anywhere, as followed from the last one.

    Args:
        places: where holes lie in a quarter, in quarters.
        struck: the onsets.
        metre: of the song; where it begins is not used.
        quarter_s: shape (c,), seconds a quarter, as followed forwards.
        laws: of the player.
    """
    back = turned_round(struck)
    bar = bar_places(places, metre.bar_quarters, metre.beat_quarters)
    last_s = float(np.median(quarter_s[-LAST_CLUSTERS:]))
    tempi, spread = (EVEN_TEMPO, EVEN_SPREAD) if laws == EVEN else (TEMPI, TEMPO_SPREAD)
    starts = [
        Start(chance, unit, last_s * times, spread)
        for times, chance in tempi.items()
        for unit in range(0, bar.bar_units, max(bar.resolution // 2, 1))
    ]
    unit = search_bars(bar, back, starts, laws, from_end=True).unit
    quarters: Floats = -unit[::-1] / bar.resolution
    return quarters


def agreement(quarters: Floats, backwards: Floats) -> Floats:
    """Shape (c,), 0..1: how far two readings agree in all, and about each cluster.

    They agree on a cluster where they are as far apart as on most.

    Args:
        quarters: shape (c,), where the reading chosen puts each cluster.
        backwards: shape (c,), the same by the other.
    """
    same = _same(quarters, backwards)
    agreed: Floats = same.mean() ** IN_ALL * mean_about(same.astype(np.float64), ABOUT)
    return agreed


def _same(quarters: Floats, backwards: Floats) -> NDArray[np.bool_]:
    apart = np.rint((quarters - backwards) * PARTS)
    values, count = np.unique(apart, return_counts=True)
    same: NDArray[np.bool_] = np.abs(apart - values[count.argmax()]) <= NEAR_PARTS
    return same


def mean_about(values: Floats, reach: int) -> Floats:
    """Shape (c,): mean of each value and those about it.

    Args:
        values: shape (c,).
        reach: how many on either side.
    """
    total = np.concatenate([[0.0], np.cumsum(values)])
    at = np.arange(len(values))
    first, past = np.maximum(at - reach, 0), np.minimum(at + reach + 1, len(values))
    mean: Floats = (total[past] - total[first]) / (past - first)
    return mean

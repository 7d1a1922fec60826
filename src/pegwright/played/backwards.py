"""The same onsets followed from the last to the first: where both ways count alike, the beat is hardly another.

A search that follows a player who holds back can take the held note for a longer one, and what follows then lies
elsewhere. Backwards it meets the same place from the other side, with other habits learnt, and seldom goes wrong alike.
"""

from __future__ import annotations

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.played.bar_fronts import Start
from pegwright.played.bar_laws import EVEN, Laws
from pegwright.played.bar_places import BarPlaces
from pegwright.played.bar_search import search_bars
from pegwright.played.drawn_ways import ways_drawn
from pegwright.played.struck import Struck, turned_round

LAST_CLUSTERS = 20  # whose tempo it begins with
TEMPI = {1.0: 0.0, 0.8: -1.0, 1.25: -1.0}  # times that tempo, and the logarithm of how likely, if it moves
TEMPO_SPREAD = 0.1
EVEN_TEMPO, EVEN_SPREAD = {1.0: 0.0}, 0.03


def followed_backwards(bar: BarPlaces, struck: Struck, quarter_s: Floats, laws: Laws) -> Ints:
    """Shape (c, w): units of clusters of onsets, from a bar line, on ways drawn from the search backwards.

    Args:
        bar: the places in it; where it begins is not used.
        struck: the onsets.
        quarter_s: shape (c,), seconds a quarter, as followed forwards.
        laws: of the player.
    """
    back = turned_round(struck)
    last_s = float(np.median(quarter_s[-LAST_CLUSTERS:]))
    tempi, spread = (EVEN_TEMPO, EVEN_SPREAD) if laws == EVEN else (TEMPI, TEMPO_SPREAD)
    starts = [
        Start(chance, unit, last_s * times, spread)
        for times, chance in tempi.items()
        for unit in range(0, bar.bar_units, max(bar.resolution // 2, 1))
    ]
    ways = ways_drawn(search_bars(bar, back, starts, laws, from_end=True).trace)
    units: Ints = -ways[::-1]
    return units

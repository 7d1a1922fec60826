"""The search through the bars keeps apart ways that meet on one place of the bar in other bars of a phrase."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from pegwright.played.bar_fronts import Start
from pegwright.played.bar_laws import MOVING
from pegwright.played.bar_places import bar_places
from pegwright.played.bar_search import search_bars
from pegwright.played.model import PLACES
from pegwright.played.phrases import LONGEST
from pegwright.played.struck import struck_by
from played.test_free_beat import notes_at


def test_ways_that_meet_bars_apart_are_kept_apart_within_a_phrase_and_not_beyond() -> None:
    """The same tune counted from five bars: the fifth is the first of the next phrase, and merges with the first."""
    quarters = np.arange(64) * 0.5
    struck = struck_by(notes_at(quarters * 0.5, np.where(quarters % 4 == 0, 40, 62)))
    bar = bar_places(PLACES, Fraction(4), Fraction(1))
    starts = [Start(-0.01 * number, number * bar.bar_units, 0.5, 0.05) for number in range(LONGEST + 1)]
    trace = search_bars(bar, struck, starts, MOVING).trace
    kept = trace.unit[1, : trace.kept[1]]
    expected = bar.resolution // 2
    same_place = kept[kept % bar.bar_units == expected] // bar.bar_units
    assert set(same_place.tolist()) == set(range(LONGEST))

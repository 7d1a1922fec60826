"""A song cut into the turns it is played over."""

from __future__ import annotations

import math

import numpy as np

from pegwright.fit.section import select_bars
from pegwright.score import Score
from pegwright.units import printed
from pegwright.wheel import Wheel


def cut_into_turns(score: Score, wheel: Wheel) -> tuple[Score, ...]:
    """The turns of a song in playing order, each of as many whole bars as a turn holds.

    A bar longer than a turn has a turn to itself, which does not hold all of it.

    Args:
        score: the whole song.
        wheel: what it is to be played by.

    Returns:
        Sections as `select_bars` makes them; each note of the song is in exactly one.
    """
    bars = score.bar_map
    turn_ticks = math.floor(wheel.turn_quarters * score.resolution)
    ends = np.append(bars.ticks[1:], bars.end_ticks)
    turns = []
    bar = 0
    while bar < len(ends):
        held = int(np.searchsorted(ends, int(bars.ticks[bar]) + turn_ticks, side="right"))
        after = max(held, bar + 1)
        turns.append(select_bars(score, printed(bar), after))
        bar = after
    return tuple(turns)

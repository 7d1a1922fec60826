"""A song cut into the turns of the wheel, each turn a score of its own.

The wheel does not stop between turns, so a song is cut exactly where a turn ends, if need be within a bar. Where the
maker does stop it, the song can be cut at whole bars instead, as many in a turn as it holds.
"""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import pairwise

import numpy as np

from pegwright.edit.bars import cut, select_bars
from pegwright.score import Score
from pegwright.units import common_resolution, printed
from pegwright.wheel import Wheel


def cut_turns(
    score: Score, wheel: Wheel, whole_bars: bool = False, first_turns: int | None = None
) -> tuple[Score, ...]:
    """The turns of a song, as many as have notes up to the last one.

    A note that a file's own rounding puts before the end of a turn belongs to the next turn, at its very
    beginning. A bar that a cut goes through is in both turns.

    Args:
        score: the whole song.
        wheel: what it is to be played by.
        whole_bars: cut at bar lines only; a bar longer than a turn then has a turn to itself, which does not hold it.
        first_turns: no more turns than these; the last of them then has the rest of the song, past its end; None for
            all, or one where the wheel is not re-pinned within a song.

    Returns:
        The song itself if it is one turn; else scores whose time counts from the beginning of their turn.
    """
    limit = 1 if not wheel.repinned_within_song else first_turns
    if limit == 1:
        return (score,)
    return _at_bars(score, wheel, limit) if whole_bars else _at_turns(score, wheel, limit)


def length_turns(score: Score, wheel: Wheel) -> Fraction:
    """How long a song is, in turns of the wheel."""
    return Fraction(score.length_ticks, score.resolution) / wheel.turn_quarters


def _at_turns(score: Score, wheel: Wheel, limit: int | None) -> tuple[Score, ...]:
    resolution = common_resolution(score.resolution, wheel.turn_quarters.denominator)
    turn_ticks = int(wheel.turn_quarters * resolution)
    whole = score.in_finer_ticks(resolution // score.resolution)
    turn = (whole.onset_ticks + whole.tolerance_ticks) // turn_ticks
    count = int(turn.max(initial=0)) + 1
    limited = limit is not None and count > limit
    if limit is not None:
        count, turn = min(count, limit), np.minimum(turn, limit - 1)
    if count == 1:
        return (score,)
    starts = [number * turn_ticks for number in range(count)]
    pasts = [*starts[1:], max(whole.length_ticks, starts[-1] + turn_ticks) if limited else starts[-1] + turn_ticks]
    firsts = np.searchsorted(turn, np.arange(count + 1)).tolist()
    return tuple(
        cut(whole, np.arange(*notes), start, past)
        for notes, start, past in zip(pairwise(firsts), starts, pasts, strict=True)
    )


def _at_bars(score: Score, wheel: Wheel, limit: int | None) -> tuple[Score, ...]:
    bars = score.bar_map
    turn_ticks = math.floor(wheel.turn_quarters * score.resolution)
    ends = np.append(bars.ticks[1:], bars.end_ticks)
    last_bar = len(ends) if not score.note_count else bars.bar_of(int(score.onset_ticks[-1])) + 1
    turns: list[Score] = []
    bar = 0
    while bar < last_bar:
        held = int(np.searchsorted(ends, int(bars.ticks[bar]) + turn_ticks, side="right"))
        after = max(held, bar + 1)
        if limit is not None and len(turns) == limit - 1:
            after = len(ends)
        turns.append(select_bars(score, printed(bar), after))
        bar = after
    return (score,) if len(turns) == 1 else tuple(turns)

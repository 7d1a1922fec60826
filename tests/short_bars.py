"""Scores with bars of other lengths, for songs of several turns."""

from __future__ import annotations

from dataclasses import replace
from itertools import accumulate

from pegwright.columns import frozen_ints
from pegwright.score import BarMap, Score


def with_bars(song: Score, lengths_ticks: list[int]) -> Score:
    """The song with bars of these lengths, called 4/4 whatever they are; the last takes what is left."""
    starts = [0, *accumulate(lengths_ticks)][: len(lengths_ticks)]
    count = len(starts)
    end = max(sum(lengths_ticks), int(song.onset_ticks.max(initial=0)) + 1)
    fours, labels = frozen_ints([4] * count), tuple(str(number + 1) for number in range(count))
    return replace(song, bar_map=BarMap(frozen_ints(starts), labels, fours, fours, end))


def in_short_bars(song: Score) -> Score:
    """The song in bars of a quarter."""
    return with_bars(song, [song.resolution] * -(-song.length_ticks // song.resolution))

"""Part of a song, chosen by its played bars."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pegwright.columns import frozen_ints
from pegwright.errors import UsageError
from pegwright.score import Score, TempoMap
from pegwright.units import plural, printed


def select_bars(score: Score, first: int, last: int) -> Score:
    """The notes that begin in played bars `first` to `last`, with time counted from the first of them.

    Args:
        score: the whole song.
        first: printed number of the first bar to take, in playing order: from 1, repeats counted.
        last: printed number of the last bar to take.

    Returns:
        A score whose bars keep their labels and whose notes keep their lengths.

    Raises:
        UsageError: there are no such bars.
    """
    bars = score.bar_map
    count = len(bars.ticks)
    if not printed(0) <= first <= last <= count:
        raise UsageError(
            f"bars {first} to {last} cannot be chosen: the song plays {plural(count, 'bar')}, 1 to {count}",
            where=score.file,
            hint=f"choose a first and a last bar from 1 to {count}, in that order",
        )
    start = int(bars.ticks[first - 1])
    end = int(bars.ticks[last]) if last < count else bars.end_ticks
    low, high = (int(place) for place in np.searchsorted(score.onset_ticks, [start, end]))
    if last == count:
        high = score.note_count
    taken = score.with_notes(np.arange(low, high))
    return replace(
        taken,
        onset_ticks=frozen_ints(taken.onset_ticks - start),
        tempo_map=tempo_between(score.tempo_map, start, end),
        bar_map=bars.section(first - 1, last, start, end),
    )


def tempo_between(tempo_map: TempoMap, start: int, end: int) -> TempoMap:
    """The tempi in force from `start` to below `end`, the first of them at 0.

    Args:
        tempo_map: of the whole song.
        start: ticks, the new tick 0.
        end: ticks, above `start`.
    """
    first = int(np.searchsorted(tempo_map.ticks, start, side="right")) - 1
    past = max(first + 1, int(np.searchsorted(tempo_map.ticks, end)))
    ticks = np.maximum(tempo_map.ticks[first:past] - start, 0)
    return TempoMap(frozen_ints(ticks), frozen_ints(tempo_map.us_per_quarter[first:past]), tempo_map.stated)

"""Part of a song, chosen by its played bars."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

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
    chosen = (score.onset_ticks >= start) & ((score.onset_ticks < end) | (last == count))
    return cut(score, chosen, start, end)


def silent_bars(score: Score) -> int:
    """How many whole bars of silence lie before the first note; 0 in a song without notes."""
    return score.bar_map.bar_of(int(score.onset_ticks[0])) if score.note_count else 0


def cut(score: Score, notes: NDArray[np.bool_], start: int, end: int) -> Score:
    """Some notes of a score with what there is of bars and tempi between two ticks.

    Args:
        score: the whole song.
        notes: shape (n,), whether each is taken; one that begins before the cut then begins with it.
        start: ticks, the new tick 0.
        end: ticks; the last bar ends there, or with the song.
    """
    taken, bars = score.with_notes(notes), score.bar_map
    end = max(start + 1, min(end, bars.end_ticks))
    first = bars.bar_of(start)
    return replace(
        taken,
        onset_ticks=frozen_ints(np.maximum(taken.onset_ticks - start, 0)),
        tempo_map=_tempo_between(score.tempo_map, start, end),
        bar_map=bars.section(first, max(first + 1, int(np.searchsorted(bars.ticks, end))), start, end),
    )


def _tempo_between(tempo_map: TempoMap, start: int, end: int) -> TempoMap:
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

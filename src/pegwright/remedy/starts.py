"""The best start of a song, among as many as there is work for."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.grid import meant_grid
from pegwright.remedy.budget import SEARCH_SHARE, SOLVED_STARTS, Budget, WorkOf
from pegwright.score import Score
from pegwright.search.bounds import bounds_of, can_be_bounded
from pegwright.search.period import grid_period_steps
from pegwright.search.table import search_turns
from pegwright.wheel import Wheel

MAX_BOUNDED = 1_000_000  # notes times starts that are bounded, to choose those that are searched


def nearest_starts(wheel: Wheel, options: FitOptions) -> list[int]:
    """One start of every distinct kind, in steps from the present one, the nearest first."""
    period = grid_period_steps(meant_grid(wheel), wheel)
    away = (steps if steps <= period // 2 else steps - period for steps in range(1, period))
    now = int(options.start_steps)
    return [(now + steps) % wheel.turn_steps for steps in sorted(away, key=abs)]


def best_start(turns: Sequence[Score], wheel: Wheel, options: FitOptions, budget: Budget, work: WorkOf) -> int | None:
    """The best start that a search finds within a share of the work that is left; None where there is too little.

    Args:
        turns: of the song.
        wheel: the wheel.
        options: as every turn is fitted.
        budget: the work that is left.
        work: of fits and searches of this song.

    Raises:
        UsageError: the options do not suit score or wheel.
    """
    period = grid_period_steps(meant_grid(wheel), wheel)
    count = min(period, work.starts_in(budget.left // SEARCH_SHARE))
    if not budget.take(work.search(count)):
        return None
    starts: Sequence[int] = range(period)
    if count < period:
        budget.complete = False
        starts = sorted(_most_promising(turns, wheel, options)[:count])
    strikes = SOLVED_STARTS * sum(turn.note_count for turn in turns)
    semitones = [options.transpose_semitones]
    return search_turns(turns, wheel, options, semitones, starts, best_few=1, most_strikes=strikes).best().start_steps


def _most_promising(turns: Sequence[Score], wheel: Wheel, options: FitOptions) -> list[int]:
    """Starts by what the song could be worth at most, where that is known, then by how near they are."""
    starts = [int(options.start_steps) % wheel.turn_steps, *nearest_starts(wheel, options)]
    starts = starts[: max(1, MAX_BOUNDED // max(1, sum(turn.note_count for turn in turns)))]
    if not can_be_bounded(options):
        return starts
    bounds = bounds_of(turns, wheel, options, [options.transpose_semitones], starts)
    order = np.lexsort([np.arange(len(starts)), bounds.cost_ticks[0], -bounds.weight[0]])
    return [starts[place] for place in order.tolist()]

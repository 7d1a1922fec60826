"""A song cut at the turns of the wheel, each turn a score of its own."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.columns import frozen_ints
from pegwright.fit.section import tempo_between
from pegwright.score import BarMap, Score
from pegwright.units import common_resolution, fraction_text
from pegwright.wheel import Wheel


def cut_turns(score: Score, wheel: Wheel) -> tuple[Score, ...]:
    """The turns of a song, as many as have notes up to the last one.

    A note that a file's own rounding puts before the end of a turn belongs to the next turn, at its very
    beginning. A bar that a cut goes through is in both turns, the second time under a label that says so.

    Returns:
        the song itself if one turn holds it; else scores whose time counts from the beginning of their turn.
    """
    resolution = common_resolution(score.resolution, wheel.turn_quarters.denominator)
    turn_ticks = int(wheel.turn_quarters * resolution)
    whole = score.in_finer_ticks(resolution // score.resolution)
    turn = (whole.onset_ticks + whole.tolerance_ticks) // turn_ticks
    count = int(turn.max(initial=0)) + 1
    if count == 1:
        return (score,)
    notes = [np.flatnonzero(turn == number) for number in range(count)]
    return tuple(_turn(whole, here, number * turn_ticks, turn_ticks) for number, here in enumerate(notes))


def length_turns(score: Score, wheel: Wheel) -> Fraction:
    """How long a song is, in turns of the wheel."""
    return Fraction(score.length_ticks, score.resolution) / wheel.turn_quarters


def _turn(score: Score, notes: np.ndarray, start: int, turn_ticks: int) -> Score:
    taken = score.with_notes(notes)
    end = max(start + 1, min(start + turn_ticks, score.bar_map.end_ticks))
    return replace(
        taken,
        onset_ticks=frozen_ints(np.maximum(taken.onset_ticks - start, 0)),
        tempo_map=tempo_between(score.tempo_map, start, end),
        bar_map=_bars_between(score, start, end),
    )


def _bars_between(score: Score, start: int, end: int) -> BarMap:
    bars = score.bar_map
    first = bars.bar_of(start)
    past = max(first + 1, int(np.searchsorted(bars.ticks, end)))
    labels = list(bars.labels[first:past])
    if start > bars.ticks[first]:
        beat = Fraction((start - int(bars.ticks[first])) * int(bars.beat_types[first]), 4 * score.resolution) + 1
        labels[0] = f"{labels[0]} from beat {fraction_text(beat)}"
    return BarMap(
        frozen_ints(np.maximum(bars.ticks[first:past] - start, 0)),
        tuple(labels),
        frozen_ints(bars.beats[first:past]),
        frozen_ints(bars.beat_types[first:past]),
        end - start,
        bars.stated,
    )

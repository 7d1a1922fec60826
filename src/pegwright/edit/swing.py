"""Swing for written music: pairs of eighths played long and short.

The halves of every quarter are stretched and squeezed in the ratio given, and what lies in them on sixteenths and
thirty-seconds is scaled likewise; triplets are left alone. At 2:1 eighths and sixteenths land on triplet holes. Bars in
compound time (such as 6/8) have no pairs of eighths and stay as they are.

Source: MusicXML 4.0, element `swing`, gives the ratio as first to second, such as 2:1, and may swing eighths or
sixteenths; scaling what lies inside the pair is our rule.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.ask.kinds import SWING
from pegwright.columns import Ints, frozen_ints
from pegwright.errors import UsageError
from pegwright.score import Score


def swing_as_marked(score: Score) -> Score:
    """The same music with its eighths swung as the score states, bar by bar; see `swing_score`."""
    swing = score.bar_map.swing
    return _swing(score, swing) if swing else score


def swing_score(score: Score, ratio: Fraction) -> Score:
    """The same music with its eighths swung.

    Args:
        score: as written.
        ratio: first eighth of a pair to the second; 2 is 2:1, 1 leaves all as it is, below 1 the first is the shorter.

    Returns:
        A score in which every moved onset and end is at a whole tick, so its resolution may be higher.

    Raises:
        UsageError: the ratio is not above 0, or too fine.
    """
    first, second = ratio.numerator, ratio.denominator
    if ratio <= 0:
        raise UsageError(f"swing ratio is {ratio}, not above 0", where="swing", hint="2:1 is a triplet swing, 1:1 none")
    if first + second > SWING.max_parts:
        raise UsageError(
            f"swing ratio {first}:{second} divides a quarter into {first + second} parts, more than {SWING.max_parts}",
            where="swing",
            hint="give a plainer ratio such as 3:2 or 2:1",
        )
    if first == second:
        return score
    return _swing(score, (ratio,) * len(score.bar_map.ticks))


def _swing(score: Score, ratios: Sequence[Fraction]) -> Score:
    """The same music with the eighths of every bar swung in a ratio of its own."""
    parts = math.lcm(*(ratio.numerator + ratio.denominator for ratio in ratios))
    factor = parts * (2 if score.resolution % 2 else 1)
    long_share = [ratio / (1 + ratio) for ratio in ratios]
    onset = _swung(score, score.onset_ticks, factor, long_share)
    end = _swung(score, score.onset_ticks + score.duration_ticks, factor, long_share)
    finer = score.in_finer_ticks(factor)
    return replace(
        finer,
        onset_ticks=frozen_ints(onset),
        duration_ticks=frozen_ints(np.maximum(end - onset, 0)),
        bar_map=replace(finer.bar_map, swing=()),
    ).in_order()


def _swung(score: Score, ticks: Ints, factor: int, long_share: Sequence[Fraction]) -> Ints:
    """Where ticks go, in ticks `factor` times as fine; `long_share` is the first eighth's part of each bar's pairs."""
    bars, quarter = score.bar_map, score.resolution
    bar = np.maximum(np.searchsorted(bars.ticks, ticks, side="right") - 1, 0)
    start = bars.ticks[bar]
    if len(bars.ticks) > 1:
        start = np.where(bar == 0, bars.ticks[1], start)  # a pickup keeps step with the bar it leads into
    compound = (bars.beat_types[bar] >= 8) & (bars.beats[bar] % 3 == 0)
    within = (ticks - start) % quarter
    # The nearest thirty-second; a file's own rounding counts as on it.
    eighth_of = (16 * within + quarter) // (2 * quarter)
    binary = np.abs(8 * within - eighth_of * quarter) <= 8 * score.tolerance_ticks
    line = ticks - within
    half, long = quarter * factor // 2, np.array([int(quarter * factor * share) for share in long_share])[bar]
    place = within * factor
    moved = np.where(place <= half, place * long // half, long + (place - half) * (quarter * factor - long) // half)
    return np.where(binary & ~compound, line * factor + moved, ticks * factor)

"""Swing for written music: pairs of eighths played long and short, or what was written so played even.

The halves of every quarter are stretched and squeezed in the ratio given, and what lies in them on sixteenths and
thirty-seconds is scaled likewise; triplets are left alone. At 2:1 eighths and sixteenths land on triplet holes. Bars in
compound time (such as 6/8) have no pairs of eighths and stay as they are.

Straightening is the way back for swing that was written out: where a part has a note on the third triplet of a quarter,
and none on the quarter's other places but its beginning, that quarter is a pair of long and short (the long one may be
a rest, or held on from before), and the short note goes to the middle. Every other quarter stays as it is.

Source: MusicXML 4.0, element `swing`, gives the ratio as first to second, such as 2:1, and may swing eighths or
sixteenths; scaling what lies inside the pair is our rule.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from pegwright.ask.kinds import SWING
from pegwright.columns import Ints, frozen_ints
from pegwright.errors import UsageError
from pegwright.findings import Finding, Severity
from pegwright.score import Score
from pegwright.units import plural

STRAIGHTENED_CODE = "straightened"  # of a finding whose count is that of the pairs


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


def straighten(score: Score) -> tuple[Score, tuple[Finding, ...]]:
    """The same music with triplets that are written long and short as even eighths, and marks of swing not played.

    Returns:
        The score, in which every moved onset and end is at a whole tick, so its resolution may be higher; and findings
        on the pairs that are even now, and on the quarters with other triplets, which stay.
    """
    quarter, (within, compound) = score.resolution, _in_quarters(score, score.onset_ticks)
    triplet, short = _on_triplet(score, within, 1), _on_triplet(score, within, 2)
    slack = min(score.tolerance_ticks, quarter // 48)
    elsewhere = ~short & (within > slack) & (within < quarter - slack)
    beat, ends = _beats(score, score.onset_ticks - within), score.onset_ticks + score.duration_ticks
    listed, number = np.unique(beat, return_inverse=True)
    has_short, has_triplet, has_others = (
        np.bincount(number, chosen & ~compound, len(listed)) > 0 for chosen in (short, short | triplet, elsewhere)
    )
    pairs = listed[has_short & ~has_others]
    factor, half = 1 + quarter % 2, quarter * (1 + quarter % 2) // 2
    even = short & _among(beat, pairs)
    onset = np.where(even, (score.onset_ticks - within) * factor + half, score.onset_ticks * factor)
    in_end, _ = _in_quarters(score, ends)
    long_end = (2 * in_end > quarter) & ((3 * in_end <= 2 * quarter) | _on_triplet(score, in_end, 2))
    even_end = long_end & _among(_beats(score, ends - in_end), pairs)
    end = np.where(even_end, (ends - in_end) * factor + half, ends * factor)
    finer = score.in_finer_ticks(factor)
    straight = replace(
        finer,
        onset_ticks=frozen_ints(onset),
        duration_ticks=frozen_ints(np.maximum(end - onset, 0)),
        bar_map=replace(finer.bar_map, swing=()),
    ).in_order()
    return straight, _straightened(score, len(pairs), int(np.count_nonzero(has_triplet)) - len(pairs))


def _straightened(score: Score, pairs: int, kept: int) -> tuple[Finding, ...]:
    message = f"{plural(pairs, 'pair')} of triplets written long and short played as even eighths"
    if not pairs:
        effect = "only the score's marks of swing are not played" if score.bar_map.swing else "it changes nothing"
        message = f"--swing straight finds no triplets written long and short: {effect}"
    findings = [Finding(STRAIGHTENED_CODE, Severity.NOTE, score.file, message, count=pairs)]
    if kept:
        message = f"{plural(kept, 'quarter note')} with other triplets {'stays' if kept == 1 else 'stay'} as written"
        findings.append(Finding("triplets-kept", Severity.NOTE, score.file, message, count=kept))
    return tuple(findings)


def _on_triplet(score: Score, within: Ints, third: int) -> NDArray[np.bool_]:
    """Which places within a quarter are its first or second third, to the file's own rounding."""
    away = np.abs(3 * within - third * score.resolution)
    return (away <= 3 * score.tolerance_ticks) & (16 * away <= score.resolution)  # nearer than any 32nd


def _beats(score: Score, lines: Ints) -> Ints:
    """Shape (n,): a number for the quarter of each note's part that begins at a tick."""
    beats: Ints = lines * (len(score.parts) + 1) + score.part
    return beats


def _among(numbers: Ints, rising: Ints) -> NDArray[np.bool_]:
    """Which of some numbers are in a rising list."""
    if not len(rising):
        return np.zeros(len(numbers), dtype=bool)
    listed: NDArray[np.bool_] = rising[np.minimum(np.searchsorted(rising, numbers), len(rising) - 1)] == numbers
    return listed


def _in_quarters(score: Score, ticks: Ints) -> tuple[Ints, NDArray[np.bool_]]:
    """How far into a quarter of its bar each tick is, and whether that bar is in compound time."""
    bars = score.bar_map
    bar = _bars(score, ticks)
    start = bars.ticks[bar]
    if len(bars.ticks) > 1:
        start = np.where(bar == 0, bars.ticks[1], start)  # a pickup keeps step with the bar it leads into
    return (ticks - start) % score.resolution, (bars.beat_types[bar] >= 8) & (bars.beats[bar] % 3 == 0)


def _bars(score: Score, ticks: Ints) -> Ints:
    bar: Ints = np.maximum(np.searchsorted(score.bar_map.ticks, ticks, side="right") - 1, 0)
    return bar


def _swung(score: Score, ticks: Ints, factor: int, long_share: Sequence[Fraction]) -> Ints:
    """Where ticks go, in ticks `factor` times as fine; `long_share` is the first eighth's part of each bar's pairs."""
    quarter, bar = score.resolution, _bars(score, ticks)
    within, compound = _in_quarters(score, ticks)
    # The nearest thirty-second; a file's own rounding counts as on it.
    eighth_of = (16 * within + quarter) // (2 * quarter)
    binary = np.abs(8 * within - eighth_of * quarter) <= 8 * score.tolerance_ticks
    line = ticks - within
    half, long = quarter * factor // 2, np.array([int(quarter * factor * share) for share in long_share])[bar]
    place = within * factor
    moved = np.where(place <= half, place * long // half, long + (place - half) * (quarter * factor - long) // half)
    return np.where(binary & ~compound, line * factor + moved, ticks * factor)

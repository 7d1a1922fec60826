"""A performance on the grid, as a score that the rest of the pipeline fits like a written one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pegwright.columns import frozen_ints
from pegwright.played.beats import seconds_of
from pegwright.played.quantise import PerformedResult
from pegwright.score import BarMap, Score, TempoMap


def score_on_grid(score: Score, result: PerformedResult) -> Score:
    """The score with every onset on its hole.

    Args:
        score: as played.
        result: of `quantise_performed`.

    Returns:
        A score at the result's resolution, its notes in order again: as many as went in. Ends are moved to the nearest
        unit, no note shorter than one. Bars keep their labels where the quarters were given; else they are in 4/4.
    """
    if score.note_count == 0:
        return score
    end_s = seconds_of(score, frozen_ints(score.onset_ticks + score.duration_ticks))
    end = np.round(result.beats.quarters_at(end_s) * result.resolution).astype(np.int64)
    onset = result.onset_units
    length = int(max(end.max(), onset.max() + 1))
    return replace(
        score,
        resolution=result.resolution,
        tolerance_ticks=0,
        onset_ticks=frozen_ints(onset),
        confidence=result.confidence,
        duration_ticks=frozen_ints(np.maximum(end - onset, 1)),
        tempo_map=_tempo_map(result),
        bar_map=_bar_map(score, result).reaching(length, result.resolution),
    ).in_order()


def _tempo_map(result: PerformedResult) -> TempoMap:
    """The one tempo that keeps the first and last note where they were."""
    units, beats = result.onset_units, result.beats
    first_s, last_s = beats.seconds_at(np.array([units.min(), units.max()]) / result.resolution).tolist()
    span = int(np.ptp(units)) / result.resolution
    quarter_s = (last_s - first_s) / span if span else float(np.diff(beats.seconds)[0] / np.diff(beats.quarters)[0])
    return TempoMap(frozen_ints([0]), frozen_ints([max(1, round(quarter_s * 1e6))]))


def _bar_map(score: Score, result: PerformedResult) -> BarMap:
    """The score's bars where the quarters are its own, else one of four quarters."""
    resolution, bars = result.resolution, score.bar_map
    if not result.keeps_bars or (bars.ticks * resolution % score.resolution).any():
        four = frozen_ints([4])
        return BarMap(frozen_ints([0]), ("1",), four, four, end_ticks=4 * resolution, stated=False)
    ticks, end_ticks = bars.ticks * resolution // score.resolution, bars.end_ticks * resolution // score.resolution
    return replace(bars, ticks=frozen_ints(ticks), end_ticks=end_ticks, swing=(), cut_ticks=0)

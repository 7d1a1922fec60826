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
    order = np.lexsort([score.pitch_midi, score.part, onset])
    length = int(max(end.max(), onset.max() + 1))
    return replace(
        score.with_notes(order),
        resolution=result.resolution,
        tolerance_ticks=0,
        onset_ticks=frozen_ints(onset[order]),
        duration_ticks=frozen_ints(np.maximum(end - onset, 1)[order]),
        tempo_map=_tempo_map(result),
        bar_map=_bar_map(score, result, length),
    )


def _tempo_map(result: PerformedResult) -> TempoMap:
    """The one tempo that keeps the first and last note where they were."""
    units, beats = result.onset_units, result.beats
    first_s, last_s = beats.seconds_at(np.array([units.min(), units.max()]) / result.resolution).tolist()
    span = int(np.ptp(units)) / result.resolution
    quarter_s = (last_s - first_s) / span if span else float(np.diff(beats.seconds)[0] / np.diff(beats.quarters)[0])
    return TempoMap(frozen_ints([0]), frozen_ints([max(1, round(quarter_s * 1e6))]))


def _bar_map(score: Score, result: PerformedResult, length: int) -> BarMap:
    """The score's bars, where the quarters are its own, and further bars to the end."""
    resolution, bars = result.resolution, score.bar_map
    if not result.keeps_bars or (bars.ticks * resolution % score.resolution).any():
        none = frozen_ints([])
        bars = BarMap(none, (), none, none, end_ticks=0, stated=False)
    beats, beat_type = (int(bars.beats[-1]), int(bars.beat_types[-1])) if bars.labels else (4, 4)
    bar, end = 4 * resolution * beats // beat_type, bars.end_ticks * resolution // score.resolution
    more = max(0, -(-(length - end) // bar))
    return BarMap(
        frozen_ints(np.append(bars.ticks * resolution // score.resolution, end + bar * np.arange(more))),
        (*bars.labels, *(str(len(bars.labels) + number + 1) for number in range(more))),
        frozen_ints(np.append(bars.beats, [beats] * more)),
        frozen_ints(np.append(bars.beat_types, [beat_type] * more)),
        end + bar * more,
        bars.stated,
    )

"""A performance on the grid, as a score that the rest of the pipeline fits like a written one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.played.beats import seconds_of
from pegwright.played.quantise import PerformedResult
from pegwright.score import BarMap, Score, TempoMap


def score_on_grid(score: Score, result: PerformedResult, *, tracked_tempo: bool = False) -> Score:
    """The score with every onset on its hole.

    Args:
        score: as played.
        result: of `quantise_performed`.
        tracked_tempo: write the tempo of every quarter as it was played; else the one tempo of the whole.

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
        tempo_map=_tempo_map(result, tracked_tempo=tracked_tempo),
        bar_map=_bar_map(score, result, length),
    )


def _tempo_map(result: PerformedResult, *, tracked_tempo: bool) -> TempoMap:
    seconds, quarters = result.beats.seconds, result.beats.quarters
    if not tracked_tempo:
        # The tempo that keeps the first and last note where they were.
        first, last = (
            result.beats.seconds_at(np.array([unit / result.resolution]))[0] for unit in _ends(result.onset_units)
        )
        span = (int(result.onset_units.max()) - int(result.onset_units.min())) / result.resolution
        one = (last - first) / span if span else float(np.diff(seconds)[0] / np.diff(quarters)[0])
        return TempoMap(frozen_ints([0]), frozen_ints([max(1, round(one * 1e6))]))
    us = np.maximum(1, np.round(np.diff(seconds) / np.diff(quarters) * 1e6)).astype(np.int64)
    ticks = np.round(quarters[:-1] * result.resolution).astype(np.int64)
    start = max(0, int(np.searchsorted(ticks, 0, side="right")) - 1)
    ticks, us = np.maximum(ticks[start:], 0), us[start:]
    ticks[0] = 0
    keep = np.concatenate([[True], (np.diff(us) != 0) & (np.diff(ticks) > 0)])
    return TempoMap(frozen_ints(ticks[keep]), frozen_ints(us[keep]))


def _ends(units: Ints) -> tuple[int, int]:
    return int(units.min()), int(units.max())


def _bar_map(score: Score, result: PerformedResult, length: int) -> BarMap:
    resolution, bars = result.resolution, score.bar_map
    if result.keeps_bars:
        ticks = bars.ticks * resolution // score.resolution
        if (bars.ticks * resolution % score.resolution == 0).all():
            more = bars.end_ticks * resolution // score.resolution
            bar = 4 * resolution * int(bars.beats[-1]) // int(bars.beat_types[-1])
            extra = max(0, -(-(length - more) // bar))
            ticks = np.concatenate([ticks, more + bar * np.arange(extra)])
            count = len(ticks)
            labels = bars.labels + tuple(str(len(bars.labels) + number + 1) for number in range(extra))
            return BarMap(
                frozen_ints(ticks),
                labels,
                frozen_ints(np.concatenate([bars.beats, np.full(extra, bars.beats[-1])])),
                frozen_ints(np.concatenate([bars.beat_types, np.full(extra, bars.beat_types[-1])])),
                int(more + bar * extra) if count else int(more),
                bars.stated,
            )
    bar = 4 * resolution
    count = -(-length // bar)
    return BarMap(
        frozen_ints(np.arange(count) * bar),
        tuple(str(number + 1) for number in range(count)),
        frozen_ints([4] * count),
        frozen_ints([4] * count),
        count * bar,
        stated=False,
    )

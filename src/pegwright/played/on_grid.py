"""A performance on the grid, as a score that the rest of the pipeline fits like a written one."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.columns import frozen_floats, frozen_ints
from pegwright.played.beats import BeatTrack, seconds_of
from pegwright.played.result import PerformedResult
from pegwright.score import BarMap, Score, TempoMap


def begun_at(result: PerformedResult, quarters: Fraction | None) -> PerformedResult:
    """The same holes, all moved so that the first note begins so far into a bar, in quarters; None moves nothing."""
    if quarters is None or not len(result.onset_units):
        return result
    later = int(quarters * result.resolution) - int(result.onset_units.min())
    beats = result.beats
    moved = BeatTrack(beats.seconds, frozen_floats(beats.quarters + later / result.resolution), beats.spread_s)
    return replace(result, onset_units=frozen_ints(result.onset_units + later), beats=moved, keeps_bars=False)


def score_on_grid(score: Score, result: PerformedResult, metre: str | None = None) -> Score:
    """The score with every onset on its hole.

    Args:
        score: as played.
        result: of `quantise_performed`.
        metre: of its bars, such as `3/4`; None for the score's own, which is 4/4 where it states none.

    Returns:
        A score at the result's resolution, its notes in order again: as many as went in. Ends are moved to the nearest
        unit, no note shorter than one. Bars keep their labels where the quarters are the score's own and no metre is
        given.
    """
    return placed_on_grid(score, result, metre).in_order()


def placed_on_grid(score: Score, result: PerformedResult, metre: str | None = None) -> Score:
    """As `score_on_grid`, with the notes in the order in which they were.

    Args:
        score: as played.
        result: of `quantise_performed`.
        metre: as there.
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
        bar_map=_bar_map(score, result, metre).reaching(length, result.resolution),
    )


def first_metre(bars: BarMap) -> str:
    """The metre of the first bar, such as `3/4`."""
    return f"{int(bars.beats[0])}/{int(bars.beat_types[0])}"


def _tempo_map(result: PerformedResult) -> TempoMap:
    """The one tempo that keeps the first and last note where they were."""
    units, beats = result.onset_units, result.beats
    first_s, last_s = beats.seconds_at(np.array([units.min(), units.max()]) / result.resolution).tolist()
    span = int(np.ptp(units)) / result.resolution
    quarter_s = (last_s - first_s) / span if span else float(np.diff(beats.seconds)[0] / np.diff(beats.quarters)[0])
    return TempoMap(frozen_ints([0]), frozen_ints([max(1, round(quarter_s * 1e6))]))


def _bar_map(score: Score, result: PerformedResult, metre: str | None) -> BarMap:
    """The score's bars where the quarters are its own and no metre is given, else bars of that metre, or its first."""
    resolution, bars = result.resolution, score.bar_map
    if metre is not None or not result.keeps_bars or (bars.ticks * resolution % score.resolution).any():
        beats, beat_type = map(int, (metre or first_metre(bars)).split("/"))
        end_ticks = 4 * resolution * beats // beat_type
        in_metre = frozen_ints([beats]), frozen_ints([beat_type])
        return BarMap(frozen_ints([0]), ("1",), *in_metre, end_ticks, stated=metre is not None or bars.stated)
    ticks, end_ticks = bars.ticks * resolution // score.resolution, bars.end_ticks * resolution // score.resolution
    return replace(bars, ticks=frozen_ints(ticks), end_ticks=end_ticks, swing=(), cut_ticks=0)

"""Performed input: notes played by hand are put back on the holes the player meant.

Every note keeps a confidence; notes in = notes out, and none is moved to make another fit.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from pegwright.ask.request import Beat
from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.findings import Finding
from pegwright.played.beat_tracking import Playing, along_guide, from_nothing, from_start, playing
from pegwright.played.beats import BeatTrack, beats_of_tempo_map, seconds_of
from pegwright.played.findings import findings_of
from pegwright.played.model import PLACES, RhythmModel, rhythm_model
from pegwright.played.path import RhythmPath
from pegwright.played.snap import apart, certainty_of, holes_of
from pegwright.played.track import Track
from pegwright.score import Score


@dataclass(frozen=True, slots=True)
class PerformedSettings:
    """Settings of the analysis.

    Args:
        beat: how far the beats given, or the tempo map, are to be trusted.
        free_tempo: the tempo changes much within a phrase; takes three times as long.
        places: where holes lie within a quarter, in quarters from 0 to below 1; see `wheel_places`.
    """

    beat: Beat = Beat.FOLLOW
    free_tempo: bool = False
    places: tuple[Fraction, ...] = PLACES


@dataclass(frozen=True, slots=True, eq=False)
class PerformedResult:
    """Where every note was meant to be; columns have shape (n,), in the score's order.

    Args:
        onset_units: hole of each note, in units from quarter 0, from 0.
        confidence: 0..1, how probable it is that the player meant that hole.
        deviation_ms: the note as played less its hole; later is positive.
        resolution: units per quarter.
        beats: the beat track, on the same quarters.
        player_ms: standard deviation of the player's onsets about the holes.
        keeps_bars: quarter 0 is that of the score's own tempo map, so its bars still hold.
    """

    onset_units: Ints
    confidence: Floats
    deviation_ms: Floats
    resolution: int
    beats: BeatTrack
    player_ms: float
    keeps_bars: bool

    @property
    def onset_quarters(self) -> tuple[Fraction, ...]:
        """Hole of each note in quarters from quarter 0, exactly."""
        return tuple(Fraction(int(unit), self.resolution) for unit in self.onset_units)


_WAYS: dict[Beat, Callable[[tuple[Fraction, ...], Playing, bool], tuple[Track, RhythmPath]]] = {
    Beat.KEEP: along_guide,
    Beat.FOLLOW: from_start,
    Beat.FIND: from_nothing,
}


def quantise_performed(
    score: Score, beats: BeatTrack | None = None, settings: PerformedSettings = PerformedSettings()
) -> tuple[PerformedResult, tuple[Finding, ...]]:
    """Put notes played by hand back on the holes the player meant.

    Args:
        score: onsets as played; its resolution and tempo map give them in seconds.
        beats: when the beats fell, if that is known better than by the tempo map.
        settings: see there.

    Returns:
        A hole and a confidence for every note, the beat track, and the findings.

    Raises:
        UsageError: the places cannot be used.
    """
    model = rhythm_model(settings.places)
    guide = beats_of_tempo_map(score) if beats is None else beats
    if score.note_count == 0:
        empty = PerformedResult(
            frozen_ints([]), frozen_floats([]), frozen_floats([]), model.resolution, guide, 0.0, True
        )
        return empty, findings_of(score, empty.onset_units, empty.confidence, guide, 0.0)
    seconds = seconds_of(score, score.onset_ticks)
    order = np.argsort(seconds, kind="stable")
    if settings.beat is Beat.FIND:
        guide = BeatTrack(frozen_floats([0.0, 0.5]), frozen_floats([0.0, 1.0]))
    play = playing(seconds[order], guide, score.part[order], score.pitch_midi[order], score.percussion_notes()[order])
    track, path = _WAYS[settings.beat](settings.places, play, settings.free_tempo)
    result = _result(
        model, play, track, path, order, seconds, own_quarters=beats is None and settings.beat is not Beat.FIND
    )
    findings = findings_of(score, result.onset_units, result.confidence, result.beats, result.player_ms)
    return result, findings


def _result(
    model: RhythmModel,
    play: Playing,
    track: Track,
    path: RhythmPath,
    order: Ints,
    seconds: Floats,
    *,
    own_quarters: bool,
) -> PerformedResult:
    hole = apart(path, holes_of(path))
    confidence = certainty_of(path, hole)
    earliest = int(hole.min()) // model.resolution
    keeps_bars = own_quarters and play.base + earliest >= 0
    shift = play.base if keeps_bars else -earliest
    lines = np.arange(len(track.line_s))
    beat_s = play.guide.seconds_at(track.line_s / play.quarter_s + play.base)
    beats = BeatTrack(frozen_floats(beat_s), frozen_floats(lines + shift))
    back = np.empty_like(order)
    back[order] = np.arange(len(order))
    units = hole[back] + shift * model.resolution
    away_ms = (seconds - beats.seconds_at(units / model.resolution)) * 1000
    return PerformedResult(
        frozen_ints(units),
        frozen_floats(confidence[back]),
        frozen_floats(away_ms),
        model.resolution,
        beats,
        path.onsets.player_s * 1000,
        keeps_bars,
    )

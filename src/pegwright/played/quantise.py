"""Performed input: notes played by hand are put back on the holes the player meant.

Every note keeps a confidence; notes in = notes out, and none is moved to make another fit.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.ask.request import Beat
from pegwright.columns import Ints, frozen_floats, frozen_ints
from pegwright.findings import Finding
from pegwright.played.bar_places import SongMetre
from pegwright.played.beat_tracking import Followed, Known, from_nothing, from_start
from pegwright.played.beats import BeatTrack, beats_of_tempo_map, seconds_of
from pegwright.played.by_patterns import along_guide
from pegwright.played.click import keeps_to_guide
from pegwright.played.findings import findings_of
from pegwright.played.given_beats import ChosenHoles, along_given, holes_along, holes_followed
from pegwright.played.model import PLACES, rhythm_model
from pegwright.played.path import best_path
from pegwright.played.playing import Playing, playing, seen_from
from pegwright.played.result import PerformedResult, in_doubt
from pegwright.played.silences import silences_of
from pegwright.played.track import Track
from pegwright.score import LOW_CONFIDENCE, Score

UNSTATED_US = 500_000  # microseconds a quarter, 120 a minute, which a MIDI file has where it states no tempo (SMF 1.0)
BEAT_UNKNOWN = BeatTrack(frozen_floats([0.0, 0.5]), frozen_floats([0.0, 1.0]))


def quantise_performed(
    score: Score,
    beats: BeatTrack | None = None,
    beat: Beat = Beat.FOLLOW,
    places: tuple[Fraction, ...] = PLACES,
    metre: SongMetre | None = None,
) -> tuple[PerformedResult, tuple[Finding, ...]]:
    """Put notes played by hand back on the holes the player meant, and report on it; see `put_on_holes`.

    Args:
        score: onsets as played; its resolution and tempo map give them in seconds.
        beats: when the beats fell, if that is known better than by the tempo map.
        beat: how far the beats given, or the tempo map, are to be trusted.
        places: where holes lie within a quarter, in quarters from 0 to below 1; see `wheel_places`.
        metre: of the song, where it is known.

    Returns:
        A hole and a confidence for every note, the beat track, and the findings.

    Raises:
        UsageError: the places cannot be used.
    """
    result = put_on_holes(score, beats, beat, places, metre)
    return result, findings_of(score, result)


def put_on_holes(
    score: Score,
    beats: BeatTrack | None,
    beat: Beat,
    places: tuple[Fraction, ...] = PLACES,
    metre: SongMetre | None = None,
) -> PerformedResult:
    """A hole and a confidence for every note played by hand, and the beat track.

    Args:
        score: as in `quantise_performed`.
        beats: likewise.
        beat: likewise.
        places: likewise.
        metre: likewise.

    Raises:
        UsageError: the places cannot be used.
    """
    resolution = rhythm_model(places).resolution
    guide = beats_of_tempo_map(score) if beats is None else beats
    if score.note_count == 0:
        none = frozen_floats([])
        return PerformedResult(frozen_ints([]), none, none, resolution, guide, 0.0, True)
    guide = BEAT_UNKNOWN if beat is Beat.FIND else guide
    seconds = seconds_of(score, score.onset_ticks)
    order = np.argsort(seconds, kind="stable")
    silences, guide = silences_of(seconds[order], guide, counted=beat is Beat.KEEP)
    play = playing(score.with_notes(order), silences.shortened(seconds[order]), guide)
    known = Known(beats is not None or not _says_nothing(score), metre, own_beat=beats is None)
    track, holes = _chosen(places, play, beat, known)
    own_quarters = beats is None and beat is not Beat.FIND
    back = np.argsort(order)
    result = _result(play, track, holes, back, own_quarters=own_quarters)
    if track.doubts is not None:
        result = in_doubt(result, replace(track.doubts, cluster=frozen_ints(track.doubts.cluster[back])), places)
    by_guide = beat is Beat.KEEP or track.kept
    quarters = silences.quarters if by_guide else silences.counted(result.beats, track.bar_quarters)
    whole, units = silences.restored(result.beats, play.seconds[back], result.onset_units, result.resolution, quarters)
    return replace(result, beats=whole, onset_units=units, own_beat_kept=track.kept, tempo_open=track.tempo_open)


def _chosen(places: tuple[Fraction, ...], play: Playing, beat: Beat, known: Known) -> tuple[Track, ChosenHoles]:
    """The beats that were given or found, and the holes along them.

    Args:
        places: where holes lie in a quarter, in quarters.
        play: the onsets along the guide.
        beat: how far the guide is to be trusted.
        known: of the song.
    """
    if beat is Beat.KEEP and not known.own_beat:
        given, holes = along_given(places, play)
        if not (play.drums and holes.certainty.mean() < LOW_CONFIDENCE):
            return given, holes
    track, path = _tracked(places, play, beat, known)
    if track.holes is None or play.drums:
        return track, holes_along(path or best_path(rhythm_model(places), seen_from(track, play)))
    return track, holes_followed(places, track.holes, seen_from(track, play))


def _tracked(places: tuple[Fraction, ...], play: Playing, beat: Beat, known: Known) -> Followed:
    """The beat, and the rhythms of even playing along it.

    Args:
        places: where holes lie in a quarter, in quarters.
        play: the onsets.
        beat: how far the guide is to be trusted.
        known: of the song.
    """
    if beat is Beat.FIND:
        track, path = from_nothing(places, play, known)
        return replace(track, tempo_open=True), path
    if beat is Beat.KEEP:
        return along_guide(places, play)
    if known.own_beat and keeps_to_guide(places, play):
        track, path = along_guide(places, play)
        return replace(track, kept=True), path
    track, path = from_start(places, play, known)
    return replace(track, tempo_open=path is None and not known.tempo), path


def _says_nothing(score: Score) -> bool:
    """Whether the file states the tempo that recorders write where none is known, and no other."""
    return bool((score.tempo_map.us_per_quarter == UNSTATED_US).all())


def _result(play: Playing, track: Track, holes: ChosenHoles, back: Ints, *, own_quarters: bool) -> PerformedResult:
    """The result without the silences, in the order `back` of the notes in time."""
    resolution, hole = holes.resolution, holes.unit
    earliest = int(hole.min()) // resolution
    keeps_bars = own_quarters and play.base + earliest >= 0
    shift = play.base if keeps_bars else -earliest
    beat_s = play.guide.seconds_at(track.line_s / play.quarter_s + play.base)
    beats = BeatTrack(frozen_floats(beat_s), frozen_floats(np.arange(len(beat_s)) + shift))
    units = hole + shift * resolution
    away_ms = (play.seconds - beats.seconds_at(units / resolution)) * 1000
    certainty, away_ms = frozen_floats(holes.certainty[back]), frozen_floats(away_ms[back])
    player_ms = holes.player_s * 1000
    return PerformedResult(frozen_ints(units[back]), certainty, away_ms, resolution, beats, player_ms, keeps_bars)

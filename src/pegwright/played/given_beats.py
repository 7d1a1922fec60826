"""The holes of notes once their beats are known: given, and then made even, or followed from the notes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.columns import Floats, Ints, frozen_floats
from pegwright.frozen import frozen
from pegwright.played.alike_places import recurring
from pegwright.played.chords import chords_of
from pegwright.played.evened import evened
from pegwright.played.families import families_of
from pegwright.played.likelihood import Onsets
from pegwright.played.model import rhythm_model
from pegwright.played.path import RhythmPath
from pegwright.played.place_chain import placed
from pegwright.played.playing import Playing, by_guide
from pegwright.played.snap import apart, certainty_of, holes_of, nearest_holes
from pegwright.played.track import Track

STRAY_S = 0.05  # onsets farther from their hole say nothing of how evenly the player played


@frozen(eq=False)
class ChosenHoles:
    """The hole of every note, in order of time.

    Args:
        unit: shape (n,), in units from quarter 0 of the track.
        certainty: shape (n,), 0..1.
        resolution: units a quarter.
        player_s: standard deviation of the player's onsets about the holes, in seconds.
    """

    unit: Ints
    certainty: Floats
    resolution: int
    player_s: float


def holes_along(path: RhythmPath) -> ChosenHoles:
    """The holes of a path of patterns."""
    unit = apart(path.onsets, path.model, holes_of(path))
    return ChosenHoles(unit, certainty_of(path, unit), path.model.resolution, path.onsets.player_s)


def holes_followed(places: tuple[Fraction, ...], quarters: Floats, onsets: Onsets) -> ChosenHoles:
    """The holes that were found together with the beat; nearest to them, where it is written in other note values.

    Args:
        places: where holes lie in a quarter, in quarters.
        quarters: shape (n,), of each hole.
        onsets: along the beat.
    """
    model = rhythm_model(places)
    away_s = (onsets.quarters - quarters) * onsets.quarter_s
    player_s = float(np.sqrt(np.mean(np.minimum(np.abs(away_s), STRAY_S) ** 2)))
    unit = nearest_holes(np.rint(quarters * model.resolution).astype(np.int64), places, model.resolution)
    return ChosenHoles(apart(onsets, model, unit), np.ones(len(unit)), model.resolution, player_s)


def along_given(places: tuple[Fraction, ...], play: Playing) -> tuple[Track, ChosenHoles]:
    """Keep to beats that were given for this playing: tapped along with it, or annotated.

    Args:
        places: where holes lie in a quarter, in quarters.
        play: the onsets along the beats.
    """
    beats, model = evened(play.guide), rhythm_model(places)
    chords = chords_of(play.seconds, play.voice, play.pitch)
    alike = recurring(play.seconds, play.voice, play.pitch, chords.which)
    families, apart_quarters = families_of(places), float(np.median(np.diff(play.guide.quarters)))
    chosen = placed(families, chords, alike, beats, model.resolution, beat_quarters=apart_quarters, drums=play.drums)
    count = int(play.time_s[-1] / play.quarter_s) + 3
    line_s = play.guide.quarters_at(beats.seconds_at(play.base + np.arange(count, dtype=np.float64))) - play.base
    track = Track(frozen_floats(line_s * play.quarter_s), np.zeros(count))
    unit = chosen.unit[chords.which] - play.base * model.resolution
    onsets = replace(by_guide(play), player_s=chosen.player_s)
    return track, ChosenHoles(
        apart(onsets, model, unit), chosen.certainty[chords.which], model.resolution, chosen.player_s
    )

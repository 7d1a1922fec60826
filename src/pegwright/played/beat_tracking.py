"""From a performance to its beat: where each quarter begins, followed from what is known of it.

Several kinds of players are tried; see `players`.
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from typing import TypeAlias

import numpy as np

from pegwright.columns import frozen_floats
from pegwright.frozen import frozen
from pegwright.played.bar_laws import CHANGING, EVEN, HALTING, MOVING
from pegwright.played.bar_places import SongMetre
from pegwright.played.beam_search import BeatHypothesis
from pegwright.played.by_patterns import (
    DRIFT,
    EVENLY,
    START_SPREAD_S,
    START_TEMPO_SPREAD,
    Pulses,
    any_pulse,
    as_written,
    begun_pulses,
    evenly,
    first_pulse,
    hypothesis,
)
from pegwright.played.free_beat import FreeBeat, Tempo, free_beat
from pegwright.played.path import RhythmPath
from pegwright.played.players import Believed, likeliest_player, steady_player
from pegwright.played.playing import Playing
from pegwright.played.settled import Settled, settled
from pegwright.played.struck import Struck, StruckNotes, struck_by
from pegwright.played.track import Pulse, Track, smoothed

FEWEST, FEWEST_OPEN = 12, 40  # clusters from which bars can be followed: where the tempo is given, and where not
FREE_DRIFT, FREE_SPREAD_S = 0.06, 0.02
DENSITY_UNIT = 0.5 * math.log(2 * math.pi)  # left out of the fit of patterns


@frozen()
class Known:
    """What is known of a song beside its notes.

    Args:
        tempo: whether the tempo at the start is meant.
        metre: if it was given.
        own_beat: whether the guide is the file's own beat.
    """

    tempo: bool = True
    metre: SongMetre | None = None
    own_beat: bool = False


Followed: TypeAlias = tuple[Track, RhythmPath | None]  # the rhythms, where patterns of quarters were followed


def from_start(places: tuple[Fraction, ...], play: Playing, known: Known) -> Followed:
    """Begin as the guide does, then follow the notes.

    Args:
        places: where holes lie in a quarter, in quarters.
        play: the onsets along the guide.
        known: of the song.
    """
    first_quarters = float(play.time_s[0]) / play.quarter_s
    tempo = Tempo(play.quarter_s, first_quarters, known.tempo, placed=not known.own_beat)
    pulses = begun_pulses(play) if known.own_beat else first_pulse(play)
    return _follow(places, play, tempo, known.metre, pulses)


def from_nothing(places: tuple[Fraction, ...], play: Playing, known: Known) -> Followed:
    """Find tempo and beat among many guesses at the first notes; see `from_start`.

    Args:
        places: where holes lie in a quarter, in quarters.
        play: the onsets.
        known: of the song.
    """
    return _follow(places, play, None, known.metre, any_pulse(places, play))


def _follow(
    places: tuple[Fraction, ...], play: Playing, tempo: Tempo | None, metre: SongMetre | None, pulses: Pulses
) -> Followed:
    """Follow the beat as that of the likeliest kind of player.

    Of few onsets, and of drums, the patterns of quarters say more than bars do.

    Args:
        places: where holes lie in a quarter.
        play: the onsets.
        tempo: at the start; None where nothing is known.
        metre: if it was given.
        pulses: where the beat may begin, for the patterns of quarters.
    """
    struck = struck_by(StruckNotes(play.time_s, play.voice, play.pitch, play.velocity, play.lasts))
    fewest = FEWEST if tempo and tempo.trusted else FEWEST_OPEN
    if play.drums or len(struck.time_s) < fewest:
        patterns = hypothesis(places, play, pulses, EVENLY)
        patterns = patterns if tempo else as_written(patterns)
        beat = _beside_patterns(places, struck, tempo, metre, patterns) if len(struck.time_s) >= fewest else None
        if beat is None:
            return evenly(places, play, pulses, patterns)
        return _along_bars(struck, settled(places, struck, beat)), None
    return _along_likeliest(places, struck, likeliest_player(places, struck, tempo, metre)), None


def _beside_patterns(
    places: tuple[Fraction, ...],
    struck: Struck,
    tempo: Tempo | None,
    metre: SongMetre | None,
    patterns: BeatHypothesis,
) -> FreeBeat | None:
    """A tempo that moves, or even playing but for stops or changes, where it is likelier than patterns; else None.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        tempo: at the start; None where nothing is known.
        metre: if it was given.
        patterns: even playing by these.
    """
    moving, least = free_beat(places, struck, tempo, metre, MOVING), patterns.fit - DENSITY_UNIT
    if moving.fit >= least:
        return moving
    steady = steady_player(places, struck, tempo, metre or moving.metre)
    likelier = steady.laws == HALTING or (steady.laws == CHANGING and steady.fit >= least)
    return steady if likelier else None


def _along_likeliest(places: tuple[Fraction, ...], struck: Struck, likeliest: Believed) -> Track:
    """The track of the likeliest reading; notes that another counts otherwise are unsure.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        likeliest: the reading.
    """
    whole = settled(places, struck, likeliest.beat)
    if likeliest.other is None:
        return _along_bars(struck, whole)
    other = likeliest.other + likeliest.beat.hole_quarters - whole.beat.hole_quarters
    return _along_bars(struck, replace(whole, doubts=replace(whole.doubts, other=frozen_floats(other))))


def _along_bars(struck: Struck, whole: Settled) -> Track:
    """The track of a beat that was followed through the bars.

    Args:
        struck: the onsets.
        whole: as followed.
    """
    beat = whole.beat
    count = int(beat.hole_quarters.max(initial=0)) + 2
    length = float(beat.quarter_s[0])
    line_s = float(struck.time_s[0] - beat.hole_quarters[0] * length)
    drift = DRIFT if beat.laws == EVEN else FREE_DRIFT
    pulse = Pulse(line_s, length, START_SPREAD_S, 3 * START_TEMPO_SPREAD * length, drift)
    spread = FREE_SPREAD_S / np.sqrt(np.bincount(struck.which))
    track = smoothed(struck.time_s, beat.hole_quarters, spread, pulse, count)
    holes = frozen_floats(beat.hole_quarters[struck.which])
    bar_quarters = (beat.metre.bar_quarters * Fraction(beat.ratio)).numerator
    return replace(track, holes=holes, doubts=whole.doubts, bar_quarters=bar_quarters)

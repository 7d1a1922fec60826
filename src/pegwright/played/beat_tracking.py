"""From a performance to its beat: where each quarter begins, followed from what is known of it.

Two readings compete: even playing, and a player whose tempo moves.
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from typing import TypeAlias

import numpy as np

from pegwright.columns import frozen_floats
from pegwright.frozen import frozen
from pegwright.played.bar_laws import EVEN, MOVING
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
from pegwright.played.free_beat import (
    FreeBeat,
    Tempo,
    free_beat,
    likeliest_metre,
    sure_beside,
)
from pegwright.played.halting import with_stops
from pegwright.played.path import RhythmPath
from pegwright.played.playing import Playing
from pegwright.played.settled import Settled, settled
from pegwright.played.struck import Struck, StruckNotes, struck_by
from pegwright.played.track import Pulse, Track, smoothed

# By how much, in log likelihood of a cluster, a tempo that moves has to fit better than an even one to be kept; and how
# near the two have to be for their notes to be compared.
FREER, COMPETES = 0.07, 0.1
HOPELESS = 0.5  # by how much an even one may fit worse before another metre is tried
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
    """Follow the beat as that of even playing and as a tempo that moves, whichever fits better.

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
    moving = free_beat(places, struck, tempo, metre, MOVING)
    even = _even(places, struck, tempo, metre, moving)
    return _beside(places, struck, *_better(places, struck, tempo, moving, even)), None


def _beside_patterns(
    places: tuple[Fraction, ...],
    struck: Struck,
    tempo: Tempo | None,
    metre: SongMetre | None,
    patterns: BeatHypothesis,
) -> FreeBeat | None:
    """A tempo that moves, or even playing with stops, where it fits better than patterns of quarters; else None.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        tempo: at the start; None where nothing is known.
        metre: if it was given.
        patterns: even playing by these.
    """
    moving = free_beat(places, struck, tempo, metre, MOVING)
    if moving.fit >= patterns.fit - DENSITY_UNIT:
        return moving
    even = free_beat(places, struck, tempo, metre or moving.metre, EVEN)
    halting = with_stops(places, struck, tempo, even)
    return halting.beat if halting.likelier else None


def _even(
    places: tuple[Fraction, ...], struck: Struck, tempo: Tempo | None, metre: SongMetre | None, moving: FreeBeat
) -> FreeBeat:
    """Even playing, in the metre that a tempo that moves was counted in, or its own where it comes into question.

    To try every metre takes as long as all the rest, and from every tempo longer.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        tempo: at the start; None where nothing is known.
        metre: if it was given.
        moving: the other reading.
    """
    even = free_beat(places, struck, tempo, metre or moving.metre, EVEN)
    if metre or tempo is None or not tempo.trusted or even.fit < moving.fit - HOPELESS:
        return even
    own = likeliest_metre(places, struck, tempo, EVEN)
    return even if own == moving.metre else free_beat(places, struck, tempo, own, EVEN)


def _better(
    places: tuple[Fraction, ...], struck: Struck, tempo: Tempo | None, moving: FreeBeat, even: FreeBeat
) -> tuple[FreeBeat, FreeBeat | None]:
    """Whichever reading fits better, and another that fits nearly as well.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        tempo: at the start; None where nothing is known.
        moving: one reading.
        even: the other.
    """
    freer = moving.fit - even.fit - FREER
    if freer > 0:
        return moving, even if freer <= COMPETES else None
    halting = with_stops(places, struck, tempo, even)
    chosen, other = (halting.beat, even) if halting.likelier else (even, halting.beat)
    if moving.fit - chosen.fit - FREER >= -COMPETES:
        return chosen, moving
    return chosen, other if halting.doubted else None


def _beside(places: tuple[Fraction, ...], struck: Struck, chosen: FreeBeat, other: FreeBeat | None) -> Track:
    """The track of a reading; notes that another counts otherwise are unsure.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        chosen: the reading.
        other: that fits nearly as well.
    """
    whole = settled(places, struck, chosen)
    if other is None:
        return _along_bars(struck, whole)
    sure = whole.sure * sure_beside(whole.beat.hole_quarters, other)
    track = _along_bars(struck, replace(whole, sure=sure))
    return replace(track, other=frozen_floats(other.hole_quarters[struck.which]))


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
    first_note = np.searchsorted(struck.which, np.arange(len(whole.sure)))
    parted = tuple(replace(each, note=int(first_note[each.note])) for each in whole.parted)
    return replace(
        track, sure=frozen_floats(whole.sure[struck.which]), holes=holes, parted=parted, bar_quarters=bar_quarters
    )

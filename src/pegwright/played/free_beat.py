"""From onsets to the beat of a player whose tempo moves: what was struck, tempi to try, and the song's own steps."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.beat_chain import FreeBeat, follow_freely
from pegwright.played.chords import clusters
from pegwright.played.free_tempo import PlaceSteps, Table, TempoBand, steps_as_played, tempo_band, usual_steps

CHORD_GAP_S = 0.035
REACH = 1.5  # how many times slower or faster than the middle a tempo may be
START_TEMPO_SPREAD = 0.06  # of the logarithm of the tempo at the start, where it was given,
START_SPREAD_S = 0.04  # and of the first onset about its place
TEMPI = (40.0, 60.0, 90.0, 135.0, 203.0)  # the middle ones, where nothing is known: half as fast again each
USUAL_TEMPO, USUAL_SPREAD = 105.0, 0.5  # log-normal, common practice, no source
TRIAL_CLUSTERS = 80
# How much likelier many notes at once, and low ones, are on a place: by its denominator in quarters, set by hand.
STRENGTH = {1: 1.0, 2: 0.2, 3: -0.4, 4: -0.35, 6: -0.8, 8: -1.0}
WEAKEST = -1.0
CHORD_WEIGHT, BASS_WEIGHT, BASS_SEMITONES = 0.8, 0.5, 12.0
SLIP_SHARE = 0.1  # how much of the doubt about a step lasts: most wrong steps are made good soon
LEAST_CERTAIN = 1e-6
SURE_APART = 0.5  # of a beat that another reading puts elsewhere
APART_QUARTERS = 0.2
ANCHORS = 60  # stretches tried as the one that most notes are counted from
NEIGHBOURS = 9  # clusters among which the lowest notes are compared


@frozen(eq=False)
class Struck:
    """Clusters of onsets; columns have shape (c,).

    Args:
        which: shape (n,), the cluster of each onset.
        time_s: mean time.
        weight: how much each looks like a strong beat.
    """

    which: Ints
    time_s: Floats
    weight: Floats


def struck_by(time_s: Floats, voice: Ints, pitch: Ints) -> Struck:
    """Clusters of onsets, and which of them look strong: many notes at once, and notes lower than those about them.

    Args:
        time_s: shape (n,), rising.
        voice: shape (n,), equal for notes that cannot be struck together.
        pitch: shape (n,); 0 where it says nothing of a bass.
    """
    which = clusters(time_s, voice, CHORD_GAP_S)
    count = np.bincount(which)
    many = np.log(count)
    lowest = np.full(len(count), 127)
    np.minimum.at(lowest, which, pitch)
    even = np.ones(NEIGHBOURS)
    about = np.convolve(lowest, even, mode="same") / np.convolve(np.ones(len(lowest)), even, mode="same")
    if len(about) != len(lowest):  # fewer clusters than neighbours
        about = np.full(len(lowest), lowest.mean())
    low = np.clip((about - lowest) / BASS_SEMITONES, -1.0, 1.0)
    return Struck(which, np.bincount(which, time_s) / count, CHORD_WEIGHT * (many - many.mean()) + BASS_WEIGHT * low)


def _accent(struck: Struck, steps: PlaceSteps) -> Table:
    strength = [STRENGTH.get(Fraction(at).limit_denominator(96).denominator, WEAKEST) for at in steps.quarters.tolist()]
    accent: Table = struck.weight[:, None] * np.array(strength)
    return accent


def free_from_start(places: tuple[Fraction, ...], struck: Struck, quarter_s: float, at_least: float) -> FreeBeat:
    """Begin at a known tempo, quarter 0 at time 0.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        quarter_s: seconds a quarter at the start.
        at_least: fit by the steps of other music from which the song's own are tried.
    """
    steps, band = usual_steps(places), tempo_band(quarter_s, REACH)
    first_s = float(struck.time_s[0])
    away = (first_s / quarter_s - steps.quarters + 0.5) % 1.0 - 0.5
    phase = -0.5 * (away * quarter_s / (START_SPREAD_S + START_TEMPO_SPREAD * first_s)) ** 2
    tempo = -0.5 * (np.log(band.quarter_s / quarter_s) / START_TEMPO_SPREAD) ** 2
    beat = _twice(steps, band, struck, phase[:, None] + tempo, at_least)
    ahead = round(first_s / quarter_s - float(beat.hole_quarters[0]))
    return replace(beat, hole_quarters=beat.hole_quarters + ahead)


def free_from_nothing(places: tuple[Fraction, ...], struck: Struck, at_least: float) -> FreeBeat:
    """Try tempi on the first onsets, and follow the likeliest to the end.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        at_least: as in `free_from_start`.
    """
    steps = usual_steps(places)
    tries = []
    for tempo in TEMPI:
        band = tempo_band(60 / tempo, REACH)
        start = np.log(steps.first)[:, None] - 0.5 * (np.log(60 / band.quarter_s / USUAL_TEMPO) / USUAL_SPREAD) ** 2
        few = slice(0, TRIAL_CLUSTERS)
        trial = follow_freely(struck.time_s[few], _accent(struck, steps)[few], steps, band, start)
        tries.append((trial.fit, tempo, band, start))
    _, _, band, start = max(tries, key=lambda each: each[0])
    return _twice(steps, band, struck, start, at_least)


def _twice(steps: PlaceSteps, band: TempoBand, struck: Struck, start: Table, at_least: float) -> FreeBeat:
    """By the steps of other music; then, unless that fits worse than `at_least`, by the song's own."""
    usual = follow_freely(struck.time_s, _accent(struck, steps), steps, band, start)
    if usual.fit < at_least:
        return usual
    own = steps_as_played(steps, usual.place, np.diff(usual.hole_quarters), usual.noise_s)
    used = np.searchsorted(steps.quarters, own.quarters)
    return follow_freely(struck.time_s, _accent(struck, own), own, band, start[used], sums=True)


def sure_of_beat(beat: FreeBeat) -> Floats:
    """Shape (c,): how probable it is that no step between a cluster and the surest stretch of the song was a slip.

    Args:
        beat: as followed.
    """
    doubt = SLIP_SHARE * np.cumsum(-np.log(np.maximum(beat.certainty, LEAST_CERTAIN)))
    anchors = np.linspace(doubt[0], doubt[-1], ANCHORS)
    sure = np.exp(-np.abs(doubt - anchors[:, None]))
    best: Floats = sure[sure.sum(axis=1).argmax()]
    return best


def sure_beside(quarters: Floats, other: FreeBeat) -> Floats:
    """Shape (c,): how sure a steady beat is, less where the reading with a tempo that moves counts otherwise.

    Args:
        quarters: shape (c,), where the steady beat puts each cluster.
        other: the same clusters by the other reading.
    """
    apart = quarters - other.hole_quarters
    values, count = np.unique(np.round(apart * 4) / 4, return_counts=True)
    same = np.abs(apart - values[count.argmax()]) <= APART_QUARTERS
    return np.where(same, 1.0, SURE_APART)

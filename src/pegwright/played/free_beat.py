"""The beat, followed by the notes: where it may begin, the metre, and how sure it is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.columns import Floats
from pegwright.frozen import frozen
from pegwright.played.backwards import followed_backwards
from pegwright.played.bar_fronts import Start, Trace
from pegwright.played.bar_laws import Laws
from pegwright.played.bar_places import BarPlaces, SongMetre, bar_places, metre_of
from pegwright.played.bar_search import KEPT, BarBeat, search_bars
from pegwright.played.drawn_ways import share_alike, ways_drawn
from pegwright.played.note_values import mean_step, written_ratio
from pegwright.played.struck import Struck, first_clusters

SLOWEST, FASTEST, TEMPO_STEP = 30.0, 260.0, 1.12  # quarter notes a minute, where nothing is known
USUAL_TEMPO, USUAL_SPREAD = 100.0, 0.5  # log-normal, common practice, no source
METRES = ("4/4", "3/4", "6/8")  # tried where it is not known
TRIAL, TRIAL_OPEN = (80, 24), (96, 32)  # clusters, and hypotheses: where the tempo is given, and where not
ABOUT = 64  # clusters on either side: where much is in doubt, no note is sure
SURE_APART = 0.5  # of a beat that another reading puts elsewhere
APART_QUARTERS = 0.2


@frozen()
class Tempo:
    """A tempo at the start.

    Args:
        quarter_s: seconds a quarter.
        first_quarters: place of the first onset, from a quarter.
        trusted: whether other tempi are much less likely; a file that says 120 says nothing.
    """

    quarter_s: float
    first_quarters: float
    trusted: bool


@frozen(eq=False)
class FreeBeat:
    """The likeliest path; columns have shape (c,), one for each cluster of onsets.

    Args:
        quarter_s: seconds a quarter.
        hole_quarters: holes, from a quarter.
        trace: all that the search kept.
        fit: mean log likelihood of a cluster.
        metre: in which it was counted.
        laws: of the player.
        ratio: quarters for each that was counted.
    """

    quarter_s: Floats
    hole_quarters: Floats
    trace: Trace
    fit: float
    metre: SongMetre
    laws: Laws
    ratio: float = 1.0


def free_beat(
    places: tuple[Fraction, ...], struck: Struck, tempo: Tempo | None, metre: SongMetre | None, laws: Laws
) -> FreeBeat:
    """Follow the beat from a tempo, or from any.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        tempo: at the start; None where nothing is known.
        metre: None tries the usual ones on the first onsets.
        laws: of the player.
    """
    beat = _counted(places, struck, tempo, metre, laws)
    if tempo is None or not tempo.trusted:
        ratio = written_ratio(float(np.median(beat.quarter_s)), mean_step(beat.hole_quarters))
        return _rescaled(beat, ratio)
    ahead = round(tempo.first_quarters - float(beat.hole_quarters[0]))
    return replace(beat, hole_quarters=beat.hole_quarters + ahead)


def _counted(
    places: tuple[Fraction, ...], struck: Struck, tempo: Tempo | None, metre: SongMetre | None, laws: Laws
) -> FreeBeat:
    """One reading, in the quarters in which it was followed; see `free_beat`."""
    metre = metre or likeliest_metre(places, struck, tempo, laws)
    beat, bar = _followed(places, struck, tempo, metre, laws), _bar(places, metre)
    hole = beat.unit / bar.resolution
    return FreeBeat(beat.quarter_s, hole - math.floor(hole[0]), beat.trace, beat.fit, metre, laws)


def _rescaled(beat: FreeBeat, ratio: float) -> FreeBeat:
    """With this number of quarters for each that was followed."""
    quarter_s, hole_quarters = beat.quarter_s / ratio, beat.hole_quarters * ratio
    return replace(beat, quarter_s=quarter_s, hole_quarters=hole_quarters, ratio=beat.ratio * ratio)


def sure_from_both_ends(places: tuple[Fraction, ...], struck: Struck, beat: FreeBeat) -> Floats:
    """Shape (c,), 0..1: how sure each place is: the share of ways drawn from either end that agree with the beat.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        beat: as followed from the first.
    """
    forwards = ways_drawn(beat.trace) / _bar(places, beat.metre).resolution
    backwards = followed_backwards(places, struck, beat.metre, beat.ratio * beat.quarter_s, beat.laws)
    shares = [share_alike(beat.hole_quarters, beat.ratio * ways) for ways in (forwards, backwards)]
    both = (shares[0] + shares[1]) / 2
    sure: Floats = both * np.sqrt(mean_about(both, ABOUT))
    return sure


def mean_about(values: Floats, reach: int) -> Floats:
    """Shape (c,): mean of each value and those about it.

    Args:
        values: shape (c,).
        reach: how many on either side.
    """
    total = np.concatenate([[0.0], np.cumsum(values)])
    at = np.arange(len(values))
    first, past = np.maximum(at - reach, 0), np.minimum(at + reach + 1, len(values))
    mean: Floats = (total[past] - total[first]) / (past - first)
    return mean


def likeliest_metre(places: tuple[Fraction, ...], struck: Struck, tempo: Tempo | None, laws: Laws) -> SongMetre:
    """The one of the usual metres in which the first onsets fit best.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        tempo: as in `free_beat`.
        laws: of the player.
    """
    count, kept = TRIAL if tempo and tempo.trusted else TRIAL_OPEN
    few = first_clusters(struck, count)
    tries = [_followed(places, few, tempo, metre_of(each), laws, kept).fit for each in METRES]
    return metre_of(METRES[int(np.argmax(tries))])


def _bar(places: tuple[Fraction, ...], metre: SongMetre) -> BarPlaces:
    return bar_places(places, metre.bar_quarters, metre.beat_quarters)


def _followed(
    places: tuple[Fraction, ...],
    struck: Struck,
    tempo: Tempo | None,
    metre: SongMetre,
    laws: Laws,
    kept: int = KEPT,
) -> BarBeat:
    bar = _bar(places, metre)
    starts = [] if tempo is None else _given_starts(bar, tempo, metre, laws.start_spread)
    if tempo is None or not tempo.trusted:
        starts += _any_start(bar, metre)
    return search_bars(bar, struck, starts, laws, kept)


def _given_starts(bar: BarPlaces, tempo: Tempo, metre: SongMetre, spread: float) -> list[Start]:
    """At the tempo given, on the place given, on any beat of the bar unless that is known.

    Args:
        bar: the places in it.
        tempo: given.
        metre: of the song.
        spread: of the logarithm of the tempo.
    """
    if metre.first_quarters is not None:
        unit = round(metre.first_quarters * bar.resolution)
        return [Start(0.0, unit, tempo.quarter_s, spread)]
    first = round(tempo.first_quarters % 1.0 * bar.resolution)
    unit = int(np.append(bar.units, bar.resolution)[bar.nearest[first % bar.resolution]])
    quarters = math.ceil(metre.bar_quarters)
    return [
        Start(-math.log(quarters), unit + quarter * bar.resolution, tempo.quarter_s, spread)
        for quarter in range(quarters)
    ]


def _any_start(bar: BarPlaces, metre: SongMetre) -> list[Start]:
    starts, tempo = [], SLOWEST
    while tempo <= FASTEST:
        score = -0.5 * (math.log(tempo / USUAL_TEMPO) / USUAL_SPREAD) ** 2
        starts += [Start(score, unit, 60 / tempo, TEMPO_STEP - 1) for unit in _first_units(bar, metre)]
        tempo *= TEMPO_STEP
    return starts


def _first_units(bar: BarPlaces, metre: SongMetre) -> Sequence[int]:
    if metre.first_quarters is not None:
        return [round(metre.first_quarters * bar.resolution)]
    half = bar.resolution // 2
    return range(0, round(metre.bar_quarters * bar.resolution), max(half, 1))


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

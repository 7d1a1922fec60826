"""The beat, followed by the notes: where it may begin, and the metre."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.bar_fronts import Start, Trace
from pegwright.played.bar_laws import Laws
from pegwright.played.bar_places import BarPlaces, SongMetre, bar_places, counted_in, metre_of
from pegwright.played.bar_search import KEPT, BarBeat, search_bars
from pegwright.played.note_values import mean_step, written_ratio
from pegwright.played.struck import Struck, first_clusters

SLOWEST, FASTEST, TEMPO_STEP = 30.0, 260.0, 1.12  # quarter notes a minute, where nothing is known
USUAL_TEMPO, USUAL_SPREAD = 100.0, 0.5  # log-normal, common practice, no source
METRES = ("4/4", "3/4", "6/8")  # tried where it is not known
TRIAL, TRIAL_OPEN = (160, 24), (160, 32)  # clusters, and hypotheses: where the tempo is given, and where not
ON_BEAT = 1 / 12  # of a quarter on either side
OFF_BEAT = -1.0  # logarithm of how likely a song begins between two beats, beside on one
SURE_APART = 0.5  # of a beat that another reading puts elsewhere
APART_QUARTERS = 0.2


@frozen()
class Tempo:
    """A tempo at the start.

    Args:
        quarter_s: seconds a quarter.
        first_quarters: place of the first onset, from a quarter.
        trusted: whether other tempi are much less likely; a file that says 120 says nothing.
        placed: whether that place is meant; who starts to record and begins when ready has it by chance.
    """

    quarter_s: float
    first_quarters: float
    trusted: bool
    placed: bool = True


@frozen(eq=False)
class FreeBeat:
    """The likeliest path; columns have shape (c,), one for each cluster of onsets.

    Args:
        unit: holes, in units from a bar line, as it was counted.
        quarter_s: seconds a quarter.
        hole_quarters: holes, from a quarter.
        trace: all that the search kept.
        fit: mean log likelihood of a cluster.
        metre: in which it was counted.
        laws: of the player.
        tempo: at the start, where it is known.
        ratio: quarters for each that was counted.
    """

    unit: Ints
    quarter_s: Floats
    hole_quarters: Floats
    trace: Trace
    fit: float
    metre: SongMetre
    laws: Laws
    tempo: Tempo | None
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
    metre = counted_in(metre) if metre else likeliest_metre(places, struck, tempo, laws)
    beat = _followed(places, struck, tempo, metre, laws)
    quarters, ratio = beat.unit / song_bar(places, metre).resolution, 1.0
    known = tempo if tempo and tempo.trusted else None
    if known is None:
        ratio = written_ratio(float(np.median(beat.quarter_s)), mean_step(quarters))
    holes = _holes(quarters, known, ratio)
    return FreeBeat(beat.unit, beat.quarter_s / ratio, holes, beat.trace, beat.fit, metre, laws, known, ratio)


def by_way(places: tuple[Fraction, ...], beat: FreeBeat, unit: Ints, quarter_s: Floats) -> FreeBeat:
    """The same song by another way, in the same note values.

    Args:
        places: where holes lie in a quarter.
        beat: as it was followed.
        unit: shape (c,), holes of the way, in units from a bar line.
        quarter_s: shape (c,), seconds a quarter as it is counted.
    """
    holes = _holes(unit / song_bar(places, beat.metre).resolution, beat.tempo, beat.ratio)
    return replace(beat, unit=unit, quarter_s=quarter_s / beat.ratio, hole_quarters=holes)


def without_trace(beat: FreeBeat) -> FreeBeat:
    """The same beat without what its search kept, so that no other ways can be drawn from it."""
    return replace(beat, trace=Trace._make(part[:0].copy() for part in beat.trace))


def start_at(beat: FreeBeat, unit: int, quarter_s: float) -> Start:
    """Where a way begins, at the tempo known of the song, or at its own.

    Args:
        beat: as it was followed.
        unit: the first hole.
        quarter_s: seconds a quarter, by the way.
    """
    if beat.tempo:
        return Start(0.0, unit, beat.tempo.quarter_s, beat.laws.start_spread)
    return Start(_usual(60 / quarter_s), unit, quarter_s, TEMPO_STEP - 1)


def _holes(counted: Floats, tempo: Tempo | None, ratio: float) -> Floats:
    """Shape (c,): holes in quarters, from the quarter in which the first lies, or the one that was given for it.

    Args:
        counted: shape (c,), quarters from a bar line.
        tempo: at the start, where it is known.
        ratio: quarters for each that was counted.
    """
    holes: Floats = counted - math.floor(counted[0])
    if tempo:
        holes = holes + round(tempo.first_quarters - float(holes[0]))
    return ratio * holes


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


def song_bar(places: tuple[Fraction, ...], metre: SongMetre) -> BarPlaces:
    """The places of a song's bar.

    Args:
        places: where holes lie in a quarter.
        metre: of the song.
    """
    return bar_places(places, metre.bar_quarters, metre.beat_quarters)


def _followed(
    places: tuple[Fraction, ...],
    struck: Struck,
    tempo: Tempo | None,
    metre: SongMetre,
    laws: Laws,
    kept: int = KEPT,
) -> BarBeat:
    bar = song_bar(places, metre)
    starts = [] if tempo is None else _given_starts(bar, tempo, metre, laws.start_spread)
    if tempo is None or not tempo.trusted:
        starts += _any_start(bar, metre)
    return search_bars(bar, struck, starts, laws, kept)


def _given_starts(bar: BarPlaces, tempo: Tempo, metre: SongMetre, spread: float) -> list[Start]:
    """At the tempo given, on the place given, or on and between beats if it is not meant; on any beat of the bar.

    A place near a beat is taken for the beat.

    Args:
        bar: the places in it.
        tempo: given.
        metre: of the song.
        spread: of the logarithm of the tempo.
    """
    known = metre.first_units(bar.resolution)
    if known:
        return [Start(0.0, unit, tempo.quarter_s, spread) for unit in known]
    first = round(tempo.first_quarters % 1.0 * bar.resolution) % bar.resolution
    given = int(np.append(bar.units, bar.resolution)[bar.nearest[first]]) % bar.resolution
    if tempo.placed:
        likely = {given: 0.0}
    elif on_beat(tempo.first_quarters):
        likely = {0: 0.0}
    else:
        likely = {bar.resolution // 2: OFF_BEAT, 0: 0.0, given: 0.0}
    quarters = math.ceil(metre.bar_quarters)
    chance = -math.log(quarters * len(likely))
    return [
        Start(chance + each, unit + quarter * bar.resolution, tempo.quarter_s, spread)
        for unit, each in likely.items()
        for quarter in range(quarters)
    ]


def on_beat(quarters: float) -> bool:
    """Whether a first note lies so near to a beat that it is taken to be meant there."""
    return abs(quarters - round(quarters)) < ON_BEAT


def _any_start(bar: BarPlaces, metre: SongMetre) -> list[Start]:
    starts, tempo = [], SLOWEST
    while tempo <= FASTEST:
        starts += [Start(_usual(tempo), unit, 60 / tempo, TEMPO_STEP - 1) for unit in _first_units(bar, metre)]
        tempo *= TEMPO_STEP
    return starts


def _usual(tempo: float) -> float:
    return -0.5 * (math.log(tempo / USUAL_TEMPO) / USUAL_SPREAD) ** 2


def _first_units(bar: BarPlaces, metre: SongMetre) -> Sequence[int]:
    half = max(bar.resolution // 2, 1)
    return metre.first_units(bar.resolution) or range(0, round(metre.bar_quarters * bar.resolution), half)


def sure_beside(apart: Floats) -> Floats:
    """Shape (c,): how sure a reading is beside another, less where that counts otherwise.

    Args:
        apart: shape (c,), by how many quarters the other has each cluster later, from anywhere.
    """
    values, count = np.unique(np.round(apart * 4) / 4, return_counts=True)
    same = np.abs(apart - values[count.argmax()]) <= APART_QUARTERS
    return np.where(same, 1.0, SURE_APART)

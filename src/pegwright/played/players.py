"""What kind of player plays: each kind follows the song by laws of its own, and the likeliest is believed.

One that allows for more is likelier than it should be, for a long note can always be taken for a shorter one and a
stop, to please the bars. So each kind has its price.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from pegwright.columns import Floats
from pegwright.frozen import frozen
from pegwright.played.bar_laws import CHANGING, EVEN, HALTING, MOVING, SUPPLE, Laws
from pegwright.played.bar_places import SongMetre
from pegwright.played.bar_search import given_to_search
from pegwright.played.breaks import change_shows, stops_show
from pegwright.played.free_beat import (
    FreeBeat,
    Tempo,
    free_beat,
    likeliest_metre,
    song_bar,
    start_at,
    sure_beside,
    without_trace,
)
from pegwright.played.one_way import OneWay, follow_way
from pegwright.played.struck import Struck


class Price(NamedTuple):
    """By how much a kind has to be likelier than even playing, in log likelihood: the whole song, and each cluster."""

    whole: float = 0.0
    cluster: float = 0.0


PRICES = {
    EVEN: Price(),
    CHANGING: Price(24.0),
    HALTING: Price(12.0),
    SUPPLE: Price(10.0, 0.07),
    MOVING: Price(0.0, 0.07),
}
FEW = 100  # clusters below which the price of the whole is less in proportion, for chance has less room
# How near two kinds have to be for their notes to be compared: of those who play evenly on the whole; and of others, a
# cluster. Of even playing with changes of tempo and without the likelier is hardly ever wrong.
NEAR, NEAR_CLUSTER = 10.0, 0.1
CLEAR = {EVEN, CHANGING}
HOPELESS = 0.5  # by how much even playing may fit worse a cluster before another metre, stops or changes are tried


@frozen(eq=False)
class Believed:
    """The reading by the likeliest kind of player.

    Args:
        beat: by that reading.
        other: shape (c,), by how many quarters another reading that is nearly as likely has each cluster later; None
            where there is none that counts otherwise.
    """

    beat: FreeBeat
    other: Floats | None


class _Reading(NamedTuple):
    """The beat by one kind of player, and how likely it is as a whole, less the price, beside others."""

    beat: FreeBeat
    value: float


class _Song(NamedTuple):
    """What each kind follows.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        tempo: at the start; None where nothing is known.
    """

    places: tuple[Fraction, ...]
    struck: Struck
    tempo: Tempo | None

    def reading(self, metre: SongMetre | None, laws: Laws) -> _Reading:
        """The reading by one kind.

        Args:
            metre: None tries the usual ones.
            laws: of the kind.
        """
        beat, price = free_beat(self.places, self.struck, self.tempo, metre, laws), PRICES[laws]
        clusters = len(beat.unit)
        whole = price.whole * min(1.0, clusters / FEW)
        return _Reading(beat, (beat.fit - price.cluster) * clusters - whole)

    def way(self, beat: FreeBeat) -> OneWay:
        """The way that a beat goes through the song, by itself."""
        given = given_to_search(song_bar(self.places, beat.metre), self.struck, beat.laws)
        return follow_way(given, start_at(beat, int(beat.unit[0]), float(beat.quarter_s[0])), beat.unit)


def likeliest_player(
    places: tuple[Fraction, ...], struck: Struck, tempo: Tempo | None, metre: SongMetre | None
) -> Believed:
    """Follow the beat as each kind of player, and believe the likeliest.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        tempo: at the start; None where nothing is known.
        metre: if it was given.
    """
    song = _Song(places, struck, tempo)
    best = song.reading(metre, MOVING)
    others: list[_Reading] = []
    for reading in _beside(song, metre, _light(best)):
        worse, best = (best, reading) if reading.value > best.value else (reading, best)
        others.append(_light(worse))
    return Believed(best.beat, _nearly_as_likely(best, others))


def steady_player(places: tuple[Fraction, ...], struck: Struck, tempo: Tempo | None, metre: SongMetre) -> FreeBeat:
    """The same among those who play evenly but for stops or changes of tempo.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        tempo: at the start; None where nothing is known.
        metre: of the song.
    """
    song = _Song(places, struck, tempo)
    even = song.reading(metre, EVEN)
    return max(even, *_nearly_even(song, even), key=_value).beat


def _beside(song: _Song, metre: SongMetre | None, moving: _Reading) -> Iterator[_Reading]:
    """Readings beside that by a tempo that moves, as far as they come into question.

    Args:
        song: that is followed.
        metre: if it was given.
        moving: that reading.
    """
    even = _even(song, metre, moving.beat)
    yield even
    even = _light(even)
    if even.value - moving.value < NEAR_CLUSTER * len(song.struck.time_s):
        yield song.reading(moving.beat.metre, SUPPLE)
    if even.beat.fit >= moving.beat.fit - HOPELESS:
        yield from _nearly_even(song, even)


def _even(song: _Song, metre: SongMetre | None, moving: FreeBeat) -> _Reading:
    """Even playing, in the metre that a tempo that moves was counted in, or its own where it comes into question.

    To try every metre takes as long as all the rest, and from every tempo longer.

    Args:
        song: that is followed.
        metre: if it was given.
        moving: the other reading.
    """
    even = song.reading(metre or moving.metre, EVEN)
    if metre or song.tempo is None or not song.tempo.trusted or even.beat.fit < moving.fit - HOPELESS:
        return even
    own = likeliest_metre(*song, EVEN)
    return even if own == moving.metre else song.reading(own, EVEN)


def _nearly_even(song: _Song, even: _Reading) -> Iterator[_Reading]:
    """Readings of even playing but for changes of tempo, and for stops; those that do not show win nothing.

    Args:
        song: that is followed.
        even: the reading without either.
    """
    way = song.way(even.beat)
    for laws, shows in ((CHANGING, change_shows), (HALTING, stops_show)):
        reading = song.reading(even.beat.metre, laws)
        shown = shows(song.way(reading.beat), way)
        yield reading if shown else reading._replace(value=min(reading.value, even.value))


def _nearly_as_likely(best: _Reading, others: Sequence[_Reading]) -> Floats | None:
    """Shape (c,): how far off the likeliest of other readings that count otherwise is, if it is near enough.

    Args:
        best: the likeliest.
        others: the rest.
    """
    for other in sorted(others, key=_value, reverse=True):
        both = {best.beat.laws, other.beat.laws}
        near = NEAR if both <= {*CLEAR, HALTING} else NEAR_CLUSTER * len(best.beat.unit)
        if both == CLEAR or best.value - other.value >= near:
            continue
        apart = other.beat.hole_quarters - best.beat.hole_quarters
        if (sure_beside(apart) < 1).any():
            return apart
    return None


def _light(reading: _Reading) -> _Reading:
    """The same without what its search kept, of which several would fill the memory."""
    return reading._replace(beat=without_trace(reading.beat))


def _value(reading: _Reading) -> float:
    return reading.value

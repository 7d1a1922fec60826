"""Whether a player who plays evenly stopped now and then, and the beat went on from there.

Stops are not looked for from the first: who never stops is followed less well so, for a long note can always be taken
for a shorter one and a stop, to please the bars.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from pegwright.frozen import frozen
from pegwright.played.bar_laws import HALTING
from pegwright.played.bar_search import given_to_search
from pegwright.played.free_beat import FreeBeat, Tempo, free_beat, song_bar, start_at
from pegwright.played.one_way import OneWay, follow_way
from pegwright.played.struck import Struck

# By how much, in log likelihood of the whole, stops have to make even playing likelier; less in proportion in songs of
# fewer clusters than these, where chance has less room; and between what bounds either may be right.
STOPS, FEW = 12.0, 100
DOUBTED = 1.0, 22.0
STOP_S = 0.03  # from which a late note counts as one
SOON = 2, 16  # clusters before and after a stop within which it has to be likelier already


@frozen(eq=False)
class WithStops:
    """Even playing with stops beside even playing without.

    Args:
        beat: with stops.
        likelier: whether that is likelier by enough to be taken.
        doubted: whether either may be right.
    """

    beat: FreeBeat
    likelier: bool
    doubted: bool


def with_stops(places: tuple[Fraction, ...], struck: Struck, tempo: Tempo | None, even: FreeBeat) -> WithStops:
    """Follow even playing once more, by a player who may stop.

    A stop shows at once: without it the next notes lie on odd places. What only the bars of all the rest speak for is
    a beat more or less in the music itself.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        tempo: at the start; None where nothing is known.
        even: without stops.
    """
    beat = free_beat(places, struck, tempo, even.metre, HALTING)
    gain = (beat.fit - even.fit) * len(struck.time_s)
    likelier = (
        gain > STOPS * min(1.0, len(struck.time_s) / FEW)
        and _soon_likelier(_way(places, struck, beat), _way(places, struck, even)) > 0
    )
    return WithStops(beat, likelier, DOUBTED[0] < gain < DOUBTED[1])


def _way(places: tuple[Fraction, ...], struck: Struck, beat: FreeBeat) -> OneWay:
    given = given_to_search(song_bar(places, beat.metre), struck, beat.laws)
    return follow_way(given, start_at(beat, int(beat.unit[0]), float(beat.quarter_s[0])), beat.unit)


def _soon_likelier(halting: OneWay, even: OneWay) -> float:
    """By how much the notes about the stops are likelier with them, a logarithm.

    Args:
        halting: the way with stops.
        even: that without.
    """
    ahead = np.diff(halting.so_far - even.so_far, prepend=0.0)
    near = np.zeros(len(ahead), dtype=np.bool_)
    for stop in np.flatnonzero(halting.waited_s > STOP_S).tolist():
        near[max(stop - SOON[0], 0) : stop + SOON[1]] = True
    return float(ahead[near].sum())

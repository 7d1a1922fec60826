"""The beat settled by the whole song: of many ways through it the one that is likeliest as a whole, and how sure it is.

Ways are drawn from the search from the first note and from that from the last; parts of them that meet on one place of
the bar are put together, for a player who misleads the search at the end of one phrase misleads each way at another.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

import numpy as np

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.frozen import frozen
from pegwright.played.backwards import followed_backwards
from pegwright.played.bar_fronts import Given, Start
from pegwright.played.bar_laws import EVEN
from pegwright.played.bar_search import given_to_search
from pegwright.played.doubts import Doubts, OtherWays
from pegwright.played.drawn_ways import ways_drawn
from pegwright.played.free_beat import FreeBeat, by_way, song_bar, start_at
from pegwright.played.note_values import OTHER_TEMPI
from pegwright.played.one_way import OneWay, follow_way
from pegwright.played.struck import Struck

WAYS_TRIED = 25  # of those drawn from either end
OTHERS, JOINED, ROUNDS = 12, 12, 2  # ways of which parts are joined to the likeliest, how many of these, and how often
LEAST_GAIN = -5.0  # logarithm of how much likelier a joined way has to look; its habits and rhythms may be others
WEIGHT = 8.0  # difference of logarithms at which a way counts e times less
FIRST_QUARTERS = 4  # of a way, which show its tempo


@frozen(eq=False)
class Settled:
    """The beat by the way that is likeliest as a whole.

    Args:
        beat: along that way.
        doubts: about it.
    """

    beat: FreeBeat
    doubts: Doubts


def settled(places: tuple[Fraction, ...], struck: Struck, beat: FreeBeat) -> Settled:
    """The beat by the way that is likeliest as a whole, of those drawn from either end.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        beat: as followed from the first.
    """
    bar = song_bar(places, beat.metre)
    from_end = followed_backwards(bar, struck, beat.ratio * beat.quarter_s, beat.laws)
    drawn = tuple(at_tempo(ways, beat.unit, bar.bar_units) for ways in (ways_drawn(beat.trace), from_end))
    given = given_to_search(bar, struck, beat.laws)
    tried = _tried(given, beat, drawn)
    best = joined(given, tried)
    return Settled(by_way(places, beat, best.unit, best.quarter_s), _doubts(best, tried, drawn, given, beat.ratio))


def at_tempo(ways: Ints, unit: Ints, bar_units: int) -> Ints:
    """The same ways, those that count twice or half as fast as another, or one and a half times, in its note values.

    Most of them are from the end, where nothing holds them to the tempo at the start.

    Args:
        ways: shape (c, w), units of each.
        unit: shape (c,), of the other.
        bar_units: length of a bar.
    """
    step, of_way = np.diff(unit), np.diff(ways, axis=0)
    moves = step > 0
    if not moves.any():
        return ways
    usual = np.median(of_way[moves] / step[moves, None], axis=0)
    ratio = np.ones(len(usual))
    for each in map(float, OTHER_TEMPI):
        ratio[np.isclose(usual, each)] = each
    begins = ways[0] % bar_units
    same: Ints = np.rint(begins + (ways - ways[0]) / ratio).astype(np.int64)
    return np.where(ratio == 1.0, ways, same)


def _doubts(best: OneWay, tried: Sequence[OneWay], drawn: Sequence[Ints], given: Given, ratio: float) -> Doubts:
    """What is in doubt about a way.

    Args:
        best: the way.
        tried: others, and it.
        drawn: shape (c, w), units of ways from either end.
        given: to the search.
        ratio: quarters as written for each that was counted.
    """
    likely = np.exp((np.array([way.score for way in tried]) - best.score) / WEIGHT)
    return Doubts(
        given.struck.which,
        tuple(_beside(best, ways, np.ones(ways.shape[1])) for ways in drawn),
        _beside(best, np.stack([way.unit for way in tried], axis=1), likely),
        given.laws != EVEN,
        Fraction(ratio) / given.places.resolution,
    )


def _beside(best: OneWay, units: Ints, weight: Floats) -> OtherWays:
    """Ways beside another.

    Args:
        best: the other.
        units: shape (c, w), of each.
        weight: shape (w,), of each.
    """
    return OtherWays(frozen_ints(units - best.unit[:, None]), frozen_floats(weight))


def _tried(given: Given, beat: FreeBeat, drawn: Sequence[Ints]) -> list[OneWay]:
    """The likeliest way by the search, and some of those drawn; each but once.

    Args:
        given: to the search.
        beat: as followed from the first.
        drawn: shape (c, w), units of ways from either end.
    """
    bar = given.places
    firsts = [unit % bar.bar_units for unit in beat.metre.first_units(bar.resolution)]
    tried: list[OneWay] = []
    seen: set[bytes] = set()
    for unit in [beat.unit, *(way for ways in drawn for way in ways.T[:WAYS_TRIED])]:
        own = unit - unit[0] // bar.bar_units * bar.bar_units
        if not firsts and beat.tempo and (own[0] - beat.unit[0]) % bar.resolution:
            continue
        if (firsts and own[0] not in firsts) or own.tobytes() in seen:
            continue
        seen.add(own.tobytes())
        start = start_at(beat, int(own[0]), _first_quarter_s(given, own))
        tried.append(follow_way(given, start, own, max(tried, key=_score, default=None)))
    return tried


def _score(way: OneWay) -> float:
    return way.score


def _first_quarter_s(given: Given, unit: Ints) -> float:
    """Seconds a quarter in the first quarters of a way.

    Args:
        given: to the search.
        unit: shape (c,), of the way.
    """
    last = min(int(np.searchsorted(unit, unit[0] + FIRST_QUARTERS * given.places.resolution)), len(unit) - 1)
    quarters = max(unit[last] - unit[0], 1) / given.places.resolution
    return float((given.struck.time_s[last] - given.struck.time_s[0]) / quarters)


class _Joined(NamedTuple):
    """A way put together of two: logarithm of how much likelier it looks than the likeliest, and where it begins."""

    gain: float
    start: Start
    unit: Ints


def joined(given: Given, ways: Sequence[OneWay]) -> OneWay:
    """The likeliest of some ways, or one that is put together of parts of them and likelier as a whole.

    Args:
        given: to the search that they come from.
        ways: through the same song.
    """
    best = max(ways, key=_score)
    others = sorted(ways, key=_score, reverse=True)[:OTHERS]
    seen = {way.unit.tobytes() for way in ways}
    for _ in range(ROUNDS):
        better = best
        some = [each for other in others for each in _put_together(best, other, given.places.bar_units)]
        for each in sorted(some, key=lambda each: -each.gain)[:JOINED]:
            if each.unit.tobytes() not in seen:
                seen.add(each.unit.tobytes())
                better = max(better, follow_way(given, each.start, each.unit, better), key=_score)
        if better is best:
            break
        best = better
    return best


def _put_together(best: OneWay, other: OneWay, bar_units: int) -> Iterator[_Joined]:
    """Each way that goes from one to the other, or the reverse, where both come to the same place of the bar.

    Args:
        best: the likeliest way.
        other: another.
        bar_units: length of a bar.
    """
    apart, ahead = best.unit - other.unit, best.so_far - other.so_far
    meet = (apart[1:] % bar_units == 0) & (apart[1:] != apart[:-1])
    for at in np.flatnonzero(meet) + 1:
        if ahead[at] - ahead[-1] > LEAST_GAIN:
            unit = np.concatenate([best.unit[:at], other.unit[at:] + apart[at]])
            yield _Joined(float(ahead[at] - ahead[-1]), best.start, unit)
        if -ahead[at] > LEAST_GAIN:
            unit = np.concatenate([other.unit[:at], best.unit[at:] - apart[at]])
            yield _Joined(float(-ahead[at]), other.start, unit)

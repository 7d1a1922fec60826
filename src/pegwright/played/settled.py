"""The beat settled by the whole song: of many ways through it the one that is likeliest as a whole, and how sure it is.

Ways are drawn from the search from the first note and from that from the last; parts of them that meet on one place of
the bar are put together, for a player who misleads the search at the end of one phrase misleads each way at another.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.alternatives import Alternative, of_ways
from pegwright.played.backwards import followed_backwards
from pegwright.played.bar_fronts import Given, Start
from pegwright.played.bar_laws import EVEN
from pegwright.played.bar_search import given_to_search
from pegwright.played.drawn_ways import share_alike, ways_drawn
from pegwright.played.free_beat import FreeBeat, by_way, song_bar, start_at
from pegwright.played.one_way import OneWay, follow_way
from pegwright.played.struck import Struck

WAYS_TRIED = 25  # of those drawn from either end
OTHERS, JOINED, ROUNDS = 12, 12, 2  # ways of which parts are joined to the likeliest, how many of these, and how often
LEAST_GAIN = -5.0  # logarithm of how much likelier a joined way has to look; its habits and rhythms may be others
OF_TRIED = 0.5  # what ways that were followed by themselves count together, beside all that were drawn
WEIGHT = 8.0  # difference of logarithms at which a way counts e times less
FIRST_QUARTERS = 4  # of a way, which show its tempo
ABOUT = 64  # clusters on either side: where much is in doubt, no note is sure


@frozen(eq=False)
class Settled:
    """The beat by the way that is likeliest as a whole.

    Args:
        beat: along that way.
        sure: shape (c,), 0..1, how sure each place is: how many of the ways drawn agree with it, and how likely those
            are.
        parted: places at which ways that disagree part from it, in quarters as written.
    """

    beat: FreeBeat
    sure: Floats
    parted: tuple[Alternative, ...]


def settled(places: tuple[Fraction, ...], struck: Struck, beat: FreeBeat) -> Settled:
    """The beat by the way that is likeliest as a whole, of those drawn from either end.

    Args:
        places: where holes lie in a quarter.
        struck: the onsets.
        beat: as followed from the first.
    """
    bar = song_bar(places, beat.metre)
    drawn = ways_drawn(beat.trace), followed_backwards(bar, struck, beat.ratio * beat.quarter_s, beat.laws)
    given = given_to_search(bar, struck, beat.laws)
    tried = _tried(given, beat, drawn)
    best = joined(given, tried)
    sure = _how_sure(best, tried, drawn, given)
    return Settled(
        by_way(places, beat, best.unit, best.quarter_s), sure, _parted(best, tried, drawn, given, beat.ratio)
    )


def _parted(
    best: OneWay, tried: Sequence[OneWay], drawn: Sequence[Ints], given: Given, ratio: float
) -> tuple[Alternative, ...]:
    """The places at which others part from a way: half by how likely those are as a whole, half by how often drawn.

    Args:
        best: the way.
        tried: others, and it.
        drawn: shape (c, w), units of ways from either end.
        given: to the search.
        ratio: quarters as written for each that was counted.
    """
    others = [way for way in tried if way is not best]
    likely = np.array([math.exp((way.score - best.score) / WEIGHT) for way in others])
    ways = [(way.unit, share) for way, share in zip(others, OF_TRIED * likely / (1 + likely.sum()), strict=True)]
    for from_end in drawn:
        ways += [(way, (1 - OF_TRIED) / len(drawn) / from_end.shape[1]) for way in from_end.T]
    places = of_ways(best.unit, ways, given.places.resolution)
    return tuple(replace(each, quarters=each.quarters * Fraction(ratio)) for each in places)


def _how_sure(best: OneWay, tried: Sequence[OneWay], drawn: Sequence[Ints], given: Given) -> Floats:
    """Shape (c,), 0..1: how sure each place of a way is.

    Where the tempo moves, how likely ways are as a whole counts as much as how often they are drawn. Of even playing
    fewer of the wrong notes would be in doubt by that.

    Args:
        best: the way.
        tried: others, and it.
        drawn: shape (c, w), units of ways from either end.
        given: to the search.
    """
    resolution = given.places.resolution
    quarters = best.unit / resolution
    sure: Floats = np.mean([share_alike(quarters, ways / resolution) for ways in drawn], axis=0)
    if given.laws != EVEN:
        score = np.array([way.score for way in tried])
        ways = np.stack([way.unit for way in tried], axis=1) / resolution
        sure = np.sqrt(sure * share_alike(quarters, ways, np.exp((score - score.max()) / WEIGHT)))
    return sure * np.sqrt(mean_about(sure, ABOUT))


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

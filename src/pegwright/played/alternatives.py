"""Where other readings of the beat part from the one chosen, and by how much all notes lie elsewhere from there on."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints, firsts
from pegwright.frozen import frozen

PARTS = 12  # of a quarter: two readings differ by sixteenths, thirds, or sums of these
FURTHEST_QUARTERS = 2  # beyond which a reading has lost count
AROUND = 4  # clusters on either side over which single ones are evened out
UNSURE = 0.75  # mean confidence from which on a stretch is sure

STEADY_CLUSTERS = 8  # of onsets that a reading has as far from another, before it counts as parted from it
NEAR_CLUSTERS = 4  # ways that part so near each other, by the same amount, part at one place
LEAST_CHANCE = 0.03  # of a place at which ways part, before it is reported
MOST_QUARTERS = 4  # by which they part
MOST_PLACES = 8  # that are reported of a song, the likeliest


@frozen()
class Alternative:
    """A place from which on another reading of the beat puts all notes elsewhere, as far as the two differ there.

    Args:
        note: number of the first note, in order of time.
        quarters: by how much the notes from there on lie later than in the reading chosen; negative is earlier.
    """

    note: int
    quarters: Fraction


def of_reading(apart_quarters: Floats, confidence: Floats) -> tuple[Alternative, ...]:
    """The places where another reading, which ran beside the one chosen, begins to do so at another distance.

    Args:
        apart_quarters: shape (c,), by how much later it puts each cluster of onsets.
        confidence: shape (c,), 0..1, of the reading chosen.

    Returns:
        Places, whose notes are numbers of clusters.
    """
    if len(apart_quarters) < STEADY_CLUSTERS:
        return ()
    each = np.round(apart_quarters * PARTS).astype(np.int64)
    apart = np.round(_evened(apart_quarters) * PARTS).astype(np.int64)
    turns = []
    for before, after in pairwise(_steady(apart)):
        parts = int(apart[after[0]] - apart[before[0]])
        unsure = min(float(confidence[slice(*run)].mean()) for run in (before, after)) < UNSURE
        if parts and abs(parts) <= FURTHEST_QUARTERS * PARTS and unsure and _usual(Fraction(parts, PARTS)):
            turns.append(Alternative(_turn(each, apart, before, after), Fraction(parts, PARTS)))
    return tuple(turns)


def of_ways(ways: Iterable[tuple[Ints, float]], unit_quarters: Fraction) -> tuple[Alternative, ...]:
    """The places where other ways through a song part from the one chosen, in the order of the song.

    A chance is that of all ways together that part from it there by as much.

    Args:
        ways: others: shape (c,), by how many units each has each cluster of onsets later, and the chance of each.
        unit_quarters: quarters that a unit lasts.

    Returns:
        Places, whose notes are numbers of clusters.
    """
    parted: dict[int, list[tuple[float, int]]] = {}
    for apart, likely in ways:
        if (apart == apart[0]).all():
            continue
        for before, after in pairwise(_steady(apart)):
            units = int(apart[after[0]] - apart[before[0]])
            if units and abs(units) * unit_quarters <= MOST_QUARTERS and _usual(units * unit_quarters):
                parted.setdefault(units, []).append((likely, after[0]))
    places = [(*place, units) for units, those in parted.items() for place in _together(those)]
    likeliest = sorted((place for place in places if place[0] >= LEAST_CHANCE), reverse=True)[:MOST_PLACES]
    return tuple(Alternative(at, units * unit_quarters) for _, at, units in sorted(likeliest, key=_place))


def _usual(quarters: Fraction) -> bool:
    """Whether readings differ by whole sixteenths or thirds of a quarter; nobody can hear by what else they do."""
    return 4 % quarters.denominator == 0 or 3 % quarters.denominator == 0


def _place(parted: tuple[float, int, int]) -> tuple[int, int]:
    return parted[1:]


def _together(parted: list[tuple[float, int]]) -> list[tuple[float, int]]:
    """The places at which ways part by one amount, those near each other taken together: chances and clusters.

    Args:
        parted: the same of each way.
    """
    by_place: dict[int, float] = {}
    for likely, at in parted:
        by_place[at] = by_place.get(at, 0.0) + likely
    places: dict[int, float] = {}
    for at in sorted(by_place, key=lambda at: (-by_place[at], at)):
        near = next((place for place in places if abs(place - at) <= NEAR_CLUSTERS), at)
        places[near] = places.get(near, 0.0) + by_place[at]
    return [(likely, at) for at, likely in places.items()]


def _steady(apart: Ints) -> list[tuple[int, int]]:
    """The first and the one past the last of each run of equal distances that is long enough; shape (c,)."""
    first = np.flatnonzero(firsts(apart))
    past = np.append(first[1:], len(apart))
    long = past - first >= STEADY_CLUSTERS
    return list(zip(first[long].tolist(), past[long].tolist(), strict=True))


def _turn(each: Ints, apart: Ints, before: tuple[int, int], after: tuple[int, int]) -> int:
    """The first cluster at the new distance: medians may have it some early or late.

    Args:
        each: shape (c,), distances of clusters.
        apart: the same, evened out.
        before: first of the clusters at the old distance, and the one past the last.
        after: the same at the new one.
    """
    turns = range(max(before[0], before[1] - AROUND), min(after[1], after[0] + AROUND) + 1)
    old, new = each == apart[before[0]], each == apart[after[0]]
    return max(turns, key=lambda turn: int(old[turns[0] : turn].sum() + new[turn : turns[-1]].sum()))


def _evened(values: Floats) -> NDArray[np.float64]:
    """The median of each value and its neighbours."""
    padded = np.pad(np.array(values), AROUND, mode="edge")
    medians: NDArray[np.float64] = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * AROUND + 1), axis=1)
    return medians

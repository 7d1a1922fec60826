"""Which clusters of onsets are like earlier ones: the same melody, the same bass or the same chords about them.

What is played again mostly lies on the same place of the bar, the more surely the longer it goes on alike.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.played.compiled import compiled

WAYS = 3  # to be alike: the steps of the highest notes, those of the lowest, and all notes
LOOKED_AT, KEPT = 40, 14  # earlier clusters, for each way, the last first; and how many are kept, the likest
LONGEST = 12  # clusters before and after that are compared
POWER = 1.5  # of how many are alike in the weight


class Outline(NamedTuple):
    """What is compared of clusters; columns have shape (c,).

    Args:
        highest, lowest: pitches.
        chord: equal where all pitches are.
    """

    highest: Ints
    lowest: Ints
    chord: Ints


def outline_of(which: Ints, pitch: Ints) -> Outline:
    """The outline of clusters.

    Args:
        which: shape (n,), the cluster of each note, rising.
        pitch: shape (n,).
    """
    count = int(which[-1]) + 1
    highest, lowest = np.full(count, pitch.min()), np.full(count, pitch.max())
    np.maximum.at(highest, which, pitch)
    np.minimum.at(lowest, which, pitch)
    pitches: list[set[int]] = [set() for _ in range(count)]
    for cluster, each in zip(which.tolist(), pitch.tolist(), strict=True):
        pitches[cluster].add(each)
    numbers: dict[frozenset[int], int] = {}
    chord = np.array([numbers.setdefault(frozenset(each), len(numbers)) for each in pitches])
    return Outline(highest, lowest, chord)


def alike_before(outline: Outline, size: Ints) -> tuple[Ints, Ints, Floats]:
    """Earlier clusters like each.

    Args:
        outline: of the clusters.
        size: shape (c,), how many notes, if few.

    Returns:
        Shape (c + 1,), where those of each cluster begin in the next two; shape (n,), earlier clusters; shape (n,),
        weights, the larger the longer both go on alike.
    """
    highest, lowest, chord = outline
    count = len(highest)
    if count < WAYS:
        return np.zeros(count + 1, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros(0)
    up, bass = np.diff(highest), np.diff(lowest)
    melody = np.stack([up[:-1], up[1:], size[1:-1]])
    under = np.stack([bass[:-1], bass[1:], size[1:-1]])
    chords = np.stack([chord[:-2], chord[1:-1]])
    last = np.full((WAYS, count), -1)
    for way, key in enumerate((melody, under, chords)):
        last[way, 1:-1] = _last_same(np.unique(key, axis=1, return_inverse=True)[1].ravel())
    return _likest(last, np.append(up, 0), np.append(bass, 0), chord)


def _last_same(key: Ints) -> Ints:
    """Shape (n,): number of the cluster before each that has the same key, counted from the second; or -1."""
    order = np.argsort(key, kind="stable")
    last = np.full(len(key), -1)
    again = np.diff(key[order]) == 0
    last[order[1:][again]] = order[:-1][again] + 1
    return last


@compiled
def _likest(last: Ints, up: Ints, bass: Ints, chord: Ints) -> tuple[Ints, Ints, Floats]:
    """The likest of those that the chains of the last ones lead to; see `alike_before`."""
    count = len(up)
    first, which, weight = np.zeros(count + 1, np.int64), np.zeros(KEPT * count, np.int64), np.zeros(KEPT * count)
    some, run = np.zeros(WAYS * LOOKED_AT, np.int64), np.zeros(WAYS * LOOKED_AT, np.int64)
    total = 0
    for cluster in range(count):
        number = 0
        for way in range(WAYS):
            other, looked_at = last[way, cluster], 0
            while other >= 0 and looked_at < LOOKED_AT:
                if not (some[:number] == other).any():
                    some[number] = other
                    run[number] = _run(up, bass, chord, other, cluster)
                    number += 1
                other, looked_at = last[way, other], looked_at + 1
        for index in np.argsort(-run[:number] * count - some[:number])[:KEPT]:
            which[total], weight[total] = some[index], (run[index] / 2) ** POWER
            total += 1
        first[cluster + 1] = total
    return first, which[:total], weight[:total]


@compiled
def _run(up: Ints, bass: Ints, chord: Ints, earlier: int, later: int) -> int:
    """For how many clusters both go on alike, before and after, by whichever way is the longest.

    Args:
        up: shape (c,), steps of the highest notes to the next cluster.
        bass: the same of the lowest.
        chord: shape (c,), equal where all notes are.
        earlier: a cluster.
        later: another.
    """
    melody = _same_before(up, earlier - 1, later - 1) + _same_after(up, earlier, later)
    under = _same_before(bass, earlier - 1, later - 1) + _same_after(bass, earlier, later)
    chords = 0
    if chord[earlier] == chord[later]:
        chords = _same_before(chord, earlier - 1, later - 1) + _same_after(chord, earlier + 1, later + 1)
    return max(melody, under, chords)


@compiled
def _same_before(values: Ints, earlier: int, later: int) -> int:
    same = 0
    while same < LONGEST and earlier >= same and values[earlier - same] == values[later - same]:
        same += 1
    return same


@compiled
def _same_after(values: Ints, earlier: int, later: int) -> int:
    same = 0
    while same < LONGEST and later + same < len(values) - 1 and values[earlier + same] == values[later + same]:
        same += 1
    return same

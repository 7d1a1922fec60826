"""What was struck: onsets that belong together, how strong each looks, and which of them are alike.

Many notes at once, low, loud and long notes are likelier on strong places of a bar, and so are new harmonies and the
lowest notes about; and what is like something struck before is likelier on the same place of a bar or beat.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.alike import Outline, alike_before, outline_of
from pegwright.played.chords import clusters

BEFORE_S, AFTER_S = 1.0, 0.6  # over which harmonies are compared,
ABOUT_S = 1.2  # and on either side of which a note is the lowest about
USUALLY_LOWEST = 0.2  # share of clusters that are
CHORD_GAP_S = 0.05
MANY, LOW, LOUD, LONG, HELD = 0.2, 0.54, 0.25, 0.45, 0.38  # weights, set on the pieces for building
NEW_HARMONY, LOWEST = 0.22, 0.19  # likewise
CLASSES = 12  # of pitches
OCTAVE, LOUDER = 12.0, 12.0  # semitones and velocities that count as one
NEIGHBOURS = 9  # clusters among which each is compared
LOW_MARK = 0.35  # from which a cluster counts as a bass
MOST_NOTES = 3  # more notes at once are no kind of their own
KINDS = 2 * MOST_NOTES  # by the number of notes, and whether they are low
MIN_LASTS_S = 0.03


class Struck(NamedTuple):
    """Clusters of onsets; columns have shape (c,). A named tuple, which compiled functions can read.

    Args:
        which: shape (n,), the cluster of each onset.
        time_s: mean time.
        weight: how much each looks like a strong beat.
        mark: which of KINDS it is, by the number of notes, and whether they are low.
        usual: the share of earlier ones that have the same mark.
        outline: what is compared of them.
        first_alike: shape (c + 1,), where the earlier clusters that are like each begin in the next two.
        alike: shape (m,), such clusters.
        likeness: shape (m,), how like they are.
    """

    which: Ints
    time_s: Floats
    weight: Floats
    mark: Ints
    usual: Floats
    outline: Outline
    first_alike: Ints
    alike: Ints
    likeness: Floats


@frozen(eq=False)
class StruckNotes:
    """Notes in order of time; columns have shape (n,).

    Args:
        time_s: onsets, rising.
        voice: equal for notes that cannot be struck together.
        pitch: 0 where it says nothing of a bass.
        velocity: 1 to 127.
        lasts: until released, in any unit.
    """

    time_s: Floats
    voice: Ints
    pitch: Ints
    velocity: Ints
    lasts: Floats


def struck_by(notes: StruckNotes) -> Struck:
    """Clusters of onsets, and what each looks like among those about it.

    Args:
        notes: in order of time.
    """
    which = clusters(notes.time_s, notes.voice, CHORD_GAP_S)
    count = np.bincount(which)
    time_s = np.bincount(which, notes.time_s) / count
    many, outline = np.log(count), outline_of(which, notes.pitch)
    lowest = outline.lowest.astype(np.float64)
    low = np.clip(-_beside(lowest) / OCTAVE, -1.0, 1.0)
    loud = np.clip(_beside(_highest(which, notes.velocity)) / LOUDER, -2.0, 2.0)
    gap = np.log(np.maximum(np.append(np.diff(time_s), 0.5), MIN_LASTS_S))
    held = np.log(np.maximum(_highest(which, notes.lasts), MIN_LASTS_S))
    long = LONG * np.clip(_beside(gap), -1.0, 1.0) + HELD * np.clip(_beside(held), -1.0, 1.0)
    weight = MANY * (many - many.mean()) + LOW * low + LOUD * loud + long
    weight += NEW_HARMONY * _beside(_newness(which, notes.pitch, time_s))
    weight += LOWEST * (_lowest_about(lowest, time_s) - USUALLY_LOWEST)
    mark = 2 * np.minimum(count, MOST_NOTES) - 2 + (low > LOW_MARK)
    return _compared(which, time_s, _Looks(weight, mark, outline))


@frozen(eq=False)
class _Looks:
    """Clusters before they are compared; columns as in `Struck`."""

    weight: Floats
    mark: Ints
    outline: Outline


def _compared(which: Ints, time_s: Floats, looks: _Looks) -> Struck:
    """The clusters, each compared with those before it.

    Args:
        which: cluster of each onset.
        time_s: mean time of each cluster.
        looks: of the clusters.
    """
    mark, same = looks.mark, np.zeros(len(looks.mark), dtype=np.int64)
    for kind in range(KINDS):
        same += np.where(mark == kind, np.cumsum(mark == kind) - 1, 0)
    first_alike, alike, likeness = alike_before(looks.outline, mark // 2)
    return Struck(
        which=which,
        time_s=time_s,
        weight=looks.weight,
        mark=mark,
        usual=(same + 1) / (np.arange(len(same)) + KINDS),
        outline=looks.outline,
        first_alike=first_alike,
        alike=alike,
        likeness=likeness,
    )


def _highest(which: Ints, values: Floats | Ints) -> Floats:
    highest: Floats = np.zeros(int(which[-1]) + 1)
    np.maximum.at(highest, which, values)
    return highest


def _beside(values: Floats) -> Floats:
    """Each value less the mean of its neighbours."""
    if len(values) < NEIGHBOURS:
        mean_of_all: Floats = values - values.mean()
        return mean_of_all
    even = np.ones(NEIGHBOURS)
    mean = np.convolve(values, even, mode="same") / np.convolve(np.ones(len(values)), even, mode="same")
    beside: Floats = values - mean
    return beside


def _newness(which: Ints, pitch: Ints, time_s: Floats) -> Floats:
    """Shape (c,), 0..1: how far the pitch classes from each cluster on differ from those before it, by their cosine."""
    classes = np.zeros((len(time_s), CLASSES))
    np.add.at(classes, (which, pitch % CLASSES), 1.0)
    total = np.concatenate([np.zeros((1, CLASSES)), np.cumsum(classes, axis=0)])
    at = np.arange(len(time_s))
    before = total[at] - total[np.searchsorted(time_s, time_s - BEFORE_S)]
    after = total[np.searchsorted(time_s, time_s + AFTER_S)] - total[at]
    length = np.sqrt((before**2).sum(axis=1) * (after**2).sum(axis=1))
    newness: Floats = 1 - (before * after).sum(axis=1) / np.maximum(length, 1.0)
    return newness


def _lowest_about(lowest: Floats, time_s: Floats) -> NDArray[np.bool_]:
    """Shape (c,): whether no cluster about reaches lower."""
    first, past = np.searchsorted(time_s, time_s - ABOUT_S), np.searchsorted(time_s, time_s + ABOUT_S, side="right")
    bounds = np.stack([first, past], axis=1).ravel()
    about = np.minimum.reduceat(np.append(lowest, np.inf), bounds)[::2]
    return lowest <= about


def turned_round(struck: Struck) -> Struck:
    """The same clusters, the last first; alike are those that come after."""
    looks = _Looks(
        weight=struck.weight[::-1].copy(),
        mark=struck.mark[::-1].copy(),
        outline=Outline(*(column[::-1].copy() for column in struck.outline)),
    )
    return _compared(len(struck.time_s) - 1 - struck.which[::-1], struck.time_s[-1] - struck.time_s[::-1], looks)


def first_clusters(struck: Struck, count: int) -> Struck:
    """The first few of what was struck.

    Args:
        struck: all of it.
        count: how many clusters.
    """
    return Struck(
        which=struck.which[struck.which < count],
        time_s=struck.time_s[:count],
        weight=struck.weight[:count],
        mark=struck.mark[:count],
        usual=struck.usual[:count],
        outline=Outline(*(column[:count] for column in struck.outline)),
        first_alike=struck.first_alike[: count + 1],
        alike=struck.alike,
        likeness=struck.likeness,
    )

"""Where the beats are given: what goes on alike mostly lies on the same place of its quarter, wherever it comes again.

A passage is played with other errors each time, so that together the times say more than any of them: once the song's
habits are learnt, each group of onsets hears where those like it seem to lie.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.played.alike import alike_before, outline_of
from pegwright.played.chords import clusters
from pegwright.played.model import TINY
from pegwright.played.struck import MOST_NOTES

CLUSTER_S = 0.03  # between notes of a cluster that is compared
WEIGHT = 0.75  # of what the others say, for they may be played with the same errors
ELSEWHERE = 0.2  # how often what is alike lies elsewhere


class Recurring(NamedTuple):
    """Which clusters are alike.

    Args:
        which: shape (c,), the cluster of each group of onsets.
        size: shape (k,), how many groups each cluster has.
        cluster, other: shape (m,), clusters that are alike; each pair both ways round.
        weight: shape (m,), the larger the longer both go on alike.
    """

    which: Ints
    size: Ints
    cluster: Ints
    other: Ints
    weight: Floats


def recurring(seconds: Floats, voice: Ints, pitch: Ints, group: Ints) -> Recurring:
    """Compare all clusters of a song.

    Args:
        seconds: shape (n,), rising.
        voice: shape (n,), equal for notes that cannot be struck together.
        pitch: shape (n,), in semitones; 0 where it is none, and the voice is compared in its place.
        group: shape (n,), the group of onsets that each is in.
    """
    note_cluster = clusters(seconds, voice, CLUSTER_S)
    size = np.minimum(np.bincount(note_cluster), MOST_NOTES)
    first, earlier, likeness = alike_before(outline_of(note_cluster, np.where(pitch > 0, pitch, voice)), size)
    later = np.repeat(np.arange(len(size)), np.diff(first))
    begins = np.flatnonzero(np.diff(group, prepend=-1))
    which = note_cluster[begins]
    return Recurring(
        which,
        np.bincount(which, minlength=len(size)),
        np.append(later, earlier),
        np.append(earlier, later),
        np.append(likeness, likeness),
    )


def said_by_alike(alike: Recurring, place: Ints, certainty: NDArray[np.float64], resolution: int) -> Floats:
    """Shape (c, s): how much likelier each state is for where those like its group lie, as a logarithm.

    Args:
        alike: the clusters.
        place: shape (c, s), of each state within its quarter, in units.
        certainty: shape (c, s), how probable each state is.
        resolution: units a quarter.
    """
    lies = np.zeros((len(alike.size), resolution))
    np.add.at(lies, (alike.which[:, None], place), certainty)
    lies /= np.maximum(alike.size, 1)[:, None]
    usual = lies.mean(axis=0) + TINY
    likelier = np.log1p((1 - ELSEWHERE) / ELSEWHERE * lies / usual) + np.log(ELSEWHERE)
    said, weight = np.zeros_like(lies), np.zeros(len(lies))
    np.add.at(said, alike.cluster, likelier[alike.other] * alike.weight[:, None])
    np.add.at(weight, alike.cluster, alike.weight)
    said *= WEIGHT / np.maximum(weight, TINY)[:, None] / np.maximum(alike.size, 1)[:, None]
    return np.take_along_axis(said[alike.which], place, axis=1)

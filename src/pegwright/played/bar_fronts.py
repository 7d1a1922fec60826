"""What a search through the bars holds: its hypotheses, their ways on, and what it kept on the way.

They are named tuples of arrays, which compiled functions can read and write.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.bar_habits import BarHabits, learn, looks_score, no_habits
from pegwright.played.bar_laws import BEAT_PARTS, QUARTER, Laws, begin
from pegwright.played.bar_places import BarPlaces, place_at
from pegwright.played.compiled import compiled_in_place
from pegwright.played.next_holes import HOLES
from pegwright.played.struck import Struck

CANDIDATES = 2  # ways that are looked at once more, for each hypothesis that may be kept
WAYS = HOLES + 1  # the last of which stays in the chord

Table = NDArray[np.float64]


@frozen()
class Start:
    """Where a search may begin: logarithm of its chance, unit of the first onset in its bar, tempo and its spread."""

    score: float
    unit: int
    quarter_s: float
    spread: float


class Given(NamedTuple):
    """What a search is about.

    Args:
        places: of the bar.
        struck: clusters of onsets.
        gap_s: shape (c,), since the cluster before.
        laws: of the player.
        kept: how many hypotheses may be.
        from_end: whether the onsets come in reverse order, so that a player waits after the next.
    """

    places: BarPlaces
    struck: Struck
    gap_s: Floats
    laws: Laws
    kept: int
    from_end: bool


class Front(NamedTuple):
    """Hypotheses after a cluster; the first axis is theirs.

    Args:
        score: logarithm of their likelihoods, the best being 0.
        unit: hole of the cluster.
        family: of places; -1 where it belongs to both.
        beat: shape (h, BEAT_PARTS).
        habits: learnt so far.
    """

    score: Floats
    unit: Ints
    family: Ints
    beat: Table
    habits: BarHabits


class WaysOn(NamedTuple):
    """Every way on from a front; three of shape (h, WAYS).

    Args:
        score: logarithm of the likelihood of the hypothesis after it.
        unit: hole that it leads to.
        how: it is played: USUAL, HELD or CHANGED.
        quarter_s: shape (h,), seconds a quarter, as expected.
        after: shape (BEAT_PARTS,), the beat after the way that was gone last.
    """

    score: Table
    unit: Ints
    how: NDArray[np.int8]
    quarter_s: Floats
    after: Floats


class Trace(NamedTuple):
    """What a search kept after each cluster; the first axis is that of clusters, the second of hypotheses or ways.

    Args:
        kept: shape (c,), how many hypotheses.
        unit: shape (c, h), the hole of each.
        quarter_s: shape (c, h), its tempo.
        parent: shape (c, h), the number of the hypothesis before it.
        edges: shape (c,), how many ways led to them.
        before: shape (c, w), the hypothesis from which each way led,
        after: shape (c, w), the one it led to,
        step: shape (c, w), units from the one hole to the other,
        score: shape (c, w), and logarithm of its likelihood.
        start: shape (h,), logarithm of the chance of each hypothesis at first.
    """

    kept: Ints
    unit: NDArray[np.int32]
    quarter_s: NDArray[np.float32]
    parent: NDArray[np.int16]
    edges: Ints
    before: NDArray[np.int16]
    after: NDArray[np.int16]
    step: NDArray[np.int32]
    score: NDArray[np.float32]
    start: Floats


def room_for_front(hypotheses: int, given: Given) -> Front:
    """Hypotheses of which nothing is known yet.

    Args:
        hypotheses: their number.
        given: to the search.
    """
    return Front(
        score=np.zeros(hypotheses),
        unit=np.zeros(hypotheses, dtype=np.int64),
        family=np.zeros(hypotheses, dtype=np.int64),
        beat=np.zeros((hypotheses, BEAT_PARTS)),
        habits=no_habits(hypotheses, len(given.gap_s), given.places),
    )


def first_front(hypotheses: int, given: Given, starts: Sequence[Start]) -> Front:
    """Hypotheses after the first cluster.

    Args:
        hypotheses: how many there is room for.
        given: to the search.
        starts: where it may begin.
    """
    front = room_for_front(hypotheses, given)
    front.score[: len(starts)] = [start.score for start in starts]
    front.unit[: len(starts)] = [start.unit for start in starts]
    tempi = np.array([(start.quarter_s, start.spread * start.quarter_s) for start in starts])
    _begin(given, front, tempi)
    return front


@compiled_in_place
def _begin(given: Given, front: Front, tempi: Table) -> None:
    """Begin with the beat of each hypothesis, and judge the place at which it has the first cluster.

    Args:
        given: to the search.
        front: hypotheses with their holes, to be filled.
        tempi: shape (h, 2), seconds a quarter and their standard deviations.
    """
    places, struck = given.places, given.struck
    for which in range(len(tempi)):
        unit = front.unit[which]
        begin(given.laws, front.beat[which], struck.time_s[0], tempi[which, 0], tempi[which, 1])
        front.family[which] = places.family[place_at(places, unit)]
        front.score[which] += looks_score(front.habits, which, struck, 0, unit, places)
        learn(front.habits, which, 0, struck.mark[0], unit, places)


def room_for_ways(hypotheses: int) -> WaysOn:
    """Ways on of which nothing is known yet, for a number of hypotheses."""
    shape = (hypotheses, WAYS)
    return WaysOn(
        score=np.zeros(shape),
        unit=np.zeros(shape, dtype=np.int64),
        how=np.zeros(shape, dtype=np.int8),
        quarter_s=np.zeros(hypotheses),
        after=np.zeros(BEAT_PARTS),
    )


def trace_from(front: Front, starts: int, given: Given) -> Trace:
    """Room for what a search keeps, and the hypotheses that it begins with.

    Args:
        front: the hypotheses.
        starts: their number.
        given: to the search.
    """
    clusters = len(given.gap_s)
    wide, many = (clusters, len(front.score)), (clusters, CANDIDATES * given.kept)
    trace = Trace(
        kept=np.zeros(clusters, dtype=np.int64),
        unit=np.zeros(wide, dtype=np.int32),
        quarter_s=np.zeros(wide, dtype=np.float32),
        parent=np.zeros(wide, dtype=np.int16),
        edges=np.zeros(clusters, dtype=np.int64),
        before=np.zeros(many, dtype=np.int16),
        after=np.zeros(many, dtype=np.int16),
        step=np.zeros(many, dtype=np.int32),
        score=np.zeros(many, dtype=np.float32),
        start=front.score[:starts].copy(),
    )
    trace.kept[0], trace.unit[0], trace.quarter_s[0] = starts, front.unit, front.beat[:, QUARTER]
    return trace

"""Ways drawn from all that a search kept, each as often as it is likely, and how many agree with a path.

Nothing here is left to chance: the numbers that they are drawn by are a fixed sequence, so the same song has the same
confidences every time.

Source: L. R. Rabiner, "A tutorial on hidden Markov models", Proc. IEEE 77 (1989), for forward sums; C. K. Carter and
R. Kohn, "On Gibbs sampling for state space models", Biometrika 81 (1994), for drawing ways from the last cluster to the
first; S. K. Park and K. W. Miller, "Random number generators: good ones are hard to find", Communications of the ACM 31
(1988), for the sequence; all from memory.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.played.bar_fronts import Table, Trace
from pegwright.played.compiled import compiled, compiled_in_place
from pegwright.played.model import TINY

WAYS_DRAWN = 100
MULTIPLIER, MODULUS = 48271, 2**31 - 1  # of the sequence


def ways_drawn(trace: Trace) -> Ints:
    """Shape (c, w): units at which each way drawn has each cluster.

    Args:
        trace: of a search.
    """
    return _drawn(trace, WAYS_DRAWN)


def share_alike(apart: Ints, weight: Floats) -> Floats:
    """Shape (c,), 0..1: on what share of some ways each cluster lies where a path has it.

    A way is compared with the path at the distance at which most clusters agree: a song counted from another beat
    throughout has the same rhythm, and that is no doubt about its notes.

    Args:
        apart: shape (c, w), by how many units each way has each cluster later, from anywhere.
        weight: shape (w,), of each way.
    """
    return _alike(apart.T.copy(), weight)


@compiled
def _alike(apart: Ints, weight: Floats) -> Floats:
    """Shape (c,): the share of ways on which each cluster is as far from the path as most are.

    Args:
        apart: shape (w, c), how far.
        weight: shape (w,), of each way.
    """
    same = np.zeros(apart.shape[1])
    for number, way in enumerate(apart):
        usual, most, count, last = 0, 0, 0, 0
        for distance in np.sort(way):
            count = count + 1 if count and distance == last else 1
            last = distance
            if count > most:
                usual, most = distance, count
        for cluster in range(len(way)):
            if way[cluster] == usual:
                same[cluster] += weight[number]
    share: Floats = same / weight.sum()
    return share


@compiled
def _drawn(trace: Trace, ways: int) -> Ints:
    """See `ways_drawn`.

    Args:
        trace: of a search.
        ways: how many.
    """
    left, last, number = _sums(trace), len(trace.kept) - 1, MULTIPLIER
    unit, which = np.zeros((last + 1, ways), np.int64), np.zeros(ways, np.int64)
    everywhere, weight = np.zeros(left.shape[1], np.int64), np.zeros(max(trace.edges.max(), 1))
    for way in range(ways):
        number = number * MULTIPLIER % MODULUS
        which[way] = _pick(left[last], everywhere, 0, number / MODULUS)
        unit[last, way] = trace.unit[last, which[way]]
    for cluster in range(last, 0, -1):
        edges = trace.edges[cluster]
        best = trace.score[cluster, :edges].max()
        for edge in range(edges):
            step = math.exp(trace.score[cluster, edge] - best)
            weight[edge] = step * left[cluster - 1, trace.before[cluster, edge]]
        for way in range(ways):
            number = number * MULTIPLIER % MODULUS
            edge = _pick(weight[:edges], trace.after[cluster, :edges], which[way], number / MODULUS)
            which[way] = trace.before[cluster, edge]
            unit[cluster - 1, way] = unit[cluster, way] - trace.step[cluster, edge]  # ways that meet may be bars apart
    return unit


@compiled
def _sums(trace: Trace) -> Table:
    """Shape (c, h): sums over all ways from the first cluster to each hypothesis, up to a factor a cluster."""
    count = len(trace.kept)
    left = np.zeros((count, trace.kept.max()))
    for which in range(trace.kept[0]):
        left[0, which] = math.exp(trace.start[which] - trace.start.max())
    for cluster in range(1, count):
        total, best = max(left[cluster - 1].sum(), TINY), trace.score[cluster, : trace.edges[cluster]].max()
        for edge in range(trace.edges[cluster]):
            weight = math.exp(trace.score[cluster, edge] - best) / total
            left[cluster, trace.after[cluster, edge]] += left[cluster - 1, trace.before[cluster, edge]] * weight
    return left


@compiled_in_place
def _pick(weight: Floats, leads_to: Ints | NDArray[np.int16], end: int, chance: float) -> int:
    """One of those that lead to an end, drawn by weights.

    Args:
        weight: shape (n,), of each.
        leads_to: shape (n,), the end of each.
        end: the one wanted.
        chance: 0..1.
    """
    total, best = 0.0, -1
    for which in range(len(weight)):
        if leads_to[which] == end:
            total += weight[which]
            if best < 0 or weight[which] > weight[best]:
                best = which
    rest = chance * total
    for which in range(len(weight)):
        if leads_to[which] == end:
            rest -= weight[which]
            if rest < 0:
                return which
    return best

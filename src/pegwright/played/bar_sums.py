"""How probable each place on the path is, by ways drawn at random from all that a search kept.

Source: L. R. Rabiner, "A tutorial on hidden Markov models", Proc. IEEE 77 (1989), for forward sums; C. K. Carter and
R. Kohn, "On Gibbs sampling for state space models", Biometrika 81 (1994), for drawing ways from the last cluster to the
first; both from memory.
"""

from __future__ import annotations

import math

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.played.bar_fronts import Table, Trace
from pegwright.played.compiled import compiled
from pegwright.played.model import TINY

TEMPER = 1.5  # power of each chance, by which certainties are calibrated: ways that were not kept are missing in sums
WAYS_DRAWN, SEED = 100, 1


def certainty_of_places(trace: Trace, path: Ints) -> Floats:
    """Shape (c,), 0..1: on what share of the ways drawn each cluster lies where the path has it.

    A way is compared with the path at the distance at which most clusters agree: a song counted from another beat
    throughout has the same rhythm, and that is no doubt about its notes.

    Args:
        trace: of a search.
        path: shape (c,), number of the hypothesis on the path at each cluster.
    """
    chance = np.random.default_rng(SEED).random((len(path), WAYS_DRAWN))
    apart = _drawn(trace, chance) - trace.unit[np.arange(len(path)), path][:, None]
    same = np.zeros(len(path))
    for way in apart.T:
        distance, count = np.unique(way, return_counts=True)
        same += way == distance[count.argmax()]
    return same / WAYS_DRAWN


@compiled
def _drawn(trace: Trace, chance: Table) -> Ints:
    """Shape (c, w): units at which ways drawn at random have each cluster.

    Args:
        trace: of a search.
        chance: shape (c, w), random numbers from 0 to 1.
    """
    count, ways = chance.shape
    left = _sums(trace)
    unit, which = np.zeros((count, ways), np.int64), np.zeros(ways, np.int64)
    for way in range(ways):
        which[way] = _pick(left[-1], chance[-1, way])
        unit[-1, way] = trace.unit[count - 1, which[way]]
    for cluster in range(count - 1, 0, -1):
        edges = trace.edges[cluster]
        best, weight = trace.score[cluster, :edges].max(), np.zeros(edges)
        for edge in range(edges):
            step = math.exp(TEMPER * (trace.score[cluster, edge] - best))
            weight[edge] = step * left[cluster - 1, trace.before[cluster, edge]]
        for way in range(ways):
            own = np.where(trace.after[cluster, :edges] == which[way], weight, 0.0)
            which[way] = trace.before[cluster, _pick(own, chance[cluster - 1, way])]
            unit[cluster - 1, way] = trace.unit[cluster - 1, which[way]]
    return unit


@compiled
def _sums(trace: Trace) -> Table:
    """Shape (c, h): sums over all ways from the first cluster to each hypothesis, up to a factor a cluster."""
    count = len(trace.kept)
    left = np.zeros((count, trace.kept.max()))
    for which in range(trace.kept[0]):
        left[0, which] = math.exp(TEMPER * (trace.start[which] - trace.start.max()))
    for cluster in range(1, count):
        total, best = max(left[cluster - 1].sum(), TINY), trace.score[cluster, : trace.edges[cluster]].max()
        for edge in range(trace.edges[cluster]):
            weight = math.exp(TEMPER * (trace.score[cluster, edge] - best)) / total
            left[cluster, trace.after[cluster, edge]] += left[cluster - 1, trace.before[cluster, edge]] * weight
    return left


@compiled
def _pick(weight: Floats, chance: float) -> int:
    """A number drawn by weights.

    Args:
        weight: shape (n,), of each.
        chance: 0..1, at random.
    """
    left = chance * weight.sum()
    for which in range(len(weight)):
        left -= weight[which]
        if left < 0:
            return which
    return int(weight.argmax())

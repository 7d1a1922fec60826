"""How probable each place on the path is, by sums over all the ways that a search kept.

Source: L. R. Rabiner, "A tutorial on hidden Markov models", Proc. IEEE 77 (1989), for forward and backward sums.
"""

from __future__ import annotations

import math

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.played.bar_fronts import Trace
from pegwright.played.compiled import compiled
from pegwright.played.model import TINY

TEMPER = 1.5  # power of each chance, by which certainties are calibrated: ways that were not kept are missing in sums


@compiled
def certainty_of_places(trace: Trace, path: Ints, bar_units: int) -> Floats:
    """Shape (c,): how probable the place of the path in the bar is at each cluster, given where in the bar it begins.

    A song counted from another beat throughout has the same rhythm: that is no doubt about its notes.

    Args:
        trace: of a search.
        path: shape (c,), number of the hypothesis on the path at each cluster.
        bar_units: units in a bar.
    """
    count = len(path)
    left = np.zeros((count, trace.kept.max()))
    begins = trace.unit[0, path[0]] % bar_units
    for which in range(trace.kept[0]):
        if trace.unit[0, which] % bar_units == begins:
            left[0, which] = math.exp(TEMPER * (trace.start[which] - trace.start.max()))
    for cluster in range(1, count):
        total, best = max(left[cluster - 1].sum(), TINY), trace.score[cluster, : trace.edges[cluster]].max()
        for edge in range(trace.edges[cluster]):
            weight = math.exp(TEMPER * (trace.score[cluster, edge] - best)) / total
            left[cluster, trace.after[cluster, edge]] += left[cluster - 1, trace.before[cluster, edge]] * weight
    right, certainty = np.ones(left.shape[1]), np.ones(count)
    for cluster in range(count - 1, -1, -1):
        place = trace.unit[cluster, path[cluster]] % bar_units
        same, total = 0.0, 0.0
        for which in range(trace.kept[cluster]):
            both = left[cluster, which] * right[which]
            total += both
            if trace.unit[cluster, which] % bar_units == place:
                same += both
        certainty[cluster] = same / max(total, TINY)
        if cluster:
            right = _before(trace, cluster, right)
    return certainty


@compiled
def _before(trace: Trace, cluster: int, right: Floats) -> Floats:
    """The sums from a cluster to the end, one cluster earlier."""
    earlier = np.zeros(len(right))
    best = trace.score[cluster, : trace.edges[cluster]].max()
    for edge in range(trace.edges[cluster]):
        weight = math.exp(TEMPER * (trace.score[cluster, edge] - best))
        earlier[trace.before[cluster, edge]] += weight * right[trace.after[cluster, edge]]
    total = max(earlier.sum(), TINY)
    for which in range(len(earlier)):
        earlier[which] /= total
    return earlier

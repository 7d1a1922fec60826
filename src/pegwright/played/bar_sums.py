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
    first = trace.unit[0, : trace.kept[0]] % bar_units == trace.unit[0, path[0]] % bar_units
    left[0, : trace.kept[0]] = np.where(first, np.exp(TEMPER * (trace.start - trace.start.max())), 0.0)
    for cluster in range(1, count):
        left[cluster - 1] /= max(left[cluster - 1].sum(), TINY)
        best = trace.score[cluster, : trace.edges[cluster]].max()
        for edge in range(trace.edges[cluster]):
            weight = math.exp(TEMPER * (trace.score[cluster, edge] - best))
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
    whole: Floats = earlier / max(earlier.sum(), TINY)
    return whole

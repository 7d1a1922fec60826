"""How probable each place on the path is, by sums over all the ways that a search kept.

Source: L. R. Rabiner, "A tutorial on hidden Markov models", Proc. IEEE 77 (1989), for forward and backward sums.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.model import TINY

TEMPER = 1.5  # power of each chance, by which certainties are calibrated: ways that were not kept are missing in sums


@frozen(eq=False)
class Edges:
    """Ways from the hypotheses after one onset to those after the next; columns of one length.

    Args:
        before, after: numbers of the hypotheses.
        score: logarithm of the likelihood of each.
    """

    before: NDArray[np.int16]
    after: NDArray[np.int16]
    score: NDArray[np.float32]


def certainty_of_places(start: Floats, edges: Sequence[Edges], places: Sequence[Ints], path: Sequence[int]) -> Floats:
    """Shape (c,): how probable the place of the path at each onset is.

    Args:
        start: logarithm of the chance of each hypothesis at the first onset.
        edges: from each onset to the next.
        places: for each onset, that of each hypothesis.
        path: for each onset, number of the hypothesis on the path.
    """
    weights = [np.exp(TEMPER * (each.score.astype(np.float64) - each.score.max())) for each in edges]
    left = [_whole(np.exp(TEMPER * (start - start.max())))]
    for each, weight, place in zip(edges, weights, places[1:], strict=True):
        left.append(_whole(np.bincount(each.after, left[-1][each.before] * weight, len(place))))
    right, certainty = np.ones(len(places[-1])), np.ones(len(path))
    for index in range(len(places) - 1, -1, -1):
        both = left[index] * right
        same = places[index] == places[index][path[index]]
        certainty[index] = both[same].sum() / max(float(both.sum()), TINY)
        if index:
            each = edges[index - 1]
            right = _whole(np.bincount(each.before, weights[index - 1] * right[each.after], len(places[index - 1])))
    return certainty


def _whole(values: NDArray[np.float64] | NDArray[np.int64]) -> Floats:
    whole: Floats = values / max(float(values.sum()), TINY)
    return whole

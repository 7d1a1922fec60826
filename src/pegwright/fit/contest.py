"""Strikes that are in each other's way, laid out for the search."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints
from pegwright.fit.quantise import Pairs

LEFT_OUT = -1


@dataclass(frozen=True, slots=True, eq=False)
class Contest:
    """Contested strikes in order of cluster, then onset; each has at least one hole within reach.

    Args:
        cluster: shape (s,), from 0, rising by at most one.
        wrapped: shape (clusters,), whether its ends are in each other's way round the end of the turn.
        channel: shape (s,).
        low, past: shape (s,), the holes within reach; both rise within a cluster.
        pairs: strikes and holes written out.
        merit: what each pair adds if it is taken, above 0.
    """

    cluster: Ints
    wrapped: NDArray[np.bool_]
    channel: Ints
    low: Ints
    past: Ints
    pairs: Pairs
    merit: list[int]

    def cluster_bounds(self) -> list[int]:
        """Where the strikes of each cluster begin, and the count of strikes at the end."""
        return [*np.flatnonzero(np.append(True, np.diff(self.cluster))).tolist(), len(self.cluster)]

"""What strikes of channels that depend on one another are worth together, without which hole each of them takes.

A search asks for nothing else, and it is quicker told: the third aim and the walk through the strikes fall away.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints
from pegwright.fit.assign import assign_apart
from pegwright.fit.caps import Cluster, Ways, clusters_of
from pegwright.fit.counting import greatest_total
from pegwright.fit.coupled import broken_clusters, in_order, ways_of
from pegwright.fit.gaps import Gaps
from pegwright.fit.general import General
from pegwright.fit.limits import Limit
from pegwright.fit.quantise import Holes, Strikes
from pegwright.fit.turn import Turn


@dataclass(frozen=True, slots=True, eq=False)
class Worths:
    """What strikes are worth; columns of shape (s,), the whole worth of a solved cluster told with its first strike.

    Args:
        weight, cost_ticks: placed, and its deviation beyond what counts as exact.
        short: how much more weight there could be at most.
        proved: whether no more weight and no less cost is possible.
    """

    weight: Ints
    cost_ticks: Ints
    short: Ints
    proved: NDArray[np.bool_]

    def tell(self, members: Ints, cluster: Cluster, ways: Ways) -> None:
        """Solve a cluster and write its worth down."""
        self.weight[members], self.cost_ticks[members] = 0, 0
        first = members[0]
        self.weight[first], self.cost_ticks[first], self.short[first], self.proved[first] = _worth(cluster, ways)


def worths_of(strikes: Strikes, holes: Holes, gaps: Gaps, limits: Sequence[Limit], turn: Turn) -> Worths:
    """What strikes are worth at their best, as `assign` places them.

    Args:
        strikes: in order of their sets of channels, then onset; where any has several, all of their components.
        holes: those that exist.
        gaps: least distances on each channel.
        limits: on strikes of several channels.
        turn: reach, tolerance and length of the turn.
    """
    count = len(strikes.onset)
    if strikes.shared:
        nothing = np.full(count, -1, dtype=np.int64)
        found = placed_worths(strikes, holes, nothing, turn)
        ways, asked = ways_of(strikes, in_order(strikes, np.arange(count)), holes, turn)
        for cluster in clusters_of(ways, gaps, limits, turn):
            found.tell(asked[list(cluster.strikes)], cluster, ways)
        return found
    chosen = assign_apart(strikes, holes, gaps, turn)
    found = placed_worths(strikes, holes, chosen, turn)
    for cluster, members, ways in broken_clusters(strikes, holes, gaps, limits, turn, chosen):
        found.tell(members, cluster, ways)
    return found


def placed_worths(strikes: Strikes, holes: Holes, chosen: Ints, turn: Turn) -> Worths:
    """What each strike is worth in a hole it is given, or nothing where it is given none."""
    placed = chosen >= 0
    beyond = np.abs(holes.position[chosen] - strikes.onset) - turn.tolerance_ticks if len(holes.position) else 0
    count = len(chosen)
    return Worths(
        weight=np.where(placed, strikes.weight, 0),
        cost_ticks=np.where(placed, np.maximum(beyond, 0), 0),
        short=np.zeros(count, dtype=np.int64),
        proved=np.ones(count, dtype=bool),
    )


def _worth(cluster: Cluster, ways: Ways) -> tuple[int, int, int, bool]:
    """Weight, cost, what it may be short of, and whether it is proved."""
    weight, minus_cost = ways.aims[:2]
    own = [way for span in cluster.ways for way in span]
    cost = (-minus_cost[own]).tolist()
    factor = 1 + len(cluster.strikes) * max(cost)
    merit = {way: value * factor - away for way, value, away in zip(own, weight[own].tolist(), cost, strict=True)}
    try:
        total = greatest_total(cluster, merit) if cluster.caps else max(merit.values())
    except OverflowError:
        solved = General(cluster, ways.aims[:2])
        if not solved.proved:  # what a fit finds then hangs on all aims
            solved = General(cluster, ways.aims)
        taken = solved.ways_taken()
        return int(weight[taken].sum()), -int(minus_cost[taken].sum()), solved.short, solved.proved
    placed = -(-total // factor)
    return placed, placed * factor - total, 0, True

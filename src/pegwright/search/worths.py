"""What strikes of channels that depend on one another are worth together, without the hole of each of them.

A search needs nothing else, and it is faster to compute: the third aim and the settling of strikes are left out.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pegwright.columns import Ints, read_only
from pegwright.fit.assign import assign_apart
from pegwright.fit.coupled import Contest, broken_clusters, contest_of
from pegwright.fit.gaps import Gaps
from pegwright.fit.general import General
from pegwright.fit.limits import Limit
from pegwright.fit.problem import LEFT_OUT
from pegwright.fit.quantise import Holes, Strikes
from pegwright.fit.turn import Turn
from pegwright.search.choices import Truths, Worth


def worths_of(strikes: Strikes, holes: Holes, gaps: Gaps, limits: Sequence[Limit], turn: Turn) -> Worth:
    """What strikes are worth at their best, as `assign` places them: the whole worth of a cluster at its first strike.

    Args:
        strikes: in order of their sets of channels, then onset; where any has several, all of their components.
        holes: those that exist.
        gaps: least distances on each channel.
        limits: on strikes of several channels.
        turn: reach, tolerance and length of the turn.
    """
    everything = np.arange(len(strikes.onset))
    if strikes.shared:
        chosen = np.full_like(everything, LEFT_OUT)
        contest = contest_of(strikes, everything, holes, gaps, limits, turn)
    else:
        chosen = assign_apart(strikes, holes, gaps, turn)
        contest = broken_clusters(strikes, holes, gaps, limits, turn, chosen)
    return _solved(placed_worths(strikes, holes, chosen, turn, np.ones(len(chosen), dtype=bool)), contest)


def placed_worths(strikes: Strikes, holes: Holes, chosen: Ints, turn: Turn, settled: Truths) -> Worth:
    """What each strike is worth in a hole it is given, or nothing where it is given none; read-only columns.

    Args:
        strikes: shape (s,).
        holes: those that exist.
        chosen: shape (s,), an index into the holes, or -1.
        turn: for its tolerance.
        settled: shape (s,), whether that is proved to be what the strike is worth; else it is a bound.
    """
    placed = chosen >= 0
    beyond = np.abs(holes.position[chosen] - strikes.onset) - turn.tolerance_ticks if len(holes.position) else 0
    return Worth(
        weight=read_only(np.where(placed, strikes.weight, 0)),
        cost_ticks=read_only(np.where(placed, np.maximum(beyond, 0), 0)),
        short=read_only(np.zeros(len(chosen), dtype=np.int64)),
        settled=read_only(settled),
        proved=read_only(settled),
    )


def _solved(apart: Worth, contest: Contest) -> Worth:
    """What strikes are worth where the clusters of a contest are solved."""
    if not contest.clusters:
        return apart
    weight, cost, short, settled, proved = (column.copy() for column in apart.columns)
    for cluster, best, merit in contest.solutions(aims=2):
        solution, by = best, merit
        if not solution.proved:  # what a fit finds then hangs on all aims
            by = contest.merit()
            solution = General(cluster, contest.ways, by)
        members = contest.strikes[cluster.strikes]
        weight[members], cost[members], first = 0, 0, members[0]
        weight[first], minus_cost, *_ = by.split(solution.total)
        cost[first], short[first], proved[first] = -minus_cost, solution.short, solution.proved
    return Worth(*map(read_only, (weight, cost, short, settled, proved)))

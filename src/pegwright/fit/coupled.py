"""The exact best of channels that depend on one another, in three steps.

Channels that a limit joins are a component. Without the limits the channels do not depend on one another, and what is
best then is known; where it keeps the limits it is best with them too, for a limit can only take ways away.
Where it breaks one, the strikes of the component are parted into clusters, and only clusters with a broken limit
are solved: by counting what is taken of each cap, or by a general solver where that has too many states.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints
from pegwright.fit.caps import Cluster, Joined, Ways, clusters_of
from pegwright.fit.contest import LEFT_OUT
from pegwright.fit.counting import Counted
from pegwright.fit.gaps import Gaps
from pegwright.fit.general import General
from pegwright.fit.limits import Limit, overfull
from pegwright.fit.quantise import Holes, Pairs, Strikes, pairs_of
from pegwright.fit.turn import Turn


@dataclass(frozen=True, slots=True, eq=False)
class Assignment:
    """Which hole each strike is given; columns of shape (s,).

    Args:
        chosen: an index into the holes, or -1 where it is left out.
        short: how much more weight the cluster that begins with this strike could place at most; 0 where its
            weight is proved the greatest.
        proved: whether the strike's cluster is proved the best in every aim.
    """

    chosen: Ints
    short: Ints
    proved: NDArray[np.bool_]


def within_limits(
    strikes: Strikes, holes: Holes, gaps: Gaps, limits: Sequence[Limit], turn: Turn, chosen: Ints
) -> Assignment:
    """Make the best of strikes without limits the best with them.

    Args:
        strikes: in order of channel, then onset.
        holes: those that exist.
        gaps: least distances on each channel.
        limits: of any channels.
        turn: reach, tolerance and length of the turn.
        chosen: what is best without limits.
    """
    result = Assignment(chosen.copy(), np.zeros(len(chosen), dtype=np.int64), np.ones(len(chosen), dtype=bool))
    broken = np.zeros(len(chosen), dtype=bool)
    placed = np.flatnonzero(chosen >= 0)
    for limit in limits:
        position = holes.position[chosen[placed]]
        broken[placed[overfull(limit, strikes.channel[placed], position, turn.turn_ticks)]] = True
    if not np.any(broken):
        return result
    component = components(len(gaps.by_rows), limits)[strikes.channel]
    asked = np.flatnonzero(np.isin(component, component[broken]))
    asked = asked[np.lexsort([strikes.channel[asked], strikes.onset[asked]])]
    ways, asked = ways_of(strikes, asked, holes, turn)
    for cluster in clusters_of(ways, gaps, limits, turn):
        members = asked[list(cluster.strikes)]
        if np.any(broken[members]):
            solved = _solved(cluster, ways)
            taken = [solved.take(span) for span in cluster.ways]
            result.chosen[members] = [LEFT_OUT if way == LEFT_OUT else ways.hole[way] for way in taken]
            if isinstance(solved, General):
                result.short[members[0]], result.proved[members] = solved.short, solved.proved
    return result


def components(channel_count: int, limits: Sequence[Limit]) -> Ints:
    """Shape (channels,): the first channel of those that limits join with each."""
    joined = Joined(channel_count)
    for limit in limits:
        for channel in limit.channels:
            joined.join(limit.channels[0], channel)
    return np.array([joined.head(channel) for channel in range(channel_count)], dtype=np.int64)


def ways_of(strikes: Strikes, asked: Ints, holes: Holes, turn: Turn) -> tuple[Ways, Ints]:
    """Every way to set the strikes asked for, and those of the strikes that have one."""
    low, past = holes.within(strikes.channel[asked], strikes.onset[asked], turn.reach_ticks)
    some = past > low
    asked, low, past = asked[some], low[some], past[some]
    pairs: Pairs = pairs_of(strikes.onset[asked], low, past, holes)
    ways = Ways(
        strike=pairs.strike,
        hole=pairs.hole,
        channel=holes.channel[pairs.hole],
        position=holes.position[pairs.hole],
        row=holes.row[pairs.hole],
        place=holes.place[pairs.hole],
        aims=(
            strikes.weight[asked][pairs.strike],
            -np.maximum(pairs.distance - turn.tolerance_ticks, 0),
            -pairs.distance,
        ),
    )
    return ways, asked


def _solved(cluster: Cluster, ways: Ways) -> Counted | General:
    try:
        return Counted(cluster, merits_of(cluster, ways.aims))
    except OverflowError:
        return General(cluster, ways.aims)


def merits_of(cluster: Cluster, aims: Sequence[Ints]) -> dict[int, int]:
    """What each way of a cluster is worth, as one whole number in which a lower aim never outweighs a higher one."""
    ways = [way for span in cluster.ways for way in span]
    merit = dict.fromkeys(ways, 0)
    for aim in aims:
        values = aim[ways].tolist()
        factor = 1 + 2 * len(cluster.strikes) * max(map(abs, values))
        for way, value in zip(ways, values, strict=True):
            merit[way] = merit[way] * factor + value
    return merit

"""The exact best of channels that depend on one another.

Channels that a limit joins, or a pitch that several of them sound, are a component. Where only limits join them, what
is best without the limits is known; where it keeps them it is best with them too, for a limit can only take ways
away. Where it breaks one, the strikes of the component are parted into clusters, and only clusters with a broken
limit are solved. Where channels share pitches every cluster is solved.

A cluster is solved by counting what is taken of each cap, or by a general solver where that has too many states.
Then strikes are gone through in order of onset, and each takes the first way that the best of all allows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints
from pegwright.fit.arrange import Choices
from pegwright.fit.caps import Cluster, Joined, Ways, clusters_of
from pegwright.fit.contest import LEFT_OUT
from pegwright.fit.counting import Counted
from pegwright.fit.gaps import Gaps
from pegwright.fit.general import General
from pegwright.fit.limits import Limit, overfull
from pegwright.fit.options import ChannelRule
from pegwright.fit.quantise import Holes, Strikes, pairs_in_reach
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
        strikes: each with a single channel.
        holes: those that exist.
        gaps: least distances on each channel.
        limits: of any channels.
        turn: reach, tolerance and length of the turn.
        chosen: what is best without limits.
    """
    result = nothing_assigned(len(chosen))
    result.chosen[:] = chosen
    for cluster, members, ways in broken_clusters(strikes, holes, gaps, limits, turn, chosen):
        solved = _solved(cluster, ways)
        taken = [solved.take(span) for span in cluster.ways]
        result.chosen[members] = [LEFT_OUT if way == LEFT_OUT else ways.hole[way] for way in taken]
        _note_proof(result, members, solved)
    return result


def broken_clusters(
    strikes: Strikes, holes: Holes, gaps: Gaps, limits: Sequence[Limit], turn: Turn, chosen: Ints
) -> Iterator[tuple[Cluster, Ints, Ways]]:
    """The clusters in which what is best without limits breaks one, each with its strikes and the ways it is made of.

    Arguments are those of `within_limits`.
    """
    broken = np.zeros(len(chosen), dtype=bool)
    placed = np.flatnonzero(chosen >= 0)
    for limit in limits:
        position = holes.position[chosen[placed]]
        broken[placed[overfull(limit, strikes.channel[placed], position, turn.turn_ticks)]] = True
    if not np.any(broken):
        return
    component = components(len(gaps.by_rows), limits, ())[strikes.channel]
    asked = in_order(strikes, np.flatnonzero(np.isin(component, component[broken])))
    ways, asked = ways_of(strikes, asked, holes, turn)
    for cluster in clusters_of(ways, gaps, limits, turn):
        members = asked[list(cluster.strikes)]
        if np.any(broken[members]):
            yield cluster, members, ways


def assign_together(
    strikes: Strikes, holes: Holes, gaps: Gaps, limits: Sequence[Limit], turn: Turn, rule: ChannelRule
) -> Assignment:
    """The best of strikes that may have several channels to choose from.

    Args:
        strikes: all of their components.
        holes: those that exist.
        gaps: least distances on each channel.
        limits: of any channels.
        turn: reach, tolerance and length of the turn.
        rule: which channel takes a strike that several may take.
    """
    result = nothing_assigned(len(strikes.note))
    ways, asked = ways_of(strikes, in_order(strikes, np.arange(len(strikes.note))), holes, turn)
    solver: dict[int, tuple[Counted | General, range]] = {}
    for cluster in clusters_of(ways, gaps, limits, turn):
        solved = _solved(cluster, ways)
        _note_proof(result, asked[list(cluster.strikes)], solved)
        for number, span in zip(cluster.strikes, cluster.ways, strict=True):
            solver[number] = solved, span
    order = _Order(ways.channel.tolist(), rule)
    for number in range(len(asked)):
        solved, span = solver[number]
        way = solved.take(order.of(span))
        if way != LEFT_OUT:
            order.taken(way)
            result.chosen[asked[number]] = ways.hole[way]
    return result


class _Order:
    """The order in which a strike would rather have its ways, by the channel rule and what was struck before."""

    def __init__(self, channel: list[int], rule: ChannelRule) -> None:
        self._channel, self._rule = channel, rule
        self._used: dict[int, int] = {}
        self._strikes = 0

    def of(self, span: range) -> Sequence[int]:
        """The ways of a strike in order; they are given by channel, then position."""
        if self._rule == ChannelRule.PREFER:
            return span
        return sorted(span, key=lambda way: self._used.get(self._channel[way], 0))  # equal ones stay in wheel order

    def taken(self, way: int) -> None:
        """Count a strike: how many a channel has had, or which was its last."""
        channel = self._channel[way]
        self._strikes += 1
        spread = self._rule == ChannelRule.SPREAD
        self._used[channel] = self._used.get(channel, 0) + 1 if spread else self._strikes


def nothing_assigned(count: int) -> Assignment:
    """So many strikes, all left out as yet."""
    return Assignment(
        np.full(count, LEFT_OUT, dtype=np.int64), np.zeros(count, dtype=np.int64), np.ones(count, dtype=bool)
    )


def _note_proof(result: Assignment, members: Ints, solved: Counted | General) -> None:
    if isinstance(solved, General):
        result.short[members[0]], result.proved[members] = solved.short, solved.proved


def components(channel_count: int, limits: Sequence[Limit], choices: Sequence[Choices]) -> Ints:
    """Shape (channels,): the first channel of those that limits and shared pitches join with each."""
    joined = Joined(channel_count)
    for group in (*(limit.channels for limit in limits), *choices):
        for channel in group:
            joined.join(group[0], channel)
    return np.array([joined.head(channel) for channel in range(channel_count)], dtype=np.int64)


def in_order(strikes: Strikes, which: Ints) -> Ints:
    """Some strikes in order of onset, then of their sets of channels."""
    return which[np.lexsort([strikes.choice[which], strikes.onset[which]])]


def ways_of(strikes: Strikes, asked: Ints, holes: Holes, turn: Turn) -> tuple[Ways, Ints]:
    """Every way to set the strikes asked for, and those of the strikes that have one."""
    pairs = pairs_in_reach(strikes.some(asked), holes, turn)
    some = np.diff(pairs.first) > 0
    ways = Ways(
        strike=(np.cumsum(some) - 1)[pairs.strike],
        hole=pairs.hole,
        channel=holes.channel[pairs.hole],
        position=holes.position[pairs.hole],
        row=holes.row[pairs.hole],
        place=holes.place[pairs.hole],
        aims=(strikes.weight[asked][pairs.strike], -pairs.cost, -pairs.odd, -pairs.distance),
    )
    return ways, asked[some]


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

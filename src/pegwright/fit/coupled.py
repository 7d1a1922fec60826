"""The exact best of channels that depend on one another.

Channels that a limit joins, or a pitch that several of them sound, are a component. Where only limits join them, what
is best without the limits is known; where it keeps them it is best with them too, for a limit can only take ways
away. Where it breaks one, the strikes of the component are parted into clusters, and only clusters with a broken
limit are solved. Where channels share pitches every cluster is solved.

A cluster is solved by counting, or by a general solver where that has too many states. Then strikes are settled in
order of onset, and each takes the first of its ways that an optimum allows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pegwright.ask.options import ChannelRule
from pegwright.columns import Ints, read_only
from pegwright.fit.arrange import Choices
from pegwright.fit.caps import Joined, clusters_of
from pegwright.fit.counting import CountingSolver
from pegwright.fit.gaps import Gaps
from pegwright.fit.general import General
from pegwright.fit.limits import Limit, overfull
from pegwright.fit.problem import LEFT_OUT, Cluster, Merit, Solution, Ways, merit_of, ways_of
from pegwright.fit.quantise import Holes, Strikes, pairs_in_reach
from pegwright.fit.turn import Turn
from pegwright.frozen import frozen


@frozen(eq=False)
class Assignment:
    """Which hole each strike is given; read-only columns of shape (s,).

    Args:
        chosen: an index into the holes, or -1 where it is left out.
        short: how much more weight the cluster that begins with this strike could place at most; 0 where its
            weight is proved the greatest.
        proved: whether the strike's cluster is proved the best in every aim.
    """

    chosen: Ints
    short: Ints
    proved: NDArray[np.bool_]

    @classmethod
    def best(cls, chosen: Ints) -> Assignment:
        """Holes that are proved the best."""
        return cls(chosen, np.zeros_like(chosen), np.ones(len(chosen), dtype=bool))

    def some(self, span: slice) -> Assignment:
        """That of strikes next to each other."""
        return Assignment(self.chosen[span], self.short[span], self.proved[span])

    def changed(self, spans: Sequence[slice], parts: Sequence[Assignment]) -> Assignment:
        """The assignment with others of some strikes, for each span of strikes next to each other."""
        chosen, short, proved = self.chosen.copy(), self.short.copy(), self.proved.copy()
        for span, part in zip(spans, parts, strict=True):
            chosen[span], short[span], proved[span] = part.chosen, part.short, part.proved
        return Assignment(read_only(chosen), read_only(short), read_only(proved))


@frozen(eq=False)
class Contest:
    """Strikes that contend for holes.

    Args:
        strikes: shape (s,), which of all strikes those of the ways are.
        ways: of these.
        clusters: that they are parted into.
        holes: the list that the ways index.
    """

    strikes: Ints
    ways: Ways
    clusters: Sequence[Cluster]
    holes: Holes

    def merit(self, aims: int | None = None) -> Merit:
        """The first `aims` aims as one, or all of them."""
        return merit_of(self.ways.aims[:aims], max(len(cluster.strikes) for cluster in self.clusters))

    def solutions(self, aims: int | None = None) -> Iterator[tuple[Cluster, Solution, Merit]]:
        """Every cluster with its best by the first `aims` aims, or by all, and what ways add to these together."""
        if not self.clusters:
            return
        merit = self.merit(aims)
        counting = CountingSolver(self.ways, self.holes.channel[self.ways.hole], merit)
        for cluster in self.clusters:
            yield cluster, counting.solve(cluster) or General(cluster, self.ways, merit), merit

    def solved(self, given: Assignment) -> Assignment:
        """The best holes for these strikes, each preferring its ways in order, and for others those given."""
        outcome = _Outcome(given)
        for cluster, solution, _ in self.solutions():
            ways = np.array(solution.take_all(), dtype=np.int64)
            members = self.strikes[cluster.strikes]
            outcome.chosen[members] = np.where(ways == LEFT_OUT, LEFT_OUT, self.ways.hole[ways])
            outcome.note_proof(members, solution)
        return outcome.frozen()


class _Outcome:
    """An assignment in the making."""

    def __init__(self, given: Assignment) -> None:
        self.chosen, self._short, self._proved = given.chosen.copy(), given.short.copy(), given.proved.copy()

    def note_proof(self, members: Ints, solution: Solution) -> None:
        """Note how sure the best of some strikes is."""
        self._short[members[0]], self._proved[members] = solution.short, solution.proved

    def frozen(self) -> Assignment:
        """The assignment."""
        return Assignment(read_only(self.chosen), read_only(self._short), read_only(self._proved))


def within_limits(
    strikes: Strikes, holes: Holes, gaps: Gaps, limits: Sequence[Limit], turn: Turn, chosen: Ints
) -> Assignment:
    """Make the best of strikes without limits the best with them.

    Args:
        strikes: all of them; those that are placed have a single channel each.
        holes: those that exist.
        gaps: least distances on each channel.
        limits: of any channels.
        turn: reach, tolerance and length of the turn.
        chosen: what is best without limits.
    """
    return broken_clusters(strikes, holes, gaps, limits, turn, chosen).solved(Assignment.best(chosen))


def broken_clusters(
    strikes: Strikes, holes: Holes, gaps: Gaps, limits: Sequence[Limit], turn: Turn, chosen: Ints
) -> Contest:
    """The clusters in which what is best without limits breaks one; arguments are those of `within_limits`."""
    broken = np.zeros(len(chosen), dtype=bool)
    placed = np.flatnonzero(chosen >= 0)
    for limit in limits:
        position = holes.position[chosen[placed]]
        broken[placed[overfull(limit, strikes.channel[placed], position, turn.turn_ticks)]] = True
    component = components(len(gaps.between), limits, ())[strikes.channel]
    members = np.flatnonzero(np.isin(component, component[broken]))
    contest = contest_of(strikes, members, holes, gaps, limits, turn)
    clusters = [cluster for cluster in contest.clusters if np.any(broken[contest.strikes[cluster.strikes]])]
    return replace(contest, clusters=clusters)


def contest_of(
    strikes: Strikes, members: Ints, holes: Holes, gaps: Gaps, limits: Sequence[Limit], turn: Turn
) -> Contest:
    """The clusters of some strikes under all rules.

    Args:
        strikes: all of them.
        members: which to consider: with each strike all that bear on it.
        holes: those that exist.
        gaps: least distances on each channel.
        limits: of any channels.
        turn: reach, tolerance and length of the turn.
    """
    if not len(members):
        return Contest(members, Ways(np.zeros(1, dtype=np.int64), members, members, (members,) * 4), (), holes)
    members = members[np.lexsort([strikes.choice[members], strikes.onset[members]])]
    ways, some = ways_of(pairs_in_reach(strikes.some(members), holes, turn), strikes.weight[members])
    return Contest(members[some], ways, clusters_of(ways, holes, gaps, limits, turn.turn_ticks), holes)


def assign_together(given: Assignment, contest: Contest, rule: ChannelRule) -> Assignment:
    """The best of strikes that may have several channels to choose from.

    Args:
        given: what other strikes are given.
        contest: these strikes and all others of their components.
        rule: which channel takes a strike that several may take.
    """
    if rule == ChannelRule.PREFER:
        return contest.solved(given)
    outcome = _Outcome(given)
    solutions = [(cluster, solution) for cluster, solution, _ in contest.solutions()]
    solution_of = {number: solution for cluster, solution in solutions for number in cluster.strikes}
    order = _Order(contest.holes.channel[contest.ways.hole].tolist())
    for number, (start, stop) in enumerate(pairwise(contest.ways.first.tolist())):
        way = solution_of[number].take(order.of(range(start, stop)))
        if way != LEFT_OUT:
            order.note(way)
            outcome.chosen[contest.strikes[number]] = contest.ways.hole[way]
    for cluster, solution in solutions:
        outcome.note_proof(contest.strikes[cluster.strikes], solution)
    return outcome.frozen()


class _Order:
    """The order in which a strike prefers its ways: by how long ago the last strike of each channel was placed."""

    def __init__(self, channel: list[int]) -> None:
        self._channel = channel
        self._used: dict[int, int] = {}
        self._strikes = 0

    def of(self, span: range) -> Sequence[int]:
        """The ways of a strike, preferred ones first; `span` has them by channel, then position."""
        return sorted(span, key=lambda way: self._used.get(self._channel[way], 0))  # equal ones stay in wheel order

    def note(self, way: int) -> None:
        """Note a strike that was placed as the last of its channel."""
        self._strikes += 1
        self._used[self._channel[way]] = self._strikes


def components(channel_count: int, limits: Sequence[Limit], choices: Sequence[Choices]) -> Ints:
    """Shape (channels,): the first channel of those that limits and shared pitches join with each.

    Args:
        channel_count: channels of the wheel.
        limits: each joins its channels.
        choices: sets of channels that share a pitch; each joins its channels.
    """
    joined = Joined(channel_count)
    for group in (*(limit.channels for limit in limits), *choices):
        for channel in group:
            joined.join(group[0], channel)
    return np.array([joined.head(channel) for channel in range(channel_count)], dtype=np.int64)

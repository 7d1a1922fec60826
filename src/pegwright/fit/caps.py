"""The rules between strikes in one form, caps: a maximum number of ways into some holes.

Every rule between ways becomes caps: holes of one channel within the re-strike gap, two whose pins would touch, two
places of one hole: at most one; holes of the channels of a limit within its window: at most as many as it allows. A
window is any stretch of the turn of that many ticks, its end not counted, and it goes round the end of the turn.

A cap that cannot be broken, since too few strikes have a way in it, is omitted. Strikes that no cap joins, directly
or by way of others, do not bear on one another and are solved apart: these are the clusters.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from pegwright.columns import Ints, distinct
from pegwright.fit.gaps import Gaps
from pegwright.fit.limits import Limit
from pegwright.fit.problem import Cap, Cluster, Ways
from pegwright.fit.quantise import Holes


def clusters_of(ways: Ways, holes: Holes, gaps: Gaps, limits: Sequence[Limit], turn_ticks: int) -> list[Cluster]:
    """Part the strikes of `ways` into clusters, each with its caps.

    Args:
        ways: of all strikes that could bear on one another.
        holes: the list that ways index.
        gaps: least distances on each channel.
        limits: on strikes of several channels.
        turn_ticks: once round.
    """
    hole = distinct(ways.hole)
    by_hole = np.argsort(ways.hole, kind="stable")
    first = np.searchsorted(ways.hole[by_hole], np.append(hole, hole[-1:] + 1))
    bounds, strike = first.tolist(), ways.strike[by_hole].tolist()
    strikes_at = {at: strike[low:past] for at, (low, past) in zip(hole.tolist(), pairwise(bounds), strict=False)}
    count = len(ways.first) - 1
    joined = Joined(count)
    caps: dict[Cap, int] = {}  # with a strike of each
    for members, most in _rules(hole, np.diff(first), holes, gaps, limits, turn_ticks):
        strikes = set().union(*[strikes_at[at] for at in members])
        if len(strikes) > most:
            head = strikes.pop()
            caps[Cap(tuple(members), most)] = head
            for number in strikes:
                joined.join(head, number)
    spans = [range(start, stop) for start, stop in pairwise(ways.first.tolist())]
    clusters: dict[int, tuple[list[int], list[range], list[Cap]]] = {}
    for number in range(count):
        strikes_of, spans_of, _ = clusters.setdefault(joined.head(number), ([], [], []))
        strikes_of.append(number)
        spans_of.append(spans[number])
    for cap, number in caps.items():
        clusters[joined.head(number)][2].append(cap)
    return [Cluster(*parts) for parts in clusters.values()]


def _rules(
    hole: Ints, count: Ints, holes: Holes, gaps: Gaps, limits: Sequence[Limit], turn_ticks: int
) -> Iterator[tuple[Sequence[int], int]]:
    """Holes with how many ways into them may be taken at most; the same holes may come more than once.

    Args:
        hole: those to consider, rising.
        count: of ways into each.
        holes: the list that `hole` indexes.
        gaps: least distances on each channel.
        limits: on strikes of several channels.
        turn_ticks: once round.
    """
    channel, position = holes.channel[hole], holes.position[hole]
    for members in _windows(hole, channel, gaps.least[channel], 1, count, holes, turn_ticks):
        yield members, 1
    bounds = np.searchsorted(channel, np.arange(len(holes.past) + 1))
    some = np.flatnonzero(np.diff(bounds))
    longer_than_a_turn = position[bounds[some + 1] - 1] - position[bounds[some]] > turn_ticks
    for number in some[~gaps.one[some]].tolist():
        for pair in _near_pairs(hole[bounds[number] : bounds[number + 1]], holes, gaps, number, turn_ticks):
            yield pair, 1
    for number in some[longer_than_a_turn].tolist():
        for pair in _overtaking(hole[bounds[number] : bounds[number + 1]], holes, turn_ticks):
            yield pair, 1
    for limit in limits:
        own = np.flatnonzero(np.isin(channel, limit.channels))
        together, length = np.zeros_like(own), np.full_like(own, limit.window_ticks)
        for members in _windows(hole[own], together, length, limit.most, count[own], holes, turn_ticks):
            yield members, limit.most


def _windows(
    own: Ints, group: Ints, length_ticks: Ints, most: int, count: Ints, holes: Holes, turn_ticks: int
) -> Iterator[list[int]]:
    """The holes of a group in each stretch of the turn with more than `most` ways, but for those in a longer list.

    Args:
        own: holes to consider.
        group: of each hole.
        length_ticks: of a stretch that begins with each hole; the same within a group.
        most: how many ways cannot break a rule.
        count: of ways into each hole.
        holes: the list that `own` indexes.
        turn_ticks: once round.
    """
    if not len(own):
        return
    key = group * 4 * turn_ticks + holes.position[own] % turn_ticks
    order = np.argsort(key, kind="stable")
    key, group, length = key[order], group[order], np.minimum(length_ticks, turn_ticks)[order]
    twice = np.concatenate([key, key + turn_ticks])  # each group again a turn later
    laps = np.argsort(twice, kind="stable")
    twice, listed = twice[laps], np.concatenate([own[order], own[order]])[laps]
    start, past = np.searchsorted(twice, key), np.searchsorted(twice, key + length)
    before = np.concatenate([[0], np.cumsum(np.concatenate([count[order], count[order]])[laps])])
    head = np.flatnonzero(np.concatenate([[True], group[1:] != group[:-1]]))
    tail = np.concatenate([head[1:], [len(own)]]) - 1
    earlier = np.concatenate([past[:1], past[:-1]])
    earlier[head] = past[tail] - (tail + 1 - head)
    some = (past > earlier) & (before[past] - before[start] > most)
    members = listed.tolist()
    for low, high in zip(start[some].tolist(), past[some].tolist(), strict=True):
        yield members[low:high]


def _near_pairs(own: Ints, holes: Holes, gaps: Gaps, channel: int, turn_ticks: int) -> Iterator[tuple[int, int]]:
    """Pairs of a channel whose pins would touch, or of one hole, that and are its least gap apart or farther."""
    at = holes.position[own] % turn_ticks
    order = np.argsort(at, kind="stable")
    own, at = own[order], at[order]
    following, later = np.concatenate([own, own]), np.concatenate([at, at + turn_ticks])
    for step in range(1, len(own)):
        apart = later[step : step + len(own)] - at
        if apart.min() >= gaps.greatest[channel]:
            break
        other = following[step : step + len(own)]
        low, high = gaps.between[channel][:, holes.likeness(own), holes.likeness(other)]
        one_hole = (holes.place[own] == holes.place[other]) & (apart < gaps.greatest[channel])
        near = (apart >= gaps.least[channel]) & ((low < apart) & (apart < high) | one_hole)
        yield from zip(own[near].tolist(), other[near].tolist(), strict=True)


def _overtaking(own: Ints, holes: Holes, turn_ticks: int) -> Iterator[tuple[int, int]]:
    """Pairs of one channel of which the later note's pin would stand past the earlier note's next coming round."""
    position = holes.position[own]
    early = own[position < position[-1] - turn_ticks]
    late = own[position > position[0] + turn_ticks]
    for one in early.tolist():
        for other in late[holes.position[late] > holes.position[one] + turn_ticks].tolist():
            yield one, other


class Joined:
    """Numbers from 0 that are joined to groups one by one."""

    def __init__(self, count: int) -> None:
        self._above = list(range(count))

    def head(self, number: int) -> int:
        """The least number of a group."""
        while self._above[number] != number:
            self._above[number] = self._above[self._above[number]]
            number = self._above[number]
        return number

    def join(self, one: int, other: int) -> None:
        """Make the groups of two numbers one."""
        one, other = sorted((self.head(one), self.head(other)))
        self._above[other] = one

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

from pegwright.columns import Ints, window_ends
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
    hole = np.unique(ways.hole)
    by_hole = np.argsort(ways.hole, kind="stable")
    first = np.searchsorted(ways.hole[by_hole], np.append(hole, hole[-1:] + 1))
    bounds, strike = first.tolist(), ways.strike[by_hole].tolist()
    strikes_at = {at: strike[low:past] for at, (low, past) in zip(hole.tolist(), pairwise(bounds), strict=False)}
    count = len(ways.first) - 1
    joined = Joined(count)
    caps: dict[tuple[tuple[int, ...], int], int] = {}  # with a strike of each
    for members, most in _rules(hole, np.diff(first), holes, gaps, limits, turn_ticks):
        strikes = set().union(*[strikes_at[at] for at in members])
        if len(strikes) > most:
            head = strikes.pop()
            caps[tuple(sorted(set(members))), most] = head
            for number in strikes:
                joined.join(head, number)
    spans = [range(start, stop) for start, stop in pairwise(ways.first.tolist())]
    clusters: dict[int, tuple[list[int], list[range], list[Cap]]] = {}
    for number in range(count):
        strikes_of, spans_of, _ = clusters.setdefault(joined.head(number), ([], [], []))
        strikes_of.append(number)
        spans_of.append(spans[number])
    for (members_of, most), number in caps.items():
        clusters[joined.head(number)][2].append(Cap(members_of, most))
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
    channel = holes.channel[hole]
    for number in np.unique(channel).tolist():
        here = channel == number
        own = hole[here]
        for members in _windows(own, count[here], holes, int(gaps.least[number]), 1, turn_ticks):
            yield members, 1
        if not gaps.one[number]:
            for pair in _near_pairs(own, holes, gaps, number, turn_ticks):
                yield pair, 1
        for pair in _overtaking(own, holes, turn_ticks):
            yield pair, 1
    for limit in limits:
        here = np.isin(channel, limit.channels)
        for members in _windows(hole[here], count[here], holes, limit.window_ticks, limit.most, turn_ticks):
            yield members, limit.most


def _windows(
    own: Ints, count: Ints, holes: Holes, length_ticks: int, most: int, turn_ticks: int
) -> Iterator[list[int]]:
    """The holes within each stretch of the turn that have more than `most` ways, but for those in a longer list.

    Args:
        own: holes to consider.
        count: of ways into each.
        holes: the list that `own` indexes.
        length_ticks: of a stretch.
        most: how many ways cannot break a rule.
        turn_ticks: once round.
    """
    at = holes.position[own] % turn_ticks
    order = np.argsort(at, kind="stable")
    own, at, count = own[order], at[order], count[order]
    past = window_ends(at, length_ticks, turn_ticks)
    before = np.cumsum(np.concatenate([[0], count, count]))
    start = np.arange(len(own))
    longest = past > np.concatenate([past[-1:] - len(own), past[:-1]])
    some = longest & (before[past] - before[start] > most)
    listed = np.concatenate([own, own]).tolist()
    for low, high in zip(start[some].tolist(), past[some].tolist(), strict=True):
        yield listed[low:high]


def _near_pairs(own: Ints, holes: Holes, gaps: Gaps, channel: int, turn_ticks: int) -> Iterator[tuple[int, int]]:
    """Pairs of a channel that are too near for their rows, or one hole, and are its least gap apart or farther."""
    at = holes.position[own] % turn_ticks
    order = np.argsort(at, kind="stable")
    own, at = own[order], at[order]
    following, later = np.concatenate([own, own]), np.concatenate([at, at + turn_ticks])
    for step in range(1, len(own)):
        apart = later[step : step + len(own)] - at
        if apart.min() >= gaps.greatest[channel]:
            break
        other = following[step : step + len(own)]
        needed = gaps.by_rows[channel][holes.row[own], holes.row[other]]
        one_hole = (holes.place[own] == holes.place[other]) & (apart < gaps.greatest[channel])
        near = (apart >= gaps.least[channel]) & ((apart < needed) | one_hole)
        yield from zip(own[near].tolist(), other[near].tolist(), strict=True)


def _overtaking(own: Ints, holes: Holes, turn_ticks: int) -> Iterator[tuple[int, int]]:
    """Pairs of one channel of which the later note's pin would stand past the earlier note's next coming round."""
    position = holes.position[own]
    early = own[position < position.max() - turn_ticks]
    late = own[position > position.min() + turn_ticks]
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

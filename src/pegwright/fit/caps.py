"""What strikes of several channels may not do together, in one form: of some ways to set them, at most so many.

A way is a strike with a hole it could take. Every rule between ways becomes caps: ways of one channel within the
re-strike gap, two that would touch, two in one hole: at most one; ways of the channels of a limit within its window: at
most as many as it allows. A window is any stretch of the turn of that many ticks, its end not counted, and it goes
round the end of the turn.

A cap that cannot be broken, since too few strikes have a way in it, is left away. Strikes that no cap joins, directly
or by way of others, do not bear on one another and are solved apart: these are the clusters.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from pegwright.columns import Ints, window_ends
from pegwright.fit.gaps import Gaps
from pegwright.fit.limits import Limit
from pegwright.fit.turn import Turn


@dataclass(frozen=True, slots=True, eq=False)
class Ways:
    """Every way to set some strikes, by strike, then in the order in which a strike would rather take them.

    Columns have shape (w,).

    Args:
        strike: from 0, in order of onset, then channel; each has at least one way.
        hole: which hole of the list it takes.
        channel, position, row, place: of that hole, as in `Holes`.
        aims: what taking it adds to each aim, the highest aim first; each is to be made as great as can be.
    """

    strike: Ints
    hole: Ints
    channel: Ints
    position: Ints
    row: Ints
    place: Ints
    aims: tuple[Ints, ...]


@dataclass(frozen=True, slots=True)
class Cap:
    """Of the ways `members` at most `most` may be taken."""

    members: tuple[int, ...]
    most: int


@dataclass(frozen=True, slots=True)
class Cluster:
    """Strikes that bear on one another.

    Args:
        strikes: rising.
        ways: for each the ways that it has, in order.
        caps: all that concern them.
    """

    strikes: tuple[int, ...]
    ways: tuple[range, ...]
    caps: tuple[Cap, ...]


def clusters_of(ways: Ways, gaps: Gaps, limits: Sequence[Limit], turn: Turn) -> tuple[Cluster, ...]:
    """Part the strikes of `ways` into clusters, each with its caps."""
    caps = caps_of(ways, gaps, limits, turn)
    strike = ways.strike.tolist()
    count = strike[-1] + 1 if strike else 0
    joined = Joined(count)
    for cap in caps:
        for way in cap.members[1:]:
            joined.join(strike[cap.members[0]], strike[way])
    groups: dict[int, tuple[list[int], list[Cap]]] = {}
    for number in range(count):
        groups.setdefault(joined.head(number), ([], []))[0].append(number)
    for cap in caps:
        groups[joined.head(strike[cap.members[0]])][1].append(cap)
    first = np.searchsorted(ways.strike, np.arange(count + 1)).tolist()
    spans = [range(start, stop) for start, stop in pairwise(first)]
    return tuple(
        Cluster(tuple(strikes), tuple(spans[number] for number in strikes), tuple(of))
        for strikes, of in groups.values()
    )


def caps_of(ways: Ways, gaps: Gaps, limits: Sequence[Limit], turn: Turn) -> list[Cap]:
    """Every cap that could be broken, each once."""
    found: dict[tuple[tuple[int, ...], int], None] = {}
    strike = ways.strike.tolist()

    def add(members: Sequence[int], most: int) -> None:
        if len(members) > most and len({strike[way] for way in members}) > most:
            found[tuple(sorted(members)), most] = None

    for channel in np.unique(ways.channel).tolist():
        own = np.flatnonzero(ways.channel == channel)
        for members in _windows(ways, own, int(gaps.least[channel]), turn.turn_ticks):
            add(members, 1)
        if not gaps.one[channel]:
            for pair in _near_pairs(ways, own, gaps, channel, turn.turn_ticks):
                add(pair, 1)
        for pair in _overtaking(ways, own, turn.turn_ticks):
            add(pair, 1)
    for limit in limits:
        of_limit = np.flatnonzero(np.isin(ways.channel, limit.channels))
        for members in _windows(ways, of_limit, limit.window_ticks, turn.turn_ticks):
            add(members, limit.most)
    return [Cap(members, most) for members, most in found]


def _windows(ways: Ways, own: Ints, length_ticks: int, turn_ticks: int) -> Iterator[list[int]]:
    """The ways within each stretch of the turn of a length, those in a longer list left away."""
    at = ways.position[own] % turn_ticks
    order = np.argsort(at, kind="stable")
    own, at = own[order], at[order]
    past = window_ends(at, length_ticks, turn_ticks)
    longest = past > np.append(past[-1] - len(own), past[:-1]) if len(own) else np.zeros(0, dtype=bool)
    listed = np.concatenate([own, own]).tolist()
    for start in np.flatnonzero(longest & (past - np.arange(len(own)) > 1)).tolist():
        yield listed[start : past[start]]


def _near_pairs(ways: Ways, own: Ints, gaps: Gaps, channel: int, turn_ticks: int) -> Iterator[tuple[int, int]]:
    """Pairs of one channel that are too near for their rows, or in one hole, and farther apart than its least gap."""
    at = ways.position[own] % turn_ticks
    order = np.argsort(at, kind="stable")
    listed, place_of = own[order].tolist(), at[order].tolist()
    row, hole = ways.row.tolist(), ways.place.tolist()
    matrix, least, greatest = gaps.by_rows[channel].tolist(), int(gaps.least[channel]), int(gaps.greatest[channel])
    count = len(listed)
    for number, one in enumerate(listed):
        for following in range(number + 1, number + count):
            lap, index = divmod(following, count)
            apart = place_of[index] + lap * turn_ticks - place_of[number]
            if apart >= greatest:
                break
            other = listed[index]
            if apart >= least and (apart < matrix[row[one]][row[other]] or hole[one] == hole[other]):
                yield one, other


def _overtaking(ways: Ways, own: Ints, turn_ticks: int) -> Iterator[tuple[int, int]]:
    """Pairs of one channel of which the later note's pin would stand past the earlier note's next coming round."""
    position = ways.position[own]
    early = own[position < position.max() - turn_ticks].tolist()
    late = own[position > position.min() + turn_ticks].tolist()
    for one in early:
        for other in late:
            if ways.position[other] > ways.position[one] + turn_ticks:
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

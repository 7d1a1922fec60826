"""Exact search of a cluster, strike by strike, over what the strikes settled so far leave open to later ones.

All that matters of the strikes settled is which holes they have closed to later strikes, and how many have been taken
of each cap that allows several. So a state is one whole number with a field for each hole, a single bit, and one for
each such cap: a count that starts so high that it reaches the highest bit of its field when the cap is full. The
fields are in the order in which strikes last need them, so that a shift forgets those that no later strike needs. The
pins of a channel keep the order of their notes, so a pin also closes the holes before it.

Of equal states the best is kept. A state is dropped if even the best ways of all later strikes could not bring it up
to a known solution. On a single channel it is also dropped if another state is worth more and has no bit that it
lacks: whatever can follow it can follow the other one.

Few strikes bear on one another at a time, so few states arise. Where there are too many, there is no solution; on a
single channel without counts there always is one.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from itertools import accumulate
from typing import NamedTuple, TypeAlias

from pegwright.columns import Ints
from pegwright.fit.problem import LEFT_OUT, Cap, Cluster, Merit, Ways

Layer: TypeAlias = dict[int, int]  # from a state to the best total that leads to it, or that it leads to
Move: TypeAlias = tuple[int, int, int, int]
"""A way as the search meets it; numbers are bits of a state before its strike.

First which bits bar it: that of its hole, set if it is closed, and the highest of its counts, set if they are full.
Then the bits that it sets, which are the holes it closes; then what it adds, one to each of its counts and what its
stage opens; and last its merit.
"""

MOST_STATES = 20_000  # of one cluster
NEVER = -1  # below any total


class _Stage(NamedTuple):
    """A strike as the search meets it; numbers are bits of a state before it.

    Args:
        moves: of its ways.
        opens: what every state gains: the starts of counts that the next strike is the first to need.
        shift: how many bits no later strike needs.
        best: the greatest merit of its ways.
    """

    moves: dict[int, Move]
    opens: int
    shift: int
    best: int


class CountingSolver:
    """Solves clusters exactly.

    Args:
        ways: of all clusters.
        channel: shape (w,), the channel of each way.
        merit: of the ways.
    """

    def __init__(self, ways: Ways, channel: Ints, merit: Merit) -> None:
        self._ways, self._channel, self._merit = ways, channel, merit.of_way

    @cached_property
    def _places(self) -> tuple[list[int], list[int]]:
        """Hole and channel of each way."""
        return self._ways.hole.tolist(), self._channel.tolist()

    def solve(self, cluster: Cluster) -> Counted | None:
        """The best of a cluster, or None where it has too many states."""
        hole, channel = self._places
        fields = _Fields(cluster, hole, channel)
        stages = fields.stages(cluster, hole, self._merit)
        layers = _forward(fields.opens[0], stages, fields.single)
        return None if layers is None else Counted(cluster, stages, layers)


class Counted:
    """The exact best of a cluster; see `Solution`."""

    def __init__(self, cluster: Cluster, stages: list[_Stage], layers: list[Layer]) -> None:
        self.total = max(layers[-1].values())
        self.short, self.proved = 0, True
        self._cluster, self._stages, self._layers = cluster, stages, layers
        self._to_go: list[Layer] = []
        self._number, (self._state,) = 0, layers[0]

    def take_all(self) -> list[int]:
        """See `Solution.take_all`."""
        return [self.take(span) for span in self._cluster.spans]

    def take(self, order: Sequence[int]) -> int:
        """See `Solution.take`."""
        if not self._to_go:
            self._to_go = _backward(self._stages, self._layers)
        stage = self._stages[self._number]
        total, ahead = self._to_go[self._number][self._state], self._to_go[self._number + 1]
        self._number += 1
        for way in order:
            barred, closes, adds, merit = stage.moves[way]
            after = ((self._state | closes) + adds) >> stage.shift
            if not self._state & barred and ahead.get(after, NEVER) == total - merit:
                self._state = after
                return way
        self._state = (self._state + stage.opens) >> stage.shift
        return LEFT_OUT


def _forward(start: int, stages: list[_Stage], single: bool) -> list[Layer] | None:
    """The states before each strike and at the end, with the best total that leads to each.

    Args:
        start: the first state.
        stages: the strikes.
        single: whether all are on one channel, and nothing is counted.

    Returns:
        None where there are too many states.
    """
    to_come = sum(stage.best for stage in stages)
    known = _known(start, stages)
    layers: list[Layer] = [{start: 0}]
    states = 1
    for moves, opens, shift, best in stages:
        to_come -= best
        needed = known - to_come
        following: Layer = {}
        ways = list(moves.values())
        for state, total in layers[-1].items():
            after = (state + opens) >> shift
            if total >= needed and following.get(after, NEVER) < total:
                following[after] = total
            for barred, closes, adds, merit in ways:
                if not state & barred and total + merit >= needed:
                    after = ((state | closes) + adds) >> shift
                    if following.get(after, NEVER) < total + merit:
                        following[after] = total + merit
        layers.append(_undominated(following) if single and len(following) > 1 else following)
        states += len(following)
        if states > MOST_STATES and not single:
            return None
    return layers


def _undominated(layer: Layer) -> Layer:
    """Without the states that are worth less than another one that has none of the bits they lack."""
    kept: list[tuple[int, int]] = []
    for state, total in sorted(layer.items(), key=lambda item: (-item[1], item[0])):
        if not any(not other & ~state and more > total for other, more in kept):
            kept.append((state, total))
    return dict(kept)


def _known(state: int, stages: list[_Stage]) -> int:
    """The total of each strike taking the best way that is open."""
    known = 0
    for moves, opens, shift, _ in stages:
        open_ways = [(-merit, closes, adds) for barred, closes, adds, merit in moves.values() if not state & barred]
        minus_merit, closes, adds = min(open_ways, default=(0, 0, opens))
        known -= minus_merit
        state = ((state | closes) + adds) >> shift
    return known


def _backward(stages: list[_Stage], layers: list[Layer]) -> list[Layer]:
    """For the states of each layer the best total that they lead to."""
    to_go = [dict.fromkeys(layers[-1], 0)]
    for (moves, opens, shift, _), layer in zip(reversed(stages), reversed(layers[:-1]), strict=True):
        ahead = to_go[-1]
        here: Layer = {}
        ways = list(moves.values())
        for state in layer:
            greatest = ahead.get((state + opens) >> shift, NEVER)
            for barred, closes, adds, merit in ways:
                if not state & barred:
                    total = ahead.get(((state | closes) + adds) >> shift, NEVER)
                    if total >= 0 and total + merit > greatest:
                        greatest = total + merit
            if greatest >= 0:
                here[state] = greatest
        to_go.append(here)
    return to_go[::-1]


class _Fields:
    """Where the fields of a cluster's states are.

    What belongs to a hole is kept as a mask of states before the first strike that could take it.

    Attributes:
        base: for each strike, and past the last, how many bits only earlier ones need.
        low: of each hole, the base of its first strike.
        barred, closes, adds: of each hole, see `Move`.
        opens: for each strike the starts of the counts that it is the first to need, as before the strike before it.
        single: whether all holes are on one channel, and nothing is counted.
    """

    def __init__(self, cluster: Cluster, hole: list[int], channel: list[int]) -> None:
        first: dict[int, int] = {}
        last: dict[int, int] = {}
        on: dict[int, int] = {}
        for number, span in enumerate(cluster.spans):
            for way in span:
                at = hole[way]
                last[at] = number
                if at not in first:
                    first[at], on[at] = number, channel[way]
        counts = [(cap, max([last[at] for at in cap.members])) for cap in cluster.caps if cap.most > 1]
        widths = [0] * (len(cluster.spans) + 1)
        for number in last.values():
            widths[number + 1] += 1
        for cap, number in counts:
            widths[number + 1] += _bits(cap) + 1
        self.base = list(accumulate(widths))
        self.low = {at: self.base[number] for at, number in first.items()}
        free, place = self.base.copy(), {}
        for at, number in last.items():
            place[at] = free[number]
            free[number] += 1
        self.barred = {at: 1 << place[at] - self.low[at] for at in last}
        self.closes = self._closed(cluster, place, on)
        self.adds, self.opens = dict.fromkeys(last, 0), [0] * len(widths)
        for cap, number in counts:
            self._count(cap, free[number], min([first[at] for at in cap.members]))
            free[number] += _bits(cap) + 1
        self.single = not counts and len(set(on.values())) == 1

    def _count(self, cap: Cap, place: int, first: int) -> None:
        """Lay out the count of a cap that allows several; `first`: the first strike that needs it."""
        bits = _bits(cap)
        self.opens[first] |= (1 << bits) - cap.most << place - self.base[max(first - 1, 0)]
        for at in cap.members:
            self.adds[at] |= 1 << place - self.low[at]
            self.barred[at] |= 1 << place - self.low[at] + bits

    def _closed(self, cluster: Cluster, place: dict[int, int], on: dict[int, int]) -> dict[int, int]:
        """What a pin in each hole closes: the hole, what a cap bars, and the earlier holes of its channel."""
        closes, low = self.barred.copy(), self.low
        for cap in cluster.caps:
            if cap.most == 1:
                lowest = min([low[at] for at in cap.members])
                mask = sum([1 << place[at] - lowest for at in cap.members])
                for at in cap.members:
                    closes[at] |= mask >> low[at] - lowest
        before: dict[int, tuple[int, int]] = {}  # of each channel, and from which bit on
        for at in sorted(place):
            mask, lowest = before.get(on[at], (0, low[at]))
            mask = mask >> low[at] - lowest | 1 << place[at] - low[at]
            before[on[at]] = mask, low[at]
            closes[at] |= mask
        return closes

    def stages(self, cluster: Cluster, hole: list[int], merit: list[int]) -> list[_Stage]:
        """The strikes as the search meets them."""
        low, barred, closes, adds = self.low, self.barred, self.closes, self.adds
        stages = []
        for span, base, after, opens in zip(cluster.spans, self.base, self.base[1:], self.opens[1:], strict=False):
            moves: dict[int, Move] = {}
            for way in span:
                at = hole[way]
                past = base - low[at]
                moves[way] = barred[at] >> past, closes[at] >> past, (adds[at] >> past) + opens, merit[way]
            stages.append(_Stage(moves, opens, after - base, max(merit[span.start : span.stop])))
        return stages


def _bits(cap: Cap) -> int:
    """Of the count of a cap, but for the highest bit, which is set where the cap is full."""
    return (cap.most - 1).bit_length()

"""Exact search of a cluster, strike by strike, over what the strikes settled so far leave open to later ones.

All that matters of the strikes settled is which holes they have closed to later strikes, and how many have been taken
of each cap that allows several. So a state is one whole number with a field for each hole, a single bit, and one for
each such cap: a count that starts so high that one way too many reaches the highest bit of its field. The fields are
in the order in which strikes last need them, so that a shift forgets those that no later strike needs. The pins of a
channel keep the order of their notes, so a pin also closes the holes before it.

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
from pegwright.fit.problem import LEFT_OUT, Cap, Cluster, Merit, Problem, Ways

Layer: TypeAlias = dict[int, int]  # from a state to the best total that leads to it, or that it leads to
MOST_STATES = 20_000  # of one cluster
NEVER = -1  # below any total


class _Move(NamedTuple):
    """A way as the search meets it; numbers are bits of a state before its strike.

    Args:
        bit: that of its hole: set where the hole is closed.
        closes: the bits that a pin in the hole sets.
        adds: one to each count that it is in, and what its stage `opens`.
        merit: above 0.
    """

    bit: int
    closes: int
    adds: int
    merit: int


class _Stage(NamedTuple):
    """A strike as the search meets it.

    Args:
        moves: of its ways.
        opens: what every state gains: the starts of counts that the next strike is the first to need.
        broken: the highest bits of all counts.
        shift: how many bits no later strike needs.
        best: the greatest merit of its ways.
    """

    moves: dict[int, _Move]
    opens: int
    broken: int
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

    def solve(self, problem: Problem) -> Counted | None:
        """See `Solver.solve`."""
        if not isinstance(problem, Cluster):
            return None
        hole, channel = self._places
        fields = _Fields(problem, hole, channel)
        stages = [fields.stage(number, span, hole, self._merit) for number, span in enumerate(problem.spans)]
        layers = _forward(fields.opens[0], stages, fields.single)
        return None if layers is None else Counted(problem, stages, layers)


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
            after = _after(self._state, stage, stage.moves[way])
            if after is not None and ahead.get(after >> stage.shift, NEVER) == total - stage.moves[way].merit:
                self._state = after >> stage.shift
                return way
        self._state = (self._state + stage.opens) >> stage.shift
        return LEFT_OUT


def _after(state: int, stage: _Stage, move: _Move) -> int | None:
    """The state that a way leads to, nothing forgotten, or None where it is not open."""
    after = (state | move.closes) + move.adds
    return None if state & move.bit or after & stage.broken else after


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
    for moves, opens, broken, shift, best in stages:
        to_come -= best
        needed = known - to_come
        following: Layer = {}
        ways = list(moves.values())
        for state, total in layers[-1].items():
            after = (state + opens) >> shift
            if total >= needed and following.get(after, NEVER) < total:
                following[after] = total
            for bit, closes, adds, merit in ways:
                if not state & bit and total + merit >= needed:  # `_after` written out: a call would take longer
                    after = (state | closes) + adds
                    if not after & broken:
                        after >>= shift
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
    for stage in stages:
        following = state + stage.opens
        for move in sorted(stage.moves.values(), key=lambda move: -move.merit):
            after = _after(state, stage, move)
            if after is not None:
                following = after
                known += move.merit
                break
        state = following >> stage.shift
    return known


def _backward(stages: list[_Stage], layers: list[Layer]) -> list[Layer]:
    """For the states of each layer the best total that they lead to."""
    to_go = [dict.fromkeys(layers[-1], 0)]
    for (moves, opens, broken, shift, _), layer in zip(reversed(stages), reversed(layers[:-1]), strict=True):
        ahead = to_go[-1]
        here: Layer = {}
        ways = list(moves.values())
        for state in layer:
            greatest = ahead.get((state + opens) >> shift, NEVER)
            for bit, closes, adds, merit in ways:
                if not state & bit:
                    after = (state | closes) + adds
                    if not after & broken:
                        total = ahead.get(after >> shift, NEVER)
                        if total >= 0 and total + merit > greatest:
                            greatest = total + merit
            if greatest >= 0:
                here[state] = greatest
        to_go.append(here)
    return to_go[::-1]


class _Fields:
    """Where the fields of a cluster's states are, before any are forgotten.

    Attributes:
        base: for each strike, and past the last, how many bits only earlier ones need.
        bit, closes, adds: of each hole, see `_Move`.
        opens: for each strike the starts of the counts that it is the first to need.
        broken: the highest bits of all counts.
        single: whether all holes are on one channel, and nothing is counted.
    """

    def __init__(self, cluster: Cluster, hole: list[int], channel: list[int]) -> None:
        last = {hole[way]: number for number, span in enumerate(cluster.spans) for way in span}  # that needs a hole
        counts = [(cap, max(last[at] for at in cap.members)) for cap in cluster.caps if cap.most > 1]
        widths = [0] * (len(cluster.spans) + 1)
        for number in last.values():
            widths[number + 1] += 1
        for cap, number in counts:
            widths[number + 1] += cap.most.bit_length() + 1
        self.base = list(accumulate(widths))
        free = self.base.copy()
        self.bit: dict[int, int] = {}
        for at, number in last.items():
            self.bit[at] = 1 << free[number]
            free[number] += 1
        self.adds, self.opens, self.broken = dict.fromkeys(last, 0), [0] * len(widths), 0
        if counts:
            self._count(counts, free, cluster, hole)
        on = {hole[way]: channel[way] for span in cluster.spans for way in span}
        self.closes = _closes(cluster, self.bit, on)
        self.single = not counts and len(set(on.values())) == 1

    def _count(self, counts: list[tuple[Cap, int]], free: list[int], cluster: Cluster, hole: list[int]) -> None:
        """Lay out the caps that allow several, each with the last strike that needs it."""
        first: dict[int, int] = {}
        for number, span in enumerate(cluster.spans):
            for way in span:
                first.setdefault(hole[way], number)
        for cap, number in counts:
            place, bits = free[number], cap.most.bit_length()
            free[number] += bits + 1
            self.broken |= 1 << bits + place
            self.opens[min(first[at] for at in cap.members)] |= (1 << bits) - 1 - cap.most << place
            for at in cap.members:
                self.adds[at] |= 1 << place

    def stage(self, number: int, span: range, hole: list[int], merit: list[int]) -> _Stage:
        """What the search needs of a strike."""
        low, opens = self.base[number], self.opens[number + 1] >> self.base[number]
        moves = {
            way: _Move(self.bit[at] >> low, self.closes[at] >> low, (self.adds[at] >> low) + opens, worth)
            for way, at, worth in zip(span, hole[span.start : span.stop], merit[span.start : span.stop], strict=True)
        }
        return _Stage(moves, opens, self.broken >> low, self.base[number + 1] - low, max(merit[span.start : span.stop]))


def _closes(cluster: Cluster, bit: dict[int, int], on: dict[int, int]) -> dict[int, int]:
    """The bits that a pin in each hole sets: its own, what a cap bars, and those of earlier holes of its channel."""
    closes = bit.copy()
    for cap in cluster.caps:
        if cap.most == 1:
            mask = sum([bit[at] for at in cap.members])
            for at in cap.members:
                closes[at] |= mask
    before = dict.fromkeys(on.values(), 0)
    for at in sorted(bit):
        before[on[at]] |= bit[at]
        closes[at] |= before[on[at]]
    return closes

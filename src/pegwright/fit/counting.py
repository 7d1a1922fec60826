"""Exact search of a cluster by counting what is taken of each cap.

Strikes are settled one after another. All that matters of those settled is how much has been taken of each cap that
a later strike has a way in; so a state is those counts, as one whole number with a field for each cap. A
field starts so that one way too many reaches its highest bit. States with equal counts are one, of which the best
is kept; and a state that even the best ways of all later strikes could not bring up to a known solution is dropped.

Few strikes bear on one another at a time, so few states arise. Where there are too many, the search gives up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

from pegwright.fit.caps import Cluster
from pegwright.fit.contest import LEFT_OUT

Layer: TypeAlias = dict[int, int]  # from a state to the best total that leads to it, or that it leads to
MOST_STATES = 20_000  # of one cluster
NEVER = -1  # below any total


@dataclass(frozen=True, slots=True)
class _Fields:
    """The fields of a state.

    Args:
        start: nothing taken.
        adds: what each way adds.
        broken: the highest bits of all fields.
        kept: for each strike the fields that later strikes look at.
    """

    start: int
    adds: dict[int, int]
    broken: int
    kept: list[int]


class Counted:
    """The exact best of a cluster, to be taken strike by strike.

    Args:
        cluster: the strikes.
        merit: what each way is worth, above 0.

    Raises:
        OverflowError: there are too many states.
    """

    def __init__(self, cluster: Cluster, merit: dict[int, int]) -> None:
        self._cluster, self._merit = cluster, merit
        self._fields = _fields(cluster)
        self._to_go = self._backward(_forward(cluster, merit, self._fields))
        self._number, self._state = 0, self._fields.start

    def take(self, order: Sequence[int]) -> int:
        """Settle the next strike.

        Args:
            order: its ways, those first that it should rather take.

        Returns:
            The first way that leads to the best total of all, or `LEFT_OUT` where none does.
        """
        fields, ahead = self._fields, self._to_go[self._number + 1]
        total, kept = self._to_go[self._number][self._state], fields.kept[self._number]
        self._number += 1
        for way in order:
            after = self._state + fields.adds[way]
            left = total - self._merit[way]
            if left >= 0 and not after & fields.broken and ahead.get(after & kept, NEVER) == left:
                self._state = after & kept
                return way
        self._state &= kept
        return LEFT_OUT

    def _backward(self, layers: list[Layer]) -> list[Layer]:
        """For the states of each layer the best total that they lead to."""
        fields, merit = self._fields, self._merit
        to_go = [dict.fromkeys(layers[-1], 0)]
        for number in range(len(layers) - 2, -1, -1):
            kept, ahead = fields.kept[number], to_go[-1]
            moves = [(0, 0), *((fields.adds[way], merit[way]) for way in self._cluster.ways[number])]
            here: Layer = {}
            for state in layers[number]:
                best = NEVER
                for add, worth in moves:
                    after = state + add
                    if not after & fields.broken:
                        total = ahead.get(after & kept, NEVER)
                        if total >= 0 and total + worth > best:
                            best = total + worth
                if best >= 0:
                    here[state] = best
            to_go.append(here)
        return to_go[::-1]


def greatest_total(cluster: Cluster, merit: dict[int, int]) -> int:
    """The best total of a cluster, without the ways that lead to it; arguments and errors are those of `Counted`."""
    return max(_forward(cluster, merit, _fields(cluster))[-1].values())


def _forward(cluster: Cluster, merit: dict[int, int], fields: _Fields) -> list[Layer]:
    """The states before each strike and at the end, with the best total that leads to each."""
    to_come = sum(max(merit[way] for way in span) for span in cluster.ways)
    known = _known(cluster, merit, fields)
    layers: list[Layer] = [{fields.start: 0}]
    states = 1
    for span, kept in zip(cluster.ways, fields.kept, strict=True):
        to_come -= max(merit[way] for way in span)
        needed = known - to_come
        moves = [(0, 0), *((fields.adds[way], merit[way]) for way in span)]
        following: Layer = {}
        for state, total in layers[-1].items():
            for add, worth in moves:
                after = state + add
                if total + worth >= needed and not after & fields.broken:
                    after &= kept
                    if following.get(after, NEVER) < total + worth:
                        following[after] = total + worth
        states += len(following)
        if states > MOST_STATES:
            raise OverflowError(f"more than {MOST_STATES} states")
        layers.append(following)
    return layers


def _known(cluster: Cluster, merit: dict[int, int], fields: _Fields) -> int:
    """What comes of each strike taking the best way that is open."""
    state, total = fields.start, 0
    for span, kept in zip(cluster.ways, fields.kept, strict=True):
        for way in sorted(span, key=lambda way: -merit[way]):
            if not (state + fields.adds[way]) & fields.broken:
                state += fields.adds[way]
                total += merit[way]
                break
        state &= kept
    return total


def _fields(cluster: Cluster) -> _Fields:
    number_of = {way: number for number, span in enumerate(cluster.ways) for way in span}
    adds = dict.fromkeys(number_of, 0)
    kept = [0] * len(cluster.ways)
    start = broken = shift = 0
    for cap in cluster.caps:
        bits = cap.most.bit_length()
        field = (1 << bits + 1) - 1
        start |= ((1 << bits) - 1 - cap.most) << shift
        broken |= 1 << bits + shift
        for way in cap.members:
            adds[way] |= 1 << shift
        for number in range(max(number_of[way] for way in cap.members)):
            kept[number] |= field << shift
        shift += bits + 1
    return _Fields(start, adds, broken, kept)

"""Exact search where rows of a channel need different gaps, so that pins farther back can matter too.

That is so only where the re-strike is so short, or the tempo so slow, that the room between pins is what counts.
A state is a strike with the set of holes that the pins set so far have closed: a whole number whose bit 0 is the
lowest hole within reach of the strike. Few pins find room side by side, so few states arise; and a state is dropped
when another one is worth more and has closed nothing that it has left open, since whatever follows follows it too.

Round the end of the turn the first pins close some of the last holes, the tail. What the tail of a state is, is settled
once the first strikes are past; then each tail is searched on its own. In between, where no tail bears on anything,
searches soon differ by a constant alone, and from there on the first one's states serve for all.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import TypeAlias

import numpy as np

from pegwright.columns import Ints
from pegwright.fit.contest import LEFT_OUT, Contest
from pegwright.fit.quantise import Holes

Layer: TypeAlias = dict[int, int]  # from a state to the best total that leads to it, or that it leads to
Options: TypeAlias = list[list[tuple[int, int]]]  # for each strike its holes, the earliest first, with their merits
NEVER = -1  # below any total


@dataclass(frozen=True, slots=True)
class _Move:
    """A hole that a strike may take: closed if the state has its `bit`; else the state gains `closes`."""

    hole: int
    bit: int
    closes: int
    merit: int
    in_tail: int
    closes_in_tail: int


@dataclass(frozen=True, slots=True)
class _Cluster:
    """The strikes of a cluster.

    Args:
        moves: for each strike its holes, the earliest first.
        shift: for each strike how far the lowest hole of the next one is from its own; the last forgets all.
        heads: how many strikes may close a hole of the tail.
        middle: the first strike that has a hole of the tail.
    """

    moves: list[list[_Move]]
    shift: list[int]
    heads: int
    middle: int


def best_with_gaps_by_row(contest: Contest, holes: Holes, by_rows: tuple[Ints, ...], turn_ticks: int) -> Ints:
    """The best holes for contested strikes of channels whose rows need different gaps.

    Args:
        contest: the strikes.
        holes: the list that the contest's holes index.
        by_rows: gaps of each channel by rows, in ticks.
        turn_ticks: once round.

    Returns:
        Shape (s,): an index into `holes`, or -1.
    """
    chosen = np.full(len(contest.cluster), LEFT_OUT, dtype=np.int64)
    pairs = contest.pairs
    for start, stop in pairwise(contest.cluster_bounds()):
        first = pairs.first[start : stop + 1].tolist()
        listed, number = np.unique(pairs.hole[first[0] : first[-1]], return_inverse=True)
        items = list(zip(number.tolist(), contest.merit[first[0] : first[-1]], strict=True))
        options = [items[low - first[0] : past - first[0]] for low, past in pairwise(first)]
        gaps = by_rows[int(contest.channel[start])].tolist()
        places = (holes.position[listed].tolist(), holes.row[listed].tolist())
        taken = search_cluster(options, *places, gaps, turn_ticks, holes.place[listed].tolist())
        chosen[start:stop] = [LEFT_OUT if hole == LEFT_OUT else listed[hole] for hole in taken]
    return chosen


def search_cluster(
    options: Options,
    position: list[int],
    row: list[int],
    gaps: list[list[int]],
    turn_ticks: int,
    place: list[int] | None = None,
) -> list[int]:
    """The best holes for the strikes of one cluster.

    Args:
        options: holes are numbered within the cluster; the first and last of a strike rise from strike to strike.
        position: of each hole, rising.
        row: of each hole.
        gaps: least distance between pins by their rows, in ticks.
        turn_ticks: once round.
        place: a number for each hole, equal where it is one hole with several pins; None where each is its own.

    Returns:
        The hole of each strike, the earliest that an optimum allows, or -1.
    """
    places = list(range(len(position))) if place is None else place
    return _search(_cluster(options, *_closed_by(position, row, gaps, turn_ticks, places)))


def _closed_by(
    position: list[int], row: list[int], gaps: list[list[int]], turn_ticks: int, place: list[int]
) -> tuple[list[int], list[int]]:
    """What a pin in each hole closes to later strikes, as bits.

    Returns:
        The holes too near after it, bit 0 being the next hole; and those too near before its next coming
        round, or past that, bit 0 being the last hole of all.
    """
    count, greatest = len(position), max(max(line) for line in gaps)
    after, before = [0] * count, [0] * count
    for hole in range(count):
        other = hole + 1
        while other < count and position[other] - position[hole] < greatest:
            if position[other] - position[hole] < gaps[row[hole]][row[other]]:
                after[hole] |= 1 << (other - hole - 1)
            other += 1
        other = count - 1
        while other > hole and position[hole] + turn_ticks - position[other] < greatest:
            if position[hole] + turn_ticks - position[other] < gaps[row[hole]][row[other]]:
                before[hole] |= 1 << (count - 1 - other)
            other -= 1
    for hole, other in combinations(range(count), 2) if len(set(place)) < count else ():
        if place[hole] == place[other]:  # one hole: for two pins of it, or for one pin that comes round again
            after[hole] |= 1 << (other - hole - 1)
    return after, before


def _cluster(options: Options, after: list[int], before: list[int]) -> _Cluster:
    """Lay out a cluster from the (hole, merit) options of its strikes and what each hole closes."""
    count = len(after)
    tail_first = count - max(bits.bit_length() for bits in before)
    lowest = [line[0][0] for line in options]
    moves = []
    for line, base in zip(options, lowest, strict=True):
        moves.append(
            [
                _Move(
                    hole=hole,
                    bit=1 << (hole - base),
                    closes=(1 << (hole - base + 1)) - 1 | after[hole] << (hole - base + 1),
                    merit=merit,
                    in_tail=1 << (count - 1 - hole) if hole >= tail_first else 0,
                    closes_in_tail=before[hole],
                )
                for hole, merit in line
            ]
        )
    shift = [later - earlier for earlier, later in pairwise(lowest)]
    heads = [number for number, line in enumerate(moves) if any(move.closes_in_tail for move in line)]
    tails = [number for number, line in enumerate(moves) if any(move.in_tail for move in line)]
    return _Cluster(moves, [*shift, count], heads[-1] + 1 if heads else 0, tails[0] if tails else len(moves))


def _search(cluster: _Cluster) -> list[int]:
    """The best hole for each strike of a cluster, the earliest that an optimum allows, or -1."""
    heads: list[dict[tuple[int, int], int]] = [{(0, 0): 0}]
    for number in range(cluster.heads):
        following: dict[tuple[int, int], int] = {}
        for (state, tail), total in heads[-1].items():
            for _, merit, after in _ways(cluster, number, state, tail):
                following[after] = max(following.get(after, NEVER), total + merit)
        heads.append(following)
    starts: dict[int, Layer] = {}
    for (state, tail), total in heads[-1].items():
        starts.setdefault(tail, {})[state] = total
    runs: dict[int, list[Layer]] = {}
    totals: dict[int, int] = {}
    for tail, start in starts.items():
        runs[tail], totals[tail] = _run(cluster, start, tail, next(iter(runs.values()), None))
    best = max(totals.values())
    to_go = {tail: _to_go(cluster, runs[tail], tail) for tail, total in totals.items() if total == best}
    ahead = {(state, tail): total for tail, layers in to_go.items() for state, total in layers[0].items()}
    head_to_go = [ahead]
    for number in range(cluster.heads - 1, -1, -1):
        ahead = {}
        for state, tail in heads[number]:
            ways = _ways(cluster, number, state, tail)
            ahead[state, tail] = max(_plus(merit, head_to_go[-1].get(after)) for _, merit, after in ways)
        head_to_go.append(ahead)
    return _walk(cluster, head_to_go[::-1], to_go)


def _plus(merit: int, total: int | None) -> int:
    return NEVER if total is None or total < 0 else merit + total


def _ways(cluster: _Cluster, number: int, state: int, tail: int) -> list[tuple[int, int, tuple[int, int]]]:
    """Every way on from a state at a strike, the earliest hole first, leaving out last: hole, merit, state and tail."""
    shift = cluster.shift[number]
    ways = [
        (move.hole, move.merit, ((state | move.closes) >> shift, tail | move.closes_in_tail))
        for move in cluster.moves[number]
        if not (state & move.bit or tail & move.in_tail)
    ]
    ways.append((LEFT_OUT, 0, (state >> shift, tail)))
    return ways


def _run(cluster: _Cluster, start: Layer, tail: int, model: list[Layer] | None) -> tuple[list[Layer], int]:
    """Search on from the first strikes with a settled tail.

    Args:
        cluster: the strikes.
        start: best totals of the states after the first strikes.
        tail: the closed holes of the tail.
        model: the states of a search with another tail.

    Returns:
        The states before each further strike and at the end, and the best total.
    """
    layers = [start]
    number = cluster.heads
    while number < len(cluster.moves):
        layer = layers[-1]
        if model is not None and number < cluster.middle:
            other = model[number - cluster.heads]
            apart = {total - other.get(state, NEVER) for state, total in layer.items()}
            if layer.keys() == other.keys() and len(apart) == 1:
                joined = model[number - cluster.heads + 1 : cluster.middle - cluster.heads + 1]
                more = apart.pop()
                layers += joined[:-1]
                layers.append({state: total + more for state, total in joined[-1].items()})
                number, model = cluster.middle, None
                continue
        layers.append(_kept(_following(cluster, number, layer, tail)))
        number += 1
    return layers, max(layers[-1].values())


def _following(cluster: _Cluster, number: int, layer: Layer, tail: int) -> Layer:
    """Best totals of the states after a strike."""
    shift = cluster.shift[number]
    following: Layer = {}
    for state, total in layer.items():
        after = state >> shift
        if following.get(after, NEVER) < total:
            following[after] = total
    for move in cluster.moves[number]:
        if tail & move.in_tail:
            continue
        bit, closes, merit = move.bit, move.closes, move.merit
        for state, total in layer.items():
            if not state & bit:
                after = (state | closes) >> shift
                if following.get(after, NEVER) < total + merit:
                    following[after] = total + merit
    return following


def _kept(layer: Layer) -> Layer:
    """Without the states that another one beats with nothing more closed."""
    kept: list[tuple[int, int]] = []
    for state, total in sorted(layer.items(), key=lambda item: (-item[1], item[0])):
        if not any(other & ~state == 0 and more > total for other, more in kept):
            kept.append((state, total))
    return dict(kept)


def _to_go(cluster: _Cluster, layers: list[Layer], tail: int) -> list[Layer]:
    """Best totals that the states of each layer lead to, from the first layer to the last."""
    to_go = [dict.fromkeys(layers[-1], 0)]
    for number in range(len(cluster.moves) - 1, cluster.heads - 1, -1):
        after, shift = to_go[-1], cluster.shift[number]
        moves = [(move.bit, move.closes, move.merit) for move in cluster.moves[number] if not tail & move.in_tail]
        here: Layer = {}
        for state in layers[number - cluster.heads]:
            best = after.get(state >> shift, NEVER)
            for bit, closes, merit in moves:
                if not state & bit:
                    best = max(best, _plus(merit, after.get((state | closes) >> shift)))
            here[state] = best
        to_go.append(here)
    return to_go[::-1]


def _walk(cluster: _Cluster, heads: list[dict[tuple[int, int], int]], to_go: dict[int, list[Layer]]) -> list[int]:
    """Each strike takes the earliest hole that reaches the best total."""
    chosen = []
    state, tail = 0, 0
    total = heads[0][state, tail]
    for number in range(len(cluster.moves)):
        for hole, merit, (after, after_tail) in _ways(cluster, number, state, tail):
            if number < cluster.heads:
                ahead = heads[number + 1].get((after, after_tail))
            else:
                ahead = to_go[tail][number + 1 - cluster.heads].get(after)
            if _plus(merit, ahead) == total:
                chosen.append(hole)
                state, tail, total = after, after_tail, total - merit
                break
    return chosen

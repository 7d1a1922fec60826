"""Exact search where rows of a channel need different gaps, so that pins farther back can matter too.

That is so only where the re-strike is so short, or the tempo so slow, that the room between pins is what counts.
A state is a strike with the set of holes that the pins set so far have closed, as the bits of a whole number;
holes that no later strike can reach are forgotten. Few pins find room side by side, so few states arise.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from pegwright.columns import Ints
from pegwright.fit.contest import LEFT_OUT, Contest
from pegwright.fit.quantise import Holes

Options = list[tuple[int, int]]  # for one strike: (hole, merit), holes numbered within the cluster


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
    bounds = contest.cluster_bounds()
    for start, stop in pairwise(bounds):
        first = pairs.first[start : stop + 1].tolist()
        listed, number = np.unique(pairs.hole[first[0] : first[-1]], return_inverse=True)
        items = list(zip(number.tolist(), contest.merit[first[0] : first[-1]], strict=True))
        options = [items[low - first[0] : past - first[0]] for low, past in pairwise(first)]
        gaps = by_rows[int(contest.channel[start])].tolist()
        closed = _closed_by(holes.position[listed].tolist(), holes.row[listed].tolist(), gaps, turn_ticks)
        taken = _search(options, closed)
        chosen[start:stop] = [LEFT_OUT if hole == LEFT_OUT else listed[hole] for hole in taken]
    return chosen


def _closed_by(position: list[int], row: list[int], gaps: list[list[int]], turn_ticks: int) -> list[int]:
    """For each hole, as bits, the holes that later notes cannot take once a pin is in it.

    Those are the holes up to it (pins keep the order of their notes), those too near after it, and those too
    near before its next coming round or later.
    """
    count = len(position)
    greatest = max(max(line) for line in gaps)
    closed = []
    for hole in range(count):
        bits = (1 << (hole + 1)) - 1
        after = hole + 1
        while after < count and position[after] - position[hole] < greatest:
            if position[after] - position[hole] < gaps[row[hole]][row[after]]:
                bits |= 1 << after
            after += 1
        before = count - 1
        while before > hole and position[hole] + turn_ticks - position[before] < greatest:
            if position[hole] + turn_ticks - position[before] < gaps[row[hole]][row[before]]:
                bits |= 1 << before
            before -= 1
        closed.append(bits)
    return closed


def _search(options: list[Options], closed: list[int]) -> list[int]:
    """The best hole for each strike of a cluster, the earliest that an optimum allows, or -1."""
    keep = [-1 << line[0][0] for line in options[1:]]  # forgets holes below the first one of the next strike
    keep.append(0)
    states = [{0}]
    for line, mask in zip(options, keep, strict=True):
        following = {state & mask for state in states[-1]}
        for hole, _ in line:
            following.update((state | closed[hole]) & mask for state in states[-1] if not state >> hole & 1)
        states.append(following)
    to_go = [dict.fromkeys(states[-1], 0)]
    for line, mask, layer in zip(reversed(options), reversed(keep), reversed(states[:-1]), strict=True):
        after = to_go[-1]
        to_go.append({state: max(_totals(state, line, mask, closed, after)) for state in layer})
    to_go.reverse()
    chosen, state = [], 0
    for number, (line, mask) in enumerate(zip(options, keep, strict=True)):
        after = to_go[number + 1]
        totals = _totals(state, line, mask, closed, after)
        best = totals.index(max(totals))  # holes come before leaving out, the earliest first
        hole = line[best][0] if best < len(line) else LEFT_OUT
        chosen.append(hole)
        state = (state if hole == LEFT_OUT else state | closed[hole]) & mask
    return chosen


def _totals(state: int, line: Options, mask: int, closed: list[int], after: dict[int, int]) -> list[int]:
    """The best total for each hole of a strike, -1 for a closed one, then for leaving it out."""
    totals = [-1 if state >> hole & 1 else merit + after[(state | closed[hole]) & mask] for hole, merit in line]
    totals.append(after[state & mask])
    return totals

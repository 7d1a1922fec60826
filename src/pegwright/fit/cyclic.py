"""Exact search where all rows of a channel keep the same gap: a dynamic programme on the cyclic turn.

With one gap, all that matters of the pins set so far is the first hole that is free again. So a state is a strike
with the lowest hole it may take, which is a pair of the contest; beside the pairs there is one more state, the end.
Each pair has two ways on, found beforehand: to the state after it is taken, and to the state after its strike
and all its holes from there on are passed over.

Round the end of the turn only the first pin set (the head) bears on the last ones: none may stand later than a
turn less the gap after it. Heads so early that this matters are few; for each the programme is run with the later
holes barred.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pegwright.columns import Ints
from pegwright.fit.contest import LEFT_OUT, Contest
from pegwright.fit.quantise import Holes

BARRED = -(1 << 200)  # less than any total


@dataclass(frozen=True, slots=True, eq=False)
class _Ways:
    """Plain lists, one item a pair: what is read millions of times is quickest so."""

    merit: list[int]
    position: list[int]
    taken: list[int]
    passed: list[int]
    last: list[bool]


def best_with_one_gap(contest: Contest, holes: Holes, by_rows: tuple[Ints, ...], turn_ticks: int) -> Ints:
    """The best holes for contested strikes of channels whose rows all need the same gap.

    Args:
        contest: the strikes.
        holes: the list that the contest's holes index.
        by_rows: gaps of each channel by rows, in ticks.
        turn_ticks: once round.

    Returns:
        Shape (s,): an index into `holes`, or -1.
    """
    gap = np.array([matrix.max() for matrix in by_rows], dtype=np.int64)
    ways = _ways(contest, holes, gap)
    count = len(ways.merit)
    to_go = [0] * (count + 1)
    strike, hole = contest.pairs.strike.tolist(), contest.pairs.hole.tolist()
    chosen = [LEFT_OUT] * len(contest.cluster)
    strike_bounds = contest.cluster_bounds()
    bounds = contest.pairs.first[strike_bounds].tolist()
    totals = _sweep(ways, ways.merit, 0, count, to_go)
    for number, wrapped in enumerate(contest.wrapped.tolist()):
        start, stop = bounds[number], bounds[number + 1]
        if wrapped:
            channel = int(contest.channel[strike_bounds[number]])
            taken = _round(ways, totals[start:stop], start, turn_ticks - int(gap[channel]), to_go)
        else:
            taken = _walk(ways, totals, 0, start, to_go[start])
        for pair in taken:
            chosen[strike[pair]] = hole[pair]
    return np.array(chosen, dtype=np.int64)


def _ways(contest: Contest, holes: Holes, gap: Ints) -> _Ways:
    pairs, cluster = contest.pairs, contest.cluster
    channel = contest.channel[pairs.strike]
    free_again = np.minimum(holes.before(channel, holes.position[pairs.hole] + gap[channel]), holes.past[channel])
    stride = len(holes.key) + 1
    ranked_past = cluster * stride + contest.past  # rises through the whole contest, so one search serves all
    cluster_end = np.searchsorted(cluster, cluster, side="right")[pairs.strike]

    def state(lowest: Ints) -> Ints:
        """Where a later strike of the same cluster can take `lowest` or a higher hole; the end where none can."""
        ranked = np.searchsorted(ranked_past, cluster[pairs.strike] * stride + lowest, side="right")
        follower = np.maximum(ranked, pairs.strike + 1)
        none = follower >= cluster_end
        follower = np.where(none, 0, follower)
        at = pairs.first[follower] + np.maximum(lowest - contest.low[follower], 0)
        return np.where(none, len(pairs.hole), at)

    last = np.zeros(len(pairs.hole), dtype=bool)
    last[pairs.first[1:] - 1] = True
    return _Ways(
        merit=contest.merit,
        position=holes.position[pairs.hole].tolist(),
        taken=state(free_again).tolist(),
        passed=state(pairs.hole).tolist(),
        last=last.tolist(),
    )


def _sweep(ways: _Ways, merit: list[int], start: int, stop: int, to_go: list[int]) -> list[int]:
    """Best totals from the last pair back to the first.

    Args:
        ways: of the whole contest.
        merit: of the pairs from `start` on, barred ones far below 0.
        start: the first pair.
        stop: past the last pair.
        to_go: written here: the best total from each state.

    Returns:
        The best total if each pair is taken, from `start` on.
    """
    taken, passed, last = ways.taken, ways.passed, ways.last
    totals = [0] * (stop - start)
    best = 0
    for pair in range(stop - 1, start - 1, -1):
        total = merit[pair - start] + to_go[taken[pair]]
        totals[pair - start] = total
        if last[pair] or total > best:
            best = total
        other = to_go[passed[pair]]
        to_go[pair] = best if best > other else other  # noqa: FURB136  # max() makes the sweep a third slower
    return totals


def _walk(ways: _Ways, totals: list[int], start: int, pair: int, total: int) -> list[int]:
    """The pairs that make up `total`, from a state on, each strike taking the earliest hole that does.

    Args:
        ways: of the whole contest.
        totals: from `_sweep`.
        start: the pair that `totals` begins with.
        pair: the state to go from.
        total: the best total from there.
    """
    chosen = []
    end = len(ways.merit)
    while pair != end:
        trial = pair
        while totals[trial - start] != total and not ways.last[trial]:
            trial += 1
        if totals[trial - start] == total:
            chosen.append(trial)
            total -= ways.merit[trial]
            pair = ways.taken[trial]
        else:
            pair = ways.passed[pair]
    return chosen


def _round(ways: _Ways, totals: list[int], start: int, room_ticks: int, to_go: list[int]) -> list[int]:
    """The best pairs of a cluster that goes round the end of the turn.

    Args:
        ways: of the whole contest.
        totals: the cluster's, from `_sweep` without any hole barred.
        start: the cluster's first pair.
        room_ticks: a turn less the gap: how much later than the head the last pin may be.
        to_go: written over.
    """
    stop = start + len(totals)
    position, merit = ways.position[start:stop], ways.merit[start:stop]
    latest = max(position)
    by_head = list(totals)
    runs: dict[int, list[int]] = {}
    for number, at in enumerate(position):
        limit = at + room_ticks
        if limit < latest:
            if limit not in runs:
                allowed = [value if place <= limit else BARRED for value, place in zip(merit, position, strict=True)]
                runs[limit] = _sweep(ways, allowed, start, stop, to_go)
            by_head[number] = runs[limit][number]
    total = max(by_head)
    head = by_head.index(total)
    after = runs.get(position[head] + room_ticks, totals)
    return [start + head, *_walk(ways, after, start, ways.taken[start + head], total - merit[head])]

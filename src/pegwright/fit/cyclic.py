"""Exact search where all rows of a channel keep the same gap: a dynamic programme on the cyclic turn.

With one gap, all that matters of the pins set so far is the first hole that is free again. So a state is a strike
with the lowest hole it may take, which is one of the ways; beside the ways there is one more state, the end. From each
state two steps lead on, computed beforehand: to the state after its way is taken, and to the state after its strike
and all its holes from there on are skipped.

Round the end of the turn only the first pin set (the head) bears on the last ones: none may stand later than a
turn less the gap after it. Heads so early that this matters are few; for each the programme is run with the later
holes barred.
"""

from __future__ import annotations

import numpy as np

from pegwright.columns import Ints, firsts
from pegwright.fit.problem import LEFT_OUT, Ways
from pegwright.fit.quantise import Holes
from pegwright.frozen import frozen

BARRED = -1  # below what it adds to leave a strike out, so that no barred pair is taken


@frozen(eq=False)
class Spacing:
    """All strikes of `Ways`, on channels whose pins all need the same gap, in order of cluster, then onset.

    Args:
        cluster: shape (s,), which cluster each strike is in, from 0, rising by at most one.
        channel: shape (s,).
        gap_ticks: shape (channels,).
        holes: the list that ways index.
        turn_ticks: once round.
    """

    cluster: Ints
    channel: Ints
    gap_ticks: Ints
    holes: Holes
    turn_ticks: int


@frozen(eq=False)
class _Steps:
    """What the search reads of each way: plain lists, which are faster to read one by one than arrays."""

    merit: list[int]
    position: list[int]
    taken: list[int]
    passed: list[int]
    last: list[bool]


def spaced_ways(rules: Spacing, ways: Ways, merit: list[int]) -> list[int]:
    """The exact best of clusters on channels of their own, many at a time.

    Args:
        rules: how far apart pins must be.
        ways: of all clusters, by cluster.
        merit: of each way.

    Returns:
        The way of each strike, or `LEFT_OUT`.
    """
    steps, strike = _steps(rules, ways, merit), ways.strike.tolist()
    chosen = [LEFT_OUT] * len(rules.cluster)
    to_go = [*merit, 0]  # from the end 0; the others are written by the sweep
    totals = _sweep(steps, merit, 0, len(merit), to_go)
    heads = np.flatnonzero(firsts(rules.cluster))
    bounds = ways.first[np.append(heads, len(rules.cluster))].tolist()
    rooms = (rules.turn_ticks - rules.gap_ticks[rules.channel[heads]]).tolist()
    for start, stop, room in zip(bounds, bounds[1:], rooms, strict=False):
        if steps.position[start] + room < steps.position[stop - 1]:
            taken = _round(steps, totals[start:stop], start, room, to_go)
        else:
            taken = _walk(steps, totals, 0, start, to_go[start])
        for way in taken:
            chosen[strike[way]] = way
    return chosen


def _steps(rules: Spacing, ways: Ways, merit: list[int]) -> _Steps:
    holes, cluster, past = rules.holes, rules.cluster, ways.hole[ways.first[1:] - 1] + 1
    low, channel, cluster_of = ways.hole[ways.first[:-1]], rules.channel[ways.strike], cluster[ways.strike]
    free_again = holes.before(channel, holes.position[ways.hole] + rules.gap_ticks[channel])
    stride = len(holes.key)
    ranked_past = cluster * stride + past  # rises through all clusters, so one search serves all
    cluster_end = np.searchsorted(cluster, cluster, side="right")[ways.strike]

    def state(lowest: Ints) -> list[int]:
        """Where a later strike of the same cluster can take `lowest` or a higher hole; the end where none can."""
        ranked = np.searchsorted(ranked_past, cluster_of * stride + lowest, side="right")
        follower = np.maximum(ranked, ways.strike + 1)
        some = follower < cluster_end
        follower = follower[some]
        at = np.full(len(merit), len(merit))
        at[some] = ways.first[follower] + np.maximum(lowest[some] - low[follower], 0)
        following: list[int] = at.tolist()
        return following

    return _Steps(
        merit=merit,
        position=holes.position[ways.hole].tolist(),
        taken=state(free_again),
        passed=state(ways.hole),
        last=np.append(np.diff(ways.strike) > 0, True).tolist(),
    )


def _sweep(steps: _Steps, merit: list[int], start: int, stop: int, to_go: list[int]) -> list[int]:
    """Best totals from the last pair back to the first.

    Args:
        steps: of the whole contest.
        merit: of the pairs from `start` on; of barred ones, `BARRED`.
        start: the first pair.
        stop: past the last pair.
        to_go: written here: the best total from each state.

    Returns:
        The best total if each pair is taken, from `start` on.
    """
    taken, passed, last = steps.taken, steps.passed, steps.last
    totals = list(merit)
    best = BARRED
    for pair in range(stop - 1, start - 1, -1):
        total = merit[pair - start] + to_go[taken[pair]]
        totals[pair - start] = total
        if last[pair] or total > best:
            best = total
        other = to_go[passed[pair]]
        to_go[pair] = best if best > other else other  # noqa: FURB136  # max() makes the sweep a third slower
    return totals


def _walk(steps: _Steps, totals: list[int], start: int, pair: int, total: int) -> list[int]:
    """The pairs that make up `total`, from a state on, each strike taking the earliest hole that does.

    Args:
        steps: of the whole contest.
        totals: from `_sweep`.
        start: the pair that `totals` begins with.
        pair: the state to go from.
        total: the best total from there.
    """
    chosen = []
    end = len(steps.merit)
    while pair != end:
        trial = pair
        while totals[trial - start] != total and not steps.last[trial]:
            trial += 1
        if totals[trial - start] == total:
            chosen.append(trial)
            total -= steps.merit[trial]
            pair = steps.taken[trial]
        else:
            pair = steps.passed[pair]
    return chosen


def _round(steps: _Steps, by_head: list[int], start: int, room_ticks: int, to_go: list[int]) -> list[int]:
    """The best pairs of a cluster that goes round the end of the turn.

    Args:
        steps: of the whole contest.
        by_head: the cluster's totals, from `_sweep` without any hole barred; written over.
        start: the cluster's first pair.
        room_ticks: a turn less the gap: how much later than the head the last pin may be.
        to_go: written over.
    """
    stop = start + len(by_head)
    position, merit = steps.position[start:stop], steps.merit[start:stop]
    latest = max(position)
    runs: dict[int, list[int]] = {}
    for number, at in enumerate(position):
        limit = at + room_ticks
        if limit < latest:
            if limit not in runs:
                allowed = [merit[pair] if place <= limit else BARRED for pair, place in enumerate(position)]
                runs[limit] = _sweep(steps, allowed, start, stop, to_go)
            by_head[number] = runs[limit][number]
    total = max(by_head)
    head = by_head.index(total)
    after = runs.get(position[head] + room_ticks, by_head)  # what follows a head that bars nothing bars nothing
    return [start + head, *_walk(steps, after, start, steps.taken[start + head], total - merit[head])]

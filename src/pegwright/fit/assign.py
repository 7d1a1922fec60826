"""Which strike takes which hole: the exact best, lexicographic in whole numbers.

    (1) the greatest total weight placed;
    (2) the least total cost, the cost of a pin being its distance beyond what counts as exact;
        then the fewest pins that are not plain; then the least total distance, so that an exact hole is better
        than one that counts as exact;
    (3) going through the notes of a channel in order, the earliest hole that an optimum allows; left out is last.

Pins of a channel keep the order of their notes, also round the end of the turn; the third aim is meant among such
placements (across the end, a pin that passes another could give the first note an earlier hole still).

Where no limit is broken, channels do not depend on one another. On each, strikes whose holes can never be in each
other's way are parted into clusters; where every strike of a cluster has its nearest hole, that is the answer, and only
contested clusters are searched. Then limits are applied; with them, the strikes of all channels that they join are
settled in order of onset, then channel.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pegwright.ask.options import ChannelRule
from pegwright.columns import Ints, distinct, firsts
from pegwright.fit.coupled import Assignment, assign_together, components, contest_of, within_limits
from pegwright.fit.cyclic import Spacing, spaced_ways
from pegwright.fit.gaps import Gaps
from pegwright.fit.limits import Limit, overfull
from pegwright.fit.problem import LEFT_OUT, merit_of, ways_of
from pegwright.fit.quantise import Holes, Strikes, nearest, pairs_of
from pegwright.fit.turn import Turn


def assign(
    strikes: Strikes,
    holes: Holes,
    gaps: Gaps,
    limits: Sequence[Limit],
    turn: Turn,
    rule: ChannelRule = ChannelRule.PREFER,
) -> Assignment:
    """Find the best hole for every strike.

    Args:
        strikes: in order of their sets of channels, then onset.
        holes: those that exist.
        gaps: least distances on each channel.
        limits: on strikes of several channels.
        turn: reach, tolerance and length of the turn.
        rule: which of several channels takes a strike that either may take.
    """
    if not strikes.shared:
        return within_limits(strikes, holes, gaps, limits, turn, assign_apart(strikes, holes, gaps, turn))
    component = components(len(gaps.between), limits, strikes.choices)
    sharing = component[[channels[0] for channels in strikes.choices if len(channels) > 1]]
    together = np.isin(component[strikes.channel], sharing)
    apart, joined = np.flatnonzero(~together), np.flatnonzero(together)
    chosen = np.full(len(together), LEFT_OUT, dtype=np.int64)
    chosen[apart] = assign_apart(strikes.some(apart), holes, gaps, turn)
    settled = within_limits(strikes, holes, gaps, limits, turn, chosen)
    return assign_together(settled, contest_of(strikes, joined, holes, gaps, limits, turn), rule)


def assign_turns(
    strikes: Strikes,
    holes: Holes,
    gaps: Gaps,
    limits: Sequence[Limit],
    turn: Turn,
    rule: ChannelRule = ChannelRule.PREFER,
) -> Assignment:
    """Find the best hole for every strike of several turns; arguments are those of `assign`.

    Turns do not bear on one another, so where channels do not either all are assigned in one pass. Turns of whose
    strikes some share channels, or in which a limit is broken, are assigned one by one.
    """
    if not len(strikes.turn):
        return assign(strikes, holes, gaps, limits, turn, rule)
    ends = np.searchsorted(strikes.turn, np.arange(strikes.turn[-1] + 2)).tolist()
    spans = [slice(*span) for span in pairwise(ends)]
    if strikes.shared:
        best = Assignment.best(np.full_like(strikes.turn, LEFT_OUT))
        return best.changed(spans, [assign(strikes.some(own), holes, gaps, limits, turn, rule) for own in spans])
    lane = strikes.turn * len(gaps.between) + strikes.channel
    best = Assignment.best(assign_apart(strikes, holes, gaps, turn, lane))
    placed = np.flatnonzero(best.chosen >= 0)
    stand = strikes.channel[placed], holes.position[best.chosen[placed]], turn.turn_ticks, strikes.turn[placed]
    broken = [strikes.turn[placed[overfull(limit, *stand)]] for limit in limits]
    again = [spans[number] for number in distinct(np.concatenate([strikes.turn[:0], *broken])).tolist()]
    settled = [within_limits(strikes.some(own), holes, gaps, limits, turn, best.chosen[own]) for own in again]
    return best.changed(again, settled)


def assign_apart(strikes: Strikes, holes: Holes, gaps: Gaps, turn: Turn, lane: Ints | None = None) -> Ints:
    """Find the best hole for every strike where channels do not depend on one another.

    Args:
        strikes: each with a single channel, in order of channel, then onset.
        holes: those that exist.
        gaps: least distances on each channel.
        turn: reach, tolerance and length of the turn.
        lane: shape (s,), rising, another for each channel of each of several turns; None for the channels of one turn.

    Returns:
        Shape (s,): an index into `holes` for each strike, or -1 where it is left out.
    """
    low, past = holes.within(strikes.channel, strikes.onset, turn.reach_ticks)
    chosen = nearest(pairs_of(strikes.onset, low, past, holes, turn.tolerance_ticks))
    lane = strikes.channel if lane is None else lane
    cluster, wrapped = _clusters(_Lanes(lane, strikes.channel), low, past, holes, gaps, turn)
    contested = _contested(strikes.channel, chosen, cluster, wrapped, holes, gaps, turn)
    members = np.flatnonzero(contested & gaps.one[strikes.channel])
    if len(members):
        members = members[np.argsort(cluster[members], kind="stable")]
        pairs = pairs_of(strikes.onset[members], low[members], past[members], holes, turn.tolerance_ticks)
        ways, _ = ways_of(pairs, strikes.weight[members])
        rank, count = np.unique(cluster[members], return_inverse=True, return_counts=True)[1:]
        spacing = Spacing(rank, strikes.channel[members], gaps.greatest, holes, turn.turn_ticks)
        taken = np.array(spaced_ways(spacing, ways, merit_of(ways.aims, int(count.max())).of_way), dtype=np.int64)
        chosen[members] = np.where(taken == LEFT_OUT, LEFT_OUT, ways.hole[taken])
    members = np.flatnonzero(contested & ~gaps.one[strikes.channel])
    for own in _by_turn(strikes, members):
        chosen = contest_of(strikes, own, holes, gaps, (), turn).solved(Assignment.best(chosen)).chosen
    return chosen


def _by_turn(strikes: Strikes, members: Ints) -> list[Ints]:
    """Some strikes, those of each turn apart, where there are any."""
    if not len(strikes.turn):
        return [members] if len(members) else []
    of = strikes.turn[members]
    return np.split(members, np.flatnonzero(np.diff(of)) + 1) if len(members) else []


class _Lanes(NamedTuple):
    """The lane of each strike, equal for those that pins of one channel and turn are set for, and its channel."""

    lane: Ints
    channel: Ints


def _clusters(
    of: _Lanes, low: Ints, past: Ints, holes: Holes, gaps: Gaps, turn: Turn
) -> tuple[Ints, NDArray[np.bool_]]:
    """A cluster number for each strike (-1 where no hole is within reach), and whether each goes round the turn's end.

    A cluster ends where the next strike's first hole is clear of the last strike's last hole.
    """
    cluster = np.full(len(of.lane), -1, dtype=np.int64)
    some = np.flatnonzero(past > low)
    if not len(some):
        return cluster, np.zeros(0, dtype=bool)
    on, first, last = of.lane[some], holes.position[low[some]], holes.position[past[some] - 1]
    clear = gaps.greatest[of.channel[some]]
    cluster[some], wrapped = parted(on, first, last, clear, turn.turn_ticks)
    return cluster, wrapped


def parted(lane: Ints, first: Ints, last: Ints, clear: Ints, turn_ticks: int) -> tuple[Ints, NDArray[np.bool_]]:
    """Strikes in clusters that cannot bear on one another: a number for each strike, and which go round the turn's end.

    Args:
        lane: shape (s,), rising; strikes of different lanes do not bear on one another.
        first: where the first pin of each strike may be, rising in each lane.
        last: likewise the last.
        clear: distance from which pins of two strikes do not bear on one another.
        turn_ticks: once round.
    """
    new_lane = firsts(lane)
    number = np.cumsum(new_lane | (first - np.append(0, last[:-1]) >= clear)) - 1
    wrapped = np.zeros(int(number.max(initial=-1)) + 1, dtype=bool)
    heads = np.flatnonzero(new_lane)
    tails = np.append(heads, len(lane))[1:] - 1
    round_the_end = (heads != tails) & (first[heads] + turn_ticks - last[tails] < clear[heads])
    for head, tail in zip(heads[round_the_end].tolist(), tails[round_the_end].tolist(), strict=True):
        wrapped[number[head]] = True
        number[number == number[tail]] = number[head]
    return number, wrapped


def _contested(
    channel: Ints, chosen: Ints, cluster: Ints, wrapped: NDArray[np.bool_], holes: Holes, gaps: Gaps, turn: Turn
) -> NDArray[np.bool_]:
    """Whether each strike is in a cluster where not every strike can have its nearest hole."""
    some = np.flatnonzero(chosen >= 0)
    if not len(some):
        return np.zeros(len(chosen), dtype=bool)
    in_turn_order = some[np.argsort(cluster[some], kind="stable")]
    on, of, position = channel[in_turn_order], cluster[in_turn_order], holes.position[chosen[in_turn_order]]
    new = np.append(True, of[1:] != of[:-1])
    too_near = ~new & (position - np.append(0, position[:-1]) < gaps.greatest[on])
    heads = np.flatnonzero(new)
    tails = np.append(heads[1:], len(some)) - 1
    round_the_end = wrapped[of[heads]] & (
        position[heads] + turn.turn_ticks - position[tails] < gaps.greatest[on[heads]]
    )
    contested = np.zeros(len(wrapped), dtype=bool)
    contested[of[too_near]] = True
    contested[of[heads[round_the_end]]] = True
    return np.where(cluster >= 0, contested[cluster], False)

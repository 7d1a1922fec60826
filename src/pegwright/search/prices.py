"""A bound of joined channels at every start, from the prices of their rules at one start.

A rule says that some channels have room for a number of pins in any stretch of the turn of some length. Put a price
on each stretch. Then no placement is worth more than the prices of all the room, and for each strike what it is
worth beyond the prices of the stretches that its pin stands in, in the hole where that is most, or nothing. That holds
at any start for any prices not below 0, since stretches are places in the song. The prices are the best at one start
where parts of pins may be placed. There the bound is mostly the best itself, and elsewhere it is hardly less close,
since starts differ by few holes. Prices are rounded to whole numbers, so that the bound is exact.

Source: M. L. Fisher, "The Lagrangian relaxation method for solving integer programming problems", Management Science
27, 1981, 1-18 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from pegwright.columns import Ints, distinct
from pegwright.fit.gaps import Gaps
from pegwright.fit.limits import Limit
from pegwright.fit.quantise import Holes, Strikes, pairs_in_reach
from pegwright.fit.turn import Turn
from pegwright.frozen import frozen

LARGEST_TOTAL = 2**51  # of weight and cost as one number, so that sums of floats are exact


class Rule(NamedTuple):
    """Of `channels` at most `most` pins in any stretch of `length_ticks`, its end not counted."""

    channels: tuple[int, ...]
    most: int
    length_ticks: int


def rules_of(gaps: Gaps, limits: Sequence[Limit], turn_ticks: int) -> list[Rule]:
    """The rules of some channels: all limits, and of each channel the least gap.

    Args:
        gaps: least distances on each channel.
        limits: on strikes of several channels.
        turn_ticks: once round, the longest a stretch can be.
    """
    alone = [Rule((channel,), 1, min(gap, turn_ticks)) for channel, gap in enumerate(gaps.least.tolist())]
    return [*alone, *(Rule(limit.channels, limit.most, limit.window_ticks) for limit in limits)]


@frozen(eq=False)
class Options:
    """Every hole that every strike could have; columns of shape (o,), but for `first`.

    Args:
        first: shape (s + 1,), where the options of each strike begin, and the count at the end.
        strike, channel: of each; channels are numbered alike at every start.
        at: where in the turn the pin would be.
        weight, cost: what it adds to each.
    """

    first: Ints
    strike: Ints
    channel: Ints
    at: Ints
    weight: Ints
    cost: Ints

    def without_cost(self) -> Options:
        """The same, as if each cost nothing."""
        return replace(self, cost=np.zeros_like(self.cost))


def options_of(strikes: Strikes, holes: Holes, channel_count: int, turn: Turn) -> Options:
    """Write out the options of strikes.

    Args:
        strikes: at one start or at several, each of which has channels of its own.
        holes: of these channels.
        channel_count: how many there are at one start.
        turn: reach, tolerance and length of the turn.
    """
    pairs = pairs_in_reach(strikes, holes, turn)
    channel, at = holes.channel[pairs.hole] % channel_count, holes.position[pairs.hole] % turn.turn_ticks
    return Options(pairs.first, pairs.strike, channel, at, strikes.weight[pairs.strike], pairs.cost)


@frozen(eq=False)
class Priced:
    """What strikes at every start are worth at most, by the prices of one start; weight and cost are one number here.

    Args:
        beyond: shape (s,), of each strike at every start, beyond the prices.
        room: shape (r,), the price of each stretch times the number of pins it has room for.
        strike: shape (r,), a strike of the one start that could have its pin in the stretch.
        factor: of weight; above any total of cost.
    """

    beyond: Ints
    room: Ints
    strike: Ints
    factor: int

    def split(self, total: Ints) -> tuple[Ints, Ints]:
        """The greatest weight, and then the least cost, of totals that cannot be exceeded."""
        weight = -(-total // self.factor)
        return weight, weight * self.factor - total


def priced_at(one: Options, everywhere: Options, rules: Sequence[Rule], turn_ticks: int) -> Priced:
    """Bound strikes at every start by the best prices of one.

    Args:
        one: of strikes at that start.
        everywhere: of the strikes at every start.
        rules: of the channels.
        turn_ticks: once round.
    """
    factor = 1 + (len(one.first) - 1) * int(everywhere.cost.max(initial=0))
    if factor * int(everywhere.weight.max(initial=0)) * len(one.first) >= LARGEST_TOTAL:
        factor, one, everywhere = 1, one.without_cost(), everywhere.without_cost()
    stretches = [_stretches(one, rule, turn_ticks) for rule in rules]
    prices = _best_prices(one, one.weight * factor - one.cost, stretches)
    beyond = everywhere.weight * factor - everywhere.cost
    for of_rule, price in zip(stretches, prices, strict=True):
        own = np.flatnonzero(np.isin(everywhere.channel, of_rule.rule.channels))
        beyond[own] -= of_rule.prices_at(everywhere.at[own], price, turn_ticks)
    of_strike = np.zeros(len(everywhere.first) - 1, dtype=np.int64)
    some = np.flatnonzero(np.diff(everywhere.first))
    if len(some):
        of_strike[some] = np.maximum(np.maximum.reduceat(beyond, everywhere.first[some]), 0)
    room = [of_rule.rule.most * price for of_rule, price in zip(stretches, prices, strict=True)]
    strike = [one.strike[of_rule.members[of_rule.first[:-1]]] for of_rule in stretches]
    return Priced(of_strike, np.concatenate(room), np.concatenate(strike), factor)


@frozen(eq=False)
class _Stretches:
    """The stretches of a rule that have more options than it has room for pins, but for those within others.

    Args:
        rule: of them.
        begin: shape (r,), where in the turn each begins, rising.
        members: the options in them, one stretch after another.
        first: shape (r + 1,), where the members of each begin, and their count.
    """

    rule: Rule
    begin: Ints
    members: Ints
    first: Ints

    def prices_at(self, at: Ints, price: Ints, turn_ticks: int) -> Ints:
        """Shape (o,): the prices of the stretches that places of the turn are in, together."""
        begin, price = np.concatenate([self.begin - turn_ticks, self.begin]), np.tile(price, 2)  # some go round the end
        sums = np.concatenate([[0], np.cumsum(price)])
        ended = np.searchsorted(begin + self.rule.length_ticks, at, side="right")
        together: Ints = sums[np.searchsorted(begin, at, side="right")] - sums[ended]
        return together


def _stretches(one: Options, rule: Rule, turn_ticks: int) -> _Stretches:
    own = np.flatnonzero(np.isin(one.channel, rule.channels))
    at = one.at[own]
    order = np.argsort(at, kind="stable")
    twice, listed = np.concatenate([at[order], at[order] + turn_ticks]), np.tile(own[order], 2)
    begin = distinct(at)
    low, past = np.searchsorted(twice, begin), np.searchsorted(twice, begin + rule.length_ticks)
    some = (past - low > rule.most) & (past > np.concatenate([[0], past[:-1]]))
    begin, low, past = begin[some], low[some], past[some]
    first = np.concatenate([[0], np.cumsum(past - low)])
    members = listed[np.arange(first[-1]) - np.repeat(first[:-1] - low, past - low)]
    return _Stretches(rule, begin, members, first)


def _best_prices(one: Options, merit: Ints, stretches: Sequence[_Stretches]) -> list[Ints]:
    """The price of each stretch of each rule, from the programme that may place parts of pins."""
    from scipy.optimize import linprog  # noqa: PLC0415  # heavy, and rarely needed
    from scipy.sparse import csr_array, vstack  # noqa: PLC0415  # likewise

    members = [(np.arange(len(merit)), one.first), *((some.members, some.first) for some in stretches)]
    most = [(1, one.first), *((some.rule.most, some.first) for some in stretches)]
    rows: Any = [csr_array((np.ones(len(of)), of, first), (len(first) - 1, len(merit))) for of, first in members]
    rooms = np.concatenate([np.full(len(first) - 1, room) for room, first in most])
    relaxed: Any = linprog(-merit.astype(np.float64), A_ub=vstack(rows), b_ub=rooms, method="highs")
    if relaxed.x is None:
        return [np.zeros(len(some.begin), dtype=np.int64) for some in stretches]
    price = np.maximum(np.rint(-relaxed.ineqlin.marginals), 0).astype(np.int64)
    ends = np.cumsum([len(first) - 1 for _, first in members])
    return [price[start:stop] for start, stop in pairwise(ends.tolist())]

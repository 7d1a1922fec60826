"""A lower bound on the work of a show, for every playing order and all starts.

The strands of a show (see `problem`), put end to end, are a walk through all visits. A walk that may repeat one,
though not at once and not after a single other, can only be cheaper, and the cheapest one is computed
step by step. A price on every visit, paid whenever the walk meets it and given back once, favours walks that meet
each once, and raises the bound. Each link has the cost at its best starts, and each song the work while
it plays at the start that minimises it.

Source: N. Christofides, A. Mingozzi, P. Toth, State-space relaxation procedures for the computation of bounds to
    routing problems, Networks 11 (1981) 145-164; prices as in M. Held, R. M. Karp, Operations Research 18 (1970)
    1138-1162 (both from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.show.problem import Problem

_MAX_ROUNDS = 400
_CELLS = 1_200_000_000  # in all: two visits that follow each other, once for each step, chain and round
_PATIENCE = 15  # rounds without improvement before the price changes become smaller
_FAR = 1e15  # more than any walk costs


def work_floor(problem: Problem, reached: int) -> int:
    """A lower bound on the work of any plan during the show.

    Args:
        problem: the show.
        reached: work of a known plan; it sets the step length of the search, and may be any number.
    """
    within = sum(int(problem.within_songs[song].min()) for song in range(len(problem.songs)))
    visits = range(len(problem.visits))
    if len(visits) <= problem.strand_count:
        return within
    costs = np.array([[_link_floor(problem, old, new) for new in visits] for old in visits], dtype=np.float64)
    return within + _walk_floor(costs, _cuts(problem), problem.strand_count, reached - within)


def _link_floor(problem: Problem, old: int, new: int) -> float:
    """Minimum work from one visit to another; a song does not follow itself."""
    if problem.visits[old].song == problem.visits[new].song:
        return _FAR
    return float(problem.link(old, new).min())


def _cuts(problem: Problem) -> frozenset[int] | None:
    """Where in the walk a strand begins after the first; None if that depends on the playing order."""
    if not problem.independent:
        return None
    lengths = [len(range(strand, len(problem.songs), problem.independent)) for strand in range(problem.independent - 1)]
    return frozenset(np.cumsum(lengths).tolist())


def priced_floor(
    songs: int, cheapest: Callable[[Floats], tuple[float, Ints]], reached: int, rounds: int, patience: int
) -> int:
    """The best floor that prices on songs give, which favour walks that play each song once.

    Args:
        songs: how many.
        cheapest: of prices, the cost of the cheapest walk with them, and how often it plays each song.
        reached: work of a known plan; it sets the step length of the search, and may be any number.
        rounds: the maximum number of walks.
        patience: rounds without improvement before the price changes become smaller.
    """
    prices = np.zeros(songs)
    best, pace, stale = 0.0, 1.0, 0
    for _ in range(rounds):
        cost, played = cheapest(prices)
        floor = cost - float(prices.sum())
        if floor > best + 1e-9:
            best, stale = floor, 0
        else:
            stale += 1
            pace /= 1.5 if stale % patience == 0 else 1.0
        off = played - 1
        if not off.any() or best >= reached:
            break
        prices = prices + pace * max(1.0, reached - floor) / float((off**2).sum()) * off
    return math.ceil(best - 1e-6)  # whole numbers but for the rounding of prices


def _walk_floor(costs: Floats, cuts: frozenset[int] | None, chains: int, reached: int) -> int:
    def cheapest(prices: Floats) -> tuple[float, Ints]:
        return _cheapest_walk(costs, prices, cuts, chains)

    rounds = min(_MAX_ROUNDS, max(1, _CELLS // (chains * len(costs) ** 3)))
    return priced_floor(len(costs), cheapest, reached, rounds, _PATIENCE)


@frozen(eq=False)
class _Step:
    """How each state of one step of the walk was best reached, and best by another way.

    States are (chains begun before, song); ways are the song before, or `len(songs)` for a chain that begins.

    Args:
        way: shape (2, chains, songs).
        label: shape (2, chains, songs), whether that song before was itself reached by its best (0) or other way (1).
        opened_from: shape (chains, songs), the last song of the chain before, where a chain begins.
    """

    way: Ints
    label: Ints
    opened_from: Ints


def _cheapest_walk(costs: Floats, prices: Floats, cuts: frozenset[int] | None, chains: int) -> tuple[float, Ints]:
    """Cost of the cheapest walk with its prices, and how often it meets each song."""
    songs = len(costs)
    best = np.full((2, chains, songs), _FAR)
    best[0, 0] = prices
    came = np.full((chains, songs), songs)  # the song before, in the best way
    steps = []
    for number in range(1, songs):
        may_link, may_open = cuts is None or number not in cuts, cuts is None or number in cuts
        step, best, came = _walk_on(best, came, costs, may_link, may_open)
        best = best + prices
        steps.append(step)
    chain = chains - 1
    song = int(best[0, chain].argmin())
    return float(best[0, chain, song]), _met(steps, chain, song)


def _walk_on(best: Floats, came: Ints, costs: Floats, may_link: bool, may_open: bool) -> tuple[_Step, Floats, Ints]:
    _, chains, songs = best.shape
    everyone = np.arange(songs)
    back = came[:, :, None] == everyone  # stepping back to the song before takes the other way
    ways = np.full((chains, songs + 1, songs), _FAR)
    if may_link:
        ways[:, :songs] = np.where(back, best[1][:, :, None], best[0][:, :, None]) + costs
    opened_from = np.zeros((chains, songs), dtype=np.int64)
    if may_open:
        order = np.argsort(best[0], axis=1, kind="stable")
        source = np.where(order[:, :1] == everyone, order[:, 1:2], order[:, :1])
        opened_from[1:] = source[:-1]
        ways[1:, songs] = np.take_along_axis(best[0], source, axis=1)[:-1]
    first = ways.argmin(axis=1)
    cost = np.take_along_axis(ways, first[:, None], axis=1)[:, 0]
    np.put_along_axis(ways, first[:, None], _FAR, axis=1)
    second = ways.argmin(axis=1)
    other = np.take_along_axis(ways, second[:, None], axis=1)[:, 0]
    way = np.stack([first, second])
    padded = np.concatenate([back, np.zeros((chains, 1, songs), dtype=bool)], axis=1)
    label = np.take_along_axis(np.stack([padded, padded]), way[:, :, None], axis=2)[:, :, 0].astype(np.int64)
    return _Step(way, label, opened_from), np.stack([cost, other]), first


def _met(steps: list[_Step], chain: int, song: int) -> Ints:
    """How often the walk that ends with `song` meets each song."""
    songs = steps[0].way.shape[2]
    met = np.zeros(songs, dtype=np.int64)
    label = 0
    for step in reversed(steps):
        met[song] += 1
        way = int(step.way[label, chain, song])
        if way == songs:
            song, chain, label = int(step.opened_from[chain, song]), chain - 1, 0
        else:
            song, label = way, int(step.label[label, chain, song])
    met[song] += 1
    return met

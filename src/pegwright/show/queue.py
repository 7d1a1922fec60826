"""A lower bound on the work of a show whose songs take several sets of plates.

The sets in the order in which they come free are a queue: a song takes sets from its head, and puts them back at its
end. What the queue holds determines what a song costs, so a playing order is a walk from queue to queue. A walk that
may play a song twice, but not while the queue holds it, can only be cheaper, and the cheapest one of as many songs as
the show has is computed step by step. A price on every song, paid whenever it is played and given back once, favours
walks that play each once, and raises the bound (see `bound` for the sources). A song has one start for all the sets
that it takes; what follows it on a set takes the best of its starts for itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.show.bound import priced_floor
from pegwright.show.problem import Problem

MAX_WAYS = 1_200_000  # from a queue to another, by a song
_STEPS = 2_000_000_000  # in all: a way, once for each song and round
_MAX_ROUNDS = 300
_PATIENCE = 10  # rounds without improvement before the price changes become smaller
_FAR = 1e15

Queue = tuple[int | None, ...]  # for each set, in the order in which they come free, the visit that it holds


@dataclass(frozen=True, slots=True, eq=False)
class _Ways:
    """Every way from a queue to another, sorted by the latter.

    Args:
        old: the queue before, by number; 0 is that of the beginning.
        song: the song that is played.
        work: the minimum work for it.
        first: where the ways to each queue begin; queue 0 has none.
    """

    old: Ints
    song: Ints
    work: Floats
    first: Ints


def queue_floor(problem: Problem, reached: int) -> int:
    """A lower bound on the work of any plan during the show; 0 where there are too many queues.

    Args:
        problem: the show.
        reached: work of a known plan; it sets the step length of the search, and may be any number.
    """
    ways = _ways(problem)
    if ways is None:
        return 0
    songs = len(problem.songs)
    rounds = min(_MAX_ROUNDS, max(1, _STEPS // (len(ways.old) * songs)))
    return priced_floor(songs, lambda prices: _cheapest(ways, prices, problem), reached, rounds, _PATIENCE)


def _ways(problem: Problem) -> _Ways | None:
    """None if there are too many."""
    taking, leaving = _rows(problem)
    costs = _Costs(problem)
    numbers: dict[Queue, int] = {(None,) * problem.strand_count: 0}
    queues: list[Queue] = list(numbers)
    ways: list[tuple[int, int, int, float]] = []
    for number, queue in enumerate(queues):  # which grows meanwhile
        held = {problem.visits[visit].song for visit in queue if visit is not None}
        for song in range(len(problem.songs)):
            if song in held:
                continue
            count = len(taking[song])
            new = queue[count:] + leaving[song]
            if new not in numbers:
                numbers[new] = len(queues)
                queues.append(new)
            ways.append((numbers[new], number, song, costs.of(song, queue[:count], taking[song])))
        if len(ways) > MAX_WAYS:
            return None
    to, old, song_of, work = (np.array(column) for column in zip(*sorted(ways), strict=True))
    return _Ways(old, song_of, work.astype(np.float64), np.searchsorted(to, np.arange(1, len(queues))))


def _rows(problem: Problem) -> tuple[list[Queue], list[Queue]]:
    """For each song the visits that take a set, and the same in the order in which they leave it."""
    firsts, songs = problem.first_visits, range(len(problem.songs))
    freed = [[0] if problem.independent else list(problem.songs[song].turns.freed()) for song in songs]
    leaving: list[Queue] = [tuple(firsts[song] + slot for slot in freed[song]) for song in songs]
    return [tuple(sorted(visits)) for visits in leaving], leaving  # type: ignore[type-var]


class _Costs:
    """The minimum work for a song at one start, by what its sets held."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._by_start: dict[tuple[int, int], Ints] = {}

    def of(self, song: int, held: Queue, taking: Queue) -> float:
        total = self._problem.within_songs[song]
        for old, new in zip(held, taking, strict=True):
            if old is not None and new is not None:
                if (old, new) not in self._by_start:
                    self._by_start[old, new] = self._problem.link(old, new).min(axis=0)
                total = total + self._by_start[old, new]
        return float(total.min())


def _cheapest(ways: _Ways, prices: Floats, problem: Problem) -> tuple[float, Ints]:
    """Cost of the cheapest walk with its prices, and how often it plays each song."""
    songs = len(problem.songs)
    cost = np.full(len(ways.first) + 1, _FAR)
    cost[0] = 0.0
    layers = [cost]
    own = ways.work + prices[ways.song]
    fixed = problem.fixed_places()
    for place in range(songs):
        each = layers[-1][ways.old] + own
        if place in fixed:
            each[ways.song != fixed[place]] = _FAR
        layers.append(np.concatenate([[_FAR], np.minimum.reduceat(each, ways.first)]))
    played = np.zeros(songs, dtype=np.int64)
    queue = int(layers[-1].argmin())
    total = float(layers[-1][queue])
    ends = np.append(ways.first[1:], len(ways.old))
    for place in range(songs - 1, -1, -1):
        into = slice(int(ways.first[queue - 1]), int(ends[queue - 1]))
        each = layers[place][ways.old[into]] + own[into]
        if place in fixed:
            each[ways.song[into] != fixed[place]] = _FAR
        chosen = into.start + int(each.argmin())
        played[ways.song[chosen]] += 1
        queue = int(ways.old[chosen])
    return total, played

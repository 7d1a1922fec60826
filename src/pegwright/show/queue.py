"""A lower bound on the work of a show whose songs take several sets of plates.

The sets in the order in which they come free are a queue: a song takes sets from its head, and puts them back at its
end. What the queue holds determines what a song costs, so a playing order is a walk from queue to queue. A walk that
may play a song twice, but not while the queue holds it, can only be cheaper, and the cheapest one of as many songs as
the show has is computed step by step. A price on every song, paid whenever it is played and given back once, favours
walks that play each once, and raises the bound (see `bound` for the sources). A song has one start for all the sets
that it takes; what follows it on a set takes the best of its starts for itself.

What a song costs depends on the head of the queue alone. So the ways of all songs that take as many sets are one block
of numbers, by the rest of the queue, the head and the song, and a step of all walks is one minimum over the heads.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints, frozen_ints
from pegwright.frozen import frozen
from pegwright.show.bound import priced_floor
from pegwright.show.problem import Problem

MAX_WAYS = 4_000_000  # from a queue to another, by a song
_STEPS = 20_000_000_000  # in all: a way, once for each song and round; about a nanosecond each
_MAX_ROUNDS = 300
_PATIENCE = 10  # rounds without improvement before the price changes become smaller
_UNIT = 64  # prices are whole numbers of this part of a pin, so that sums are exact
_FAR = 1 << 29  # more than any walk costs
_NONE, _BEGIN = 0, 1  # numbers of a queue that cannot be, and of the one before the first song

Row = tuple[int, ...]
Queue = tuple[int | None, ...]  # for each set, in the order in which they come free, the visit that it holds
Costs = NDArray[np.int32]


@frozen(eq=False)
class _Ways:
    """Every way from a queue to another by the songs that take a certain number of sets.

    Args:
        songs: shape (songs,).
        olds: shape (rests, heads), the queues with each rest, by number; filled up with `_NONE`.
        work: shape (rests, heads, songs), the minimum work in units; `_FAR` where the queue holds the song.
        news: shape (rests, songs), the queue after it, by number.
    """

    songs: Ints
    olds: Ints
    work: Costs
    news: Ints


def queue_floor(problem: Problem, reached: int) -> int:
    """A lower bound on the work of any plan during the show; 0 where there are too many queues.

    Args:
        problem: the show.
        reached: work of a known plan; it sets the step length of the search, and may be any number.
    """
    queues = _Queues(problem)
    if queues.way_count > MAX_WAYS:
        return 0
    ways = [queues.ways(sets) for sets in queues.set_counts]
    walks = _Walks(ways, len(queues.all), problem)
    rounds = min(_MAX_ROUNDS, max(1, _STEPS // (queues.way_count * len(problem.songs))))
    return priced_floor(len(problem.songs), walks.cheapest, reached, rounds, _PATIENCE)


class _Queues:
    """Every queue that can be, until there are too many ways between them."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._taking, self._leaving = _rows(problem)
        self.set_counts = sorted(set(map(len, self._taking)))
        self._songs = {
            sets: [song for song, taken in enumerate(self._taking) if len(taken) == sets] for sets in self.set_counts
        }
        self.all: list[Queue] = [(), (None,) * problem.strand_count]
        self._numbers = {queue: number for number, queue in enumerate(self.all)}
        self._olds: dict[int, dict[Queue, list[int]]] = {sets: {} for sets in self.set_counts}
        self._news: dict[int, list[list[int]]] = {sets: [] for sets in self.set_counts}
        for number, queue in enumerate(self.all):  # which grows meanwhile
            if number != _NONE:
                for sets in self.set_counts:
                    self._add(number, queue[sets:], sets)
            if self.way_count > MAX_WAYS:
                break

    def _add(self, number: int, rest: Queue, sets: int) -> None:
        olds = self._olds[sets]
        if rest not in olds:
            olds[rest] = []
            self._news[sets].append([self._number(rest, song) for song in self._songs[sets]])
        olds[rest].append(number)

    def _number(self, rest: Queue, song: int) -> int:
        """The number of the queue after a song; `_NONE` if the song is in the rest."""
        if song in self._held(rest):
            return _NONE
        queue = rest + self._leaving[song]
        if queue not in self._numbers:
            self._numbers[queue] = len(self.all)
            self.all.append(queue)
        return self._numbers[queue]

    def _held(self, visits: Queue) -> set[int]:
        return {self._problem.visits[visit].song for visit in visits if visit is not None}

    @property
    def way_count(self) -> int:
        """Ways so far."""
        return sum(
            len(olds) * max(map(len, olds.values()), default=0) * len(self._songs[sets])
            for sets, olds in self._olds.items()
        )

    def ways(self, sets: int) -> _Ways:
        """Those of the songs that take a number of sets."""
        songs, rows = self._songs[sets], list(self._olds[sets].values())
        olds = np.full((len(rows), max(map(len, rows))), _NONE)
        for row, numbers in zip(olds, rows, strict=True):
            row[: len(numbers)] = numbers
        heads: dict[Queue, int] = {}
        head_of = np.array([heads.setdefault(queue[:sets], len(heads)) for queue in self.all])
        work = np.stack([self._works(song, list(heads)) for song in songs], axis=1)[head_of[olds]]
        work[olds == _NONE] = _FAR
        return _Ways(np.array(songs), olds, work, np.array(self._news[sets]))

    def _works(self, song: int, heads: Sequence[Queue]) -> Costs:
        """The minimum work in units for a song at one start, after each head of a queue."""
        total = np.tile(self._problem.within_songs[song], (len(heads), 1))
        for place, new in enumerate(self._taking[song]):
            olds = [head[place] if head else None for head in heads]
            by_start = {old: self._by_start(old, new) for old in set(olds)}
            total += np.array([by_start[old] for old in olds])
        work: Costs = (total.min(axis=1) * _UNIT).astype(np.int32)
        work[[song in self._held(head) for head in heads]] = _FAR
        return work

    def _by_start(self, old: int | None, new: int) -> Ints:
        """The minimum work from a visit to another, by the start of the latter; none after empty plates."""
        visits, song = self._problem.visits, self._problem.visits[new].song
        if old is None or visits[old].song == song:
            return frozen_ints([0] * self._problem.starts(song))
        return frozen_ints(self._problem.link(old, new).min(axis=0))


def _rows(problem: Problem) -> tuple[list[Row], list[Row]]:
    """For each song the visits that take a set, and the same in the order in which they leave it."""
    firsts, songs = problem.first_visits, range(len(problem.songs))
    freed = [[0] if problem.independent else list(problem.songs[song].turns.freed()) for song in songs]
    leaving = [tuple(firsts[song] + slot for slot in freed[song]) for song in songs]
    return [tuple(sorted(visits)) for visits in leaving], leaving


class _Walks:
    """Walks from queue to queue, of as many songs as the show has."""

    def __init__(self, ways: Sequence[_Ways], queue_count: int, problem: Problem) -> None:
        self._ways, self._queue_count = ways, queue_count
        self._fixed = problem.fixed_places()
        self._length = len(problem.songs)
        self._into: dict[int, tuple[_Ways, int, int]] = {  # for each queue its ways, its rest and its song among them
            int(new): (some, rest, song) for some in ways for (rest, song), new in np.ndenumerate(some.news)
        }

    def cheapest(self, prices: Floats) -> tuple[float, Ints]:
        """Cost of the cheapest walk with its prices, and how often it plays each song."""
        paid = np.rint(prices * _UNIT).astype(np.int32)
        cost: Costs = np.full(self._queue_count, _FAR, dtype=np.int32)
        cost[_BEGIN] = 0
        layers = [cost]
        for place in range(self._length):
            layers.append(self._step(layers[-1], paid, self._fixed.get(place)))
        queue = int(layers[-1].argmin())
        total = int(layers[-1][queue]) - int(paid.sum(dtype=np.int64))
        played = np.zeros(self._length, dtype=np.int64)
        for layer in reversed(layers[:-1]):
            ways, rest, song = self._into[queue]
            played[ways.songs[song]] += 1
            queue = int(ways.olds[rest][(layer[ways.olds[rest]] + ways.work[rest, :, song]).argmin()])
        return total / _UNIT + float(prices.sum()), played

    def _step(self, cost: Costs, paid: Costs, fixed: int | None) -> Costs:
        """The minimum cost of each queue one song later."""
        after: Costs = np.full(self._queue_count, _FAR, dtype=np.int32)
        for ways in self._ways:
            reached = (cost[ways.olds][:, :, None] + ways.work).min(axis=1) + paid[ways.songs]
            if fixed is not None:
                reached[:, ways.songs != fixed] = _FAR
            after[ways.news] = np.minimum(reached, _FAR)
        after[_NONE] = _FAR
        return after

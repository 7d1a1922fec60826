"""A good playing order and a start for each song, for more songs than can be planned exactly: threshold accepting.

Sets are taken in the order in which they come free. So the visits of a show are two rows: those that take a set, and
those that leave one, in the order in which they do. With k strands, the visit that takes its set as number t takes it
from the visit that left it as number t - k, and a change to a section of the playing order affects no link but those of
the section and the k after it: a trial costs as much as the section is long.

A change is kept if the work grows by no more than a threshold, which falls from a share of a mean swap to nothing. A
song that has moved takes the start that is best for it in its new place. All is counted in whole pins and drawn from a
generator with a fixed seed, so the result is the same on every machine.

Source: G. Dueck, T. Scheuer, Threshold accepting: a general purpose optimization algorithm appearing superior to
    simulated annealing, Journal of Computational Physics 90 (1990) 161-175 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from random import Random

import numpy as np
from numpy.typing import NDArray

from pegwright.frozen import frozen
from pegwright.show.problem import Problem

TRIALS_OF_A_SONG = 3_000  # changes tried for each song of the show; some 20 microseconds each
FIRST_SHARE = 0.08  # of a mean swap: the first threshold
_UNUSED = 1 << 20  # the cost of a start that a song has not


@frozen()
class _Change:
    """A section of the playing order in a new order.

    Args:
        first: its first place.
        songs: those of the section.
        moved: songs that are to take the start that is best for them.
    """

    first: int
    songs: list[int]
    moved: tuple[int, ...]


class Links:
    """The work between any two visits at any starts, in one table; a node is a visit at a start.

    Args:
        problem: the show.
        coarse: give each link its best starts, as if every song had one start.
    """

    def __init__(self, problem: Problem, coarse: bool = False) -> None:
        songs = range(len(problem.songs))
        self.strands = problem.strand_count
        self.within: list[list[int]] = [
            [min(work.tolist())] if coarse else work.tolist() for work in problem.within_songs
        ]
        most, visits = max(map(len, self.within)), range(len(problem.visits))
        self.nodes = most * len(visits)
        self.table: NDArray[np.int32] = np.full((self.nodes, self.nodes), _UNUSED, dtype=np.int32)
        for old in visits:
            for new in visits:
                if problem.visits[old].song != problem.visits[new].song:
                    work = problem.link(old, new)
                    work = work.min(keepdims=True) if coarse else work
                    self.table[old * most :, new * most :][: work.shape[0], : work.shape[1]] = work
        self.flat = memoryview(self.table.reshape(-1))  # type: ignore[arg-type]
        firsts = problem.first_visits
        slots = [[0] if problem.independent else list(problem.songs[song].turns.freed()) for song in songs]
        self.leaving = [[(firsts[song] + slot) * most for slot in slots[song]] for song in songs]
        self.taking = [[(firsts[song] + slot) * most for slot in sorted(slots[song])] for song in songs]


class _State:
    """A playing order with starts, and the work of each of its links."""

    def __init__(self, links: Links, order: Sequence[int], starts: Sequence[int]) -> None:
        self._links = links
        self.order, self.starts = list(order), list(starts)
        self._left = [node + starts[song] for song in order for node in links.leaving[song]]
        self._taken = [node + starts[song] for song in order for node in links.taking[song]]
        self._first = [0]  # for each place how many visits are before it
        for song in order:
            self._first.append(self._first[-1] + len(links.taking[song]))
        sources = [None] * links.strands + self._left
        pairs = zip(sources, self._taken, strict=False)
        self._works = [0 if old is None else self._between(old, new) for old, new in pairs]
        self.work = sum(self._works) + sum(links.within[song][starts[song]] for song in order)

    def attempt(self, change: _Change, threshold: float) -> None:
        """Carry out a change if the work grows by no more than a threshold."""
        links, first, past = self._links, change.first, change.first + len(change.songs)
        before, after = self._first[first], self._first[past]
        left = [node + self.starts[song] for song in change.songs for node in links.leaving[song]]
        taken = [node + self.starts[song] for song in change.songs for node in links.taking[song]]
        old_starts = [(song, self.starts[song]) for song in change.moved]
        more = sum(self._start_anew(song, change, left, taken) for song in change.moved)
        end = min(after + links.strands, len(self._works))
        begin = max(before, links.strands)
        sources = self._left[max(0, before - links.strands) : before] + left
        targets = (taken + self._taken[after:end])[begin - before :]
        works = list(map(self._between, sources, targets))
        more += sum(works) - sum(self._works[begin:end])
        if more > threshold:
            for song, start in old_starts:
                self.starts[song] = start
            return
        self.work += more
        self.order[first:past] = change.songs
        self._left[before:after], self._taken[before:after], self._works[begin:end] = left, taken, works
        for place in range(first, past):
            self._first[place + 1] = self._first[place] + len(links.taking[self.order[place]])

    def _between(self, old: int, new: int) -> int:
        work: int = self._links.flat[old * self._links.nodes + new]
        return work

    def _start_anew(self, song: int, change: _Change, left: list[int], taken: list[int]) -> int:
        """Give a song of a changed section its best start there; what is pinned more while it plays."""
        links = self._links
        within, table, strands = links.within[song], links.table, links.strands
        before, after = self._first[change.first], self._first[change.first + len(change.songs)]
        here = taken.index(links.taking[song][0] + self.starts[song])
        count = len(within)
        cost = np.array(within)
        for turn, (into, out) in enumerate(zip(links.taking[song], links.leaving[song], strict=True), before + here):
            if turn >= strands:
                source = turn - strands
                old = self._left[source] if source < before else left[source - before]
                cost += table[old, into : into + count]
            target = turn + strands
            if target < len(self._works):
                new = taken[target - before] if target < after else self._taken[target]
                cost += table[out : out + count, new]
        best, now = int(cost.argmin()), self.starts[song]
        self.starts[song] = best
        for row in (left, taken):
            row[here : here + len(links.taking[song])] = [
                node - now + best for node in row[here : here + len(links.taking[song])]
            ]
        return within[best] - within[now]


def annealed(
    links: Links,
    order: Sequence[int],
    fixed: Sequence[int],
    seed: int,
    share: float = FIRST_SHARE,
    starts: Sequence[int] | None = None,
) -> tuple[int, ...]:
    """The order with the least work that some changes lead to.

    Args:
        links: of the show.
        order: where to begin.
        fixed: places, at the ends only, whose song must stay.
        seed: draws the changes.
        share: of a mean swap, the first threshold.
        starts: of each song where it begins; the first ones if left out.
    """
    random = Random(seed).random  # noqa: S311  # of which Python keeps the sequence the same in every version
    low, high = int(0 in fixed), len(order) - int(len(order) - 1 in fixed)
    state = _State(links, order, starts or [0] * len(order))
    trials = TRIALS_OF_A_SONG * max(20, len(order))
    best, best_order = state.work, tuple(order)
    begin = share * state.work / sum(map(len, links.taking))
    for trial in range(trials if high - low > 1 else 0):
        change = _drawn(random, state.order, low, high)
        if change is not None:
            state.attempt(change, begin * (trials - trial) / trials)
            if state.work < best:
                best, best_order = state.work, tuple(state.order)
    return best_order


def _drawn(random: Callable[[], float], order: Sequence[int], low: int, high: int) -> _Change | None:
    """A change between two places; None if it would reach beyond them."""
    kind, first = random(), low + int(random() * (high - low))
    apart = 1 + int(random() ** 2 * (high - low - 1))  # near places more often
    if kind < 0.1:
        return _Change(first, [order[first]], (order[first],))
    if kind < 0.6:
        return _moved(order, first, 1 + int(random() ** 2 * 3), apart if random() < 0.5 else -apart, (low, high))
    if kind < 0.9:
        past = first + apart + 1
        ends = order[first], order[past - 1] if past <= high else -1
        section = [ends[1], *order[first + 1 : past - 1], ends[0]]
        return _Change(first, section, ends) if past <= high else None
    past = first + 3 + int(random() * 6)
    return _Change(first, list(order[first:past][::-1]), ()) if past <= high else None


def _moved(order: Sequence[int], first: int, count: int, by: int, within: tuple[int, int]) -> _Change | None:
    """Some songs in a row moved by some places; a single one takes a new start."""
    past = first + count
    if first + min(by, 0) < within[0] or past + max(by, 0) > within[1]:
        return None
    songs = list(order[first:past])
    moved = tuple(songs) if count == 1 else ()
    if by > 0:
        return _Change(first, [*order[past : past + by], *songs], moved)
    return _Change(first + by, [*songs, *order[first + by : first]], moved)

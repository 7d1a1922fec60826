"""The playing order whose most hurried swap is least hurried.

How long there is for a swap depends on what plays meanwhile: on the songs before a song, as many as there are sets of
plates. So a dynamic programme over the songs placed and the last few of them, in order, finds the least
worst hurry there can be, each swap at its own best starts. Where one choice of starts serves all swaps of that order
so well, it is the least worst of all; else it is a floor.
"""

from __future__ import annotations

import math
from itertools import permutations

import numpy as np

from pegwright.columns import Floats
from pegwright.show.problem import Problem
from pegwright.show.time import hurry

MOST_STATES = 20_000_000
_HOPELESS = 1e30  # stands for no time at all
_UNREACHED = np.inf


class Hurries:
    """How hurried the swaps for a song are at least, by the songs before it."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._known: dict[tuple[int, ...], float] = {}
        self._least: dict[tuple[int, int], float] = {}

    def at(self, order: tuple[int, ...], place: int) -> float:
        """The worst of the swaps for the song at a place of a playing order."""
        return self.of(order[max(0, place - self._problem.plate_sets) : place + 1])

    def of(self, songs: tuple[int, ...]) -> float:
        """The worst of the swaps for the last of some songs; the others play before it."""
        if songs not in self._known:
            self._known[songs] = self._worst(songs)
        return self._known[songs]

    def _worst(self, songs: tuple[int, ...]) -> float:
        problem = self._problem
        table = problem.timetable(songs)
        worst = 0.0
        for it in table.carried:
            if it.place == len(songs) - 1 and it.before is not None:
                before = table.carried[it.before]
                old = problem.songs[songs[before.place]].of_use(before.use)
                new = problem.songs[songs[it.place]].of_use(it.use)
                worst = max(worst, hurry(self._least_s(old, new), it.available_s))
        return worst

    def _least_s(self, old: int, new: int) -> float:
        if (old, new) not in self._least:
            self._least[old, new] = float(self._problem.needed_s(old, new).min())
        return self._least[old, new]


def states(problem: Problem) -> int:
    """How many states `least_worst_order` has."""
    songs = len(problem.songs)
    return (1 << min(songs, 60)) * math.prod([songs + 1] * min(problem.plate_sets, songs))


def least_worst_order(problem: Problem, hurries: Hurries) -> tuple[tuple[int, ...], float]:
    """The order with the least worst hurry, each swap at its own best starts, and that hurry.

    Ties go the same way on every run.
    """
    songs = len(problem.songs)
    memory = min(problem.plate_sets, songs)
    costs = _costs(songs, memory, hurries)
    worst = np.full((1 << songs, *(songs + 1,) * memory), _UNREACHED)
    worst[(0, *(songs,) * memory)] = 0.0
    count = np.array([chosen.bit_count() for chosen in range(1 << songs)])
    for size in range(songs):
        members = np.flatnonzero(count == size)
        for song in _may_stand(problem, size):
            without = members[members >> song & 1 == 0]
            worst[(without | 1 << song, ..., song)] = np.maximum(worst[without], costs[..., song]).min(axis=1)
    return _trace(worst, costs)


def _may_stand(problem: Problem, place: int) -> list[int]:
    fixed = problem.fixed_places()
    if place in fixed:
        return [fixed[place]]
    return [song for song in range(len(problem.songs)) if song not in fixed.values()]


def _costs(songs: int, memory: int, hurries: Hurries) -> Floats:
    """Hurry by the songs before and the new one, shape (songs + 1, ..., songs); `songs` itself stands for none."""
    costs = np.full((*(songs + 1,) * memory, songs), _UNREACHED)
    for before in range(memory + 1):
        for some in permutations(range(songs), before + 1):
            costs[((songs,) * (memory - before) + some)] = min(hurries.of(some), _HOPELESS)
    return costs


def _trace(worst: Floats, costs: Floats) -> tuple[tuple[int, ...], float]:
    """Walk back from the last song to the first."""
    chosen = len(worst) - 1
    state = tuple(int(part) for part in np.unravel_index(worst[chosen].argmin(), worst.shape[1:]))
    least = float(worst[(chosen, *state)])
    order: list[int] = []
    while chosen:
        song = state[-1]
        order.insert(0, song)
        chosen &= ~(1 << song)
        older = np.moveaxis(worst[chosen], 0, -1)[state[:-1]]  # by the song that falls out of memory
        ways = np.maximum(older, np.moveaxis(costs, 0, -1)[state])
        state = (int(ways.argmin()), *state[:-1])
    return tuple(order), least if least < _HOPELESS else math.inf


def hurry_floor(problem: Problem) -> float | None:
    """A hurry that some swap must have in any playing order; None where songs take several sets of plates.

    Every song but the first of each set follows another one, and no song is followed twice. Each pair is given the
    most time it could have: the longest songs of the show in between. The floor is the least hurry at which
    enough pairs are left to match.
    """
    from scipy.sparse import csr_array  # noqa: PLC0415  # heavy, and needed only for long shows
    from scipy.sparse.csgraph import maximum_bipartite_matching  # noqa: PLC0415

    if not problem.one_set_each or len(problem.songs) <= problem.plate_sets:
        return None if not problem.one_set_each else 0.0
    pairs = _pair_floors(problem)
    levels = np.unique(pairs[np.isfinite(pairs)])
    followers = len(pairs) - problem.plate_sets

    def enough(level: float) -> bool:
        matched = maximum_bipartite_matching(csr_array((pairs <= level).astype(np.int8)), perm_type="column")
        return int(np.count_nonzero(matched >= 0)) >= followers

    low, high = 0, len(levels)
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(float(levels[middle])) else (middle + 1, high)
    return float(levels[low]) if low < len(levels) else math.inf


def _pair_floors(problem: Problem) -> Floats:
    """The least hurry of the swap from each song to each other one, shape (songs, songs)."""
    songs = problem.songs
    change_s = problem.times.change_s
    gaps_s = [max(song.time.talk_s, change_s) - change_s for song in songs]
    plays_s = [_playing_s(problem, song) + gap_s for song, gap_s in zip(range(len(songs)), gaps_s, strict=True)]
    floors = np.full((len(songs), len(songs)), np.inf)
    for old, new in permutations(range(len(songs)), 2):
        others = sorted((plays_s[song] for song in range(len(songs)) if song not in (old, new)), reverse=True)
        available_s = gaps_s[old] + sum(others[: problem.plate_sets - 1])
        needed_s = float(problem.needed_s(songs[old].units[0][-1], songs[new].units[0][0]).min())
        floors[old, new] = hurry(needed_s, available_s)
    return floors


def _playing_s(problem: Problem, song: int) -> float:
    """How long a song leaves the hands free while it plays."""
    turns, time = problem.songs[song].turns, problem.songs[song].time
    return (len(turns.played) - 1) * time.turn_s + time.last_turn_s

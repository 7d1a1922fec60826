"""The playing order with the minimum hurry of its most hurried swap.

How long there is for a swap depends on what plays meanwhile: on the songs before a song, as many as there are sets of
plates. So a dynamic programme over the songs placed and the last few of them, in order, finds the minimum
worst hurry if a song may have another start for each song that it is swapped with. Where one start
for each song reaches that hurry in that order, it is the minimum; else it is a lower bound.
"""

from __future__ import annotations

import math
from itertools import permutations

import numpy as np

from pegwright.columns import Floats
from pegwright.show.problem import Problem
from pegwright.show.starts import hurry_tables, pinning_of
from pegwright.show.time import hurry

MAX_STATES = 20_000_000
_HOPELESS = 1e30  # the hurry where there is no time
_UNREACHED = np.inf


class Hurries:
    """The minimum hurry of the swaps for a song, by the songs before it."""

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
        """At the best start of the last song; each song before it has its best start for the swaps from it."""
        table = self._problem.timetable(songs)
        last = len(songs) - 1
        swaps = [carried for carried in table.carried if carried.place == last and carried.before is not None]
        if not swaps:
            return 0.0
        before = table.carried[swaps[0].before or 0]
        if len(swaps) == 1 and before.place != last:
            old, new = (pinning_of(self._problem, songs, carried) for carried in (before, swaps[0]))
            return hurry(self._least_s(old, new), swaps[0].available_s)
        tables = hurry_tables(self._problem, songs, table)
        each = [by.min(axis=0) if len(scope) > 1 else by for scope, by in tables.items() if scope[-1] == last]
        return float(np.max(each, axis=0).min())

    def _least_s(self, old: int, new: int) -> float:
        if (old, new) not in self._least:
            self._least[old, new] = float(self._problem.needed_s(old, new).min())
        return self._least[old, new]


def states(problem: Problem) -> int:
    """How many states `least_worst_order` has."""
    songs = len(problem.songs)
    return (1 << min(songs, 60)) * math.prod([songs + 1] * min(problem.plate_sets, songs))


def least_worst_order(problem: Problem, hurries: Hurries) -> tuple[tuple[int, ...], float]:
    """The order with the minimum worst hurry, as `Hurries` gives them, and that hurry.

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
    minimum = float(worst[(chosen, *state)])
    order: list[int] = []
    while chosen:
        song = state[-1]
        order.insert(0, song)
        chosen &= ~(1 << song)
        older = np.moveaxis(worst[chosen], 0, -1)[state[:-1]]  # by the song that falls out of memory
        ways = np.maximum(older, np.moveaxis(costs, 0, -1)[state])
        state = (int(ways.argmin()), *state[:-1])
    return tuple(order), minimum if minimum < _HOPELESS else math.inf


def hurry_floor(problem: Problem, hurries: Hurries) -> float:
    """A lower bound on the worst hurry of any playing order.

    What a song puts on a set follows something else but for the first on each set, and nothing is followed twice. Each
    pair is given the maximum time it could have: the longest songs of the show in between, and where a song takes
    several sets all of that song, for it may free a set early or need it late. The bound is the minimum hurry at which
    enough pairs are left to match, or that of a swap within a song, if that is more.
    """
    from scipy.sparse import csr_array  # noqa: PLC0415  # heavy, and needed only for long shows
    from scipy.sparse.csgraph import maximum_bipartite_matching  # noqa: PLC0415

    within = max(hurries.of((song,)) for song in range(len(problem.songs)))
    pairs = _pair_floors(problem)
    if len(pairs) <= problem.plate_sets:
        return within
    levels = np.unique(pairs[np.isfinite(pairs)])
    followers = len(pairs) - problem.plate_sets

    def enough(level: float) -> bool:
        matched = maximum_bipartite_matching(csr_array((pairs <= level).astype(np.int8)), perm_type="column")
        return int(np.count_nonzero(matched >= 0)) >= followers

    low, high = 0, len(levels)
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(float(levels[middle])) else (middle + 1, high)
    return max(within, float(levels[low]) if low < len(levels) else math.inf)


def _pair_floors(problem: Problem) -> Floats:
    """The minimum hurry of the swap from what a slot of a song carries to another, shape (slots, slots)."""
    songs = problem.songs
    change_s = problem.times.change_s
    gaps_s = [max(song.time.talk_s, change_s) - change_s for song in songs]
    playing_s = [_playing_s(problem, song) for song in range(len(songs))]
    own_s = [0.0 if song.turns.slot_count == 1 else played_s for song, played_s in zip(songs, playing_s, strict=True)]
    longest = sorted(range(len(songs)), key=lambda song: -playing_s[song] - gaps_s[song])
    slots = [(number, unit) for number, song in enumerate(songs) for unit in song.units]
    floors = np.full((len(slots), len(slots)), np.inf)
    for (row, (old, carried)), (column, (new, unit)) in permutations(enumerate(slots), 2):
        if old != new:
            others = [song for song in longest[: problem.plate_sets + 1] if song not in (old, new)]
            between_s = sum(playing_s[song] + gaps_s[song] for song in others[: problem.plate_sets - 1])
            needed_s = float(problem.needed_s(carried[-1], unit[0]).min())
            floors[row, column] = hurry(needed_s, gaps_s[old] + between_s + own_s[old] + own_s[new])
    return floors


def _playing_s(problem: Problem, song: int) -> float:
    """How long a song leaves the hands free while it plays."""
    turns, time = problem.songs[song].turns, problem.songs[song].time
    return (len(turns.played) - 1) * time.turn_s + time.last_turn_s

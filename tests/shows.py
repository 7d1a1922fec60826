"""Small random shows, and what they cost by trying everything."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise, permutations, product

import numpy as np
from hypothesis import strategies as st

from pegwright.columns import Ints, frozen_ints
from pegwright.show.problem import Problem, ShowSong
from pegwright.show.time import SongTime, WorkTimes
from pegwright.show.turns import turns_of
from pegwright.show.work import PinTypes, Works

HOLES = 6
TIMES = WorkTimes(1.0, 2.0)


def table(
    rng: np.random.Generator, starts: int, plates: int, types: int = 2, holes: int = HOLES, share: float = 0.5
) -> PinTypes:
    """Pins at random: shape (starts, plates, holes)."""
    pins = rng.integers(1, types + 1, (starts, plates, holes))
    return np.where(rng.random((starts, plates, holes)) < share, pins, 0).astype(np.uint8)


def show(
    seed: int,
    runnings: Sequence[Sequence[int]],
    plate_sets: int,
    starts: int = 2,
    plates: int = 2,
    times: WorkTimes = TIMES,
    most_times: int = 3,
    holes: int = HOLES,
    share: float = 0.5,
    first: int | None = None,
    last: int | None = None,
    allowed: Ints | None = None,
) -> Problem:
    """A show whose songs have the given running orders, with pins, times and starts at random.

    A song can have fewer starts than `starts`; the sets carry pins of some earlier song at first.
    """
    rng = np.random.default_rng(seed)
    tables: list[PinTypes] = []
    songs = []
    for running in runnings:
        numbers: list[int] = []
        for _ in range(len(set(running))):
            numbers.append(len(tables))
            tables.append(table(rng, int(rng.integers(1, starts + 1)), plates, holes=holes, share=share))
        time = SongTime(float(rng.integers(5, 60)), float(rng.integers(1, 5)), float(rng.integers(0, 30)))
        songs.append(
            ShowSong(turns_of(running, int(rng.integers(1, most_times + 1)), plate_sets), time, tuple(numbers))
        )
    carried = tuple(range(len(tables), len(tables) + plate_sets))
    tables += [table(rng, 1, plates, holes=holes, share=share) for _ in range(plate_sets)]
    works = Works(tables, np.ones((plates, plates), dtype=np.int64) if allowed is None else allowed)
    return Problem(tuple(songs), works, carried, times, first, last)


def fixed_plates(plates: int, *kept: int) -> Ints:
    """Which plate may take which place if some are kept."""
    allowed = np.ones((plates, plates), dtype=np.int64)
    for plate in kept:
        allowed[plate, :] = allowed[:, plate] = 0
        allowed[plate, plate] = 1
    return frozen_ints(allowed)


def pins_moved(old: PinTypes, new: PinTypes, allowed: Ints) -> int:
    """Pulled plus set for two tables of shape (plates, holes), trying every exchange of plates."""
    plates = len(old)
    trials = []
    for order in permutations(range(plates)):
        if all(allowed[before, place] for place, before in enumerate(order)):
            moved = 0
            for place, before in enumerate(order):
                for was, becomes in zip(old[before].tolist(), new[place].tolist(), strict=True):
                    moved += (was != becomes) * ((was != 0) + (becomes != 0))
            trials.append(moved)
    return min(trials)


def every_order(problem: Problem) -> Iterator[tuple[int, ...]]:
    songs = range(len(problem.songs))
    for order in permutations(songs):
        if problem.first in (None, order[0]) and problem.last in (None, order[-1]):
            yield order


def chains_by_hand(problem: Problem, order: Sequence[int]) -> list[list[int]]:
    """What each set carries, reckoned by walking through the turns with a queue of free sets.

    Only for songs with no more pinnings than there are sets, and that end on the pinning they took last or
    that take one set.
    """
    queue = list(range(problem.plate_sets))
    chains: list[list[int]] = [[] for _ in queue]
    for song in order:
        running = problem.songs[song].turns.running * problem.songs[song].turns.times
        taken: dict[int, int] = {}
        for pinning in running:
            if pinning not in taken:
                taken[pinning] = queue.pop(0)
                chains[taken[pinning]].append(problem.songs[song].pinnings[pinning])
        last_turn = {pinning: turn for turn, pinning in enumerate(running)}
        queue += [taken[pinning] for pinning in sorted(taken, key=lambda pinning: last_turn[pinning])]
    return chains


def least_work_by_trying(problem: Problem, tables: Sequence[PinTypes], allowed: Ints) -> tuple[int, int]:
    """Work during the show, then before it, over every order, every start and every exchange of plates."""
    moved = {
        (old, new, one, other): pins_moved(tables[old][one], tables[new][other], allowed)
        for old, new in product(range(len(tables)), repeat=2)
        for one, other in product(range(len(tables[old])), range(len(tables[new])))
    }
    best = (10**9, 10**9)
    for order in every_order(problem):
        during = before = 0
        for carried, chain in zip(problem.carried, chains_by_hand(problem, order), strict=True):
            least = (0, 0)
            if chain:
                least = min(
                    (
                        sum(moved[a, b, s, t] for (a, s), (b, t) in pairwise(zip(chain, starts, strict=True))),
                        moved[carried, chain[0], 0, starts[0]],
                    )
                    for starts in product(*(range(len(tables[pinning])) for pinning in chain))
                )
            during, before = during + least[0], before + least[1]
        best = min(best, (during, before))
    return best


def runnings(most_songs: int = 5, longer: bool = True) -> st.SearchStrategy[list[tuple[int, ...]]]:
    """Running orders of the songs of a show; longer ones take two sets, or two swaps on one."""
    one = st.just((0,))
    song = st.one_of(one, one, st.sampled_from([(0, 1), (0, 0, 1), (0, 1, 0)])) if longer else one
    return st.lists(song, min_size=1, max_size=most_songs)

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

    A song can have fewer starts than `starts`, all its pinnings equally many; the sets carry pins of some earlier
    song at first.
    """
    rng = np.random.default_rng(seed)
    tables: list[PinTypes] = []
    songs = []
    for running in runnings:
        numbers: list[int] = []
        start_count = int(rng.integers(1, starts + 1))
        for _ in range(len(set(running))):
            numbers.append(len(tables))
            tables.append(table(rng, start_count, plates, holes=holes, share=share))
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


def moved_by_trying(tables: Sequence[PinTypes], allowed: Ints) -> dict[tuple[int, int], Ints]:
    """For two tables the pins moved from each start of the one to each of the other, over every exchange of plates."""
    return {
        (old, new): frozen_ints([[pins_moved(a, b, allowed) for b in tables[new]] for a in tables[old]])
        for old, new in product(range(len(tables)), repeat=2)
    }


def every_start(problem: Problem) -> Iterator[tuple[int, ...]]:
    """Every choice of one start for each song."""
    return product(*(range(problem.works.starts(song.pinnings[0])) for song in problem.songs))


def least_work_by_trying(problem: Problem, tables: Sequence[PinTypes], allowed: Ints) -> tuple[int, int]:
    """Work during the show, then before it, over every order, one start a song and every exchange of plates."""
    moved = moved_by_trying(tables, allowed)
    song_of = {pinning: number for number, song in enumerate(problem.songs) for pinning in song.pinnings}
    best = (10**9, 10**9)
    for order in every_order(problem):
        chains = [chain for chain in zip(problem.carried, chains_by_hand(problem, order), strict=True) if chain[1]]
        for starts in every_start(problem):
            links = [link for _, chain in chains for link in pairwise(chain)]
            during = sum(int(moved[a, b][starts[song_of[a]], starts[song_of[b]]]) for a, b in links)
            before = sum(int(moved[carried, chain[0]][0, starts[song_of[chain[0]]]]) for carried, chain in chains)
            best = min(best, (during, before))
    return best


def tried(problem: Problem, tables: Sequence[PinTypes], allowed: Ints) -> dict[tuple[int, ...], tuple[int, int, float]]:
    """For every order the least work during the show, the least before it with that, and the least worst hurry.

    One start for each song, all of them tried, and every exchange of plates. Which set carries what, and the clock, are
    taken from the timetable, which has tests of its own.
    """
    moved = moved_by_trying(tables, allowed)
    starts = np.array(list(every_start(problem))).T
    return {order: _tried(problem, order, moved, tables, starts) for order in every_order(problem)}


def _tried(
    problem: Problem,
    order: tuple[int, ...],
    moved: dict[tuple[int, int], Ints],
    tables: Sequence[PinTypes],
    starts: Ints,
) -> tuple[int, int, float]:
    table = problem.timetable(order)
    during, before, worst = (np.zeros(starts.shape[1]) for _ in range(3))
    for it in table.carried:
        new, at_new = problem.songs[order[it.place]].of_use(it.use), starts[order[it.place]]
        if it.before is None:
            before += moved[problem.carried[it.plate_set], new][0, at_new]
            continue
        earlier = table.carried[it.before]
        old, at_old = problem.songs[order[earlier.place]].of_use(earlier.use), starts[order[earlier.place]]
        work = moved[old, new][at_old, at_new]
        during += work
        more = (tables[new][at_new] > 0).sum(axis=(1, 2)) - (tables[old][at_old] > 0).sum(axis=(1, 2))
        seconds = ((work - more) * problem.times.pull_s + (work + more) * problem.times.set_s) / 2
        with np.errstate(divide="ignore", invalid="ignore"):
            worst = np.maximum(worst, np.where(seconds == 0, 0.0, seconds / it.available_s))
    least = during.min()
    return int(least), int(before[during == least].min()), float(worst.min())


def runnings(most_songs: int = 5, longer: bool = True) -> st.SearchStrategy[list[tuple[int, ...]]]:
    """Running orders of the songs of a show; longer ones take two sets, or two swaps on one."""
    one = st.just((0,))
    song = st.one_of(one, one, st.sampled_from([(0, 1), (0, 0, 1), (0, 1, 0)])) if longer else one
    return st.lists(song, min_size=1, max_size=most_songs)

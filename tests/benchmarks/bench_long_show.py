"""How near the plans of long shows come to their floors, how long they take, and what a plain annealer finds.

    python tests/benchmarks/bench_long_show.py [--anneal] [SONGS ...]
    python tests/benchmarks/bench_long_show.py --random [--anneal] [SHOWS]

The first has a show of each kind for each number of songs; the second shows of random kinds, of 13 to 30 songs.
Times are of the CPU. The annealer knows nothing of ours but the work between pinnings: it exchanges two songs, moves
one or gives one another start, sums the whole show anew, and accepts by Metropolis. With `--anneal` it has ten times
the seconds of the plan. The music is made up: pins on the beats of a metre, on some channels, shifted by the start.
"""

from __future__ import annotations

import math
import os
import sys
from itertools import pairwise
from pathlib import Path
from random import Random
from time import process_time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np

import shows
from pegwright.show.plan import Aim, plan_show
from pegwright.show.problem import Problem, ShowSong
from pegwright.show.time import SongTime
from pegwright.show.turns import turns_of
from pegwright.show.work import PinTypes, Works

PLATES, STEPS_PER_PLATE, CHANNELS = 6, 32, 24
KINDS = {"one set each, on 2": ((0,), 2), "two sets each, on 3": ((0, 1), 3), "one or two sets, on 2": (None, 2)}


def pins(rng: np.random.Generator, unit: int, total: int, channels: np.ndarray) -> PinTypes:
    """Pins of one pinning at each of 32 starts."""
    steps = PLATES * STEPS_PER_PLATE
    beat = np.where(np.arange(steps) % unit == 0, 1.0, 0.08)
    weight = beat[:, None] * channels[None, :] * np.exp(0.5 * rng.standard_normal((steps, CHANNELS)))
    flat = np.zeros(steps * CHANNELS, dtype=np.uint8)
    flat[rng.choice(flat.size, total, replace=False, p=(weight / weight.sum()).ravel())] = 1
    turn = flat.reshape(steps, CHANNELS)
    return np.stack([np.roll(turn, start, 0).reshape(PLATES, -1) for start in range(STEPS_PER_PLATE)])


def musical(seed: int, songs: int, running: tuple[int, ...] | None, plate_sets: int) -> Problem:
    """A show of made-up music; songs of one or two pinnings at random if `running` is None."""
    rng = np.random.default_rng([7, seed])
    tables: list[PinTypes] = []
    made = []
    for _ in range(songs):
        turns = running or ((0,), (0, 1))[int(rng.integers(2))]
        unit, total = int(rng.choice([2, 3, 4, 4, 6, 8])), int(rng.integers(90, 280))
        channels = np.exp(1.2 * rng.standard_normal(CHANNELS)) * np.linspace(1.5, 0.5, CHANNELS)
        numbers = tuple(range(len(tables), len(tables) + len(set(turns))))
        tables += [pins(rng, unit, total, channels) for _ in numbers]
        time = SongTime(float(rng.integers(15, 40)), float(rng.integers(5, 15)), float(rng.integers(30, 90)))
        made.append(ShowSong(turns_of(turns, int(rng.integers(1, 6)), plate_sets), time, numbers))
    carried = tuple(range(len(tables), len(tables) + plate_sets))
    tables += [np.zeros((1, PLATES, STEPS_PER_PLATE * CHANNELS), dtype=np.uint8)] * plate_sets
    return Problem(tuple(made), Works(tables, shows.fixed_plates(PLATES)), carried, shows.TIMES)


def annealed_plainly(problem: Problem, seconds: float, seed: int) -> int:
    """The least work that a plain annealer finds in some seconds of CPU."""
    random, songs = Random(seed), len(problem.songs)  # noqa: S311
    order, starts = list(range(songs)), [0] * songs

    def cost() -> int:
        total = sum(int(problem.within_songs[song][starts[song]]) for song in order)
        for visits in problem.strands(order):
            for old, new in pairwise(visits):
                one, other = problem.visits[old].song, problem.visits[new].song
                total += int(problem.link(old, new)[starts[one], starts[other]])
        return total

    begun = process_time()
    now = best = cost()
    hot = now / songs / 4
    while (gone := (process_time() - begun) / seconds) < 1:
        before, was = order.copy(), starts.copy()
        one, other = random.randrange(songs), random.randrange(songs)
        kind = random.random()
        if kind < 0.4:
            order[one], order[other] = order[other], order[one]
        elif kind < 0.7:
            order.insert(other, order.pop(one))
        else:
            starts[one] = random.randrange(problem.starts(one))
        reached = cost()
        if reached <= now or random.random() < math.exp((now - reached) / (hot * (1 - gone) ** 2 + 1e-9)):
            now, best = reached, min(best, reached)
        else:
            order, starts = before, was
    return best


def line(songs: int, kind: str, seed: int, anneal: bool) -> str:
    """A show planned, and what the annealer finds."""
    problem = musical(seed, songs, *KINDS[kind])
    begun = process_time()
    plan = plan_show(problem, Aim.LEAST_WORK)
    seconds = process_time() - begun
    gap = 1 - plan.floor / plan.during
    words = f"{songs:3} songs, {kind:22}: {plan.during:6,} pins, gap {gap:5.1%}, {seconds:5.1f} s"
    if anneal:
        found = annealed_plainly(problem, 10 * seconds, seed)
        words += f"; a plain annealer in ten times the time {found:6,} ({found / plan.during - 1:+.1%})"
    return words


def main() -> None:
    anneal, numbers = "--anneal" in sys.argv, [int(word) for word in sys.argv[1:] if word.isdigit()]
    if "--random" in sys.argv:
        random = Random(20261126)  # noqa: S311
        for seed in range(numbers[0] if numbers else 20):
            print(line(random.randint(13, 30), random.choice(list(KINDS)), 1000 + seed, anneal), flush=True)
        return
    for songs in numbers or [30, 60]:
        for kind in KINDS:
            print(line(songs, kind, songs, anneal), flush=True)


if __name__ == "__main__":
    main()

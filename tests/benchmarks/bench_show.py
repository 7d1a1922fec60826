"""How long a show takes to plan, side by side with a yardstick from the same run, and how near long plans come.

    python tests/benchmarks/bench_show.py

The yardstick is the exact plan of eight songs. Targets: twelve songs exactly in some seconds, thirty in under a minute.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from time import perf_counter

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parents[1]))

import shows
from pegwright.show.plan import Aim, Plan, plan_show
from pegwright.show.problem import Problem

STARTS, PLATES, HOLES = 32, 6, 600
CASES = ((8, 2), (12, 1), (12, 2), (12, 3), (30, 1), (30, 2), (30, 3))


def problem(songs: int, plate_sets: int) -> Problem:
    """Songs with up to 32 starts on six plates, some 250 pins each."""
    return shows.show(
        songs, [(0,)] * songs, plate_sets, starts=STARTS, plates=PLATES, holes=HOLES, share=0.07, most_times=5
    )


def planned(songs: int, plate_sets: int, aim: Aim) -> tuple[Plan, float]:
    """A plan, and the seconds it took with every table made anew."""
    made = problem(songs, plate_sets)
    begun = perf_counter()
    plan = plan_show(made, aim)
    return plan, perf_counter() - begun


def main() -> None:
    _, yardstick = planned(*CASES[0], Aim.LEAST_WORK)
    print(f"yardstick, {CASES[0][0]} songs on {CASES[0][1]} sets: {yardstick:.2f} s")
    for aim in (Aim.LEAST_WORK, Aim.LEAST_WORST, Aim.GIVEN):
        for songs, plate_sets in CASES:
            plan, seconds = planned(songs, plate_sets, aim)
            floor = f"floor {plan.floor:8.2f}"
            sure = "proved" if plan.proved else "bounded"
            took = f"{seconds:6.2f} s, {seconds / yardstick:6.1f} yardsticks"
            print(f"{aim.value:11} {songs:2} songs {plate_sets} sets: {took}; {plan.reached:8.2f}, {floor}, {sure}")


if __name__ == "__main__":
    main()

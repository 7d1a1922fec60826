"""One start for each song: plans against every order, every start and every exchange of plates.

The shows are drawn by seed; all of them are tried with PEGWRIGHT_THOROUGH=1, else a part.
"""

from __future__ import annotations

import os
from itertools import combinations

import numpy as np
import pytest

import pegwright.show.plan as plan_module
import shows
from pegwright.columns import Ints
from pegwright.errors import InternalError
from pegwright.show.bound import work_floor
from pegwright.show.hurry import Hurries, hurry_floor
from pegwright.show.plan import Aim, Plan, plan_show, same_order_least_worst
from pegwright.show.problem import Problem, ShowSong
from pegwright.show.time import SongTime
from pegwright.show.turns import turns_of
from pegwright.show.work import Works

THOROUGH = os.environ.get("PEGWRIGHT_THOROUGH") == "1"
SEEDS = range(600 if THOROUGH else 40)
RUNNINGS = [(0,), (0, 1), (0, 0, 1, 0), (0, 1, 0), (0, 1, 2), (0, 1, 0, 2)]
CLOSE = 1 + 1e-9


def random_show(seed: int) -> tuple[Problem, Ints]:
    """Two to five songs of one to three pinnings and one to four starts, on one to three sets; some plates stay."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 6))
    shares = rng.choice([(0.4, 0.2, 0.1, 0.1, 0.1, 0.1), (0.0, 0.3, 0.2, 0.2, 0.2, 0.1), (0.8, 0.1, 0.1, 0, 0, 0)])
    running = [RUNNINGS[int(number)] for number in rng.choice(len(RUNNINGS), count, p=shares)]
    plates = int(rng.integers(1, 4))
    allowed = shows.fixed_plates(plates, *([0] if rng.random() < 0.3 else []))
    first, last = ((0, count - 1), (1, None), (None, 0), *[(None, None)] * 5)[int(rng.integers(8))]
    problem = shows.show(
        seed,
        running,
        int(rng.integers(1, 4)),
        starts=4,
        plates=plates,
        first=first,
        last=last,
        allowed=allowed,
        most_times=2,
    )
    return problem, allowed


def check_consistent(problem: Problem, plan: Plan) -> None:
    """One start a song, and the works are those of the starts."""
    table = plan.table
    for one, other in combinations(range(len(table.carried)), 2):
        if table.carried[one].place == table.carried[other].place:
            assert plan.starts[one] == plan.starts[other]
    for number, it in enumerate(table.carried):
        new = problem.songs[plan.order[it.place]].of_use(it.use)
        old, start = problem.carried[it.plate_set], 0
        if it.before is not None:
            earlier = table.carried[it.before]
            old, start = problem.songs[plan.order[earlier.place]].of_use(earlier.use), plan.starts[it.before]
        assert plan.works[number] == problem.works.between(old, new)[start, plan.starts[number]]


@pytest.mark.parametrize("seed", SEEDS)
def test_plans_equal_trying_everything(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    problem, allowed = random_show(seed)
    tried = shows.tried(problem, list(problem.works._tables), allowed)
    least = min(work[:2] for work in tried.values())
    calmest = min(worst for _, _, worst in tried.values())

    given = plan_show(problem, Aim.GIVEN)
    if given.order in tried:  # else the songs that open or close the show stand elsewhere in the set
        assert (given.during, given.before) == tried[given.order][:2]
    assert given.proved

    work = plan_show(problem, Aim.LEAST_WORK)
    assert (work.during, work.before) == least == tried[work.order][:2]
    assert work.proved
    assert work_floor(problem, work.during) <= least[0]

    calm = plan_show(problem, Aim.LEAST_WORST)
    assert calm.worst_hurry <= tried[calm.order][2] * CLOSE
    assert calm.floor <= calmest * CLOSE
    assert calm.worst_hurry >= calmest / CLOSE
    assert not calm.proved or calm.worst_hurry <= calmest * CLOSE
    floor = hurry_floor(problem, Hurries(problem))
    assert floor <= calmest * CLOSE
    same = same_order_least_worst(problem, work.order)
    assert same.worst_hurry == pytest.approx(tried[work.order][2])
    assert same.proved

    with monkeypatch.context() as patch:
        patch.setattr(plan_module, "MAX_STEPS", 0)
        patch.setattr(plan_module, "MAX_STATES", 0)
        patch.setattr("pegwright.show.anneal.TRIALS_OF_A_SONG", 20)  # these shows are small
        searched = plan_show(problem, Aim.LEAST_WORK)
        searched_calm = plan_show(problem, Aim.LEAST_WORST)
    assert searched.floor <= least[0] <= searched.during
    assert not searched.proved or searched.during == least[0]
    assert searched_calm.floor <= calmest * CLOSE
    assert searched_calm.worst_hurry >= calmest / CLOSE
    assert not searched_calm.proved or searched_calm.worst_hurry <= calmest * CLOSE
    for plan in (given, work, calm, same, searched, searched_calm):
        check_consistent(problem, plan)


def test_pinnings_of_a_song_have_equally_many_starts() -> None:
    rng = np.random.default_rng(1)
    works = Works([shows.table(rng, 2, 2), shows.table(rng, 3, 2), shows.table(rng, 1, 2)], shows.fixed_plates(2))
    song = ShowSong(turns_of((0, 1), 1, 2), SongTime(1.0, 1.0), (0, 1))
    with pytest.raises(InternalError, match=r"\[2, 3\] starts"):
        Problem((song,), works, (2, 2), shows.TIMES)

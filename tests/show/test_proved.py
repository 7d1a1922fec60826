"""What is called proved equals trying everything, and nothing else is called proved."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import pegwright.show.plan as plan_module
import shows
from pegwright.show.plan import Aim, Plan, plan_show
from pegwright.show.problem import Problem
from pegwright.write.show.text import floor_words

ONE_SONG = plan_show(shows.show(1, [(0,)], 2), Aim.LEAST_WORK)


def with_fixed_plates(seed: int) -> tuple[Problem, list[list[int]]]:
    """Two to four songs of one or two pinnings, with up to six starts, on three plates of which one or two stay."""
    rng = np.random.default_rng([20261126, seed])
    runnings = [((0,), (0, 1))[int(rng.random() < 0.3)] for _ in range(int(rng.integers(2, 5)))]
    allowed = shows.fixed_plates(3, *rng.permutation(3)[: int(rng.integers(1, 3))].tolist())
    problem = shows.show(seed, runnings, int(rng.integers(2, 4)), starts=6, plates=3, most_times=2, allowed=allowed)
    return problem, allowed.tolist()


@pytest.mark.parametrize("seed", range(100))
def test_with_fixed_plates_what_is_proved_equals_trying_everything(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    problem, allowed = with_fixed_plates(seed)
    tried = shows.tried(problem, list(problem.works._tables), np.array(allowed))
    best_of = {
        Aim.GIVEN: tried[tuple(range(len(problem.songs)))][0],
        Aim.LEAST_WORK: min(work for work, _, _ in tried.values()),
        Aim.LEAST_WORST: min(worst for _, _, worst in tried.values()),
    }
    plans = [plan_show(problem, aim) for aim in Aim]
    assert plans[0].proved
    assert plans[1].proved
    with monkeypatch.context() as patch:  # as for a show that is too long to be planned exactly
        patch.setattr(plan_module, "MAX_STEPS", 0)
        patch.setattr(plan_module, "MAX_STATES", 0)
        patch.setattr("pegwright.show.anneal.TRIALS_OF_A_SONG", 20)  # these shows are small
        plans += [plan_show(problem, aim) for aim in (Aim.LEAST_WORK, Aim.LEAST_WORST)]
    for plan in plans:
        best = best_of[plan.aim]
        assert plan.reached >= best * (1 - 1e-9)
        assert plan.floor <= best * (1 + 1e-9)
        assert ("proved" not in floor_words(plan)) or plan.reached <= best * (1 + 1e-9)


def with_bound(aim: Aim, reached: int, floor: float, tried: int, equal: int) -> Plan:
    """A plan that reaches a value, pins moved or per cent of its time, with a bound on it."""

    class Reached(Plan):
        during, worst_hurry = reached, reached / 100

    plan = ONE_SONG
    return Reached(
        aim, plan.order, plan.table, plan.starts, plan.works, plan.needed_s, plan.late_s, floor, tried, equal
    )


@given(
    st.sampled_from(Aim), st.integers(1, 10**5), st.integers(0, 10**5), st.integers(1, 500), st.integers(0, 500),
    st.booleans(),
)  # fmt: skip
def test_nothing_is_called_proved_where_a_bound_is_below_the_value_or_starts_were_not_tried(
    aim: Aim, reached: int, below: int, tried: int, untried: int, close: bool
) -> None:
    bound = max(0, reached - (below % 3 if close else below))
    floor = bound / 100 if aim == Aim.LEAST_WORST else float(bound)
    plan = with_bound(aim, reached, floor, tried, tried + untried)
    words = floor_words(plan)
    assert ("proved" in words) == plan.proved == (bound == reached and not untried)
    if untried:
        assert f"{tried:,} were tried" in words
        assert "can" in words


def test_a_show_in_which_some_swap_has_no_time_says_so() -> None:
    plan = with_bound(Aim.LEAST_WORST, 50, math.inf, 5, 9)
    assert floor_words(plan).endswith("With these, in every order there is no time at all for some swap.")


def test_starts_that_were_not_tried_stand_in_the_headline() -> None:
    problem = shows.show(4, [(0,)] * 4, 2, starts=4)
    whole = plan_show(problem, Aim.LEAST_WORK)
    assert floor_words(whole) == "No order of these songs moves fewer: proved."
    thinned = replace(problem, equal_starts=tuple(3 * problem.starts(song) for song in range(4)))
    plan = plan_show(thinned, Aim.LEAST_WORK)
    tried = problem.starts_tried
    assert floor_words(plan) == (
        f"Of {3 * tried} equally good starts of its songs {tried} were tried. With these, no order can move fewer than "
        f"{whole.during:,}: at most 0.0 % could be gained."
    )

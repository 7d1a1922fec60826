"""What all solvers have in common: one after another is tried; what they return does not change."""

from __future__ import annotations

import random
from dataclasses import fields, replace

import numpy as np
import pytest

from joined import joined_case
from pegwright.ask.options import FitOptions
from pegwright.columns import frozen_ints
from pegwright.fit import counting
from pegwright.fit.counting import CountingSolver
from pegwright.fit.coupled import Contest
from pegwright.fit.cyclic import Spacing, spaced_ways
from pegwright.fit.general import General
from pegwright.fit.placing import fit_turn
from pegwright.fit.problem import LEFT_OUT, Cap, Cluster, Solution, Ways, merit_of
from pegwright.fit.quantise import Holes
from pegwright.search.worths import worths_of

NOTHING = frozen_ints([0, 0, 0])
HOLES = Holes(
    key=frozen_ints([0, 1, 4]),
    position=frozen_ints([0, 1, 4]),
    channel=NOTHING,
    row=NOTHING,
    place=frozen_ints([0, 1, 2]),
    pin=NOTHING,
    past=frozen_ints([3]),
    stretch_ticks=100,
    margin_ticks=0,
    pin_count=1,
)
# Two strikes at ticks 0 and 1, of weights 5 and 6; pins at least 3 ticks apart, so the second moves on to tick 4.
AIMS = frozen_ints([5, 5, 6, 6]), frozen_ints([0, -1, 0, -3])
WAYS = Ways(frozen_ints([0, 2, 4]), frozen_ints([0, 0, 1, 1]), frozen_ints([0, 1, 1, 2]), AIMS)
MERIT = merit_of(AIMS, 2)
SPACING = Spacing(frozen_ints([0, 0]), frozen_ints([0, 0]), frozen_ints([3]), HOLES, 50)
CLUSTER = Cluster([0, 1], [range(2), range(2, 4)], [Cap((0, 1), 1)])


def solutions(cluster: Cluster) -> tuple[Solution, Solution]:
    """By counting and by the general solver."""
    counted = CountingSolver(WAYS, frozen_ints([0] * 4), MERIT).solve(cluster)
    assert counted is not None
    return counted, General(cluster, WAYS, MERIT)


def test_solvers_agree_on_a_problem_in_both_forms() -> None:
    total = 11 * (1 + 2 * 3) - 3  # both are placed, at a cost of 3; the factor is one more than two greatest costs
    for solution in solutions(CLUSTER):
        assert (solution.total, solution.short, solution.proved) == (total, 0, True)
        assert solution.take_all() == [0, 3]
    assert spaced_ways(SPACING, WAYS, MERIT.of_way) == [0, 3]
    assert MERIT.of_way[0] + MERIT.of_way[3] == total


def test_the_general_solver_is_asked_where_there_are_too_many_states(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two channels, so that the number of states is bounded."""
    monkeypatch.setattr(counting, "MOST_STATES", 0)
    assert CountingSolver(WAYS, frozen_ints([0, 0, 0, 1]), MERIT).solve(CLUSTER) is None
    holes = replace(HOLES, channel=frozen_ints([0, 0, 1]))
    ((cluster, solution, merit),) = Contest(frozen_ints([0, 1]), WAYS, [CLUSTER], holes).solutions()
    assert cluster is CLUSTER
    assert merit == MERIT
    assert isinstance(solution, General)
    assert solution.take_all() == [0, 3]


def test_a_strike_that_no_optimum_places_is_left_out() -> None:
    for solution in solutions(Cluster([0, 1], [range(2), range(2, 4)], [Cap((0, 1, 2), 1)])):
        assert solution.take_all() == [LEFT_OUT, 2]


def test_a_lower_aim_never_outweighs_a_higher_one_and_a_total_is_parted_again() -> None:
    chance = random.Random(1)  # noqa: S311  # cases for a test, not secrets
    for largest in (1, 10**6, 10**15):  # the last does not fit into a machine word
        aims = [np.array([chance.randint(1, largest) for _ in range(30)])]
        aims += [-np.array([chance.randint(0, largest) for _ in range(30)]) for _ in range(3)]
        merit = merit_of(aims, 30)
        sums = []
        for _ in range(40):
            some = chance.sample(range(30), chance.randint(1, 30))
            expected = tuple(sum(int(aim[way]) for way in some) for aim in aims)
            total = sum(merit.of_way[way] for way in some)
            assert merit.split(total) == expected
            sums.append((total, expected))
        assert [expected for _, expected in sorted(sums)] == sorted(expected for _, expected in sums)


@pytest.mark.parametrize("kind", ["limits", "shared", "offsets"])
def test_what_is_found_is_read_only(kind: str) -> None:
    chance = random.Random(2)  # noqa: S311  # cases for a test, not secrets
    for _ in range(10):
        song, on = joined_case(chance, kind)
        fitting = fit_turn(song, on, FitOptions()).fitting
        worths = worths_of(fitting.strikes, fitting.usable, fitting.gaps, fitting.limits, fitting.turn)
        for value in (fitting.assignment, worths):
            for field in fields(value):
                with pytest.raises(ValueError, match="read-only"):
                    getattr(value, field.name)[:] = 0
        assert int(worths.weight.sum()) == int(fitting.strikes.weight[fitting.chosen >= 0].sum())

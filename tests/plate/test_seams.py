"""Where plates go on the rim: against an exhaustive search, and in small cases that can be checked by hand."""

from __future__ import annotations

import random
from itertools import combinations, product

import pytest

from pegwright.errors import UsageError
from pegwright.plate import seams
from pegwright.plate.seams import SeamPlan, SeamProblem, ShimKind, plan_seams


def exhaustive(problem: SeamProblem) -> tuple[int, int, int, int] | None:
    """The least cost over every way of holding the plates, each written out in full."""
    count = len(problem.touching)
    if problem.at_rest:
        shifts = range(-problem.clearance, problem.clearance + 1)
        costs = [dowelled(problem, (0, *choice)) for choice in product(shifts, repeat=count - 1)]
    else:
        pieces = [kind.thickness for kind in problem.shims for _ in range(kind.count)]
        costs = [butted(problem, choice) for choice in packings(tuple(pieces), count - 1)]
    return min((cost for cost in costs if cost is not None), default=None)


def packings(pieces: tuple[int, ...], left: int) -> list[list[tuple[int, ...]]]:
    """Every way to share out pieces among seams, at most three each."""
    if not left:
        return [[]]
    ways = []
    seen = set()
    for count in range(4):
        for chosen in combinations(range(len(pieces)), count):
            pack = tuple(pieces[n] for n in chosen)
            if pack in seen:
                continue
            seen.add(pack)
            rest = tuple(piece for n, piece in enumerate(pieces) if n not in chosen)
            ways += [[pack, *others] for others in packings(rest, left - 1)]
    return ways


def cost_of(problem: SeamProblem, errors: list[int], count: int, size: int) -> tuple[int, int, int, int] | None:
    """What a way costs, from the places of first and last holes; None where plates overlap."""
    if any(error < touching for error, touching in zip(errors, problem.touching, strict=True)):
        return None
    middles, first = [], 0
    for arc, error in zip(problem.arc_errors, errors, strict=True):
        middles.append(2 * first + arc)
        first += arc + error
    assert first == 0  # the turn closes
    return max(map(abs, errors)), max(middles) - min(middles), count, size


def dowelled(problem: SeamProblem, shifts: tuple[int, ...]) -> tuple[int, int, int, int] | None:
    after = (*shifts[1:], 0)
    errors = [rest + b - a for rest, a, b in zip(problem.at_rest, shifts, after, strict=True)]
    return cost_of(problem, errors, sum(shift != 0 for shift in shifts), sum(map(abs, shifts)))


def butted(problem: SeamProblem, packs: list[tuple[int, ...]]) -> tuple[int, int, int, int] | None:
    errors = [touching + sum(pack) for touching, pack in zip(problem.touching, packs, strict=False)]
    errors.append(-sum(problem.arc_errors) - sum(errors))
    return cost_of(problem, errors, sum(map(len, packs)), sum(map(sum, packs)))


def random_problem(number: int) -> SeamProblem:
    """Up to 5 seams and 6 shims, dowelled and butted by turns."""
    chance = random.Random(number)  # noqa: S311  # cases, no secrets
    count = chance.randint(1, 5)
    arcs = [chance.randint(-9, 9) for _ in range(count)]
    if number % 2:
        rests = [chance.randint(-12, 12) for _ in range(count - 1)]
        rests.append(-sum(arcs) - sum(rests))
        touching = [chance.choice((-40, rest - chance.randint(-2, 6))) for rest in rests]
        return SeamProblem(tuple(arcs), tuple(touching), tuple(rests), chance.randint(0, 3))
    touching = [chance.randint(-25, 4) for _ in range(count)]
    thicknesses = chance.sample([2, 3, 5, 8, 10, 15, 20, 25], chance.randint(0, 4))
    counts = [0] * len(thicknesses)
    for _ in range(chance.randint(0, 6) if thicknesses else 0):
        counts[chance.randrange(len(counts))] += 1
    shims = tuple(ShimKind(t, n) for t, n in zip(thicknesses, counts, strict=True) if n)
    return SeamProblem(tuple(arcs), tuple(touching), shims=shims)


@pytest.mark.parametrize("block", range(6))
def test_plans_equal_those_of_an_exhaustive_search(block: int) -> None:
    solved = 0
    for number in range(50 * block, 50 * block + 50):
        problem = random_problem(number)
        plan, best = plan_seams(problem), exhaustive(problem)
        assert (plan and plan.cost) == best, (number, problem)
        if plan is not None:
            solved += 1
            assert replayed(problem, plan) == best, (number, problem)
    assert solved > 10


def replayed(problem: SeamProblem, plan: SeamPlan) -> tuple[int, int, int, int] | None:
    """What a plan costs, computed by the oracle from what people would do."""
    if problem.at_rest:
        assert max(map(abs, plan.shifts)) <= problem.clearance
        return dowelled(problem, plan.shifts)
    used = [thickness for pack in plan.shims for thickness in pack]
    assert all(used.count(kind.thickness) <= kind.count for kind in problem.shims)
    assert max(map(len, plan.shims)) <= 3
    return butted(problem, list(plan.shims[:-1]))


def test_plates_that_are_right_need_nothing() -> None:
    plan = plan_seams(SeamProblem((0,) * 6, (-30,) * 6, (0,) * 6, 20))
    assert plan is not None
    assert plan.cost == (0, 0, 0, 0)


def test_butted_plates_are_packed_with_the_shims_that_close_the_gap() -> None:
    plan = plan_seams(SeamProblem((0,) * 6, (-30,) * 6, shims=(ShimKind(20, 9), ShimKind(10, 9))))
    assert plan is not None
    assert plan.shims == ((20, 10),) * 5 + ((),)
    assert plan.errors == (0,) * 6


def test_more_ways_than_can_be_looked_at_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(seams, "MAX_MOVES", 10)
    with pytest.raises(UsageError, match="more than 10 ways to pack or shift these plates"):
        plan_seams(SeamProblem((0,) * 6, (-30,) * 6, shims=(ShimKind(20, 9), ShimKind(10, 9))))


def test_plates_that_are_longer_than_the_rim_have_no_plan() -> None:
    assert plan_seams(SeamProblem((0,) * 3, (-10, 5, 6))) is None

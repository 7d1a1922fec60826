"""Channels whose rows need different gaps, on bare clusters with many ties, against trying everything."""

from __future__ import annotations

import random

import numpy as np
import pytest

from pegwright.columns import frozen_ints
from pegwright.fit import gaps as gaps_module
from pegwright.fit import quantise
from pegwright.fit.caps import clusters_of
from pegwright.fit.counting import CountingSolver
from pegwright.fit.problem import LEFT_OUT, Ways, merit_of

Options = list[list[tuple[int, int]]]  # for each strike its holes, the earliest first, with their merits
Holes = list[tuple[int, int]]  # position and row of each, in order
Gaps = list[list[int]]


def tried(options: Options, holes: Holes, gaps: Gaps, turn: int) -> tuple[int, list[int]]:
    """The best total and the first way to reach it: earlier holes for earlier strikes, leaving out last."""
    best: tuple[int, list[int]] = (-1, [])
    chosen: list[int] = []

    def apart(one: int, other: int) -> bool:
        (here, row), (there, other_row) = holes[one], holes[other]
        gap = gaps[row][other_row]
        return there - here >= gap and here + turn - there >= gap and other > one

    def extend(number: int, total: int) -> None:
        nonlocal best
        if number == len(options):
            if total > best[0]:
                best = (total, list(chosen))
            return
        for hole, merit in [*options[number], (-1, 0)]:
            if hole < 0 or all(apart(other, hole) for other in chosen if other >= 0):
                chosen.append(hole)
                extend(number + 1, total + merit)
                chosen.pop()

    extend(0, 0)
    return best


def bare_cluster(chance: random.Random) -> tuple[Options, Holes, Gaps, int]:
    """Strikes with sliding windows of holes, few different merits, and rows that are in each other's way or not."""
    rows = chance.randint(2, 3)
    wide, narrow = chance.randint(3, 7), chance.randint(1, 2)
    gaps = [[wide if one == other else chance.choice([narrow, wide]) for other in range(rows)] for one in range(rows)]
    gaps = [[max(gaps[one][other], gaps[other][one]) for other in range(rows)] for one in range(rows)]
    count = chance.randint(5, 12)
    holes, place = [], 0
    for _ in range(count):
        holes.append((place, chance.randrange(rows)))
        place += chance.randint(1, 2)
    turn = holes[-1][0] + chance.randint(1, 6)
    options: Options = []
    low, past = 0, chance.randint(1, 3)
    for _ in range(chance.randint(3, 7)):
        options.append([(hole, chance.choice([5, 6, 6, 9])) for hole in range(low, past)])
        low = min(count - 1, low + chance.randint(0, 2))
        past = min(count, max(past + chance.randint(0, 2), low + 1))
    return options, holes, gaps, turn


def searched(options: Options, holes: Holes, gaps: Gaps, turn: int) -> list[int]:
    """The hole of each strike by clusters, caps and counting, as a fit finds it."""
    position, row = frozen_ints([place for place, _ in holes]), frozen_ints([row for _, row in holes])
    number, nothing = frozen_ints(range(len(holes))), frozen_ints([0] * len(holes))
    listed = quantise.Holes(position, position, nothing, row, number, nothing, frozen_ints([len(holes)]), turn, 0, 1)
    matrix = np.array(gaps)
    own = matrix[np.ix_(np.unique(row), np.unique(row))]
    greatest, least = frozen_ints([matrix.max()]), frozen_ints([own.min()])
    counts = [len(line) for line in options]
    ways = Ways(
        first=frozen_ints(np.cumsum([0, *counts])),
        strike=frozen_ints(np.repeat(np.arange(len(options)), counts)),
        hole=frozen_ints([hole for line in options for hole, _ in line]),
        aims=(frozen_ints([merit for line in options for _, merit in line]),),
    )
    between = np.stack([np.full_like(matrix, -1), matrix])
    distances = gaps_module.Gaps((between,), greatest, least, least == greatest)
    solver = CountingSolver(ways, nothing[ways.hole], merit_of(ways.aims, len(options)))
    found = [LEFT_OUT] * len(options)
    for cluster in clusters_of(ways, listed, distances, (), turn):
        counted = solver.solve(cluster)
        assert counted is not None
        for strike, way in zip(cluster.strikes, counted.take_all(), strict=True):
            found[strike] = LEFT_OUT if way == LEFT_OUT else int(ways.hole[way])
    return found


@pytest.mark.parametrize("seed", range(4))
def test_equals_trying_everything(seed: int) -> None:
    chance = random.Random(seed)  # noqa: S311  # cases for a test, not secrets
    contested = 0
    for _ in range(1500):
        options, holes, gaps, turn = bare_cluster(chance)
        total, expected = tried(options, holes, gaps, turn)
        found = searched(options, holes, gaps, turn)
        assert found == expected, (options, holes, gaps, turn)
        contested += total < sum(max(merit for _, merit in line) for line in options)
    assert contested > 750

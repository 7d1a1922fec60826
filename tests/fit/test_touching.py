"""The search with gaps by row, on bare clusters with many ties, against trying everything."""

from __future__ import annotations

import random

import pytest

from pegwright.fit.touching import Options, search_cluster

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


@pytest.mark.parametrize("seed", range(4))
def test_equals_trying_everything(seed: int) -> None:
    chance = random.Random(seed)  # noqa: S311  # cases for a test, not secrets
    contested = 0
    for _ in range(1500):
        options, holes, gaps, turn = bare_cluster(chance)
        total, expected = tried(options, holes, gaps, turn)
        found = search_cluster(options, [place for place, _ in holes], [row for _, row in holes], gaps, turn)
        assert found == expected, (options, holes, gaps, turn)
        contested += total < sum(max(merit for _, merit in line) for line in options)
    assert contested > 750

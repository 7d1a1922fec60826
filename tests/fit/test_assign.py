"""The assignment is the exact best: against exhaustive search, and against a general solver."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from exhaustive import assignments, best, keeps_order, problem, value
from pegwright.ask.options import FitOptions
from pegwright.check.verify import verify
from pegwright.placement import Outcome
from pegwright.score import Part, Score
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import LostHole, PinType, Row, Wheel
from samples import GEOMETRY, channel, score, wheel
from thorough import cases

CHANNELS = 4
ROWS = (
    Row("on", (Fraction(0),)),
    Row("half", (Fraction(1, 2),), lateral_mm=3.2),
    Row("triplet", (Fraction(2, 3), Fraction(4, 3)), period_steps=2, lateral_mm=-3.2),
    Row("late", (Fraction(3, 4),), lateral_mm=5.0),
)


def tiny_case(chance: random.Random) -> tuple[Score, Wheel, FitOptions]:
    """A crowded turn of a few steps with four channels of different rows and re-strikes."""
    plates, steps = chance.choice([(1, 4), (1, 8), (2, 4), (3, 2)])
    step_mm = chance.choice([3.6, 5.0, 9.0])
    made = [
        channel(
            f"c{number}",
            [60 + number],
            restrike_ms=chance.choice([0.0, 10.0, 60.0, 130.0, 260.0]),
            rows=chance.sample([row.name for row in ROWS], chance.randint(1, 4)),
        )
        for number in range(CHANNELS)
    ]
    lost = [
        LostHole(
            row.name, chance.randrange(row.hole_count(steps)), chance.choice([None, 0]), chance.choice([None, "c1"])
        )
        for row in chance.choices(ROWS, k=chance.randint(0, 2))
    ]
    on = wheel(
        made,
        plate_count=plates,
        steps_per_plate=steps,
        rows=ROWS,
        lost=tuple(lost),
        reach_quarters=chance.choice([Fraction(1, 16), Fraction(1, 12), Fraction(1, 8), Fraction(3, 16)]),
        geometry=replace(
            GEOMETRY,
            radius_mm=step_mm * plates * steps / (2 * np.pi),
            lead_edge_mm=chance.choice([5.0, 0.5]),
            trail_edge_mm=chance.choice([5.0, 3.0]),
        ),
    )
    resolution = chance.choice([12, 16, 24])
    turn = int(on.turn_quarters * resolution)
    notes = [
        (chance.randrange(turn), 60 + number, chance.choice([1, 60, 60, 127]))
        for number in range(CHANNELS)
        for _ in range(chance.randint(1, 6))
    ]
    song = score(notes, resolution=resolution, tolerance_ticks=chance.choice([0, 0, 1]))
    start = chance.choice([Fraction(0), Fraction(1), Fraction(3, 2), Fraction(4, 3)])
    return song, on, FitOptions(start_steps=start, us_per_quarter=chance.choice([300_000, 500_000, 1_200_000]))


@pytest.mark.parametrize("seed", range(8))
def test_equals_exhaustive_search(seed: int) -> None:
    """1,600 crowded cyclic channels: same totals as the best of all assignments, and the same holes."""
    chance = random.Random(seed)  # noqa: S311  # cases for a test, not secrets
    contested = 0
    for _ in range(50):
        song, on, options = tiny_case(chance)
        placement, _ = fit_with_findings(song, on, options)
        assert verify(song, on, placement) == ()
        weight = cost = 0
        for number in range(CHANNELS):
            asked = problem(song, on, number, placement.resolution, options.start_steps, placement.us_per_quarter)
            worth, expected = best(asked)
            weight, cost = weight + worth[0], cost - worth[1]
            for (note, _, _), choice in zip(asked.strikes, expected, strict=True):
                found = (placement.plate[note], placement.row[note], placement.index[note])
                hole = (-1, -1, -1) if choice is None else (choice[1].plate, choice[1].row, choice[1].index)
                assert found == hole, (number, note, asked.strikes)
            contested += any(choice is None for choice in expected)
        assert (placement.weight, placement.cost_ticks) == (weight, cost)
    assert contested > 50


def case_at_the_end(chance: random.Random) -> tuple[Score, Wheel, FitOptions]:
    """Notes within three ticks of the end of the turn, on one channel, mostly with pins that have an offset."""
    steps = chance.choice([3, 4, 6])
    on = wheel(
        [channel("only", [60], restrike_ms=chance.choice([0.0, 10.0, 60.0]), rows=["on", "half"])],
        plate_count=1,
        steps_per_plate=steps,
        rows=ROWS,
        pin_types=chance.choice(
            [
                (PinType("peg", 9),),
                (PinType("late", 9, 1.3), PinType("peg", 9)),
                (PinType("far", 9, 2.9), PinType("near", 9, -0.7)),
            ]
        ),
        reach_quarters=chance.choice([Fraction(1, 8), Fraction(3, 16), Fraction(1, 4)]),
        geometry=replace(GEOMETRY, radius_mm=chance.choice([3.6, 5.0, 9.0]) * steps / (2 * np.pi), lead_edge_mm=5.0),
    )
    resolution = chance.choice([12, 16])
    turn = int(on.turn_quarters * resolution)
    notes = [(chance.randrange(-3, 3) % turn, 60, chance.choice([1, 60, 127])) for _ in range(chance.randint(2, 3))]
    start = chance.choice([Fraction(0), Fraction(1, 2), Fraction(3, 2)])
    return score(notes, resolution=resolution), on, FitOptions(start_steps=start)


def test_the_earliest_hole_is_meant_among_placements_that_keep_the_order_round_the_end() -> None:
    """The same holes as the first best placement that keeps the order; where another comes before it, pins cross."""
    chance = random.Random("end of the turn")  # noqa: S311  # cases for a test, not secrets
    crossing = 0
    for _ in range(cases(150, 3000)):
        song, on, options = case_at_the_end(chance)
        placement, _ = fit_with_findings(song, on, options)
        assert verify(song, on, placement) == ()
        asked = problem(song, on, 0, placement.resolution, options.start_steps, placement.us_per_quarter)
        worth, expected = best(asked)
        for (note, _, _), choice in zip(asked.strikes, expected, strict=True):
            found = placement.plate[note], placement.row[note], placement.index[note], placement.pin_type[note]
            hole = None if choice is None else choice[1]
            assert found == ((-1,) * 4 if hole is None else (hole.plate, hole.row, hole.index, hole.pin_type))
        first = next(any_one for any_one in assignments(asked) if value(asked, any_one) == worth)
        assert first == expected or not keeps_order(asked, first)
        crossing += first != expected
    assert crossing > 0


def crowded_channel(chance: random.Random, notes: int) -> tuple[Score, Wheel]:
    """One channel whose notes are in each other's way all round the turn."""
    even = chance.random() < 0.5
    on = wheel(
        [channel("only", [60], restrike_ms=150.0 if even else 15.0, rows=[row.name for row in ROWS])],
        plate_count=4,
        steps_per_plate=8,
        rows=ROWS,
        reach_quarters=chance.choice([Fraction(1, 8), Fraction(1, 4)]),
        geometry=replace(GEOMETRY, radius_mm=4.0 * 32 / (2 * np.pi), lead_edge_mm=5.0, trail_edge_mm=5.0),
    )
    turn = int(on.turn_quarters * 24)
    rows = [(chance.randrange(turn), 60, chance.randint(1, 127)) for _ in range(notes)]
    return score(rows, us_per_quarter=500_000 if even else 900_000), on


def solved_by_highs(song: Score, on: Wheel, tempo: int, resolution: int) -> tuple[int, int]:
    """Greatest weight, then least cost, by scipy's mixed-integer solver (HiGHS), in two runs."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import lil_matrix

    asked = problem(song, on, 0, resolution, Fraction(0), tempo)
    variables = [(s, at, hole) for s, (_, onset, _) in enumerate(asked.strikes) for at, hole in asked.choices(onset)]
    weight = np.array([asked.strikes[s][2] for s, _, _ in variables])
    cost = np.array([abs(at - asked.strikes[s][1]) for s, at, _ in variables])
    clashes = [
        (one, other)
        for one in range(len(variables))
        for other in range(one)
        if variables[one][0] == variables[other][0] or not asked.apart(variables[one][2], variables[other][2])
    ]
    matrix = lil_matrix((len(clashes) + 1, len(variables)))
    for number, pair in enumerate(clashes):
        matrix[number, list(pair)] = 1
    matrix[len(clashes), :] = weight
    each = np.ones(len(variables), dtype=np.int64)  # every variable is whole: 0 or 1
    limit = np.ones(len(clashes) + 1)
    limit[-1] = weight.sum()
    first = milp(-weight, constraints=LinearConstraint(matrix.tocsr(), ub=limit), integrality=each, bounds=Bounds(0, 1))
    assert first.success
    greatest = round(-first.fun)
    floor = np.full(len(clashes) + 1, -np.inf)
    floor[-1] = greatest
    second = milp(
        cost, constraints=LinearConstraint(matrix.tocsr(), floor, limit), integrality=each, bounds=Bounds(0, 1)
    )
    assert second.success
    return greatest, round(second.fun)


@pytest.mark.parametrize("seed", range(10))
def test_equals_a_general_solver(seed: int) -> None:
    """Total weight and cost of 60 crowded notes equal what scipy.optimize.milp (HiGHS) proves best."""
    chance = random.Random(seed)  # noqa: S311  # cases for a test, not secrets
    song, on = crowded_channel(chance, 60)
    placement, _ = fit_with_findings(song, on, FitOptions())
    assert placement.note_count - placement.placed_count > 15
    assert verify(song, on, placement) == ()
    expected = solved_by_highs(song, on, placement.us_per_quarter, placement.resolution)
    assert (placement.weight, placement.cost_ticks) == expected


def test_order_of_aims() -> None:
    """A light note never costs a heavy one, however far the heavy one must move."""
    on = wheel([channel("only", [60], restrike_ms=125.0, rows=["on"])], reach_quarters=Fraction(1, 4))
    song = score([(0, 60, 1), (5, 60, 127)])  # steps of 6 ticks of 20.83 ms, so pins stand 6 ticks apart
    placement, _ = fit_with_findings(song, on, FitOptions())
    assert placement.deviation_ticks.tolist() == [0, 1]
    nearer = score([(0, 60, 1), (1, 60, 127)])
    placement, _ = fit_with_findings(nearer, on, FitOptions())
    assert placement.outcome.tolist() == [Outcome.PLACED, Outcome.PLACED]  # both, though one moves 5 ticks
    assert sorted(placement.deviation_ticks.tolist()) == [0, 5]


def test_two_light_notes_outweigh_a_loud_one_of_their_priority_but_not_a_part_above() -> None:
    parts = (Part("Melody"), Part("Bass"))
    on = wheel([channel("only", [60], restrike_ms=250.0, rows=["on"])], reach_quarters=Fraction(0))
    notes = [(6, 60, 1, 0), (12, 60, 127, 1), (18, 60, 1, 0)]  # the middle one bars both others
    placement, _ = fit_with_findings(score(notes, parts=parts), on, FitOptions())
    assert placement.outcome.tolist() == [Outcome.PLACED, Outcome.RESTRIKE, Outcome.PLACED]
    placement, _ = fit_with_findings(score(notes, parts=parts), on, FitOptions(part_priorities=(("Bass", 3),)))
    assert placement.outcome.tolist() == [Outcome.RESTRIKE, Outcome.PLACED, Outcome.RESTRIKE]
    assert placement.weight == 3 * 128 + 127


def test_equal_solutions_give_the_earlier_hole_to_the_earlier_note() -> None:
    on = wheel([channel("only", [60], rows=["on"])], reach_quarters=Fraction(1, 4))
    placement, _ = fit_with_findings(score([(9, 60)]), on, FitOptions())  # half-way between two holes
    assert placement.index.tolist() == [1]
    assert placement.deviation_ticks.tolist() == [-3]


def test_exact_hole_is_better_than_one_that_counts_as_exact() -> None:
    """At 24 ticks a quarter a tick of rounding is as wide as the way from a half hole to a triplet hole."""
    song = score([(4, 60)], resolution=24, tolerance_ticks=1)
    placement, _ = fit_with_findings(song, wheel(), FitOptions())
    assert (placement.row.tolist(), placement.deviation_ticks.tolist()) == ([2], [0])


def test_numbers_past_64_bits_are_still_exact() -> None:
    """A fine resolution and a wide reach make the objective longer than a machine word."""
    on = wheel([channel("only", [60], restrike_ms=250.0, rows=["on"])], plate_count=8, reach_quarters=Fraction(4))
    resolution = 720_720
    song = score([(place * resolution // 7, 60, 1 + place % 127) for place in range(150)], resolution=resolution)
    placement, _ = fit_with_findings(song, on, FitOptions())
    assert verify(song, on, placement) == ()
    coarse = score([(place * 24, 60, 1 + place % 127) for place in range(150)], resolution=168)
    assert fit_with_findings(coarse, on, FitOptions())[0].weight == placement.weight

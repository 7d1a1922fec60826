"""Swaps: least work over every exchange of plates, and moves that do what they say."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import samples
import thorough
from pegwright.columns import frozen_ints
from pegwright.errors import UsageError
from pegwright.grid import Loss, hole_grid
from pegwright.placement import PinMap
from pegwright.show.swap import Moves, best_exchange, exchangeable, least_work, plate_table, swap, work_table
from pegwright.wheel import LostHole, PinType, Wheel

WHEEL = samples.wheel(
    channels=[samples.channel("low", [60]), samples.channel("high", [62], rows=["on", "half"])],
    plate_count=4,
    steps_per_plate=4,
    pin_types=(PinType("peg", 100), PinType("early", 100, offset_mm=-2.0)),
    lost=(LostHole("on", 1, plate=2),),
)


def pin_map(holes: set[tuple[int, int, int, int, int]], wheel: Wheel = WHEEL) -> PinMap:
    """A map of (channel, plate, row, index, pin type) rows."""
    columns = np.array(sorted(holes), dtype=np.int64).reshape(-1, 5).T
    channel, plate, row, index, pin_type = (frozen_ints(column) for column in columns)
    none = frozen_ints([-1] * len(holes))
    return PinMap("A song", wheel.name, channel, plate, row, index, pin_type, none, 500_000, "1" * 64, wheel.sha256)


def existing_holes() -> list[tuple[int, int, int, int]]:
    return [
        (channel, int(line.plate[hole]), int(line.row[hole]), int(line.index[hole]))
        for channel, line in enumerate(hole_grid(WHEEL).lines)
        for hole in range(len(line.position))
        if line.loss[hole] == Loss.NONE
    ]


@st.composite
def pin_maps(draw: st.DrawFn) -> PinMap:
    chosen = draw(st.lists(st.sampled_from(existing_holes()), unique=True, max_size=30))
    return pin_map({(*hole, draw(st.integers(0, 1))) for hole in chosen})


def rows(moves: Moves) -> set[tuple[int, ...]]:
    columns = (moves.plate, moves.channel, moves.row, moves.index, moves.pin_type)
    return set(zip(*(column.tolist() for column in columns), strict=True))


def pins_of(pins: PinMap) -> set[tuple[int, ...]]:
    return rows(Moves(pins.plate, pins.channel, pins.row, pins.index, pins.pin_type))


@settings(max_examples=thorough.cases(60, 300))
@given(pin_maps(), pin_maps())
def test_applying_a_swap_to_the_old_map_gives_the_new_one(old: PinMap, new: PinMap) -> None:
    plan = swap(old, new, WHEEL)
    place_of = {before: place for place, before in enumerate(plan.came_from)}
    carried = {(place_of[plate], *hole) for plate, *hole in pins_of(old)}
    assert rows(plan.pull) | rows(plan.stay) == carried
    assert carried - rows(plan.pull) | rows(plan.set_pins) == pins_of(new)
    assert not rows(plan.stay) & (rows(plan.pull) | rows(plan.set_pins))


@settings(max_examples=thorough.cases(60, 300))
@given(pin_maps(), pin_maps())
def test_least_work_equals_trying_every_exchange(old: PinMap, new: PinMap) -> None:
    """Against exhaustive search over all permutations that the lost holes allow."""
    work = work_table(plate_table(old, WHEEL), plate_table(new, WHEEL))
    allowed = exchangeable(WHEEL)
    trials = []
    for order in permutations(range(WHEEL.plate_count)):
        if all(allowed[before, place] for place, before in enumerate(order)):
            total = sum(int(work[before, place]) for place, before in enumerate(order))
            trials.append((total, sum(place != before for place, before in enumerate(order)), order))
    total, _, order = min(trials)
    assert least_work(work, allowed) == total
    assert best_exchange(work, allowed) == order
    assert swap(old, new, WHEEL).work == total


def test_a_plate_with_other_holes_keeps_its_place() -> None:
    allowed = exchangeable(WHEEL)
    assert allowed[2].tolist() == [0, 0, 1, 0]
    assert allowed[0].tolist() == [1, 1, 0, 1]


def test_a_fixed_plate_keeps_its_place() -> None:
    allowed = exchangeable(WHEEL, fixed=[1])
    assert allowed[1].tolist() == [0, 1, 0, 0]
    assert allowed[:, 1].tolist() == [0, 1, 0, 0]
    with pytest.raises(UsageError, match="no plate 9 among 4"):
        exchangeable(WHEEL, fixed=[8])


def test_the_same_song_one_plate_later_needs_no_pin_moved() -> None:
    wheel = samples.wheel(plate_count=4, steps_per_plate=4)
    first = pin_map({(0, 0, 0, 1, 0), (3, 1, 1, 2, 0)}, wheel)
    later = pin_map({(0, 1, 0, 1, 0), (3, 2, 1, 2, 0)}, wheel)
    plan = swap(first, later, wheel)
    assert plan.work == 0
    assert plan.stay.count == 2
    assert plan.came_from[1] == 0
    assert plan.came_from[2] == 1


def test_a_pin_of_another_type_in_the_same_hole_is_pulled_and_set() -> None:
    plan = swap(pin_map({(0, 0, 0, 0, 0)}), pin_map({(0, 0, 0, 0, 1)}), WHEEL)
    assert (plan.pull.count, plan.set_pins.count, plan.stay.count) == (1, 1, 0)


def test_maps_of_another_wheel_are_refused() -> None:
    other = samples.wheel(sha256="2" * 64)
    with pytest.raises(UsageError, match="made for a wheel file with hash 222222222222"):
        swap(pin_map(set()), pin_map(set(), other), WHEEL)

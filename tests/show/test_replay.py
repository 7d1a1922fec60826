"""Plans carried out pin by pin: from any pins to any others, and every kind of mistake noticed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pegwright.columns import frozen_ints
from pegwright.placement import PinMap
from pegwright.show.replay import SwapStep, replay
from pegwright.show.swap import swap
from pegwright.show.tally import tally
from pegwright.swapping import Moves, Swap
from placed import pin_map, pin_maps, small_wheel

WHEEL = small_wheel()
MAPS = pin_maps(WHEEL)


def steps_to(maps: Sequence[PinMap], carried: Sequence[PinMap]) -> list[SwapStep]:
    """Each map on the next set in turn."""
    now = list(carried)
    steps = []
    for number, pins in enumerate(maps):
        here = number % len(now)
        steps.append(SwapStep(here, swap(now[here], pins, WHEEL), pins))
        now[here] = pins
    return steps


@settings(max_examples=60)
@given(st.lists(MAPS, max_size=6), st.lists(MAPS, min_size=1, max_size=3))
def test_swaps_in_a_row_give_each_song_its_pins(maps: list[PinMap], carried: list[PinMap]) -> None:
    steps = steps_to(maps, carried)
    done = replay(carried, steps, WHEEL.plate_count)
    assert done.faults == ()
    assert sum(wear.pulled for wear in done.wear) == sum(step.swap.pull.count for step in steps)
    assert sum(wear.set_pins for wear in done.wear) == sum(step.swap.set_pins.count for step in steps)
    now = list(carried)
    for step, plates, count in zip(steps, done.plates, done.in_plates[1:], strict=True):
        now[step.plate_set] = step.pins
        assert sorted(plates) == list(range(WHEEL.plate_count))
        assert count == {
            kind: pins
            for kind in range(2)
            if (pins := sum(int(np.count_nonzero(each.pin_type == kind)) for each in now))
        }


@settings(max_examples=60)
@given(MAPS, MAPS)
def test_a_tally_adds_up_by_place_and_channel(old: PinMap, new: PinMap) -> None:
    made = swap(old, new, WHEEL)
    counted = tally(made, WHEEL)
    shape = (WHEEL.plate_count, len(WHEEL.channels))
    expected = np.zeros(shape, dtype=np.int64)
    np.add.at(expected, (new.plate, new.channel), 1)
    assert counted.after.tolist() == expected.tolist()
    came = np.zeros(shape, dtype=np.int64)
    place_of = {before: place for place, before in enumerate(made.came_from)}
    np.add.at(came, (frozen_ints([place_of[plate] for plate in old.plate.tolist()]), old.channel), 1)
    assert counted.before.tolist() == came.tolist()
    assert int(counted.pull.sum()) == made.pull.count


def test_plates_keep_their_names_as_they_move() -> None:
    """A song one plate later, twice: the plates have gone round by two places, and no pin was moved."""
    pins = [pin_map(WHEEL, [(0, plate, 0, 1, 0, -1)]) for plate in (0, 1, 2)]
    done = replay([pins[0]], steps_to(pins[1:], [pins[0]]), WHEEL.plate_count)
    assert done.faults == ()
    assert done.plates[0][1] == 0
    assert done.plates[1][2] == 0
    assert all(wear.set_pins == 0 for wear in done.wear)


def without(moves: Moves, pin: int) -> Moves:
    columns = (moves.plate, moves.channel, moves.row, moves.index, moves.pin_type)
    return Moves(*(frozen_ints(np.delete(column, pin)) for column in columns))


def moved(moves: Moves, **changes: int) -> Moves:
    made = {name: np.array(getattr(moves, name)) for name in ("plate", "channel", "row", "index", "pin_type")}
    for name, value in changes.items():
        made[name][0] = value
    return Moves(**{name: frozen_ints(column) for name, column in made.items()})


OLD = pin_map(WHEEL, [(0, 0, 0, 1, 0, -1), (1, 1, 0, 2, 1, -1)])
NEW = pin_map(WHEEL, [(0, 0, 0, 3, 0, -1), (1, 1, 0, 2, 0, -1), (2, 2, 0, 5, 0, -1)])
GOOD = swap(OLD, NEW, WHEEL)


@pytest.mark.parametrize(
    ("bad", "told"),
    [
        (replace(GOOD, pull=without(GOOD.pull, 0)), "the pins are not those"),
        (replace(GOOD, set_pins=without(GOOD.set_pins, 0)), "the pins are not those"),
        (replace(GOOD, pull=moved(GOOD.pull, index=4)), "no pin of type 0 to pull"),
        (replace(GOOD, pull=moved(GOOD.pull, pin_type=1)), "no pin of type 1 to pull"),
        (replace(GOOD, set_pins=moved(GOOD.set_pins, index=4)), "the pins are not those"),
        (replace(GOOD, pull=without(GOOD.pull, 1)), "is not empty"),
        (replace(GOOD, came_from=(1, 0, 2)), "no pin of type"),
        (replace(GOOD, came_from=(0, 0, 2)), "is no exchange of 3 plates"),
    ],
)
def test_every_kind_of_mistake_is_noticed(bad: Swap, told: str) -> None:
    assert replay([OLD], [SwapStep(0, GOOD, NEW)], 3).faults == ()
    faults = replay([OLD], [SwapStep(0, bad, NEW)], 3).faults
    assert any(told in fault for fault in faults), faults


def test_the_busiest_hole_is_the_one_that_is_set_most() -> None:
    here, there = pin_map(WHEEL, [(0, 0, 0, 1, 0, -1)]), pin_map(WHEEL, [(0, 0, 0, 2, 0, -1)])
    done = replay([here], steps_to([there, here, there], [here]), WHEEL.plate_count)
    assert max(wear.busiest_hole for wear in done.wear) == 2

"""A plan carried out pin by pin, to check that it does what it says; shares no code with the planner."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from itertools import product
from typing import TypeAlias

from pegwright.frozen import frozen
from pegwright.placement import PinMap
from pegwright.swapping import Moves, Swap

Hole: TypeAlias = tuple[int, int, int]  # channel, row, index
Plate: TypeAlias = dict[Hole, int]  # pin type by hole


@frozen()
class SwapStep:
    """One swap to carry out.

    Args:
        plate_set: on which set of plates.
        swap: what to do.
        pins: what the set must carry then.
    """

    plate_set: int
    swap: Swap
    pins: PinMap


@frozen()
class Wear:
    """The pins pulled and set on one plate in a show.

    Args:
        plate_set, plate: the plate, by its place at the beginning.
        pulled, set_pins: pins over the whole show.
        busiest_hole: the maximum number of times that a pin was set in one hole.
    """

    plate_set: int
    plate: int
    pulled: int
    set_pins: int
    busiest_hole: int


@frozen()
class Replayed:
    """The outcome of carrying out a plan.

    Args:
        faults: every deviation from the plan, one sentence each; empty if there is none.
        plates: after each step, for each place of its set the plate that is there, by its place at the beginning.
        in_plates: after each step and before the first, the pins of each type in all sets.
        wear: of every plate, by set, then plate.
    """

    faults: tuple[str, ...]
    plates: tuple[tuple[int, ...], ...]
    in_plates: tuple[Counter[int], ...]
    wear: tuple[Wear, ...]


def replay(carried: Sequence[PinMap], steps: Sequence[SwapStep], plate_count: int) -> Replayed:
    """Carry out swaps one after another.

    Args:
        carried: what each set of plates carries at the beginning.
        steps: in working order.
        plate_count: plates of a set.
    """
    sets = [_plates(pins, plate_count) for pins in carried]
    stands = [list(range(plate_count)) for _ in carried]
    pulled: Counter[tuple[int, int]] = Counter()
    put: defaultdict[tuple[int, int], Counter[Hole]] = defaultdict(Counter)
    faults: list[str] = []
    plates = []
    in_plates = [_by_type(sets)]
    for number, step in enumerate(steps):
        here = step.plate_set
        if sorted(step.swap.came_from) != list(range(plate_count)):
            faults.append(f"step {number}: {step.swap.came_from} is no exchange of {plate_count} plates")
            break
        sets[here] = [dict(sets[here][before]) for before in step.swap.came_from]
        stands[here] = [stands[here][before] for before in step.swap.came_from]
        for place, hole, pin_type in _each(step.swap.pull):
            if sets[here][place].pop(hole, None) != pin_type:
                faults.append(f"step {number}: no pin of type {pin_type} to pull from {hole} at place {place}")
            pulled[here, stands[here][place]] += 1
        for place, hole, pin_type in _each(step.swap.set_pins):
            if hole in sets[here][place]:
                faults.append(f"step {number}: hole {hole} at place {place} is not empty")
            sets[here][place][hole] = pin_type
            put[here, stands[here][place]][hole] += 1
        if sets[here] != _plates(step.pins, plate_count):
            faults.append(f"step {number}: the pins are not those of {step.pins.title!r}")
        plates.append(tuple(stands[here]))
        in_plates.append(_by_type(sets))
    wear = tuple(
        Wear(*plate, pulled[plate], put[plate].total(), max(put[plate].values(), default=0))
        for plate in product(range(len(carried)), range(plate_count))
    )
    return Replayed(tuple(faults), tuple(plates), tuple(in_plates), wear)


def _plates(pins: PinMap, plate_count: int) -> list[Plate]:
    plates: list[Plate] = [{} for _ in range(plate_count)]
    for plate, hole, pin_type in _each(pins):
        plates[plate][hole] = pin_type
    return plates


def _each(pins: PinMap | Moves) -> Iterator[tuple[int, Hole, int]]:
    """The plate, hole and pin type of each pin."""
    columns = (pins.plate, pins.channel, pins.row, pins.index, pins.pin_type)
    for plate, channel, row, index, pin_type in zip(*(column.tolist() for column in columns), strict=True):
        yield plate, (channel, row, index), pin_type


def _by_type(sets: Sequence[Sequence[Plate]]) -> Counter[int]:
    return Counter(pin_type for plates in sets for plate in plates for pin_type in plate.values())

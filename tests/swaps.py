"""Swaps for tests, with what they must move worked out from sets of holes."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

from pegwright.grid import hole_grid
from pegwright.placement import PinMap
from pegwright.show.swap import swap
from pegwright.swapping import Swap
from pegwright.wheel import PinType, Wheel
from placed import pin_map, small_wheel
from samples import channel, wheel

PULL, SET, CHANGE, STAY = "pull", "set", "change", "stay"
SMALL = small_wheel()
BELLS = wheel([channel(f"bell {number + 1}", [50 + number]) for number in range(24)])
DRUMS = wheel([channel(f"drum {number}", [], [35 + number], rows=["on"]) for number in range(40)], steps_per_plate=8)
LARGE = wheel(
    [channel(f"bar {number + 1}", [30 + number]) for number in range(60)],
    steps_per_plate=64,
    plate_count=1,
    pin_types=(PinType("peg", 900), PinType("early", 60, -1.3)),
)
WHEELS = (SMALL, BELLS, DRUMS, LARGE)


def every_hole(on: Wheel) -> Iterator[tuple[int, int, int, int]]:
    """Channel, plate, row and index of every hole that is not lost."""
    for number, line in enumerate(hole_grid(on).lines):
        for hole in range(len(line.position)):
            if not line.loss[hole]:
                yield number, int(line.plate[hole]), int(line.row[hole]), int(line.index[hole])


@cache
def two_maps(on: Wheel, every: int = 9) -> tuple[PinMap, PinMap]:
    """Two maps that share some pins, and some holes with another pin type."""
    found = list(every_hole(on))
    types = len(on.pin_types)
    old = [(*hole, number % types, -1) for number, hole in enumerate(found[::every])]
    shared = [(*pin[:4], (pin[4] + (number % 3 == 0)) % types, -1) for number, pin in enumerate(old[::2])]
    taken = {pin[:4] for pin in shared}
    fresh = [(*hole, 0, -1) for hole in found[3 :: every + 2] if hole not in taken]
    return pin_map(on, old, "The Lantern Waltz"), pin_map(on, [*shared, *fresh], "Driftwood Reel")


@cache
def made_swap(on: Wheel, every: int = 9) -> Swap:
    """The swap of least work between both maps."""
    return swap(*two_maps(on, every), on)


def kinds_of(old: PinMap | None, new: PinMap, came_from: tuple[int, ...]) -> dict[tuple[int, int, int, int], str]:
    """What is done at each hole (channel, place, row, index), from the two maps and where plates stood."""

    def held(pins: PinMap | None) -> dict[tuple[int, int, int, int], int]:
        if pins is None:
            return {}
        columns = (pins.channel, pins.plate, pins.row, pins.index, pins.pin_type)
        rows = zip(*(column.tolist() for column in columns), strict=True)
        return {(number, plate, row, index): kind for number, plate, row, index, kind in rows}

    stands_at = {before: place for place, before in enumerate(came_from)}
    was = {(number, stands_at[plate], row, index): kind for (number, plate, row, index), kind in held(old).items()}
    now = held(new)
    kinds = {}
    for hole in was.keys() | now.keys():
        if hole not in now:
            kinds[hole] = PULL
        elif hole not in was:
            kinds[hole] = SET
        else:
            kinds[hole] = STAY if was[hole] == now[hole] else CHANGE
    return kinds

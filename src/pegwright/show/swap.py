"""A swap: turning the pins that a set of plates carries into those of the next song, with minimum work.

Work is pins pulled plus pins set. Plates may change places on the rim, which costs nothing, so the
best exchange of places is a linear assignment.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.errors import UsageError
from pegwright.grid import Loss, hole_grid
from pegwright.placement import PinMap
from pegwright.swapping import Moves, Swap
from pegwright.units import printed
from pegwright.wheel import Wheel

__all__ = [
    "EMPTY",
    "EMPTY_TITLE",
    "Moves",
    "Swap",
    "best_exchange",
    "check_sets",
    "empty_map",
    "exchangeable",
    "least_work",
    "plate_table",
    "swap",
    "work_table",
]

EMPTY_TITLE = "empty plates"
EMPTY = 0  # a hole without a pin, in a table of plates


def empty_map(wheel: Wheel) -> PinMap:
    """The map of plates without pins."""
    none = frozen_ints([])
    return PinMap(EMPTY_TITLE, wheel.name, none, none, none, none, none, none, 500_000, "0" * 64, wheel.sha256)


def plate_table(pins: PinMap, wheel: Wheel) -> Ints:
    """The pins as shape (plates, holes): `EMPTY`, or pin type + 1.

    Holes of a plate run by channel, row and index, so that a column means the same hole on every plate.
    """
    rows, most = len(wheel.rows), _most_holes(wheel)
    table = np.zeros((wheel.plate_count, len(wheel.channels) * rows * most), dtype=np.int64)
    table[pins.plate, (pins.channel * rows + pins.row) * most + pins.index] = pins.pin_type + 1
    return table


def work_table(old: Ints, new: Ints) -> Ints:
    """Pins to move to turn each old plate into each new one: shape (old plates, new plates)."""
    shared = np.zeros((len(old), len(new)), dtype=np.int64)
    for pin_type in range(1, int(max(old.max(initial=0), new.max(initial=0))) + 1):
        # float32 is exact for whole numbers to 16 million, and its product is by far the fastest
        shared += ((old == pin_type).astype(np.float32) @ (new == pin_type).astype(np.float32).T).astype(np.int64)
    pins_old, pins_new = np.count_nonzero(old, axis=1), np.count_nonzero(new, axis=1)
    return frozen_ints(pins_old[:, None] + pins_new[None, :] - 2 * shared)


def exchangeable(wheel: Wheel, fixed: Sequence[int] = ()) -> Ints:
    """Which plate may stand at which place: shape (places, places) of 0 and 1.

    A plate can take another's place if both have the same holes and neither is fixed.
    """
    holes = np.zeros((wheel.plate_count, 0), dtype=np.int64)
    for line in {id(line): line for line in hole_grid(wheel).lines}.values():
        most = _most_holes(wheel)
        there = np.zeros((wheel.plate_count, len(wheel.rows) * most), dtype=np.int64)
        there[line.plate, line.row * most + line.index] = line.loss == Loss.NONE
        holes = np.hstack([holes, there])
    alike = (holes[:, None, :] == holes[None, :, :]).all(axis=2)
    for plate in fixed:
        if not 0 <= plate < wheel.plate_count:
            raise UsageError(f"there is no plate {plate + 1} among {wheel.plate_count}", where="fixed plates")
        alike[plate, :] = alike[:, plate] = False
        alike[plate, plate] = True
    return frozen_ints(alike)


def least_work(work: Ints, allowed: Ints) -> int:
    """The minimum total work over every allowed exchange of plates."""
    return _assigned(work, allowed)[1]


def best_exchange(work: Ints, allowed: Ints) -> tuple[int, ...]:
    """For each place the old place of the plate that takes it, for minimum work.

    Ties go to the exchange that moves the fewest plates, then to the lowest old places in order, so the
    result is the same on every machine.
    """
    places = len(work)
    # One plate moved must weigh less than one pin: scale the work, then count moved plates.
    scaled = work * (places + 1) + (1 - np.eye(places, dtype=np.int64))
    minimum = _assigned(scaled, allowed)[1]
    chosen: list[int] = []
    open_to = allowed.copy()
    for place in range(places):
        for before in np.flatnonzero(open_to[:, place]):
            trial = open_to.copy()
            trial[before, :] = trial[:, place] = 0
            trial[before, place] = 1
            if _assigned(scaled, trial)[1] == minimum:
                chosen.append(int(before))
                open_to = trial
                break
    return tuple(chosen)


def swap(old: PinMap, new: PinMap, wheel: Wheel, fixed: Sequence[int] = ()) -> Swap:
    """The swap of minimum work from `old` to `new`.

    Args:
        old: the pin map that the plates carry, made for `wheel`.
        new: the one they are to carry.
        wheel: the wheel.
        fixed: places (0-based) whose plates must stay where they are.

    Raises:
        UsageError: a map was made for another wheel, the maps are for two sets of plates, or a fixed plate does not
            exist.
    """
    check_sets(old, new)
    for pins in (old, new):
        if pins.wheel_sha256 != wheel.sha256:
            raise UsageError(
                f"the pin map of '{pins.title}' was made for a wheel file with hash {pins.wheel_sha256[:12]}",
                where=pins.title,
                hint=f"make it again for this wheel, {wheel.sha256[:12]}",
            )
    before, after = plate_table(old, wheel), plate_table(new, wheel)
    places = range(wheel.plate_count)
    if set(fixed) == set(places):  # nothing to choose, and the search for it is slow to load
        came_from = tuple(places)
    else:
        came_from = best_exchange(work_table(before, after), exchangeable(wheel, fixed))
    carried = before[list(came_from)]
    return Swap(
        came_from,
        pull=_moves(carried, (carried != EMPTY) & (carried != after), wheel),
        set_pins=_moves(after, (after != EMPTY) & (carried != after), wheel),
        stay=_moves(after, (after != EMPTY) & (carried == after), wheel),
    )


def check_sets(old: PinMap, new: PinMap) -> None:
    """Refuse pins for another set of plates than the one that is to carry them.

    Args:
        old: the pin map that the plates carry.
        new: the one they are to carry.

    Raises:
        UsageError: the maps are for two sets of plates.
    """
    sets = [pins.plate_set for pins in (old, new) if pins.plate_set is not None]
    if len(set(sets)) > 1:
        message = (
            f"its pins are for set {printed(sets[1])} of plates, and the plates are those of set {printed(sets[0])}"
        )
        hint = f"pin the song again with --plate-set {printed(sets[0])}, or without --plate-set for every set"
        raise UsageError(message, where=new.title, hint=hint)


def _moves(table: Ints, which: np.ndarray, wheel: Wheel) -> Moves:
    plate, hole = np.nonzero(which)
    channel, in_channel = np.divmod(hole, len(wheel.rows) * _most_holes(wheel))
    row, index = np.divmod(in_channel, _most_holes(wheel))
    columns = (plate, channel, row, index, table[plate, hole] - 1)
    return Moves(*(frozen_ints(column) for column in columns))


def _most_holes(wheel: Wheel) -> int:
    return max(row.hole_count(wheel.steps_per_plate) for row in wheel.rows)


def _assigned(work: Ints, allowed: Ints) -> tuple[Ints, int]:
    from scipy.optimize import linear_sum_assignment  # noqa: PLC0415  # heavy, and needed only for shows

    barred = int(work.sum()) + 1  # more than any allowed exchange can cost
    table = np.where(allowed == 1, work, barred)
    rows, columns = linear_sum_assignment(table)
    return columns, int(table[rows, columns].sum())

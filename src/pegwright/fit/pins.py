"""From the outcome of every note to the pins of a set of plates."""

from __future__ import annotations

import numpy as np

from pegwright.columns import frozen_ints
from pegwright.fit.held import held_notes
from pegwright.grid import place_units
from pegwright.placement import Outcome, PinMap, Placement
from pegwright.score import Score
from pegwright.wheel import Wheel


def pins_of(score: Score, wheel: Wheel, placement: Placement) -> PinMap:
    """The pin map of a placement, with the pins that hold notes on, by channel, then place in the turn, then row.

    Args:
        score: what was fitted, for the title.
        wheel: what it was fitted to.
        placement: the outcome of every note.
    """
    held = held_notes(score, wheel, placement)
    first_pin_type = placement.pin_type.copy()
    first_pin_type[held.note] = held.first_pin_type
    placed = np.flatnonzero(placement.outcome == Outcome.PLACED)
    note = np.append(placed, held.pin_note)
    plate = np.append(placement.plate[placed], held.pin_plate)
    row = np.append(placement.row[placed], held.pin_row)
    index = np.append(placement.index[placed], held.pin_index)
    pin_type = np.append(first_pin_type[placed], held.pin_type)
    channel = placement.channel[note]
    order = np.lexsort([row, place_units(wheel, plate, row, index), channel])
    return PinMap(
        title=score.title,
        wheel_name=wheel.name,
        channel=frozen_ints(channel[order]),
        plate=frozen_ints(plate[order]),
        row=frozen_ints(row[order]),
        index=frozen_ints(index[order]),
        pin_type=frozen_ints(pin_type[order]),
        note=frozen_ints(note[order]),
        us_per_quarter=placement.us_per_quarter,
        score_sha256=placement.score_sha256,
        wheel_sha256=placement.wheel_sha256,
        plate_set=wheel.plate_set,
    )

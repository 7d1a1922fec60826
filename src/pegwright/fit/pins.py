"""From the outcome of every note to the pins of a set of plates."""

from __future__ import annotations

import numpy as np

from pegwright.columns import frozen_ints
from pegwright.grid import place_units
from pegwright.placement import Outcome, PinMap, Placement
from pegwright.score import Score
from pegwright.wheel import Wheel


def pins_of(score: Score, wheel: Wheel, placement: Placement) -> PinMap:
    """The pin map of a placement, ordered by channel, then place in the turn, then row.

    Args:
        score: what was fitted, for the title.
        wheel: what it was fitted to.
        placement: the outcome of every note.
    """
    note = np.flatnonzero(placement.outcome == Outcome.PLACED)
    channel, plate, row, index = (
        column[note] for column in (placement.channel, placement.plate, placement.row, placement.index)
    )
    position = place_units(wheel, plate, row, index)
    order = np.lexsort([row, position, channel])
    return PinMap(
        title=score.title,
        wheel_name=wheel.name,
        channel=frozen_ints(channel[order]),
        plate=frozen_ints(plate[order]),
        row=frozen_ints(row[order]),
        index=frozen_ints(index[order]),
        pin_type=frozen_ints(placement.pin_type[note][order]),
        note=frozen_ints(note[order]),
        us_per_quarter=placement.us_per_quarter,
        score_sha256=placement.score_sha256,
        wheel_sha256=placement.wheel_sha256,
    )

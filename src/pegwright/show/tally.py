"""A swap in numbers: for each place and channel the pins before, those that move, and those after."""

from __future__ import annotations

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.frozen import frozen
from pegwright.swapping import Moves, Swap
from pegwright.wheel import Wheel


@frozen(eq=False)
class SwapTally:
    """Pins by place on the rim and channel, each of shape (places, channels); a plate is known by its new place.

    Args:
        before: on the plate when it comes off the wheel.
        pull, set_pins: to take out and to put in.
    """

    before: Ints
    pull: Ints
    set_pins: Ints

    @property
    def after(self) -> Ints:
        """On the plate when the swap is done."""
        return frozen_ints(self.before - self.pull + self.set_pins)


def tally(swap: Swap, wheel: Wheel) -> SwapTally:
    """Count a swap by place and channel."""
    shape = (wheel.plate_count, len(wheel.channels))

    def counted(moves: Moves) -> Ints:
        places = np.ravel_multi_index((moves.plate, moves.channel), shape)
        return frozen_ints(np.bincount(places, minlength=shape[0] * shape[1]).reshape(shape))

    pull = counted(swap.pull)
    return SwapTally(frozen_ints(counted(swap.stay) + pull), pull, counted(swap.set_pins))

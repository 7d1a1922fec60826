"""What a swap moves: how the pins of one song become those of the next on the same set of plates."""

from __future__ import annotations

from pegwright.columns import Ints
from pegwright.frozen import frozen


@frozen(eq=False)
class Moves:
    """Pins to move on the plates of one swap, ordered by place, channel, hole; columns of shape (m,).

    Args:
        plate: the place on the rim at which the plate will stand.
        channel, row, index, pin_type: as in `PinMap`.
    """

    plate: Ints
    channel: Ints
    row: Ints
    index: Ints
    pin_type: Ints

    @property
    def count(self) -> int:
        """Pins."""
        return len(self.plate)


@frozen(eq=False)
class Swap:
    """How the plates of one song become those of the next.

    Args:
        came_from: for each place on the rim, the place where its plate stood before.
        pull, set_pins, stay: pins to take out, to put in, and to leave alone.
    """

    came_from: tuple[int, ...]
    pull: Moves
    set_pins: Moves
    stay: Moves

    @property
    def work(self) -> int:
        """Pins pulled plus pins set."""
        return self.pull.count + self.set_pins.count

    @property
    def moved_plates(self) -> int:
        """Plates that change their place."""
        return sum(place != before for place, before in enumerate(self.came_from))

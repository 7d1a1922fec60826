"""Which pinnings of a planned show have the plates of a measured set in another order than they were measured in."""

from __future__ import annotations

from collections.abc import Sequence

from pegwright.show.show import Pinned, Show
from pegwright.units import printed


def put_elsewhere(show: Show, set_number: int, order: Sequence[int]) -> tuple[Pinned, ...]:
    """The pinnings for which the plan puts plates of a set elsewhere; the seams between them were not measured.

    A turn of all plates together keeps every seam, but moves it to another place, and counts too.

    Args:
        show: the planned show.
        set_number: of the set of plates that was measured, from 1.
        order: number of the plate at each place, from 1, as it was measured.
    """
    return tuple(
        pinned
        for pinned in show.pinned
        if printed(pinned.plate_set) == set_number and [printed(plate) for plate in pinned.plates] != list(order)
    )

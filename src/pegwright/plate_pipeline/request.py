"""The request for drilling files."""

from __future__ import annotations

from pegwright.draw.paper import A4, Paper
from pegwright.frozen import frozen
from pegwright.plate.order import DrillOrder


@frozen()
class ShopRequest:
    """How a part is drilled, and what else is written.

    Args:
        order: of the holes.
        paper: for set-up sheet and check template.
        jig: whether jigs are written too.
        use: how the drilled part is used, in paragraphs for the set-up sheet; empty for a plate.
    """

    order: DrillOrder = DrillOrder.ONE_WAY
    paper: Paper = A4
    jig: bool = False
    use: tuple[str, ...] = ()

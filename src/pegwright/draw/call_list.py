"""The call list: what one person reads out while another pins, plate by plate."""

from __future__ import annotations

from pegwright.draw.paper import Paper
from pegwright.draw.plate_page import SheetNotes
from pegwright.drawing import Page
from pegwright.placement import PinMap
from pegwright.swapping import Swap
from pegwright.wheel import Wheel


def call_pages(
    wheel: Wheel, swap: Swap, old: PinMap | None, new: PinMap, paper: Paper, notes: SheetNotes = SheetNotes()
) -> tuple[Page, ...]:
    """The call lists of a swap: for each plate all pulls, then all sets, by channel, with boxes to tick.

    Args:
        wheel: its plates and channels.
        swap: what moves.
        old: the pin map that the plates carry; None where they are empty.
        new: the one they are to carry.
        paper: held upright.
        notes: what else to print.
    """
    raise NotImplementedError

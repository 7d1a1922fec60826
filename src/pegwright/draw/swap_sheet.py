"""The swap sheet: the printed page that turns one song's plate into another's."""

from __future__ import annotations

from collections.abc import Sequence

from pegwright.draw.bars import BarMark
from pegwright.draw.paper import Paper
from pegwright.draw.plate_page import SheetNotes
from pegwright.drawing import Page
from pegwright.placement import PinMap
from pegwright.swapping import Swap
from pegwright.wheel import Wheel


def swap_sheets(
    wheel: Wheel,
    swap: Swap,
    old: PinMap | None,
    new: PinMap,
    bars: Sequence[BarMark],
    paper: Paper,
    notes: SheetNotes = SheetNotes(),
) -> tuple[Page, ...]:
    """The swap sheets of a swap: one page a plate, or several where one would be too small to read.

    Args:
        wheel: its plates and holes.
        swap: what moves; `new` is what stays and what is set.
        old: the pin map that the plates carry; None where they are empty.
        new: the one they are to carry.
        bars: where the new song's bars fall on the turn; may be empty.
        paper: turned the way that gives the larger marks.
        notes: what else to print.

    Raises:
        UsageError: the wheel has more rows or pin types than there are marks.
    """
    raise NotImplementedError

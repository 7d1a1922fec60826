"""The pin sheet: the printed page for pinning one plate."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pegwright.columns import Ints
from pegwright.draw.bars import BarMark, bar_marks
from pegwright.draw.counts import CountLine, counts
from pegwright.draw.furniture import LINE_MORE_MM, MARGIN_MM, heading
from pegwright.draw.legend import legend, pin_entries, plate_entries
from pegwright.draw.marks import pin_mark
from pegwright.draw.paper import Paper
from pegwright.draw.plate_grid import bar_lines, bar_ruler, frame, holes
from pegwright.draw.plate_page import (
    LEGEND_Y_MM,
    NO_NOTES,
    SheetNotes,
    code,
    code_room_mm,
    map_words,
    marks_in,
    page_foot,
    page_words,
    refuse_unmarkable,
    song_facts,
    step_table,
    types_words,
    views,
)
from pegwright.draw.sheet_fit import Surround, closest_pins, sheet_layout
from pegwright.draw.sheet_layout import COUNTS_LABEL, View, scale_text
from pegwright.drawing import Page, Shape, Use
from pegwright.placement import PinMap
from pegwright.units import plural
from pegwright.wheel import Wheel

__all__ = ["BarMark", "SheetNotes", "bar_marks", "pin_sheets"]


def pin_sheets(
    wheel: Wheel, pins: PinMap, bars: Sequence[BarMark], paper: Paper, notes: SheetNotes = NO_NOTES
) -> tuple[Page, ...]:
    """The pin sheets of a song: one page a plate, or several where one would be too small to read.

    Args:
        wheel: its plates and holes.
        pins: of one set of plates.
        bars: where the song's bars fall on the turn; may be empty.
        paper: turned so that marks are larger.
        notes: what else to print.

    Raises:
        UsageError: the wheel has more rows or pin types than there are marks.
    """
    refuse_unmarkable(wheel)
    surround = pin_surround(wheel, pins, notes)
    layout = sheet_layout(wheel, paper, closest_pins(wheel, pins), surround)
    return tuple(_page(view, pins, bars, notes, surround) for view in views(wheel, layout))


def pin_surround(wheel: Wheel, pins: PinMap, notes: SheetNotes = NO_NOTES) -> Surround:
    """The surround of the plate on a pin sheet; its legend has only marks that occur in the song.

    Args:
        wheel: for names.
        pins: of one set of plates.
        notes: hold the code.
    """
    entries = (*pin_entries(wheel, pins.row.tolist(), pins.pin_type.tolist()), *plate_entries(wheel))
    return Surround(entries, keep_mm=code_room_mm(notes), upright_mm=LINE_MORE_MM)


def _page(view: View, pins: PinMap, bars: Sequence[BarMark], notes: SheetNotes, surround: Surround) -> Page:
    layout = view.layout
    table = step_table(view.wheel, pins, view.plate)
    items = (
        Use(frame(view.wheel, layout, view.part), 0.0, 0.0),
        *bar_lines(view, bars),
        Use(holes(view), 0.0, 0.0),
        *_marks(view, pins),
        *bar_ruler(view, bars),
        *counts(view, [CountLine("pins", COUNTS_LABEL, table)]),
        *_heading(view, pins, table, notes, surround),
        *page_foot(view, notes),
    )
    return Page(layout.width_mm, layout.height_mm, items, f"{pins.title}, {page_words(view, 'plate').lower()}")


def _marks(view: View, pins: PinMap) -> tuple[Shape, ...]:
    size_mm = view.layout.mark_mm
    shapes: list[Shape] = []
    for pin, row, x_mm, y_mm in marks_in(view, pins):
        shapes += pin_mark(row, int(pins.pin_type[pin]), x_mm, y_mm, size_mm)
    return tuple(shapes)


def _heading(view: View, pins: PinMap, table: Ints, notes: SheetNotes, surround: Surround) -> tuple[Shape | Use, ...]:
    facts = [*song_facts(view.wheel, pins, notes), f"scale {scale_text(view.layout.scale)}"]
    count = [_count_words(view, pins, table), f"{pins.pin_count:,} in all", f"map {map_words(pins)}"]
    width, keep_mm, upright = view.layout.width_mm, surround.keep_mm, view.layout.upright
    legend_y_mm = MARGIN_MM + LEGEND_Y_MM + (surround.upright_mm if upright else 0.0)
    subject = page_words(view, "plate", notes)
    return (
        *heading(width, pins.title, subject, " · ".join(facts), " · ".join(count), keep_mm, upright),
        *legend(surround.legend, MARGIN_MM, legend_y_mm, width - 2 * MARGIN_MM - keep_mm),
        *code(width, notes),
    )


def _count_words(view: View, pins: PinMap, table: Ints) -> str:
    """`41 pins on this plate`, of a part `12 of the 41 pins on this plate`; several types each with its count."""
    words = f"{plural(int(table.sum()), 'pin')} on this plate"
    if len(view.layout.parts) > 1:
        here = table[np.ix_(list(view.part.channels), list(view.part.steps))]
        words = f"{int(here.sum())} of the {words}"
    occurring = len(np.unique(pins.pin_type))
    return words + types_words(view.wheel, pins.pin_type[pins.plate == view.plate], occurring)

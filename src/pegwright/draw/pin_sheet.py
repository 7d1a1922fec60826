"""The pin sheet: the printed page for pinning one plate."""

from __future__ import annotations

from collections.abc import Sequence

from pegwright.columns import Ints
from pegwright.draw.bars import BarMark, bar_marks
from pegwright.draw.counts import CountLine
from pegwright.draw.furniture import LINE_MORE_MM, heading
from pegwright.draw.legend import pin_entries, plate_entries
from pegwright.draw.marks import pin_mark
from pegwright.draw.paper import Paper
from pegwright.draw.plate_page import (
    NO_NOTES,
    SheetNotes,
    edition_line,
    edition_words,
    most_in_a_step,
    plate_page,
    song_facts,
    subject_words,
    types_words,
    views,
)
from pegwright.draw.sheet_fit import Surround
from pegwright.draw.sheet_layout import COUNTS_LABEL, View
from pegwright.drawing import Page
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
    surround = pin_surround(wheel, pins, notes)
    return tuple(_page(view, pins, bars, notes, surround) for view in views(wheel, paper, surround, pins))


def pin_surround(wheel: Wheel, pins: PinMap, notes: SheetNotes = NO_NOTES) -> Surround:
    """The surround of the plate on a pin sheet; its legend has only marks that occur in the song.

    Args:
        wheel: for names.
        pins: of one set of plates.
        notes: hold the code, the small print and the style.
    """
    entries = pin_entries(wheel, pins.row.tolist(), pins.pin_type.tolist())
    return Surround(
        (*entries, *plate_entries(wheel, notes.style)),
        figures=len(str(most_in_a_step(wheel, pins))),
        keep_mm=notes.code_room_mm,
        upright_mm=LINE_MORE_MM,
        small_print=notes.small_print,
        style=notes.style,
    )


def _page(view: View, pins: PinMap, bars: Sequence[BarMark], notes: SheetNotes, surround: Surround) -> Page:
    layout, table = view.layout, view.step_table(pins)
    marks = [
        shape
        for pin, row, x_mm, y_mm in view.marks(pins)
        for shape in pin_mark(row, x_mm, y_mm, layout.mark_mm, int(pins.pin_type[pin]))
    ]
    facts = " · ".join(song_facts(view, notes))
    count = f"{_count_words(view, pins, table)} · {pins.pin_count:,} in all"
    subject = subject_words(view, "plate", notes)
    head = (
        *heading(layout.width_mm, pins.title, subject, facts, count, surround.keep_mm, layout.upright),
        edition_line(view, surround, edition_words(pins, notes)),
    )
    title = f"{pins.title}, {view.words('plate').lower()}"
    return plate_page(view, title, bars, marks, [CountLine("pins", COUNTS_LABEL, table)], head, surround, notes)


def _count_words(view: View, pins: PinMap, table: Ints) -> str:
    """`41 pins on this plate`, of a part `12 of the 41 pins on this plate`; several types each with its count."""
    words = f"{plural(int(table.sum()), 'pin')} on this plate"
    if len(view.layout.parts) > 1:
        words = f"{int(table[view.shown].sum())} of the {words}"
    return words + types_words(view.wheel, pins, view.plate)

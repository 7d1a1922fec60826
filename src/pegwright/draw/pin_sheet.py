"""The pin sheet: the printed page for pinning one plate."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pegwright.columns import Ints
from pegwright.draw.bars import BarMark, bar_marks
from pegwright.draw.furniture import MARGIN_MM, PAGE_NUMBER_MM, check_bars, foot, heading
from pegwright.draw.legend import legend
from pegwright.draw.lettering import fitted, width_mm
from pegwright.draw.marks import PIN_TYPE_MARKS, ROW_MARKS, pin_mark
from pegwright.draw.paper import Paper
from pegwright.draw.plate_grid import INDEX_MM, bar_lines, bar_ruler, counts, frame, holes, index_drawing
from pegwright.draw.plate_page import SheetNotes
from pegwright.draw.sheet_layout import View, closest_pins_mm, scale_text, sheet_layout
from pegwright.drawing import Page, Shape, Use
from pegwright.errors import UsageError
from pegwright.placement import PinMap, pin_map_sha256
from pegwright.units import fraction_text, plural, printed, quarters_per_minute
from pegwright.wheel import Wheel

__all__ = ["BarMark", "SheetNotes", "bar_marks", "pin_sheets"]

LEGEND_Y_MM = 16.0
HASH_FIGURES = 12  # of the pin map's hash: enough to tell any two maps of a maker apart


def pin_sheets(
    wheel: Wheel, pins: PinMap, bars: Sequence[BarMark], paper: Paper, notes: SheetNotes = SheetNotes()
) -> tuple[Page, ...]:
    """The pin sheets of a song: one page a plate, or several where one would be too small to read.

    Args:
        wheel: its plates and holes.
        pins: of one set of plates.
        bars: where the song's bars fall on the turn; may be empty.
        paper: turned the way that gives the larger marks.
        notes: what else to print.

    Raises:
        UsageError: the wheel has more rows or pin types than there are marks.
    """
    for count, most, what in (
        (len(wheel.rows), ROW_MARKS, "rows"),
        (len(wheel.pin_types), PIN_TYPE_MARKS, "pin types"),
    ):
        if count > most:
            raise UsageError(
                f"a pin sheet tells {most} {what} apart, the wheel has {count}",
                where=wheel.name,
                hint=f"give the wheel at most {most} {what}",
            )
    layout = sheet_layout(wheel, paper, closest_pins_mm(wheel, pins))
    views = [
        View(wheel, layout, plate, number) for plate in range(wheel.plate_count) for number in range(len(layout.parts))
    ]
    return tuple(_page(view, pins, bars, notes) for view in views)


def _page(view: View, pins: PinMap, bars: Sequence[BarMark], notes: SheetNotes) -> Page:
    layout = view.layout
    table = _counts(view, pins)
    items = (
        Use(frame(view.wheel, layout, view.part), 0.0, 0.0),
        *bar_lines(view, bars),
        Use(holes(view), 0.0, 0.0),
        *_marks(view, pins),
        *bar_ruler(view, bars),
        *counts(view, table),
        *_heading(view, pins, table, notes),
        *_foot(view, notes),
    )
    return Page(layout.width_mm, layout.height_mm, items, f"{pins.title}, {_plate_words(view)}")


def _plate_words(view: View) -> str:
    words = f"plate {printed(view.plate)} of {view.wheel.plate_count}"
    parts = view.layout.parts
    return words if len(parts) == 1 else f"{words}, part {printed(view.number)} of {len(parts)}"


def _heading(view: View, pins: PinMap, table: Ints, notes: SheetNotes) -> tuple[Shape, ...]:
    subject = _plate_words(view)
    subject = f"Set {notes.set_name} · {subject}" if notes.set_name else subject[0].upper() + subject[1:]
    facts = [pins.wheel_name, f"♩ = {quarters_per_minute(pins.us_per_quarter):.4g}"]
    if notes.start_steps is not None:
        plate, step = divmod(notes.start_steps, view.wheel.steps_per_plate)
        facts.append(f"song starts at plate {printed(int(plate))}, step {fraction_text(step + 1)}")
    facts.append(f"scale {scale_text(view.layout.scale)}")
    map_words = f"map {pin_map_sha256(pins)[:HASH_FIGURES]}"
    count = [_count_words(view, pins, table), f"{pins.pin_count:,} in all", map_words]
    width = view.layout.width_mm
    return (
        *heading(width, pins.title, subject, " · ".join(facts), " · ".join(count)),
        *legend(view.wheel, MARGIN_MM, MARGIN_MM + LEGEND_Y_MM, width - 2 * MARGIN_MM),
    )


def _count_words(view: View, pins: PinMap, table: Ints) -> str:
    """`41 pins on this plate`, of a part `12 of the 41 pins on this plate`; several types each with its count."""
    words = f"{plural(int(table.sum()), 'pin')} on this plate"
    if len(view.layout.parts) > 1:
        here = table[np.ix_(list(view.part.channels), list(view.part.steps))]
        words = f"{int(here.sum())} of the {words}"
    if len(view.wheel.pin_types) > 1:
        types = np.bincount(pins.pin_type[pins.plate == view.plate], minlength=len(view.wheel.pin_types)).tolist()
        named = ", ".join(
            f"{count} {kind.name}" for count, kind in zip(types, view.wheel.pin_types, strict=True) if count
        )
        words += f" ({fitted(named, 3.4, 60.0)})" if named else ""
    return words


def _foot(view: View, notes: SheetNotes) -> tuple[Shape, ...]:
    layout, part = view.layout, view.part
    part_count = len(layout.parts)
    page = f"page {printed(view.plate * part_count + view.number)} of {view.wheel.plate_count * part_count}"
    bars = check_bars(layout.width_mm, layout.height_mm)
    if part_count == 1:
        return (*bars, *foot(layout.width_mm, layout.height_mm, page, notes.remarks))
    which = (
        f"Steps {printed(part.first_step)}–{part.steps.stop}, "
        f"channels {printed(part.first_channel)}–{part.channels.stop} only"
    )
    right = layout.width_mm - MARGIN_MM - width_mm(page, PAGE_NUMBER_MM, bold=True) - 3
    return (
        *bars,
        *foot(layout.width_mm, layout.height_mm, page, (which, *notes.remarks), INDEX_MM[0] + 3),
        *index_drawing(view, right, layout.height_mm - MARGIN_MM - 1),
    )


def _counts(view: View, pins: PinMap) -> Ints:
    """Pins of the whole plate by channel and step, shape (channels, steps)."""
    wheel = view.wheel
    here = pins.plate == view.plate
    holes_here = zip(pins.row[here].tolist(), pins.index[here].tolist(), strict=True)
    steps = [int(wheel.rows[row].position_steps(index)) for row, index in holes_here]
    table = np.zeros((len(wheel.channels), wheel.steps_per_plate), dtype=np.int64)
    np.add.at(table, (pins.channel[here], np.array(steps, dtype=np.int64)), 1)
    return table


def _marks(view: View, pins: PinMap) -> tuple[Shape, ...]:
    wheel, layout, part = view.wheel, view.layout, view.part
    shapes: list[Shape] = []
    for pin in np.flatnonzero(pins.plate == view.plate).tolist():
        channel, row, index = int(pins.channel[pin]), int(pins.row[pin]), int(pins.index[pin])
        if channel in part.channels and int(wheel.rows[row].position_steps(index)) in part.steps:
            x_mm, y_mm = layout.hole_mm(wheel, part, channel, row, index)
            shapes += pin_mark(row, int(pins.pin_type[pin]), x_mm, y_mm, layout.mark_mm)
    return tuple(shapes)

"""What the pages of a plate have in common: their notes, names, foot and code."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

import numpy as np

from pegwright.columns import Ints
from pegwright.draw.furniture import MARGIN_MM, PAGE_NUMBER_MM, check_bars, foot
from pegwright.draw.lettering import fitted, width_mm
from pegwright.draw.marks import PIN_TYPE_MARKS, ROW_MARKS
from pegwright.draw.plate_grid import INDEX_MM, index_drawing
from pegwright.draw.sheet_fit import HoleColumns
from pegwright.draw.sheet_layout import SheetLayout, View
from pegwright.drawing import Path, Pen, Shape, Symbol, Use
from pegwright.errors import UsageError
from pegwright.placement import PinMap, pin_map_sha256
from pegwright.units import fraction_text, printed, quarters_per_minute
from pegwright.wheel import Wheel

LEGEND_Y_MM = 16.0
HASH_FIGURES = 12  # of the pin map's hash: enough to distinguish any two maps of a maker
QR_MM, MIN_MODULE_MM = 17.0, 0.5  # side of the code without its quiet zone; of one of its squares
QUIET_MODULES = 4  # Source: ISO/IEC 18004, the quiet zone round a QR code (from memory)
_DARK = Pen(stroke=None, fill=0.0)


@dataclass(frozen=True, slots=True)
class SheetNotes:
    """What the sheets of a song say in addition to its pins.

    Args:
        set_name: of the set of plates, such as `A`; may be empty.
        start_steps: where on the turn the song begins; None where that is not known.
        remarks: for the foot of every page, such as `2 notes left out`.
        qr: a code for the corner, square rows of dark (True) and light modules; empty for none.
        place: which turns and bars of the song this is, such as `turns 1 and 2, bars 1 to 8`; may be empty.
    """

    set_name: str = ""
    start_steps: Fraction | None = None
    remarks: tuple[str, ...] = ()
    qr: tuple[tuple[bool, ...], ...] = ()
    place: str = ""


NO_NOTES = SheetNotes()


def refuse_unmarkable(wheel: Wheel) -> None:
    """Refuse a wheel whose pins cannot be distinguished on a sheet.

    Raises:
        UsageError: it has more rows or pin types than there are marks.
    """
    for count, maximum, what in (
        (len(wheel.rows), ROW_MARKS, "rows"),
        (len(wheel.pin_types), PIN_TYPE_MARKS, "pin types"),
    ):
        if count > maximum:
            raise UsageError(
                f"a pin sheet has marks for {maximum} {what}, the wheel has {count}",
                where=wheel.name,
                hint=f"give the wheel at most {maximum} {what}",
            )


def views(wheel: Wheel, layout: SheetLayout) -> tuple[View, ...]:
    """Every page, in order: plate by plate, part by part."""
    return tuple(
        View(wheel, layout, plate, number) for plate in range(wheel.plate_count) for number in range(len(layout.parts))
    )


def page_words(view: View, noun: str, notes: SheetNotes = NO_NOTES) -> str:
    """`Plate 3 of 6`, `Set A · plate 3 of 6, part 1 of 2`.

    Args:
        view: what the page shows.
        noun: for the plate or its place.
        notes: give the name of the set.
    """
    words = f"{noun} {printed(view.plate)} of {view.wheel.plate_count}"
    parts = view.layout.parts
    if len(parts) > 1:
        words = f"{words}, part {printed(view.number)} of {len(parts)}"
    return f"Set {notes.set_name} · {words}" if notes.set_name else words[0].upper() + words[1:]


def song_facts(wheel: Wheel, pins: PinMap, notes: SheetNotes) -> list[str]:
    """The wheel, the tempo and where the song begins.

    Args:
        wheel: for plates and steps.
        pins: give the tempo.
        notes: give the start and the place in the song.
    """
    facts = [
        *([notes.place] if notes.place else []),
        pins.wheel_name,
        f"♩ = {quarters_per_minute(pins.us_per_quarter):.4g}",
    ]
    if notes.start_steps is not None:
        plate, step = divmod(notes.start_steps, wheel.steps_per_plate)
        facts.append(f"song starts at plate {printed(int(plate))}, step {fraction_text(step + 1)}")
    return facts


def map_words(pins: PinMap) -> str:
    """The first figures of a pin map's hash."""
    return pin_map_sha256(pins)[:HASH_FIGURES]


def step_table(wheel: Wheel, pins: HoleColumns, plate: int) -> Ints:
    """Pins on a plate by channel and step, shape (channels, steps).

    Args:
        wheel: its channels and rows.
        pins: of all plates.
        plate: 0-based.
    """
    here = pins.plate == plate
    holes_here = zip(pins.row[here].tolist(), pins.index[here].tolist(), strict=True)
    steps = [int(wheel.rows[row].position_steps(index)) for row, index in holes_here]
    table = np.zeros((len(wheel.channels), wheel.steps_per_plate), dtype=np.int64)
    np.add.at(table, (pins.channel[here], np.array(steps, dtype=np.int64)), 1)
    return table


def types_words(wheel: Wheel, pin_types: Ints, occurring: int) -> str:
    """` (12 plain, 3 early)`; empty where there are no pins, or only one type on all plates.

    Args:
        wheel: for names.
        pin_types: of the pins of one plate, shape (p,).
        occurring: how many types occur on all plates.
    """
    counted = zip(np.bincount(pin_types, minlength=len(wheel.pin_types)).tolist(), wheel.pin_types, strict=True)
    named = ", ".join(f"{count} {kind.name}" for count, kind in counted if count)
    return f" ({fitted(named, 3.4, 60.0)})" if named and occurring > 1 else ""


def marks_in(view: View, pins: HoleColumns) -> list[tuple[int, int, float, float]]:
    """Pins that the page shows: number in `pins`, row, and the hole's place on the page in mm."""
    wheel, layout, part = view.wheel, view.layout, view.part
    marks = []
    for pin in np.flatnonzero(pins.plate == view.plate).tolist():
        channel, row, index = int(pins.channel[pin]), int(pins.row[pin]), int(pins.index[pin])
        if channel in part.channels and int(wheel.rows[row].position_steps(index)) in part.steps:
            marks.append((pin, row, *layout.hole_mm(wheel, part, channel, row, index)))
    return marks


def page_foot(view: View, notes: SheetNotes) -> tuple[Shape, ...]:
    """Check bars, caution, remarks and page number; of a cut plate also which part this is."""
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


def code_room_mm(notes: SheetNotes) -> float:
    """Room that the code takes at the right of the heading, with its quiet zone."""
    if not notes.qr:
        return 0.0
    module_mm = _module_mm(notes.qr)
    return module_mm * (len(notes.qr) + QUIET_MODULES)


def code(width: float, notes: SheetNotes) -> tuple[Use, ...]:
    """The code in the upper right corner of a page; the margins are its quiet zone on two sides.

    Args:
        width: of the page in mm.
        notes: hold the code.
    """
    if not notes.qr:
        return ()
    symbol = _code(notes.qr)
    return (Use(symbol, width - MARGIN_MM - len(notes.qr) * _module_mm(notes.qr), MARGIN_MM),)


@lru_cache(maxsize=4)
def _code(modules: tuple[tuple[bool, ...], ...]) -> Symbol:
    side = _module_mm(modules)
    return Symbol(
        "code",
        tuple(
            Path(
                tuple((side * (x + dx), side * (y + dy)) for dx, dy in ((0, 0), (1, 0), (1, 1), (0, 1))),
                _DARK,
                closed=True,
            )
            for y, row in enumerate(modules)
            for x, dark in enumerate(row)
            if dark
        ),
    )


def _module_mm(modules: tuple[tuple[bool, ...], ...]) -> float:
    return max(MIN_MODULE_MM, QR_MM / len(modules))

"""What the pages of a plate have in common: their notes, names, foot and code."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

import numpy as np

from pegwright.columns import Ints
from pegwright.draw.bars import BarMark
from pegwright.draw.counts import CountLine, counts
from pegwright.draw.furniture import CAUTION, CHECK_BAR_MM, MARGIN_MM, PAGE_NUMBER_MM, check_bars, foot
from pegwright.draw.legend import legend
from pegwright.draw.lettering import fitted, width_mm
from pegwright.draw.marks import PIN_TYPE_MARKS, ROW_MARKS
from pegwright.draw.paper import Paper
from pegwright.draw.plate_grid import INDEX_MM, bar_lines, bar_ruler, frame, holes, index_drawing
from pegwright.draw.sheet_fit import HoleColumns, Surround, closest_pins, sheet_layout
from pegwright.draw.sheet_layout import View, scale_text
from pegwright.drawing import Page, Pen, Shape, Symbol, Use, rectangle
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
    kinds = (("rows", len(wheel.rows), ROW_MARKS), ("pin types", len(wheel.pin_types), PIN_TYPE_MARKS))
    for what, count, maximum in kinds:
        if count > maximum:
            raise UsageError(
                f"a pin sheet has marks for {maximum} {what}, the wheel has {count}",
                where=wheel.name,
                hint=f"give the wheel at most {maximum} {what}",
            )


def views(wheel: Wheel, paper: Paper, surround: Surround, *pins: HoleColumns) -> tuple[View, ...]:
    """Every page, in order: plate by plate, part by part.

    Args:
        wheel: its plates and holes.
        paper: turned so that marks are larger.
        surround: what is round the plate.
        pins: those that are marked.

    Raises:
        UsageError: the wheel has more rows or pin types than there are marks.
    """
    refuse_unmarkable(wheel)
    layout = sheet_layout(wheel, paper, closest_pins(wheel, *pins), surround)
    return tuple(
        View(wheel, layout, plate, number) for plate in range(wheel.plate_count) for number in range(len(layout.parts))
    )


def plate_page(
    view: View,
    title: str,
    bars: Sequence[BarMark],
    marks: Iterable[Shape],
    lines: Sequence[CountLine],
    head: Iterable[Shape],
    surround: Surround,
    notes: SheetNotes,
) -> Page:
    """One page of a plate.

    Args:
        view: what it shows.
        title: for outlines and screen readers.
        bars: where the song's bars fall on the turn; may be empty.
        marks: of the pins.
        lines: counts.
        head: the lines above the legend.
        surround: holds the legend.
        notes: what else to print.
    """
    layout, wheel = view.layout, view.wheel
    width, keep_mm = layout.width_mm, surround.keep_mm
    legend_y_mm = MARGIN_MM + LEGEND_Y_MM + (surround.upright_mm if layout.upright else 0.0)
    items = (
        Use(frame(wheel, layout, view.part), 0.0, 0.0),
        *bar_lines(view, bars),
        Use(holes(view), 0.0, 0.0),
        *marks,
        *bar_ruler(view, bars),
        *counts(view, lines),
        *head,
        *legend(surround.legend, MARGIN_MM, legend_y_mm, width - 2 * MARGIN_MM - keep_mm),
        *code(width, notes),
        *_foot(view, notes),
    )
    return Page(width, layout.height_mm, items, title)


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


def song_facts(view: View, pins: PinMap, notes: SheetNotes) -> list[str]:
    """The wheel, the tempo, where the song begins, the scale.

    Args:
        view: for the scale, and for plates and steps.
        pins: give the tempo.
        notes: give the start and the place in the song.
    """
    tempo = f"♩ = {quarters_per_minute(pins.us_per_quarter):.4g}"
    facts = [*([notes.place] if notes.place else []), pins.wheel_name, tempo]
    if notes.start_steps is not None:
        plate, step = divmod(notes.start_steps, view.wheel.steps_per_plate)
        facts.append(f"song starts at plate {printed(int(plate))}, step {fraction_text(step + 1)}")
    return [*facts, f"scale {scale_text(view.layout.scale)}"]


def map_words(pins: PinMap) -> str:
    """The first figures of a pin map's hash."""
    return pin_map_sha256(pins)[:HASH_FIGURES]


def step_table(view: View, pins: HoleColumns) -> Ints:
    """Pins on the whole plate by channel and step, shape (channels, steps)."""
    wheel, here = view.wheel, pins.plate == view.plate
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


def _foot(view: View, notes: SheetNotes) -> tuple[Shape, ...]:
    """Check bars, caution, remarks and page number; of a cut plate also which part this is."""
    layout, steps, channels = view.layout, view.part.steps, view.part.channels
    width, height, part_count = layout.width_mm, layout.height_mm, len(layout.parts)
    page = f"page {printed(view.plate * part_count + view.number)} of {view.wheel.plate_count * part_count}"
    remarks, keep_mm = notes.remarks, 0.0
    index: tuple[Shape, ...] = ()
    if part_count > 1:
        which = f"Steps {printed(steps.start)}–{steps.stop}, channels {printed(channels.start)}–{channels.stop} only"
        remarks, keep_mm = (which, *remarks), INDEX_MM[0] + 3
        right = width - MARGIN_MM - width_mm(page, PAGE_NUMBER_MM, bold=True) - 3
        index = index_drawing(view, right, height - MARGIN_MM - 1)
    lines, begin_mm = (CAUTION, " · ".join(remarks)), MARGIN_MM + CHECK_BAR_MM + 5
    return (*check_bars(width, height), *foot(width, height, page, lines, begin_mm, keep_mm), *index)


def code_room_mm(notes: SheetNotes) -> float:
    """Room that the code takes at the right of the heading, with its quiet zone."""
    return _module_mm(notes.qr) * (len(notes.qr) + QUIET_MODULES) if notes.qr else 0.0


def code(width: float, notes: SheetNotes) -> tuple[Use, ...]:
    """The code in the upper right corner of a page; the margins are its quiet zone on two sides.

    Args:
        width: of the page in mm.
        notes: hold the code.
    """
    if not notes.qr:
        return ()
    return (Use(_code(notes.qr), width - MARGIN_MM - len(notes.qr) * _module_mm(notes.qr), MARGIN_MM),)


@lru_cache(maxsize=4)
def _code(modules: tuple[tuple[bool, ...], ...]) -> Symbol:
    side = _module_mm(modules)
    return Symbol(
        "code",
        tuple(
            rectangle(side * x, side * y, side * (x + 1), side * (y + 1), _DARK)
            for y, row in enumerate(modules)
            for x, dark in enumerate(row)
            if dark
        ),
    )


def _module_mm(modules: tuple[tuple[bool, ...], ...]) -> float:
    return max(MIN_MODULE_MM, QR_MM / len(modules))

"""What the pages of a plate have in common: their notes, names, foot and code."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import lru_cache

import numpy as np

from pegwright.columns import distinct
from pegwright.draw.bars import BarMark
from pegwright.draw.counts import CountLine, counts
from pegwright.draw.furniture import (
    EDITION_Y_MM,
    MARGIN_MM,
    PAGE_NUMBER_MM,
    check_bars,
    fitted_text,
    plate_foot,
)
from pegwright.draw.legend import legend
from pegwright.draw.lettering import fitted, width_mm
from pegwright.draw.marks import PIN_TYPE_MARKS, ROW_MARKS
from pegwright.draw.paper import Paper
from pegwright.draw.plate_grid import bar_lines, bar_ruler, frame, holes, index_drawing
from pegwright.draw.sheet_fit import Surround, closest_pins, sheet_layout
from pegwright.draw.sheet_layout import HoleColumns, View, scale_text
from pegwright.draw.sheet_style import PLAIN, SheetStyle
from pegwright.draw.tick_boxes import tick_boxes
from pegwright.drawing import Page, Pen, Shape, Symbol, Text, Use, rectangle
from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.placement import PinMap, pin_map_sha256
from pegwright.units import fraction_text, printed, quarters_per_minute
from pegwright.wheel import Wheel

FACTS_MM = 3.4
HASH_FIGURES = 12  # of the pin map's hash: enough to distinguish any two maps of a maker
QR_MM, MIN_MODULE_MM = 17.0, 0.5  # side of the code without its quiet zone; of one of its squares
QUIET_MODULES = 4  # Source: ISO/IEC 18004, the quiet zone round a QR code (from memory)
_DARK = Pen(stroke=None, fill=0.0)


@frozen()
class SheetNotes:
    """What the sheets of a song say in addition to its pins.

    Args:
        set_name: of the set of plates, such as `A`; may be empty.
        start_steps: where on the turn the song begins; None where that is not known.
        remarks: for the foot of every page, such as `2 notes left out`.
        qr: a code for the corner, square rows of dark (True) and light modules; empty for none.
        place: which turns and bars of the song this is, such as `turns 1 and 2, bars 1 to 8`; may be empty.
        outcome: the count of the song's notes in words, for the foot of every pin sheet; may be empty.
        style: how the sheets are printed.
    """

    set_name: str = ""
    start_steps: Fraction | None = None
    remarks: tuple[str, ...] = ()
    qr: tuple[tuple[bool, ...], ...] = ()
    place: str = ""
    outcome: str = ""
    style: SheetStyle = PLAIN

    @property
    def small_print(self) -> tuple[str, ...]:
        """The texts for the foot of every page."""
        return tuple(text for text in (self.outcome, " · ".join(self.remarks)) if text)

    @property
    def code_room_mm(self) -> float:
        """Room that the code takes at the right of the heading, with its quiet zone."""
        return _module_mm(self.qr) * (len(self.qr) + QUIET_MODULES) if self.qr else 0.0

    def code(self, width_mm: float) -> tuple[Use, ...]:
        """The code in the upper right corner of a page; the margins are its quiet zone on two sides."""
        if not self.qr:
            return ()
        return (Use(_code(self.qr), width_mm - MARGIN_MM - len(self.qr) * _module_mm(self.qr), MARGIN_MM),)


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
    """Every page, in order: plate by plate, part by part; a plate without a mark has none, if another has one.

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
    bare = bare_plates(wheel, *pins)
    plates = [plate for plate in range(wheel.plate_count) if plate not in bare]
    return tuple(View(wheel, layout, plate, number) for plate in plates for number in range(len(layout.parts)))


def bare_plates(wheel: Wheel, *pins: HoleColumns) -> list[int]:
    """Plates (0-based) without a mark, if there is a mark on another.

    Args:
        wheel: its plates.
        pins: those that are marked.
    """
    marked = {plate for each in pins for plate in each.plate.tolist()}
    return [plate for plate in range(wheel.plate_count) if plate not in marked] if marked else []


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
    legend_y_mm = surround.legend_y_mm(layout.upright)
    items = (
        Use(frame(wheel, layout, view.part), 0.0, 0.0),
        *bar_lines(view, bars),
        Use(holes(view), 0.0, 0.0),
        *marks,
        *bar_ruler(view, bars),
        *counts(view, lines),
        *tick_boxes(view),
        *head,
        *legend(surround.legend, MARGIN_MM, legend_y_mm, width - 2 * MARGIN_MM - keep_mm),
        *notes.code(width),
        *_foot(view, surround),
    )
    return Page(width, layout.height_mm, items, title)


def subject_words(view: View, noun: str, notes: SheetNotes) -> str:
    """What the page is; seen from inside that is said here, where it cannot be overlooked.

    Args:
        view: the page.
        noun: for the plate or its place.
        notes: give the name of the set and the face.
    """
    words = view.words(noun, notes.set_name)
    return f"{words}, {notes.style.face}" if notes.style.inside else words


def song_facts(view: View, notes: SheetNotes) -> list[str]:
    """Which turns and bars of the song, which part of a cut plate, the face if it is not the usual, start, scale.

    Args:
        view: for the scale, and for plates and steps.
        notes: give the start and the place in the song.
    """
    steps, channels = view.part.steps, view.part.channels
    facts = [notes.place] if notes.place else []
    if len(view.layout.parts) > 1:
        part = f"steps {printed(steps.start)}–{steps.stop}, channels {printed(channels.start)}–{channels.stop} only"
        facts.append(part)
    if notes.start_steps is not None:
        plate, step = divmod(notes.start_steps, view.wheel.steps_per_plate)
        facts.append(f"song starts at plate {printed(int(plate))}, step {fraction_text(step + 1)}")
    return [*facts, f"scale {scale_text(view.layout.scale)}"]


def edition_words(pins: PinMap, notes: SheetNotes, was: PinMap | None = None) -> list[str]:
    """The edition of a page: map, tempo where it is known, date if asked, wheel.

    Args:
        pins: that the page is for.
        notes: give the date.
        was: what the plates carry before, if that is of interest.
    """
    maps = f"map {map_words(pins)}" + (f", was {map_words(was)}" if was else "")
    tempo = [f"♩ = {quarters_per_minute(pins.us_per_quarter):.4g}"] if pins.us_per_quarter else []
    return [maps, *tempo, *([notes.style.date] if notes.style.date else []), f"wheel {pins.wheel_name}"]


def edition_line(view: View, surround: Surround, words: Sequence[str]) -> Text:
    """The edition, as a line of its own under the facts.

    Args:
        view: the page.
        surround: of the plate.
        words: shortened where they do not fit: the name of the wheel, which is last.
    """
    layout = view.layout
    y_mm = MARGIN_MM + EDITION_Y_MM + (surround.upright_mm if layout.upright else 0.0)
    room_mm = layout.width_mm - 2 * MARGIN_MM - surround.keep_mm
    return fitted_text(MARGIN_MM, y_mm, "Edition: " + " · ".join(words), FACTS_MM, room_mm)


def most_in_a_step(wheel: Wheel, pins: HoleColumns) -> int:
    """The maximum of pins in one step of a plate."""
    rows = wheel.rows
    places = zip(pins.plate.tolist(), pins.row.tolist(), pins.index.tolist(), strict=True)
    steps = Counter((plate, int(rows[row].position_steps(index))) for plate, row, index in places)
    return max(steps.values(), default=0)


def map_words(pins: PinMap) -> str:
    """The first figures of a pin map's hash."""
    return pin_map_sha256(pins)[:HASH_FIGURES]


def types_words(wheel: Wheel, pins: HoleColumns, plate: int) -> str:
    """` (12 plain, 3 early)`; empty where there are no pins, or only one type on all plates.

    Args:
        wheel: for names.
        pins: of all plates.
        plate: whose pins are counted, 0-based.
    """
    counts = np.bincount(pins.pin_type[pins.plate == plate], minlength=len(wheel.pin_types)).tolist()
    named = ", ".join(f"{count} {kind.name}" for count, kind in zip(counts, wheel.pin_types, strict=True) if count)
    return f" ({fitted(named, 3.4, 60.0)})" if named and len(distinct(pins.pin_type)) > 1 else ""


def _foot(view: View, surround: Surround) -> tuple[Shape, ...]:
    """Check bars, caution, small print and page number; of a cut plate also which part this is, as a drawing."""
    layout = view.layout
    width, height, part_count = layout.width_mm, layout.height_mm, len(layout.parts)
    page = f"page {printed(view.plate * part_count + view.number)} of {view.wheel.plate_count * part_count}"
    index: Iterable[Shape] = ()
    if part_count > 1:
        right = width - MARGIN_MM - width_mm(page, PAGE_NUMBER_MM, bold=True) - 3
        index = index_drawing(view, right, height - MARGIN_MM - 1)
    print_foot = plate_foot(width, height, page, surround.small_print, cut=part_count > 1)
    return (*check_bars(width, height), *print_foot, *index)


@lru_cache(maxsize=4)
def _code(modules: tuple[tuple[bool, ...], ...]) -> Symbol:
    side = _module_mm(modules)
    dark = [(side * x, side * y) for y, row in enumerate(modules) for x, is_dark in enumerate(row) if is_dark]
    return Symbol("code", tuple(rectangle(x, y, x + side, y + side, _DARK) for x, y in dark))


def _module_mm(modules: tuple[tuple[bool, ...], ...]) -> float:
    return max(MIN_MODULE_MM, QR_MM / len(modules))

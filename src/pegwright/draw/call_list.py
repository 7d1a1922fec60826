"""The call list: what one person reads out while another pins, plate by plate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pegwright.draw.calls import Call, CallGroup, calls
from pegwright.draw.columns_flow import Block, Column, FlowLine, flowed
from pegwright.draw.furniture import GREY, MARGIN_MM, centred, plain_foot
from pegwright.draw.lettering import fitted, width_mm
from pegwright.draw.marks import pin_mark, pull_mark
from pegwright.draw.paper import Paper
from pegwright.draw.plate_page import NO_NOTES, SheetNotes, code, code_room_mm, refuse_unmarkable, types_words
from pegwright.draw.swap_heading import moved_counts, swap_heading, swap_title
from pegwright.drawing import Anchor, Page, Path, Pen, Shape, Text, Use
from pegwright.placement import PinMap
from pegwright.swapping import Swap
from pegwright.units import plural, printed
from pegwright.wheel import Wheel

HOW = "One calls, one pins: the channel, then each step with its row. Tick what is done."
HEAD_MM, FOOT_MM = 30.0, 9.0
TEXT_MM, SECTION_MM, MORE_MM = 5.0, 6.4, 3.6
LINE_MM, SECTION_LINE_MM, GROUP_GAP_MM = 7.2, 12.5, 1.6
COLUMN_MM, COLUMN_GAP_MM = 90.0, 9.0  # minimum width of a column on A4; between columns
TICK_MM, TICK_GAP_MM, WORDS_GAP_MM, CALL_GAP_MM = 3.8, 1.4, 1.3, 3.4  # box to tick; gaps after it, step and call
LONGEST_NAME, SHORTEST_NAME = 0.42, 0.12  # of a column
GOES_ON = "goes on"
SHARES = (1.0, 0.94, 0.88)  # sizes of the letters to try, for fewer pages
_TICK = Pen(stroke=0.0, width_mm=0.3)
_RULE = Pen(stroke=0.0, width_mm=0.5)
_A4_SHORT_MM, _MAX_ZOOM = 210.0, 1.35


@dataclass(frozen=True, slots=True)
class _Sheet:
    """What the pages of one plate's list have in common; `plate` is 0-based."""

    wheel: Wheel
    width_mm: float
    height_mm: float
    zoom: float
    plate: int

    @property
    def column_count(self) -> int:
        """Columns side by side."""
        room_mm = self.width_mm - 2 * MARGIN_MM + COLUMN_GAP_MM
        return max(1, int(room_mm / (COLUMN_MM * self.zoom + COLUMN_GAP_MM)))

    @property
    def column_mm(self) -> float:
        """Width of a column."""
        return (self.width_mm - 2 * MARGIN_MM + COLUMN_GAP_MM) / self.column_count - COLUMN_GAP_MM

    @property
    def flow_mm(self) -> float:
        """Height of a column that is left for calls."""
        return self.height_mm - 2 * MARGIN_MM - HEAD_MM - FOOT_MM - SECTION_LINE_MM * self.zoom


@dataclass(frozen=True, slots=True)
class _Section:
    """All pulls or all sets of a plate."""

    pulls: bool
    words: str
    more: str
    row: int
    groups: tuple[CallGroup, ...]


@dataclass(frozen=True, slots=True)
class _CallGrid:
    """The positions of the calls of a section in their column; lengths in mm.

    Args:
        zoom: of all sizes.
        numbers_mm, names_mm: widths of the channels' numbers and names.
        steps_mm, words_mm: widths of the steps and rows that are called.
        call_mm: width of a whole call.
        room_mm: for the calls of a line.
    """

    zoom: float
    numbers_mm: float
    names_mm: float
    steps_mm: float
    words_mm: float
    call_mm: float
    room_mm: float

    @property
    def in_line(self) -> int:
        """Calls side by side."""
        gap_mm = CALL_GAP_MM * self.zoom
        return max(1, int((self.room_mm + gap_mm) / (self.call_mm + gap_mm)))

    def call_x_mm(self, place: int) -> float:
        """Distance from the left edge of its column at which a call begins."""
        return self.numbers_mm + self.names_mm + place * (self.call_mm + CALL_GAP_MM * self.zoom)


def call_pages(
    wheel: Wheel, swap: Swap, old: PinMap | None, new: PinMap, paper: Paper, notes: SheetNotes = NO_NOTES
) -> tuple[Page, ...]:
    """The call lists of a swap: for each plate all pulls, then all sets, by channel, with boxes to tick.

    Args:
        wheel: its plates and channels.
        swap: what moves.
        old: the pin map that the plates carry; None where they are empty.
        new: the one they are to carry.
        paper: held upright.
        notes: what else to print; its code names the new map.

    Raises:
        UsageError: the wheel has more rows or pin types than there are marks.
    """
    refuse_unmarkable(wheel)
    lists = [_lists(wheel, swap, paper, share) for share in SHARES]
    bodies = min(lists, key=len)  # the first of those with the fewest pages, which has the largest letters
    return tuple(
        Page(
            sheet.width_mm,
            sheet.height_mm,
            (
                *_heading(sheet, swap, (old, new), words, notes),
                *body,
                *plain_foot(
                    sheet.width_mm,
                    sheet.height_mm,
                    f"call list, page {printed(number)} of {len(bodies)}",
                    (HOW, *notes.remarks),
                ),
            ),
            f"{swap_title(old, new)}, call list, {words}",
        )
        for number, (sheet, words, body) in enumerate(bodies)
    )


def _lists(wheel: Wheel, swap: Swap, paper: Paper, share: float) -> list[tuple[_Sheet, str, tuple[Shape, ...]]]:
    """For each page the sheet it belongs to, its place in words, and its body.

    Args:
        wheel: its plates and channels.
        swap: what moves.
        paper: held upright.
        share: size of the letters, as a share of the usual one.
    """
    zoom = min(max(1.0, paper.short_mm / _A4_SHORT_MM), _MAX_ZOOM) * share
    lists = []
    for plate in range(wheel.plate_count):
        sheet = _Sheet(wheel, paper.short_mm, paper.long_mm, zoom, plate)
        pages = _bodies(sheet, swap)
        words = f"place {printed(plate)} of {wheel.plate_count}"
        for number, body in enumerate(pages):
            part = f", part {printed(number)} of {len(pages)}" if len(pages) > 1 else ""
            lists.append((sheet, words + part, body))
    return lists


def _heading(
    sheet: _Sheet, swap: Swap, titles: tuple[PinMap | None, PinMap], words: str, notes: SheetNotes
) -> tuple[Shape | Use, ...]:
    pull, set_pins, stay = moved_counts(swap, sheet.plate)
    subject = f"Set {notes.set_name} · {words}" if notes.set_name else words[0].upper() + words[1:]
    sums = f"was {pull + stay:,} − pull {pull:,} + set {set_pins:,} = now {stay + set_pins:,} · {stay:,} stay"
    keep_mm = code_room_mm(notes)
    return (
        *swap_heading(
            sheet.width_mm, swap, sheet.plate, titles, subject, (titles[1].wheel_name,), sums, keep_mm, upright=True
        ),
        *code(sheet.width_mm, notes),
    )


def _bodies(sheet: _Sheet, swap: Swap) -> list[tuple[Shape, ...]]:
    """The body of each page of a plate, between heading and foot."""
    top = MARGIN_MM + HEAD_MM
    sections = _sections(sheet, swap)
    if not any(section.groups for section in sections):
        stay = moved_counts(swap, sheet.plate)[2]
        words = f"Nothing to pull, nothing to set: {plural(stay, 'pin')} {'stays' if stay == 1 else 'stay'}."
        words = fitted(words, SECTION_MM, sheet.width_mm - 2 * MARGIN_MM, bold=True)
        return [(Text(MARGIN_MM, top + 8.0, words, SECTION_MM, bold=True),)]
    columns: list[tuple[_Section, bool, Column]] = []
    for section in sections:
        flow = flowed(_blocks(sheet, section.groups), sheet.flow_mm, GROUP_GAP_MM * sheet.zoom)
        columns += [(section, number > 0, column) for number, column in enumerate(flow)]
    bodies: list[tuple[Shape, ...]] = []
    for first in range(0, len(columns), sheet.column_count):
        shapes: list[Shape] = []
        for place, (section, again, column) in enumerate(columns[first : first + sheet.column_count]):
            x_mm = MARGIN_MM + place * (sheet.column_mm + COLUMN_GAP_MM)
            shapes += _section_head(sheet, section, again, x_mm, top)
            for y_mm, line in column:
                shapes += line.draw(x_mm, top + SECTION_LINE_MM * sheet.zoom + y_mm)
        bodies.append(tuple(shapes))
    return bodies


def _sections(sheet: _Sheet, swap: Swap) -> tuple[_Section, _Section]:
    wheel, plate = sheet.wheel, sheet.plate
    pull, set_pins, _ = moved_counts(swap, plate)
    set_here = swap.set_pins.pin_type[swap.set_pins.plate == plate]
    occurring = len(np.unique(swap.set_pins.pin_type))
    of_types = types_words(wheel, set_here, occurring).strip(" ()")
    pulls = calls(wheel, swap.pull, plate, types=False)
    sets = calls(wheel, swap.set_pins, plate, types=occurring > 1)
    rows = [
        int(moves.row[moves.plate == plate].min(initial=len(wheel.rows) - 1)) for moves in (swap.pull, swap.set_pins)
    ]
    return (
        _Section(True, f"Pull {plural(pull, 'pin')}" if pull else "Pull nothing", "", rows[0], pulls),
        _Section(False, f"Set {plural(set_pins, 'pin')}" if set_pins else "Set nothing", of_types, rows[1], sets),
    )


def _section_head(sheet: _Sheet, section: _Section, again: bool, x_mm: float, y_mm: float) -> tuple[Shape, ...]:
    """The action of the column under it, with the mark of the swap sheet, above a rule."""
    zoom, middle = sheet.zoom, y_mm + 5.0 * sheet.zoom
    mark_mm, begin = 5.4 * zoom, x_mm + 8.0 * zoom
    size_mm, more_mm, room_mm = SECTION_MM * zoom, MORE_MM * zoom, sheet.column_mm - 8.0 * zoom
    words = f"{section.words}, {GOES_ON}" if again else section.words
    more = "" if again else fitted(section.more, more_mm, room_mm - width_mm(words, size_mm, bold=True) - 4.0)
    x_mark = x_mm + mark_mm / 2
    mark = (
        pull_mark(section.row, x_mark, middle, mark_mm)
        if section.pulls
        else pin_mark(section.row, 0, x_mark, middle, mark_mm)
    )
    y_rule = y_mm + 9.6 * zoom
    return (
        *mark,
        centred(begin, middle, words, size_mm, Anchor.START, bold=True),
        centred(x_mm + sheet.column_mm, middle, more, more_mm, Anchor.END, grey=GREY),
        Path(((x_mm, y_rule), (x_mm + sheet.column_mm, y_rule)), _RULE),
    )


def _blocks(sheet: _Sheet, groups: Sequence[CallGroup]) -> list[Block]:
    """Each channel's number, name and count, with its calls between, on a common grid."""
    zoom, size_mm = sheet.zoom, TEXT_MM * sheet.zoom
    if not groups:
        return []
    every = [call for group in groups for call in group.calls]
    names = [sheet.wheel.channels[group.channel].name for group in groups]
    numbers_mm = max(width_mm(str(printed(group.channel)), size_mm, bold=True) for group in groups) + 2.0 * zoom
    counts_mm = max(width_mm(str(len(group.calls)), size_mm, bold=True) for group in groups) + 3.0 * zoom
    steps_mm = max(width_mm(call.step, size_mm, bold=True) for call in every)
    words_mm = max(width_mm(call.words, size_mm) for call in every)
    room_mm = sheet.column_mm - numbers_mm - counts_mm
    around_mm = (TICK_MM + TICK_GAP_MM + WORDS_GAP_MM) * zoom + steps_mm
    # A shortened name still has its number; a shortened row could be mistaken for another.
    names_mm = min(
        max(width_mm(name, size_mm, bold=True) for name in names) + 3.0 * zoom, LONGEST_NAME * sheet.column_mm
    )
    names_mm = max(min(names_mm, room_mm - around_mm - words_mm), SHORTEST_NAME * sheet.column_mm)
    room_mm -= names_mm
    words_mm = min(words_mm, room_mm - around_mm)
    grid = _CallGrid(zoom, numbers_mm, names_mm, steps_mm, words_mm, around_mm + words_mm, room_mm)
    return [_block(sheet, grid, group, name) for group, name in zip(groups, names, strict=True)]


def _block(sheet: _Sheet, grid: _CallGrid, group: CallGroup, name: str) -> Block:
    size_mm, high_mm = TEXT_MM * grid.zoom, LINE_MM * grid.zoom
    name = fitted(name, size_mm, grid.names_mm - 2.0 * grid.zoom, bold=True)
    number, count = str(printed(group.channel)), str(len(group.calls))

    def label(x_mm: float, y_mm: float, words: str) -> tuple[Shape, ...]:
        middle, left = y_mm + high_mm / 2, x_mm + grid.numbers_mm
        return (
            centred(left - 2.0 * grid.zoom, middle, number, size_mm, Anchor.END, bold=True),
            centred(left, middle, name, size_mm, Anchor.START, bold=True),
            centred(x_mm + sheet.column_mm, middle, words, size_mm, Anchor.END, grey=GREY),
        )

    def row(at: int) -> FlowLine:
        def draw(x_mm: float, y_mm: float) -> tuple[Shape, ...]:
            shapes = [] if at else list(label(x_mm, y_mm, count))
            for place, call in enumerate(group.calls[at : at + grid.in_line]):
                shapes += _call(call, grid, x_mm + grid.call_x_mm(place), y_mm + high_mm / 2)
            return tuple(shapes)

        return FlowLine(high_mm, draw)

    first, *others = (row(at) for at in range(0, len(group.calls), grid.in_line))
    return Block(first, tuple(others), FlowLine(high_mm, lambda x_mm, y_mm: label(x_mm, y_mm, GOES_ON)))


def _call(call: Call, grid: _CallGrid, x_mm: float, y_mm: float) -> tuple[Shape, ...]:
    """A box to tick, the step flush right, the row."""
    size_mm, half = TEXT_MM * grid.zoom, TICK_MM * grid.zoom / 2
    left, right = x_mm, x_mm + 2 * half
    box = ((left, y_mm - half), (right, y_mm - half), (right, y_mm + half), (left, y_mm + half))
    step_right = right + TICK_GAP_MM * grid.zoom + grid.steps_mm
    words = fitted(call.words, size_mm, grid.words_mm)
    return (
        Path(box, _TICK, closed=True),
        centred(step_right, y_mm, call.step, size_mm, Anchor.END, bold=True),
        centred(step_right + WORDS_GAP_MM * grid.zoom, y_mm, words, size_mm, Anchor.START),
    )

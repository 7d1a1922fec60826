"""The call list: what one person reads out while another pins, plate by plate."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial

from pegwright.columns import distinct
from pegwright.draw.calls import Call, CallGroup, calls
from pegwright.draw.columns_flow import Block, Column, FlowLine, columns_across, drawn, flowed
from pegwright.draw.furniture import CAUTION, GREY, MARGIN_MM, centred, fitted_text, foot
from pegwright.draw.lettering import fitted, width_mm
from pegwright.draw.marks import RowMark, pin_mark, pull_mark
from pegwright.draw.paper import Paper
from pegwright.draw.plate_page import NO_NOTES, SheetNotes, edition_words, refuse_unmarkable, types_words
from pegwright.draw.swap_heading import moved_counts, swap_heading, swap_title
from pegwright.drawing import Anchor, Page, Path, Pen, Shape, Use, rectangle
from pegwright.frozen import frozen
from pegwright.placement import PinMap
from pegwright.swapping import Moves, Swap
from pegwright.units import plural, printed
from pegwright.wheel import Wheel

HOW = "One calls, one pins: the channel, then each step with its row. Tick what is done."
HOW_ONE_ROW = HOW.replace(" with its row", "")
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


@frozen()
class _Sheet:
    """What the pages of one plate's list have in common; `plate` is 0-based.

    `bare` plates carry nothing; on a `whole` page one column has all the width.
    """

    wheel: Wheel
    swap: Swap
    paper: Paper
    zoom: float
    plate: int
    bare: bool
    whole: bool = False

    @property
    def columns(self) -> tuple[int, float]:
        """How many columns stand side by side, and their width in mm."""
        room_mm = self.paper.short_mm - 2 * MARGIN_MM
        return (1, room_mm) if self.whole else columns_across(room_mm, COLUMN_MM * self.zoom, COLUMN_GAP_MM)


@frozen()
class _CallGrid:
    """The positions of the calls of a section in their column.

    Args:
        numbers_mm, names_mm: widths of the channels' numbers and names.
        steps_mm, words_mm: widths of the steps and rows that are called.
        pitch_mm: from one call to the next.
        in_line: calls side by side.
    """

    numbers_mm: float
    names_mm: float
    steps_mm: float
    words_mm: float
    pitch_mm: float
    in_line: int


def call_pages(
    wheel: Wheel, swap: Swap, old: PinMap | None, new: PinMap, paper: Paper, notes: SheetNotes = NO_NOTES
) -> tuple[Page, ...]:
    """The call lists of a swap: for each plate all pulls, then all sets, by channel, with boxes to tick.

    A place at which there is nothing to do has no page, if there is anything to do at another.

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
    bodies = _fewest_pages(_Sheet(wheel, swap, paper, paper.zoom, 0, old is None))
    width, height = paper.short_mm, paper.long_mm
    how = HOW if len(wheel.rows) > 1 else HOW_ONE_ROW
    lines = (CAUTION, " · ".join((how, *notes.remarks)))  # beside the page number the caution would have no room
    pages = []
    for number, (plate, words, body) in enumerate(bodies):
        page = f"call list, page {printed(number)} of {len(bodies)}"
        head = _heading(width, swap, plate, (old, new), words, notes)
        title = f"{swap_title(old, new)}, call list, {words}"
        pages.append(Page(width, height, (*head, *body, *foot(width, height, page, lines)), title))
    return tuple(pages)


def still_places(swap: Swap) -> list[int]:
    """Places whose plate stays there with all its pins, 0-based; none if nothing is done at any place."""
    moved = {*swap.pull.plate.tolist(), *swap.set_pins.plate.tolist()}
    still = [place for place, before in enumerate(swap.came_from) if before == place and place not in moved]
    return still if len(still) < len(swap.came_from) else []


def _fewest_pages(every: _Sheet) -> list[tuple[int, str, list[Shape]]]:
    """The lists in the largest letters that need no more pages than smaller ones; each place has a page of its own."""
    fewest: list[tuple[int, str, list[Shape]]] = []
    for share in SHARES:
        lists = _lists(replace(every, zoom=every.zoom * share))
        if not fewest or len(lists) < len(fewest):
            fewest = lists
        if len(fewest) == len({place for place, _, _ in fewest}):
            break  # smaller letters cannot save a page
    return fewest


def _lists(every: _Sheet) -> list[tuple[int, str, list[Shape]]]:
    """For each page the plate it belongs to, its place in words, and its body; `every` is what all plates share."""
    lists = []
    still = still_places(every.swap)
    for plate in range(every.wheel.plate_count):
        if plate in still:
            continue
        pages = _bodies(replace(every, plate=plate))
        words = f"place {printed(plate)} of {every.wheel.plate_count}"
        for number, body in enumerate(pages):
            part = f", part {printed(number)} of {len(pages)}" if len(pages) > 1 else ""
            lists.append((plate, words + part, body))
    return lists


def _heading(
    width: float, swap: Swap, plate: int, maps: tuple[PinMap | None, PinMap], words: str, notes: SheetNotes
) -> tuple[Shape | Use, ...]:
    pull, set_pins, stay = moved_counts(swap, plate)
    subject = f"Set {notes.set_name} · {words}" if notes.set_name else words[0].upper() + words[1:]
    sums = f"was {pull + stay:,} − pull {pull:,} + set {set_pins:,} = now {stay + set_pins:,} · {stay:,} stay"
    old, new = maps
    sums = sums if old else f"{plural(set_pins, 'pin')} on this plate"
    edition = "Edition: " + " · ".join(edition_words(new, notes, old))
    sums, keep_mm = sums + (f" · {notes.place}" if notes.place else ""), notes.code_room_mm
    head = swap_heading(width, swap, plate, maps, subject, (edition,), sums, keep_mm, upright=True)
    return (*head, *notes.code(width))


def _bodies(sheet: _Sheet) -> list[list[Shape]]:
    """The body of each page of a plate, between heading and foot."""
    top = MARGIN_MM + HEAD_MM
    pull, set_pins, stay = moved_counts(sheet.swap, sheet.plate)
    if not pull and not set_pins:
        words = f"Nothing to pull, nothing to set: {plural(stay, 'pin')} {'stays' if stay == 1 else 'stay'}."
        room_mm = sheet.paper.short_mm - 2 * MARGIN_MM
        return [[fitted_text(MARGIN_MM, top + 8.0, words, SECTION_MM, room_mm, bold=True)]]
    whole = replace(sheet, whole=True)
    columns = _sections(whole)
    if len(columns) == 1:
        return [[*drawn(columns, MARGIN_MM, top, 0.0)]]
    across, column_mm = sheet.columns
    columns = _sections(sheet)
    starts = range(0, len(columns), across)
    return [[*drawn(columns[at : at + across], MARGIN_MM, top, column_mm + COLUMN_GAP_MM)] for at in starts]


def _sections(sheet: _Sheet) -> list[Column]:
    """All pulls, then all sets, each in columns of their own; where there are only pulls or only sets, they say so."""
    pull, set_pins = sheet.swap.pull, sheet.swap.set_pins
    types = len(distinct(set_pins.pin_type)) > 1
    more = types_words(sheet.wheel, set_pins, sheet.plate).strip(" ()")
    pulls, sets = bool((pull.plate == sheet.plate).any()), bool((set_pins.plate == sheet.plate).any())
    columns: list[Column] = []
    if pulls:
        columns += _section(sheet, pull, "Pull", "" if sets else "nothing to set", pull_mark, types=False)
    if sets:
        words = " · ".join([*([more] if more else []), *([] if pulls or sheet.bare else ["nothing to pull"])])
        columns += _section(sheet, set_pins, "Set", words, pin_mark, types=types)
    return columns


def _section(sheet: _Sheet, moves: Moves, verb: str, more: str, mark: RowMark, types: bool) -> Iterator[Column]:
    """The columns of all pulls or all sets of a plate.

    Args:
        sheet: the plate.
        moves: pins to pull or to set, of all plates.
        verb: what is done to them.
        more: beside that, in smaller letters.
        mark: that of the swap sheet.
        types: whether pin types are called too.
    """
    zoom = sheet.zoom
    rows = moves.row[moves.plate == sheet.plate]
    words, row = f"{verb} {plural(len(rows), 'pin')}", int(rows.min())
    head_mm = SECTION_LINE_MM * zoom
    high_mm = sheet.paper.long_mm - 2 * MARGIN_MM - HEAD_MM - FOOT_MM - head_mm
    blocks = _blocks(sheet, calls(sheet.wheel, moves, sheet.plate, types))
    for number, column in enumerate(flowed(blocks, high_mm, GROUP_GAP_MM * zoom)):
        texts = (f"{words}, {GOES_ON}", "") if number else (words, more)
        head = partial(_section_head, sheet, texts, partial(mark, row))
        yield ((0.0, FlowLine(head_mm, head)), *((head_mm + y_mm, line) for y_mm, line in column))


def _section_head(
    sheet: _Sheet, texts: tuple[str, str], mark: Callable[..., tuple[Shape, ...]], x_mm: float, y_mm: float
) -> tuple[Shape, ...]:
    """The action of the column under it, with the mark of the swap sheet, above a rule."""
    zoom, middle = sheet.zoom, y_mm + 5.0 * sheet.zoom
    mark_mm, begin, end = 5.4 * zoom, x_mm + 8.0 * zoom, x_mm + sheet.columns[1]
    size_mm, more_mm, room_mm = SECTION_MM * zoom, MORE_MM * zoom, sheet.columns[1] - 8.0 * zoom
    words, more = texts
    more = fitted(more, more_mm, room_mm - width_mm(words, size_mm, bold=True) - 4.0)
    y_rule = y_mm + 9.6 * zoom
    return (
        *mark(x_mm + mark_mm / 2, middle, mark_mm),
        centred(begin, middle, words, size_mm, Anchor.START, bold=True),
        centred(end, middle, more, more_mm, Anchor.END, grey=GREY),
        Path(((x_mm, y_rule), (end, y_rule)), _RULE),
    )


def _blocks(sheet: _Sheet, groups: Sequence[CallGroup]) -> list[Block]:
    """Each channel's number, name and count, with its calls between, on a common grid."""
    zoom, size_mm = sheet.zoom, TEXT_MM * sheet.zoom
    every = [call for group in groups for call in group.calls]
    names = [sheet.wheel.channels[group.channel].name for group in groups]
    numbers_mm = max(width_mm(str(printed(group.channel)), size_mm, bold=True) for group in groups) + 2.0 * zoom
    counts_mm = max(width_mm(str(len(group.calls)), size_mm, bold=True) for group in groups) + 3.0 * zoom
    steps_mm = max(width_mm(call.step, size_mm, bold=True) for call in every)
    words_mm = max(width_mm(call.words, size_mm) for call in every)
    column_mm = sheet.columns[1]
    room_mm = column_mm - numbers_mm - counts_mm
    around_mm = (TICK_MM + TICK_GAP_MM + WORDS_GAP_MM) * zoom + steps_mm
    # A shortened name still has its number; a shortened row could be mistaken for another.
    longest_mm = max(width_mm(name, size_mm, bold=True) for name in names) + 3.0 * zoom
    names_mm = min(longest_mm, LONGEST_NAME * column_mm, room_mm - around_mm - words_mm)
    names_mm = max(names_mm, SHORTEST_NAME * column_mm)
    room_mm -= names_mm
    words_mm = min(words_mm, room_mm - around_mm)
    call_mm, gap_mm = around_mm + words_mm, CALL_GAP_MM * zoom
    in_line, _ = columns_across(room_mm, call_mm, gap_mm)
    grid = _CallGrid(numbers_mm, names_mm, steps_mm, words_mm, call_mm + gap_mm, in_line)
    return [_block(sheet, grid, group, name) for group, name in zip(groups, names, strict=True)]


def _block(sheet: _Sheet, grid: _CallGrid, group: CallGroup, name: str) -> Block:
    zoom = sheet.zoom
    size_mm, high_mm = TEXT_MM * zoom, LINE_MM * zoom
    name = fitted(name, size_mm, grid.names_mm - 2.0 * zoom, bold=True)
    number, count = str(printed(group.channel)), str(len(group.calls))

    def label(x_mm: float, y_mm: float, words: str) -> tuple[Shape, ...]:
        middle, left = y_mm + high_mm / 2, x_mm + grid.numbers_mm
        return (
            centred(left - 2.0 * zoom, middle, number, size_mm, Anchor.END, bold=True),
            centred(left, middle, name, size_mm, Anchor.START, bold=True),
            centred(x_mm + sheet.columns[1], middle, words, size_mm, Anchor.END, grey=GREY),
        )

    def row(at: int) -> FlowLine:
        def draw(x_mm: float, y_mm: float) -> Iterator[Shape]:
            if not at:
                yield from label(x_mm, y_mm, count)
            for place, call in enumerate(group.calls[at : at + grid.in_line]):
                left = x_mm + (grid.numbers_mm + grid.names_mm + place * grid.pitch_mm)
                yield from _call(call, grid, zoom, left, y_mm + high_mm / 2)

        return FlowLine(high_mm, draw)

    first, *others = (row(at) for at in range(0, len(group.calls), grid.in_line))
    return Block(first, tuple(others), FlowLine(high_mm, lambda x_mm, y_mm: label(x_mm, y_mm, GOES_ON)))


def _call(call: Call, grid: _CallGrid, zoom: float, x_mm: float, y_mm: float) -> tuple[Shape, ...]:
    """A box to tick, the step flush right, the row."""
    size_mm, half, right = TEXT_MM * zoom, TICK_MM * zoom / 2, x_mm + TICK_MM * zoom
    step_right = right + TICK_GAP_MM * zoom + grid.steps_mm
    words = fitted(call.words, size_mm, grid.words_mm)
    return (
        rectangle(x_mm, y_mm - half, right, y_mm + half, _TICK),
        centred(step_right, y_mm, call.step, size_mm, Anchor.END, bold=True),
        centred(step_right + WORDS_GAP_MM * zoom, y_mm, words, size_mm, Anchor.START),
    )

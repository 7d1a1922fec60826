"""The pin count as a printed page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pegwright.cautions import TOUCH
from pegwright.draw.columns_flow import Block, FlowLine, columns_across, drawn, flowed
from pegwright.draw.furniture import (
    GREY,
    MARGIN_MM,
    SMALL_LINE_MM,
    SMALL_MM,
    centred,
    fitted_text,
    foot,
    heading,
)
from pegwright.draw.lettering import fitted, width_mm, wrapped
from pegwright.draw.paper import Paper
from pegwright.drawing import Anchor, Page, Path, Pen, Shape
from pegwright.frozen import frozen
from pegwright.units import printed

SUBJECT = "Pin count"
TEXT_MM, VERDICT_MM = 4.2, 5.0
HEAD_TEXT, CELL_GAP = 0.76, 0.7  # letters of the heads and gap between cells, as shares of the letters
LINE_MM, TABLE_GAP_MM = 6.2, 8.0
HEAD_MM, FOOT_MM = 26.0, 9.0
COLUMN_MM, COLUMN_GAP_MM = 90.0, 10.0  # minimum width of a column on A4; between columns
MIN_NAME_MM = 18.0
NAME_LINES, NAME_LINE = 3, 1.2  # lines of a name at most; from one to the next, as a share of the letters
PAGE_MM = 36.0  # kept free at the foot for the page number
_RULE = Pen(stroke=0.0, width_mm=0.4)
_HAIR = Pen(stroke=0.75, width_mm=0.12)


@frozen()
class CountTable:
    """One table of a pin count; all cells are text.

    Args:
        head: names of its columns; the first column holds names, the others numbers.
        rows: as many cells each as there are columns.
        total: the last line, as many cells.
        numbers: one for each row, printed before its name; empty for none.
        remark: a line below, or empty.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    total: tuple[str, ...]
    numbers: tuple[str, ...] = ()
    remark: str = ""


def count_pages(
    title: str, facts: str, verdict: str, tables: Sequence[CountTable], paper: Paper, remark: str = ""
) -> tuple[Page, ...]:
    """The tables one after another, in columns, on as many upright pages as they need.

    Args:
        title: the song or the show.
        facts: such as the wheel and the share of spares.
        verdict: what must be bought, in a few words.
        tables: in order.
        paper: held upright.
        remark: for the foot of every page, before the cautions; may be empty.
    """
    width, height, zoom = paper.short_mm, paper.long_mm, paper.zoom
    room_mm, top = width - 2 * MARGIN_MM, MARGIN_MM + HEAD_MM
    remarks = [line for text in (remark, " ".join(TOUCH)) for line in wrapped(text, SMALL_MM, room_mm - PAGE_MM)]
    foot_mm = FOOT_MM + SMALL_LINE_MM * max(0, len(remarks) - 2)
    across, column_mm = columns_across(room_mm, COLUMN_MM * zoom, COLUMN_GAP_MM)
    blocks = [_block(table, column_mm, zoom) for table in tables]
    columns = flowed(blocks, height - MARGIN_MM - foot_mm - top, TABLE_GAP_MM * zoom)
    starts = range(0, len(columns), across)
    pages = []
    for number, start in enumerate(starts):
        page = f"page {printed(number)} of {len(starts)}"
        items = (
            *heading(width, title, SUBJECT, facts),
            fitted_text(MARGIN_MM, MARGIN_MM + 19.5, verdict, VERDICT_MM, room_mm, bold=True),
            *foot(width, height, page, remarks),
            *drawn(columns[start : start + across], MARGIN_MM, top, column_mm + COLUMN_GAP_MM),
        )
        pages.append(Page(width, height, items, f"{title}, pin count, {page}"))
    return tuple(pages)


@frozen()
class _TableGrid:
    """The positions of a table's cells: height of a line, size of letters, widths, right ends of columns of numbers."""

    high_mm: float
    size_mm: float
    numbers_mm: float
    names_mm: float
    ends_mm: tuple[float, ...]


def _grid(table: CountTable, column_mm: float, zoom: float) -> _TableGrid:
    """As wide as its words require; letters shrink where numbers would leave too little room for names."""
    names, *columns = zip(*table.rows, table.total, strict=True)

    def widths(size_mm: float) -> list[float]:
        heads_mm = [width_mm(name, HEAD_TEXT * size_mm) for name in table.head[1:]]
        cells_mm = [max(width_mm(cell, size_mm, bold=True) for cell in column) for column in columns]
        return [max(pair) + CELL_GAP * size_mm for pair in zip(heads_mm, cells_mm, strict=True)]

    size_mm = TEXT_MM * zoom
    numbers_room = column_mm - MIN_NAME_MM * zoom
    size_mm *= min(1.0, numbers_room / sum(widths(size_mm)))
    cells = widths(size_mm)
    numbers_mm = max((width_mm(number, size_mm) for number in table.numbers), default=-1.5) + 1.5
    name_mm, head_mm = max(width_mm(name, size_mm, bold=True) for name in names), width_mm(table.head[0], size_mm, True)
    names_mm = min(max(numbers_mm + name_mm, head_mm) + 0.1, column_mm - sum(cells))
    ends = tuple(names_mm + sum(cells[: place + 1]) for place in range(len(cells)))
    return _TableGrid(LINE_MM * zoom, size_mm, numbers_mm, names_mm, ends)


def _block(table: CountTable, column_mm: float, zoom: float) -> Block:
    grid = _grid(table, column_mm, zoom)
    numbers = table.numbers or ("",) * len(table.rows)
    rows = [
        _row(grid, number, row, _HAIR if place else None)
        for place, (number, row) in enumerate(zip(numbers, table.rows, strict=True))
    ]
    remark = [_remark(table.remark, column_mm, zoom)] if table.remark else []
    head = _head(grid, table.head)
    return Block(head, (*rows, _row(grid, "", table.total, _RULE, last=True), *remark), head)


def _head(grid: _TableGrid, words: Sequence[str]) -> FlowLine:
    def draw(x_mm: float, y_mm: float) -> Iterator[Shape]:
        middle, rule = y_mm + grid.high_mm / 2, y_mm + grid.high_mm - 0.6
        name = fitted(words[0], grid.size_mm, grid.names_mm, bold=True)
        yield centred(x_mm, middle, name, grid.size_mm, Anchor.START, bold=True)
        for end, word in zip(grid.ends_mm, words[1:], strict=True):
            yield centred(x_mm + end, middle, word, HEAD_TEXT * grid.size_mm, Anchor.END, grey=GREY)
        yield Path(((x_mm, rule), (x_mm + grid.ends_mm[-1], rule)), _RULE)

    return FlowLine(grid.high_mm, draw)


def _row(grid: _TableGrid, number: str, cells: Sequence[str], rule: Pen | None, last: bool = False) -> FlowLine:
    """One line of cells; a name that is too long goes on in lines below it."""
    begin = 0.0 if last else grid.numbers_mm
    first, *more = _name_lines(cells[0], grid.size_mm, grid.names_mm - begin, last)
    below_mm = NAME_LINE * grid.size_mm

    def draw(x_mm: float, y_mm: float) -> Iterator[Shape]:
        middle = y_mm + grid.high_mm / 2
        if rule:
            yield Path(((x_mm, y_mm), (x_mm + grid.ends_mm[-1], y_mm)), rule)
        if number:
            yield centred(x_mm + begin - 1.5, middle, number, grid.size_mm, Anchor.END, grey=GREY)
        for place, name in enumerate((first, *more)):
            yield centred(x_mm + begin, middle + place * below_mm, name, grid.size_mm, Anchor.START, bold=last)
        for end, cell in zip(grid.ends_mm, cells[1:], strict=True):
            grey = 0.6 if cell == "0" and not last else 0.0
            yield centred(x_mm + end, middle, cell, grid.size_mm, Anchor.END, bold=last, grey=grey)

    return FlowLine(grid.high_mm + below_mm * len(more), draw)


def _name_lines(name: str, size_mm: float, room_mm: float, bold: bool) -> list[str]:
    """A name in one line or, where it is too long, in up to `NAME_LINES`.

    Args:
        name: the first cell of a row.
        size_mm: of the letters.
        room_mm: width of a line.
        bold: whether it is bold.
    """
    lines = wrapped(name, size_mm, room_mm)
    rest = " ".join(lines[NAME_LINES - 1 :])
    return [fitted(line, size_mm, room_mm, bold) for line in (*lines[: NAME_LINES - 1], *([rest] if rest else []))] or [
        ""
    ]


def _remark(words: str, column_mm: float, zoom: float) -> FlowLine:
    size_mm, high_mm = HEAD_TEXT * TEXT_MM * zoom, LINE_MM * zoom
    line = fitted(words, size_mm, column_mm)
    return FlowLine(
        high_mm, lambda x_mm, y_mm: (centred(x_mm, y_mm + high_mm / 2, line, size_mm, Anchor.START, grey=GREY),)
    )

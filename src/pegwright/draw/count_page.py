"""The pin count as a printed page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pegwright.draw.columns_flow import Block, FlowLine, flowed
from pegwright.draw.furniture import GREY, MARGIN_MM, centred, heading, plain_foot
from pegwright.draw.lettering import fitted, width_mm
from pegwright.draw.paper import Paper
from pegwright.drawing import Anchor, Page, Path, Pen, Shape, Text
from pegwright.units import printed

SUBJECT = "Pin count"
TEXT_MM, VERDICT_MM = 4.2, 5.0
HEAD_TEXT, CELL_GAP = 0.76, 0.7  # letters of the heads and gap between cells, as shares of the letters
LINE_MM, TABLE_GAP_MM = 6.2, 8.0
HEAD_MM, FOOT_MM = 26.0, 9.0
COLUMN_MM, COLUMN_GAP_MM = 90.0, 10.0  # minimum width of a column on A4; between columns
MIN_NAME_MM = 18.0
_A4_SHORT_MM, _MAX_ZOOM = 210.0, 1.35
_RULE = Pen(stroke=0.0, width_mm=0.4)
_HAIR = Pen(stroke=0.75, width_mm=0.12)


@dataclass(frozen=True, slots=True)
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


def count_pages(title: str, facts: str, verdict: str, tables: Sequence[CountTable], paper: Paper) -> tuple[Page, ...]:
    """The tables one after another, in columns, on as many upright pages as they need.

    Args:
        title: the song or the show.
        facts: such as the wheel and the share of spares.
        verdict: what must be bought, in a few words.
        tables: in order.
        paper: held upright.
    """
    width, height = paper.short_mm, paper.long_mm
    zoom = min(max(1.0, width / _A4_SHORT_MM), _MAX_ZOOM)
    room_mm = width - 2 * MARGIN_MM + COLUMN_GAP_MM
    across = max(1, int(room_mm / (COLUMN_MM * zoom + COLUMN_GAP_MM)))
    column_mm = room_mm / across - COLUMN_GAP_MM
    top = MARGIN_MM + HEAD_MM
    high_mm = height - MARGIN_MM - FOOT_MM - top
    columns = flowed([_block(table, column_mm, zoom) for table in tables], high_mm, TABLE_GAP_MM * zoom)
    page_count = -(-len(columns) // across)
    pages = []
    for number in range(page_count):
        page = f"page {printed(number)} of {page_count}"
        shapes: list[Shape] = [
            *heading(width, title, SUBJECT, facts),
            Text(
                MARGIN_MM,
                MARGIN_MM + 19.5,
                fitted(verdict, VERDICT_MM, width - 2 * MARGIN_MM, True),
                VERDICT_MM,
                bold=True,
            ),
            *plain_foot(width, height, page, (), caution=False),
        ]
        for place, column in enumerate(columns[number * across : (number + 1) * across]):
            for y_mm, line in column:
                shapes += line.draw(MARGIN_MM + place * (column_mm + COLUMN_GAP_MM), top + y_mm)
        pages.append(Page(width, height, tuple(shapes), f"{title}, pin count, {page}"))
    return tuple(pages)


@dataclass(frozen=True, slots=True)
class _TableGrid:
    """The positions of a table's cells: widths in mm, sizes of letters, right ends of its columns of numbers."""

    wide_mm: float
    zoom: float
    size_mm: float
    numbers_mm: float
    names_mm: float
    ends_mm: tuple[float, ...]


def _grid(table: CountTable, column_mm: float, zoom: float) -> _TableGrid:
    """As wide as its words require; letters shrink where numbers would leave too little room for names."""
    lines = [*table.rows, table.total]

    def widths(size_mm: float) -> list[float]:
        heads_mm = [width_mm(name, HEAD_TEXT * size_mm) for name in table.head[1:]]
        cells_mm = [
            max(width_mm(line[place], size_mm, bold=True) for line in lines) for place in range(1, len(table.head))
        ]
        return [max(pair) + CELL_GAP * size_mm for pair in zip(heads_mm, cells_mm, strict=True)]

    size_mm = TEXT_MM * zoom
    numbers_room = column_mm - MIN_NAME_MM * zoom
    size_mm *= min(1.0, numbers_room / sum(widths(size_mm)))
    cells = widths(size_mm)
    numbers_mm = max((width_mm(number, size_mm) for number in table.numbers), default=-1.5) + 1.5
    longest_mm = max(
        numbers_mm + max(width_mm(line[0], size_mm, bold=True) for line in lines),
        width_mm(table.head[0], size_mm, bold=True),
    )
    names_mm = min(longest_mm + 0.1, column_mm - sum(cells))
    ends = [names_mm + sum(cells[: place + 1]) for place in range(len(cells))]
    return _TableGrid(ends[-1], zoom, size_mm, numbers_mm, names_mm, tuple(ends))


def _block(table: CountTable, column_mm: float, zoom: float) -> Block:
    grid = _grid(table, column_mm, zoom)
    numbers = table.numbers or ("",) * len(table.rows)
    rows = [
        _row(grid, number, row, place > 0) for place, (number, row) in enumerate(zip(numbers, table.rows, strict=True))
    ]
    remark = [_remark(grid, table.remark, column_mm)] if table.remark else []
    head = _head(grid, table.head)
    return Block(head, (*rows, _row(grid, "", table.total, rule=True, last=True), *remark), head)


def _head(grid: _TableGrid, words: Sequence[str]) -> FlowLine:
    high_mm, size_mm = LINE_MM * grid.zoom, HEAD_TEXT * grid.size_mm

    def draw(x_mm: float, y_mm: float) -> tuple[Shape, ...]:
        middle, rule = y_mm + high_mm / 2, y_mm + high_mm - 0.6
        name = fitted(words[0], grid.size_mm, grid.names_mm, bold=True)
        return (
            centred(x_mm, middle, name, grid.size_mm, Anchor.START, bold=True),
            *(
                centred(x_mm + end, middle, word, size_mm, Anchor.END, grey=GREY)
                for end, word in zip(grid.ends_mm, words[1:], strict=True)
            ),
            Path(((x_mm, rule), (x_mm + grid.wide_mm, rule)), _RULE),
        )

    return FlowLine(high_mm, draw)


def _row(grid: _TableGrid, number: str, cells: Sequence[str], rule: bool, last: bool = False) -> FlowLine:
    high_mm = LINE_MM * grid.zoom

    def draw(x_mm: float, y_mm: float) -> tuple[Shape, ...]:
        middle = y_mm + high_mm / 2
        begin = 0.0 if last else grid.numbers_mm
        name = fitted(cells[0], grid.size_mm, grid.names_mm - begin, bold=last)
        line = Path(((x_mm, y_mm), (x_mm + grid.wide_mm, y_mm)), _RULE if last else _HAIR)
        shapes: list[Shape] = [line] if rule else []
        if number:
            shapes.append(centred(x_mm + begin - 1.5, middle, number, grid.size_mm, Anchor.END, grey=GREY))
        shapes.append(centred(x_mm + begin, middle, name, grid.size_mm, Anchor.START, bold=last))
        for end, cell in zip(grid.ends_mm, cells[1:], strict=True):
            grey = 0.6 if cell == "0" and not last else 0.0
            shapes.append(centred(x_mm + end, middle, cell, grid.size_mm, Anchor.END, bold=last, grey=grey))
        return tuple(shapes)

    return FlowLine(high_mm, draw)


def _remark(grid: _TableGrid, words: str, column_mm: float) -> FlowLine:
    size_mm, high_mm = HEAD_TEXT * TEXT_MM * grid.zoom, LINE_MM * grid.zoom
    line = fitted(words, size_mm, column_mm)
    return FlowLine(
        high_mm, lambda x_mm, y_mm: (centred(x_mm, y_mm + high_mm / 2, line, size_mm, Anchor.START, grey=GREY),)
    )

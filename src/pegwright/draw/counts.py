"""Counts at the edges of a sheet, for checking a pinned plate."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

from pegwright.columns import Ints
from pegwright.draw.furniture import GREY, centred
from pegwright.draw.lettering import width_mm
from pegwright.draw.sheet_layout import COUNT_GAP_MM, LABEL_MM, View
from pegwright.drawing import Anchor, Path, Pen, Shape, Text, rectangle
from pegwright.frozen import frozen

_CELL = Pen(stroke=0.6, width_mm=0.15)
_TOTAL = Pen(stroke=0.0, width_mm=0.4)
_ZERO_GREY = 0.6


@frozen(eq=False)
class CountLine:
    """One line of counts at the foot, and one column of them at the right end.

    Args:
        word: over the column.
        label: beside the line.
        pins: shape (channels, steps), pins of the whole plate.
        zeros: whether a 0 is printed.
        bold: whether other numbers are.
    """

    word: str
    label: str
    pins: Ints
    zeros: bool = True
    bold: bool = True


def counts(view: View, lines: Sequence[CountLine]) -> tuple[Shape, ...]:
    """Pins of every channel at the right end, of every step at the foot, and their sums in the corner.

    Args:
        view: what the page shows.
        lines: at most as many as the layout has room for.
    """
    here = [line.pins[view.shown] for line in lines]
    return (
        *_columns(view, lines, [pins.sum(axis=1).tolist() for pins in here]),
        *_foot(view, lines, [pins.sum(axis=0).tolist() for pins in here]),
        *_corner(view, lines, [int(pins.sum()) for pins in here]),
    )


def _columns(view: View, lines: Sequence[CountLine], totals: Sequence[Sequence[int]]) -> Iterator[Shape]:
    layout, part = view.layout, view.part
    room_mm = layout.count_column_mm - 1.0
    size_mm = _size(view, totals, layout.text_mm, room_mm)
    label_mm = min(LABEL_MM * layout.zoom, room_mm / max(width_mm(line.word, 1.0) for line in lines))
    for number, line in enumerate(lines):
        x_mm = layout.lanes_right_mm + (number + 0.5) * layout.count_column_mm
        yield centred(x_mm, layout.top_mm - layout.ruler_mm / 2, line.word, label_mm, grey=GREY)
        for channel, total in zip(part.channels, totals[number], strict=True):
            if total or line.zeros:
                yield _count(x_mm, layout.lane_y_mm(part, channel), total, size_mm, line.bold)


def _foot(view: View, lines: Sequence[CountLine], totals: Sequence[Sequence[int]]) -> Iterator[Shape]:
    layout, part = view.layout, view.part
    top, pitch, high = _foot_top_mm(view), layout.step_on_page_mm, layout.counts_mm
    size_mm = _size(view, totals, min(0.62 * high, 0.8 * pitch), pitch - 0.7)
    edges = [layout.step_x_mm(part, step - layout.column_share) for step in [*part.steps, part.steps.stop]]
    bottom = top + len(lines) * high
    yield from (Path(((x, top), (x, bottom)), _CELL) for x in edges)
    for number in range(len(lines) + 1):
        yield Path(((edges[0], top + number * high), (edges[-1], top + number * high)), _CELL)
    for number, line in enumerate(lines):
        y_mm = top + (number + 0.5) * high
        yield centred(layout.lanes_left_mm - 1.2, y_mm, line.label, LABEL_MM * layout.zoom, Anchor.END, grey=GREY)
        for (begin, end), total in zip(pairwise(edges), totals[number], strict=True):
            if total or line.zeros:
                bold = line.bold and width_mm(str(total), size_mm, bold=True) <= pitch - COUNT_GAP_MM
                yield _count((begin + end) / 2, y_mm, total, size_mm, bold)


def _corner(view: View, lines: Sequence[CountLine], totals: Sequence[int]) -> Iterator[Shape]:
    """The sums in a frame, each at the end of its line; the last one is emphasised."""
    layout, high = view.layout, view.layout.counts_mm
    top, left = _foot_top_mm(view), layout.lanes_right_mm
    right, bottom = left + len(lines) * layout.count_column_mm, top + len(lines) * high
    yield rectangle(left, top, right, bottom, _TOTAL)
    size_mm = min(4.0 * layout.zoom, 0.9 * high)
    for number, (line, total) in enumerate(zip(lines, totals, strict=True)):
        y_mm = top + (number + 0.5) * high
        if len(lines) == 1:
            yield centred((left + right) / 2, y_mm, str(total), size_mm, bold=True)
        else:
            yield centred(left + 2.0, y_mm, line.word, LABEL_MM * layout.zoom, Anchor.START, grey=GREY)
            yield centred(right - 2.0, y_mm, str(total), size_mm, Anchor.END, bold=True)


def _foot_top_mm(view: View) -> float:
    return view.layout.bottom_mm(view.part) + view.layout.ruler_mm


def _size(view: View, totals: Iterable[Iterable[int]], max_mm: float, room_mm: float) -> float:
    """The size at which the widest of the totals fits its room, not below the minimum of the layout."""
    widest = max(width_mm(str(total), 1.0, bold=True) for line in totals for total in line)
    return max(view.layout.min_text_mm, min(max_mm, room_mm / widest))


def _count(x_mm: float, y_mm: float, total: int, size_mm: float, bold: bool) -> Text:
    return centred(x_mm, y_mm, str(total), size_mm, bold=bold and total > 0, grey=0.0 if total else _ZERO_GREY)

"""The set-up sheet: how a sheet lies on the machine, where its zero is, which programs are run in what order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pegwright.columns import tuples
from pegwright.draw.furniture import GREY, MARGIN_MM, SMALL_LINE_MM, SMALL_MM, foot, heading
from pegwright.draw.lettering import wrapped
from pegwright.draw.paper import Paper
from pegwright.draw.plate_drawing import box_mm, face_words, turning_words
from pegwright.drawing import Anchor, Circle, Page, Path, Pen, Shape, Text
from pegwright.frozen import frozen
from pegwright.making import HoleKind, Pattern
from pegwright.units import percent_text, printed

SUBJECT = "Set-up sheet"
HEAD_MM, FOOT_MM, GAP_MM = 26.0, 12.0, 5.0
TEXT_MM, LINE_MM, NAME_MM = 3.5, 4.8, 4.2
_DRAWING_MM = 14.0  # kept free about the drawing for arrows and names of its edges
_MAX_SHARE = 0.42  # of the page's height that the drawing takes
_EDGE, _HOLE, _FIXING = Pen(width_mm=0.35), Pen(stroke=0.45, width_mm=0.08), Pen(width_mm=0.25)
_AXIS = Pen(width_mm=0.5)
_ZERO_MM, _AXIS_MM, _AXIS_GAP_MM = 2.2, 5.0, 1.2
_HEAD = ((1.2, -0.8), (0.0, 0.0), (1.2, 0.8))  # back from the tip of an arrow and to its sides


@frozen()
class Section:
    """A heading and the paragraphs below it.

    Args:
        name: the heading.
        paragraphs: each begins on a line of its own.
    """

    name: str
    paragraphs: tuple[str, ...]


def setup_pages(pattern: Pattern, name: str, sections: Sequence[Section], paper: Paper) -> tuple[Page, ...]:
    """The sheet as upright pages: the drawing, then the sections.

    Args:
        pattern: what is drilled.
        name: of the wheel.
        sections: in order.
        paper: held upright.
    """
    width, height = paper.short_mm, paper.long_mm
    title = f"{name}: {pattern.title}"
    top, bottom = MARGIN_MM + HEAD_MM, height - MARGIN_MM - FOOT_MM
    drawing, used_mm = _drawing(pattern, width, top, _MAX_SHARE * height)
    columns = list(_flowed(list(_lines(sections, width - 2 * MARGIN_MM)), top + used_mm + GAP_MM, top, bottom))
    pages = []
    for number, lines in enumerate(columns):
        page = f"page {printed(number)} of {len(columns)}"
        items = (
            *heading(width, title, SUBJECT, face_words(pattern), page),
            Text(MARGIN_MM, MARGIN_MM + 16.0, turning_words(pattern), SMALL_MM, grey=GREY),
            *(drawing if number == 0 else ()),
            *lines,
            *foot(width, height, page, ()),
        )
        pages.append(Page(width, height, items, f"{title}, {SUBJECT.lower()}, {page}"))
    return tuple(pages)


def _lines(sections: Sequence[Section], room_mm: float) -> Iterator[tuple[str, float, bool]]:
    """Words, height and boldness of each line."""
    for section in sections:
        yield section.name, NAME_MM * 1.75, True
        for paragraph in section.paragraphs:
            for line in wrapped(paragraph, TEXT_MM, room_mm):
                yield line, LINE_MM, False


def _flowed(
    lines: Sequence[tuple[str, float, bool]], first_mm: float, top_mm: float, bottom_mm: float
) -> Iterator[list[Shape]]:
    """Lines set on as many pages as they need, the first beginning lower.

    Args:
        lines: words, height and boldness of each.
        first_mm: where the first page's lines begin.
        top_mm: where those of others begin.
        bottom_mm: where all end.
    """
    page: list[Shape] = []
    y_mm = first_mm
    for place, (words, high_mm, bold) in enumerate(lines):
        after_mm = lines[place + 1][1] if bold and place + 1 < len(lines) else 0.0  # a heading keeps its first line
        if y_mm + high_mm + after_mm > bottom_mm:
            yield page
            page, y_mm = [], top_mm
        y_mm += high_mm
        page.append(Text(MARGIN_MM, y_mm - 1.2, words, NAME_MM if bold else TEXT_MM, bold=bold))
    yield page


def _drawing(pattern: Pattern, width: float, top_mm: float, max_mm: float) -> tuple[tuple[Shape, ...], float]:
    """The sheet as it lies on the table, made smaller, and its height on the page.

    Args:
        pattern: what is drilled.
        width: of the page.
        top_mm: where it begins.
        max_mm: its maximum height.
    """
    left, low, right, high = box_mm(pattern)
    room_mm = width - 2 * (MARGIN_MM + _DRAWING_MM)
    scale = min(1.0, room_mm / (right - left), (max_mm - _DRAWING_MM) / (high - low))
    x_mm, y_mm = (width - scale * (left + right)) / 2, top_mm + _DRAWING_MM / 2 + scale * high
    used_mm = scale * (high - low) + _DRAWING_MM / 2 + 2 * SMALL_LINE_MM
    return tuple(_scaled(pattern, scale, x_mm, y_mm)), used_mm


def _scaled(pattern: Pattern, scale: float, x_mm: float, y_mm: float) -> Iterator[Shape]:
    """Sheet, holes, zero and the lower left corner.

    Args:
        pattern: what is drilled.
        scale: of the drawing.
        x_mm: where the zero lies on the page.
        y_mm: the same, downwards.
    """
    left, low, right, high = box_mm(pattern)
    yield Path(tuple((x_mm + scale * x, y_mm - scale * y) for x, y in pattern.outline), _EDGE, closed=True)
    for line in pattern.marks.lines:
        yield Path(tuple((x_mm + scale * x, y_mm - scale * y) for x, y in line), _HOLE)
    holes = pattern.holes
    for kind, x, y, diameter in tuples(holes.kind, holes.x_mm, holes.y_mm, holes.diameter_mm):
        pen = _HOLE if kind == HoleKind.PIN else _FIXING
        yield Circle(x_mm + scale * x, y_mm - scale * y, scale * diameter / 2, pen)
    yield Circle(x_mm, y_mm, _ZERO_MM, _AXIS)
    yield from _axes(x_mm, y_mm, x_mm + scale * left, y_mm - scale * high)
    foot_mm = y_mm - scale * low
    corner = f"X{left:.3f} Y{low:.3f}"
    yield Text(x_mm + scale * left, foot_mm + SMALL_LINE_MM, f"corner when cut: {corner}", SMALL_MM)
    size = f"{right - left:.2f} x {high - low:.2f} mm; drawn {percent_text(scale)} of its size"
    yield Text(x_mm + scale * right, foot_mm + SMALL_LINE_MM, size, SMALL_MM, Anchor.END, grey=GREY)


def _axes(x_mm: float, y_mm: float, left_mm: float, top_mm: float) -> Iterator[Shape]:
    """Arrows in line with the zero that end short of the sheet, where they lie over no hole.

    Args:
        x_mm: where the zero lies on the page.
        y_mm: the same, downwards.
        left_mm: where the sheet's left edge is drawn.
        top_mm: where its upper edge is.
    """
    tip_mm = left_mm - _AXIS_GAP_MM
    yield Path(((tip_mm - _AXIS_MM, y_mm), (tip_mm, y_mm)), _AXIS)
    yield Path(tuple((tip_mm - back, y_mm + off) for back, off in _HEAD), _AXIS)
    yield Text(tip_mm - _AXIS_MM - 3.2, y_mm + 1.2, "X", TEXT_MM, bold=True)
    low_mm = top_mm - _AXIS_GAP_MM
    yield Path(((x_mm, low_mm), (x_mm, low_mm - _AXIS_MM)), _AXIS)
    yield Path(tuple((x_mm + off, low_mm - _AXIS_MM + back) for back, off in _HEAD), _AXIS)
    yield Text(x_mm + 1.8, low_mm - _AXIS_MM + 2.4, "Y", TEXT_MM, bold=True)

"""Looking at drawn pages without any file format."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import combinations

from pegwright.draw.bounds import bounds_mm
from pegwright.draw.lettering import CAP_HEIGHT, text_span_mm
from pegwright.draw.marks import STAY_GREY
from pegwright.draw.sheet_layout import SheetLayout
from pegwright.drawing import Circle, Page, Path, Shape, Text, Use
from pegwright.wheel import Wheel


def expanded(items: Iterable[Shape | Use], dx: float = 0.0, dy: float = 0.0) -> list[Shape]:
    """All shapes of a page in drawing order, symbols written out where they are used."""
    shapes: list[Shape] = []
    for item in items:
        if isinstance(item, Use):
            shapes += expanded(item.symbol.shapes, dx + item.x_mm, dy + item.y_mm)
        elif isinstance(item, Path):
            shapes.append(replace(item, points=tuple((x + dx, y + dy) for x, y in item.points)))
        else:
            shapes.append(replace(item, x_mm=item.x_mm + dx, y_mm=item.y_mm + dy))
    return shapes


def texts(page: Page) -> list[Text]:
    return [shape for shape in expanded(page.items) if isinstance(shape, Text)]


def box(shape: Path | Circle) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of the bare outline."""
    if isinstance(shape, Circle):
        radius = shape.radius_mm
        return shape.x_mm - radius, shape.y_mm - radius, shape.x_mm + radius, shape.y_mm + radius
    xs, ys = zip(*shape.points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def letters_box(text: Text) -> tuple[float, float, float, float]:
    """The box about a level text's capitals and figures."""
    begin, end = text_span_mm(text)
    return text.x_mm + begin, text.y_mm - CAP_HEIGHT * text.size_mm, text.x_mm + end, text.y_mm


def middle(shape: Path | Circle) -> tuple[float, float]:
    left, top, right, bottom = box(shape)
    return (left + right) / 2, (top + bottom) / 2


def black_marks(page: Page) -> list[Path | Circle]:
    """Everything filled black without a stroke: the pins and the legend's marks, with no figure of theirs."""
    return [
        shape
        for shape in expanded(page.items)
        if not isinstance(shape, Text) and shape.pen.fill == 0.0 and shape.pen.stroke is None
    ]


def overlap(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    """Whether two boxes share more than a hair."""
    hair = 0.01
    return (
        one[0] < other[2] - hair and other[0] < one[2] - hair and one[1] < other[3] - hair and other[1] < one[3] - hair
    )


def stays_on_paper(page: Page, margin_mm: float = 4.0) -> bool:
    """Whether all shapes with their strokes keep away from the paper's edges."""
    left, top, right, bottom = bounds_mm(page.items)
    inside = right <= page.width_mm - margin_mm and bottom <= page.height_mm - margin_mm
    return inside and left >= margin_mm and top >= margin_mm


def overlapping_texts(page: Page) -> list[tuple[str, str]]:
    """Level texts of which one lies on another."""
    level = [(letters_box(text), text.text) for text in texts(page) if not text.turn_deg and text.text]
    return [
        (words, other_words) for (one, words), (other, other_words) in combinations(level, 2) if overlap(one, other)
    ]


def done_to_pins(page: Page, top_mm: float, bottom_mm: float) -> list[tuple[str, float, float]]:
    """What a swap sheet's marks between two heights say: `pull`, `set`, `change` or `stay`, and their middles."""
    found: dict[tuple[float, float], set[str]] = {}
    for shape in expanded(page.items):
        if isinstance(shape, Text):
            continue
        x, y = middle(shape)
        if not top_mm < y < bottom_mm:
            continue
        pen, line = shape.pen, isinstance(shape, Path) and not shape.closed
        signs = {
            "arrow": line and pen.stroke == 0.0 and box(shape)[0] < box(shape)[2] and box(shape)[1] < box(shape)[3],
            "outline": not line and pen.stroke == 0.0 and pen.fill == 1.0,
            "solid": pen.fill == 0.0 and pen.stroke is None,
            "pale": pen.fill == STAY_GREY,
        }
        found.setdefault((round(x, 6), round(y, 6)), set()).update(sign for sign, seen in signs.items() if seen)
    kinds = {("arrow", "outline"): "pull", ("solid",): "set", ("outline", "solid"): "change", ("pale",): "stay"}
    return [(kinds[tuple(sorted(signs))], x, y) for (x, y), signs in found.items() if signs]


def pin_place(
    layout: SheetLayout, on: Wheel, plate: int, channel: int, row: int, index: int
) -> tuple[int, float, float]:
    """Number of the page that shows a hole, all counted from 0, and its centre there in mm."""
    step = int(on.rows[row].position_steps(index))
    ((number, part),) = [
        (number, part) for number, part in enumerate(layout.parts) if step in part.steps and channel in part.channels
    ]
    return plate * len(layout.parts) + number, *layout.hole_mm(on, part, channel, row, index)

"""Looking at drawn pages without any file format."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from pegwright.draw.lettering import CAP_HEIGHT, text_span_mm
from pegwright.drawing import Circle, Page, Path, Shape, Text, Use


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

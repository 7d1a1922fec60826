"""Bounding boxes of shapes."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TypeAlias

from pegwright.draw.lettering import text_span_mm
from pegwright.drawing import Circle, Shape, Text, Use

Box: TypeAlias = tuple[float, float, float, float]
_ASCENT, _DESCENT = 0.93, 0.24  # of the size, Source: the font's hhea table, 1901 and 483 of 2048


def bounds_mm(items: Iterable[Shape | Use]) -> Box:
    """The smallest upright box about all items with their strokes: left, top, right, bottom.

    Raises:
        ValueError: there are no items.
    """
    boxes = [_box(item) for item in items]
    if not boxes:
        raise ValueError("no items, so no bounds")
    lefts, tops, rights, bottoms = zip(*boxes, strict=True)
    return min(lefts), min(tops), max(rights), max(bottoms)


def _box(item: Shape | Use) -> Box:
    if isinstance(item, Use):
        left, top, right, bottom = bounds_mm(item.symbol.shapes)
        return left + item.x_mm, top + item.y_mm, right + item.x_mm, bottom + item.y_mm
    if isinstance(item, Text):
        return _text_box(item)
    more = item.pen.width_mm / 2 if item.pen.stroke is not None else 0.0
    if isinstance(item, Circle):
        more += item.radius_mm
        return item.x_mm - more, item.y_mm - more, item.x_mm + more, item.y_mm + more
    return _around(item.points, more)


def _text_box(text: Text) -> Box:
    begin, end = text_span_mm(text)
    sine, cosine = math.sin(math.radians(text.turn_deg)), math.cos(math.radians(text.turn_deg))
    corners = [(x, y) for x in (begin, end) for y in (-_ASCENT * text.size_mm, _DESCENT * text.size_mm)]
    turned = [(text.x_mm + x * cosine - y * sine, text.y_mm + x * sine + y * cosine) for x, y in corners]
    return _around(turned, 0.0)


def _around(points: Iterable[tuple[float, float]], more: float) -> Box:
    xs, ys = zip(*points, strict=True)
    return min(xs) - more, min(ys) - more, max(xs) + more, max(ys) + more

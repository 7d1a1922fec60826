"""Flat drawings in millimetres, before any file format.

A page's origin is its top left corner; x runs right, y runs down. Meaning is turned into these
shapes once (`draw/`), and each writer turns shapes into one format.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TypeAlias

from pegwright.frozen import frozen


class Anchor(StrEnum):
    """Which end of a text lies at its point."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


@frozen()
class Pen:
    """How a shape is inked; greys run from 0 (black) to 1 (white), None leaves that part blank."""

    stroke: float | None = 0.0
    fill: float | None = None
    width_mm: float = 0.2
    dash_mm: tuple[float, ...] = ()


@frozen()
class Path:
    """Straight lines through points in mm; closed ones can be filled."""

    points: tuple[tuple[float, float], ...]
    pen: Pen
    closed: bool = False


def rectangle(left_mm: float, top_mm: float, right_mm: float, bottom_mm: float, pen: Pen) -> Path:
    """An upright rectangle.

    Args:
        left_mm: its left edge.
        top_mm: its upper edge.
        right_mm: its right edge.
        bottom_mm: its lower edge.
        pen: of its outline, and to fill it.
    """
    corners = ((left_mm, top_mm), (right_mm, top_mm), (right_mm, bottom_mm), (left_mm, bottom_mm))
    return Path(corners, pen, closed=True)


@frozen()
class Circle:
    """A circle about a centre, in mm."""

    x_mm: float
    y_mm: float
    radius_mm: float
    pen: Pen


@frozen()
class Text:
    """One line of text on its baseline; `turn_deg` turns it clockwise about its point."""

    x_mm: float
    y_mm: float
    text: str
    size_mm: float
    anchor: Anchor = Anchor.START
    bold: bool = False
    grey: float = 0.0
    turn_deg: float = 0.0


Shape: TypeAlias = Path | Circle | Text


@frozen()
class Symbol:
    """Shapes drawn once and used on many pages, such as the empty hole grid of a plate."""

    name: str
    shapes: tuple[Shape, ...]

    def __hash__(self) -> int:
        return len(self.shapes)  # to hash thousands of shapes takes as long as to draw them


@frozen()
class Use:
    """A symbol placed with its origin at a point of the page, in mm."""

    symbol: Symbol
    x_mm: float
    y_mm: float


@frozen()
class Page:
    """One page.

    Args:
        width_mm, height_mm: of the paper.
        items: drawn in order, later ones on top.
        title: what the page is, for outlines and screen readers.
    """

    width_mm: float
    height_mm: float
    items: tuple[Shape | Use, ...]
    title: str = ""

"""Marks of a pin, an empty hole and a lost hole, and of what is done to a pin in a swap.

A pin's outline shows its row, the figure in its middle its pin type. In a swap an outline with an arrow
up through it means pull, a solid mark set, a solid mark in a square frame that the pin is replaced by one of
another type, and a small pale mark is a pin that stays. A stroke across a mark would read as "no", so none has
one. Every mark is drawn so that the middle of its bounding box is
the middle of the hole.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeAlias

from pegwright.drawing import Circle, Path, Pen, Shape, rectangle

HALO_MM = 0.25  # white round every mark, which separates it from the lines under it
RING = Pen(stroke=0.45, fill=1.0, width_mm=0.15)
CROSS = Pen(stroke=0.3, width_mm=0.2)
_BLACK = Pen(stroke=None, fill=0.0)
_WHITE = Pen(stroke=None, fill=1.0)
_HALO = Pen(stroke=1.0, fill=None, width_mm=2 * HALO_MM)
_CORE = 0.5  # the white inside of a hollow mark, as a share of the whole
# Of the marks of a swap, as shares of the mark's size:
_OUTLINE, _ARROW, _ARROW_HALO, _FRAME = 0.1, 0.12, 0.04, 0.09
_CHANGED, _STAYING = 0.62, 0.6
_BARBS, _ASIDE = 0.25, 0.55  # of the arrow: where its barbs end, up and aside of its middle, as shares of its half
STAY_GREY = 0.55
_PALE = Pen(stroke=None, fill=STAY_GREY)
_Points = Sequence[tuple[float, float]]
RowMark: TypeAlias = Callable[[int, float, float, float], tuple[Shape, ...]]  # row, middle of the hole, size

# Outlines in the square from -1 to 1; None is the disc. Six that can still be distinguished at 2 mm
# (a square or a diamond looks like the disc), first filled, then hollow.
_OUTLINES: tuple[_Points | None, ...] = (
    None,
    ((0.0, -1.0), (1.0, 1.0), (-1.0, 1.0)),
    ((-0.55, -1.0), (0.55, -1.0), (0.55, 1.0), (-0.55, 1.0)),
    ((-1.0, -1.0), (1.0, -1.0), (0.4, 0.0), (1.0, 1.0), (-1.0, 1.0), (-0.4, 0.0)),
    (
        *((-0.35, -1.0), (0.35, -1.0), (0.35, -0.35), (1.0, -0.35), (1.0, 0.35), (0.35, 0.35)),
        *((0.35, 1.0), (-0.35, 1.0), (-0.35, 0.35), (-1.0, 0.35), (-1.0, -0.35), (-0.35, -0.35)),
    ),
    ((-1.0, -0.55), (1.0, -0.55), (1.0, 0.55), (-1.0, 0.55)),
)
# Figures for pin types after the first: a dot, a slot across, a slot upright.
_FIGURES: tuple[_Points | None, ...] = (
    None,
    ((-1.0, -0.4), (1.0, -0.4), (1.0, 0.4), (-1.0, 0.4)),
    ((-0.4, -1.0), (0.4, -1.0), (0.4, 1.0), (-0.4, 1.0)),
)
_FIGURE = 0.38  # size of a figure as a share of the mark
ROW_MARKS = 2 * len(_OUTLINES)
PIN_TYPE_MARKS = 1 + len(_FIGURES)


def pin_mark(row: int, x_mm: float, y_mm: float, size_mm: float, pin_type: int = 0) -> tuple[Shape, ...]:
    """The mark of a pin.

    Args:
        row: 0-based, below `ROW_MARKS`.
        x_mm: the middle of the hole.
        y_mm: the same, down.
        size_mm: the longer side of the mark's bounding box, without its white halo.
        pin_type: 0-based, below `PIN_TYPE_MARKS`.
    """
    body = _body(row, x_mm, y_mm, size_mm, _BLACK, _WHITE)
    if not pin_type:
        return body
    ink = _BLACK if row >= len(_OUTLINES) else _WHITE
    return (*body, _scaled(_FIGURES[pin_type - 1], x_mm, y_mm, size_mm / 2 * _FIGURE, ink))


def pull_mark(row: int, x_mm: float, y_mm: float, size_mm: float) -> tuple[Shape, ...]:
    """A pin to take out: the outline of its row's mark, an arrow up through it; arguments as for `pin_mark`."""
    pen = Pen(stroke=0.0, fill=1.0, width_mm=_OUTLINE * size_mm)
    return (*_body(row, x_mm, y_mm, size_mm, pen, pen), *_arrow(x_mm, y_mm, size_mm))


def change_mark(row: int, x_mm: float, y_mm: float, size_mm: float, pin_type: int = 0) -> tuple[Shape, ...]:
    """A pin to take out of a hole and one of another type to set there, in a frame; arguments as for `pin_mark`."""
    half, corner = size_mm / 2, size_mm * (1 - _FRAME) / 2
    halo = rectangle(x_mm - half, y_mm - half, x_mm + half, y_mm + half, _HALO)
    pen = Pen(stroke=0.0, fill=1.0, width_mm=_FRAME * size_mm)
    frame = rectangle(x_mm - corner, y_mm - corner, x_mm + corner, y_mm + corner, pen)
    return (halo, frame, *pin_mark(row, x_mm, y_mm, size_mm * _CHANGED, pin_type))


def stay_mark(row: int, x_mm: float, y_mm: float, size_mm: float) -> tuple[Shape, ...]:
    """A pin to leave alone: small and pale; arguments as for `pin_mark`."""
    return _body(row, x_mm, y_mm, size_mm * _STAYING, _PALE, _WHITE)


def hole_ring(x_mm: float, y_mm: float, size_mm: float) -> tuple[Circle]:
    """An empty hole.

    Args:
        x_mm: its middle.
        y_mm: the same, down.
        size_mm: its diameter on the page.
    """
    return (Circle(x_mm, y_mm, size_mm / 2, RING),)


def lost_cross(x_mm: float, y_mm: float, size_mm: float) -> tuple[Path, Path]:
    """A hole that is lost.

    Args:
        x_mm: its middle.
        y_mm: the same, down.
        size_mm: of the cross.
    """
    left, top, right, bottom = x_mm - size_mm / 2, y_mm - size_mm / 2, x_mm + size_mm / 2, y_mm + size_mm / 2
    return Path(((left, top), (right, bottom)), CROSS), Path(((left, bottom), (right, top)), CROSS)


def _body(row: int, x_mm: float, y_mm: float, size_mm: float, pen: Pen, core: Pen) -> tuple[Shape, ...]:
    """The halo and the outline of a row's mark, in a hollow one also its core.

    Args:
        row: as in `pin_mark`.
        x_mm: the middle of the hole.
        y_mm: the same, down.
        size_mm: as in `pin_mark`, with the pen's stroke.
        pen: of the outline.
        core: pen of the core.
    """
    hollow, outline = divmod(row, len(_OUTLINES))
    half = size_mm / 2 if pen.stroke is None else (size_mm - pen.width_mm) / 2
    halves = [(size_mm / 2, _HALO), (half, pen), *([(half * _CORE, core)] if hollow else [])]
    return tuple(_scaled(_OUTLINES[outline], x_mm, y_mm, half_mm, each) for half_mm, each in halves)


def _arrow(x_mm: float, y_mm: float, size_mm: float) -> tuple[Path, Path]:
    """A bold arrow up, as tall as the mark's square, on white: out of the hole."""
    half = size_mm * (1 - _ARROW) / 2
    low, tip, barbs, aside = y_mm + half, y_mm - half, y_mm - _BARBS * half, _ASIDE * half
    line = ((x_mm, low), (x_mm, tip), (x_mm - aside, barbs), (x_mm, tip), (x_mm + aside, barbs))
    under = Pen(stroke=1.0, width_mm=(_ARROW + 2 * _ARROW_HALO) * size_mm)
    return Path(line, under), Path(line, Pen(stroke=0.0, width_mm=_ARROW * size_mm))


def _scaled(outline: _Points | None, x_mm: float, y_mm: float, half_mm: float, pen: Pen) -> Shape:
    if outline is None:
        return Circle(x_mm, y_mm, half_mm, pen)
    return Path(tuple((x_mm + x * half_mm, y_mm + y * half_mm) for x, y in outline), pen, closed=True)

"""The drawing of a pattern at true size, as one page: for a screen, a laser or a plotter."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from pegwright.columns import tuples
from pegwright.draw.furniture import CHECK_BAR_MM, GREY
from pegwright.draw.strokes import mark_strokes
from pegwright.drawing import Anchor, Circle, Page, Path, Pen, Shape, Text
from pegwright.making import HoleKind, Pattern

BORDER_MM = 20.0  # about the sheet; holds words and bars
WORDS_MM = 4.0
_BAR = Pen(width_mm=0.3)
_HOLE = Pen(width_mm=0.1)
_EDGE = Pen(width_mm=0.2)
_MARK = Pen(stroke=0.3, width_mm=0.1)
_BAR_WORDS = f"{CHECK_BAR_MM:g} mm"


def plate_drawing(pattern: Pattern, name: str) -> Page:
    """A pattern at true size with a border about it, as it lies on the table.

    Args:
        pattern: what is drilled, cut and engraved.
        name: of the wheel.
    """
    left, low, right, high = box_mm(pattern)
    width, height = max(right - left, CHECK_BAR_MM) + 2 * BORDER_MM, max(high - low, CHECK_BAR_MM) + 2 * BORDER_MM
    title = f"{name}: {pattern.title}"
    items = (
        *table_shapes(pattern, BORDER_MM - left, BORDER_MM + high),
        *_bars(height),
        Text(BORDER_MM, WORDS_MM + 3, f"{title}, {face_words(pattern)}", WORDS_MM),
        Text(BORDER_MM, WORDS_MM + 9, turning_words(pattern), WORDS_MM, grey=GREY),
    )
    return Page(width, height, items, title)


def table_shapes(pattern: Pattern, x_mm: float, y_mm: float) -> Iterator[Shape]:
    """Edge, marks, slots and holes on a page whose y runs down.

    Args:
        pattern: what is drilled, cut and engraved.
        x_mm: where step 1 lies on the page.
        y_mm: where the middle of channel 1 lies on the page.
    """
    yield Path(tuple((x_mm + x, y_mm - y) for x, y in pattern.outline), _EDGE, closed=True)
    for stroke in mark_strokes(pattern.marks):
        yield Path(tuple((x_mm + x, y_mm - y) for x, y in stroke), _MARK)
    for side in slot_sides(pattern):
        yield Path(tuple((x_mm + x, y_mm - y) for x, y in side), _HOLE)
    holes = pattern.holes
    for x, y, diameter in tuples(holes.x_mm, holes.y_mm, holes.diameter_mm):
        yield Circle(x_mm + x, y_mm - y, diameter / 2, _HOLE)


def box_mm(pattern: Pattern) -> tuple[float, float, float, float]:
    """The box about a sheet on the table: left, lower, right, upper."""
    across, along = zip(*pattern.outline, strict=True)
    return min(across), min(along), max(across), max(along)


def slot_sides(pattern: Pattern) -> tuple[tuple[tuple[float, float], ...], ...]:
    """The two straight sides of every slot, between the holes at its ends, on the table."""
    holes = pattern.holes
    sides = []
    for fixing in np.unique(holes.fixing[holes.kind == HoleKind.SLOT]).tolist():
        ends = np.flatnonzero((holes.fixing == fixing) & (holes.kind == HoleKind.SLOT))
        first, last = ends[0], ends[-1]
        dx, dy = holes.x_mm[last] - holes.x_mm[first], holes.y_mm[last] - holes.y_mm[first]
        length, radius = math.hypot(dx, dy), holes.diameter_mm[first] / 2
        if not length:
            continue
        off_x, off_y = -dy / length * radius, dx / length * radius
        for sign in (1, -1):
            points = [(holes.x_mm[end] + sign * off_x, holes.y_mm[end] + sign * off_y) for end in (first, last)]
            sides.append(tuple((float(x), float(y)) for x, y in points))
    return tuple(sides)


def face_words(pattern: Pattern) -> str:
    """Which face is seen, and of a plate where step 1 and channel 1 are."""
    if not pattern.plates:
        return f"{pattern.face} face up"
    edge = "upper" if pattern.face == "outer" else "lower"
    mirrored = "" if pattern.face == "outer" else " (mirrored)"
    return f"{pattern.face} face up{mirrored}; step 1 at the left, channel 1 at the {edge} edge"


def turning_words(pattern: Pattern) -> str:
    """Which way a plate turns, in words, for the sheet as it lies; nothing of a part that is no plate."""
    if not pattern.plates:
        return ""
    return "Step 1 passes the levers first: mounted, the plate moves towards its left edge as it is drawn here."


def zero_words(pattern: Pattern) -> str:
    """Where the zero is."""
    if not pattern.plates:
        return "X0 and Y0 are where the places in holes.csv count from, X to the right; Z0 is the upper face"
    return "X0 is step 1, along the plate to the right; Y0 is the middle of channel 1; Z0 is the upper face"


def _bars(height: float) -> Iterator[Shape]:
    """A bar of 100 mm below the sheet and one at its left, to check the size by."""
    y_mm, x_mm = height - BORDER_MM / 2, BORDER_MM / 2
    flat = ((BORDER_MM, y_mm), (BORDER_MM + CHECK_BAR_MM, y_mm))
    upright = ((x_mm, BORDER_MM), (x_mm, BORDER_MM + CHECK_BAR_MM))
    yield Path(flat, _BAR)
    yield Path(upright, _BAR)
    for x, _ in flat:
        yield Path(((x, y_mm - 2), (x, y_mm + 2)), _BAR)
    for _, y in upright:
        yield Path(((x_mm - 2, y), (x_mm + 2, y)), _BAR)
    yield Text(BORDER_MM + CHECK_BAR_MM / 2, y_mm - 1.5, _BAR_WORDS, WORDS_MM, Anchor.MIDDLE)
    yield Text(x_mm - 1.5, BORDER_MM + CHECK_BAR_MM / 2, _BAR_WORDS, WORDS_MM, Anchor.MIDDLE, turn_deg=-90.0)

"""The check template: a pattern at true size over as many sheets of paper as it takes, to lay on a drilled sheet."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from pegwright.columns import distinct, tuples
from pegwright.draw.furniture import (
    ABOVE_FOOT_MM,
    GREY,
    MARGIN_MM,
    PAGE_NUMBER_MM,
    SMALL_LINE_MM,
    SMALL_MM,
    centred,
    check_bars,
    two_ends,
)
from pegwright.draw.lettering import wrapped
from pegwright.draw.paper import Paper
from pegwright.draw.plate_drawing import box_mm, face_words, slot_sides
from pegwright.draw.strokes import Stroke, text_strokes
from pegwright.drawing import Anchor, Circle, Page, Path, Pen, Shape, Text
from pegwright.frozen import frozen
from pegwright.making import MarkText, Pattern
from pegwright.units import printed

SUBJECT = "Check template"
OVERLAP_MM = 10.0  # that neighbouring tiles share
HOW = (
    "Lay it on a drilled sheet, join tiles at their crop marks, and look for a hole forgotten or one too many. Never"
    " set out or drill from paper: it grows and shrinks with damp by more than the plate allows."
)
_LEFT_MM, _TOP_MM, _RIGHT_MM, _FOOT_MM = MARGIN_MM + 10.0, MARGIN_MM + 15.5, MARGIN_MM + 8.0, MARGIN_MM + 18.0
_CROP_MM = 5.0
_TITLE_MM = 4.2
_HOLE, _EDGE, _MARK = Pen(width_mm=0.15), Pen(width_mm=0.3), Pen(stroke=0.3, width_mm=0.12)
_CROP = Pen(stroke=0.0, width_mm=0.15)


@frozen()
class Tile:
    """The part of the table that a page shows: its number in a row, its row, its box on the table in mm."""

    column: int
    row: int
    left_mm: float
    low_mm: float
    right_mm: float
    high_mm: float


def check_template(pattern: Pattern, name: str, paper: Paper) -> tuple[Page, ...]:
    """The pages of a template, by rows from the upper left.

    Args:
        pattern: what is drilled.
        name: of the wheel.
        paper: its long side across.
    """
    all_tiles = tiles(pattern, paper)
    return tuple(_page(pattern, name, paper, tile, all_tiles) for tile in all_tiles)


def tiles(pattern: Pattern, paper: Paper) -> tuple[Tile, ...]:
    """How a pattern is parted: as few tiles as hold it, of equal size, each sharing a strip with the next."""
    left, low, right, high = box_mm(pattern)
    across, wide_mm = _parts(right - left + OVERLAP_MM, paper.long_mm - _LEFT_MM - _RIGHT_MM)
    down, high_mm = _parts(high - low + OVERLAP_MM, paper.short_mm - _TOP_MM - _FOOT_MM)
    left, high = left - OVERLAP_MM / 2, high + OVERLAP_MM / 2
    return tuple(
        Tile(
            column,
            row,
            left + column * (wide_mm - OVERLAP_MM),
            high - row * (high_mm - OVERLAP_MM) - high_mm,
            left + column * (wide_mm - OVERLAP_MM) + wide_mm,
            high - row * (high_mm - OVERLAP_MM),
        )
        for row in range(down)
        for column in range(across)
    )


def _parts(length_mm: float, room_mm: float) -> tuple[int, float]:
    """How many tiles of a size a length takes with overlaps, and their size."""
    count = max(1, math.ceil((length_mm - OVERLAP_MM) / (room_mm - OVERLAP_MM)))
    return count, (length_mm - OVERLAP_MM) / count + OVERLAP_MM


def _page(pattern: Pattern, name: str, paper: Paper, tile: Tile, all_tiles: Sequence[Tile]) -> Page:
    width, height = paper.long_mm, paper.short_mm
    number = printed(all_tiles.index(tile))
    where = f"row {printed(tile.row)}, tile {printed(tile.column)}"
    page = f"page {number} of {len(all_tiles)}: {where}"
    title = f"{name}: {pattern.title}"
    low_mm = height - MARGIN_MM - ABOVE_FOOT_MM
    words = wrapped(HOW, SMALL_MM, width - 2 * MARGIN_MM)
    items = (
        *two_ends(MARGIN_MM + 4.0, title, f"{SUBJECT}, {page}", _TITLE_MM, width - MARGIN_MM, bold=True),
        Text(MARGIN_MM, MARGIN_MM + 8.6, face_words(pattern), SMALL_MM, grey=GREY),
        *check_bars(width, height),
        *(
            Text(MARGIN_MM, low_mm - SMALL_LINE_MM * (len(words) - 1 - place), line, SMALL_MM, grey=GREY)
            for place, line in enumerate(words)
        ),
        *_crop_marks(tile),
        *_tile_shapes(pattern, tile),
    )
    return Page(width, height, items, f"{title}, {SUBJECT.lower()}, {page}")


def on_page(tile: Tile, x_mm: float, y_mm: float) -> tuple[float, float]:
    """Where a point of the table lies on a tile's page.

    Args:
        tile: of the page.
        x_mm: of the point on the table.
        y_mm: the same, upwards.
    """
    return _LEFT_MM + x_mm - tile.left_mm, _TOP_MM + tile.high_mm - y_mm


def _crop_marks(tile: Tile) -> Iterator[Shape]:
    """Lines at the corners of a tile, outwards; the box within them is what a neighbour continues."""
    for x, across in ((tile.left_mm, -1), (tile.right_mm, 1)):
        for y, up in ((tile.low_mm, -1), (tile.high_mm, 1)):
            yield Path((on_page(tile, x, y), on_page(tile, x + across * _CROP_MM, y)), _CROP)
            yield Path((on_page(tile, x, y), on_page(tile, x, y + up * _CROP_MM)), _CROP)


def _tile_shapes(pattern: Pattern, tile: Tile) -> Iterator[Shape]:
    ends = pattern.outline
    for begin, end in zip(ends, (*ends[1:], ends[0]), strict=True):
        yield from _cut(tile, begin, end, _EDGE)
    texts = (stroke for text in pattern.marks.texts for stroke in _text_shown(tile, text))
    for stroke in (*pattern.marks.lines, *texts, *slot_sides(pattern)):
        for begin, end in pairwise(stroke):
            yield from _cut(tile, begin, end, _MARK)
    holes = pattern.holes
    inside = (holes.x_mm >= tile.left_mm) & (holes.x_mm <= tile.right_mm)
    inside &= (holes.y_mm >= tile.low_mm) & (holes.y_mm <= tile.high_mm)
    for x, y, diameter in tuples(holes.x_mm[inside], holes.y_mm[inside], holes.diameter_mm[inside]):
        yield Circle(*on_page(tile, x, y), diameter / 2, _HOLE)
    channels = holes.channel[inside]
    for channel in distinct(channels[channels >= 0]).tolist():
        first = np.flatnonzero(inside & (holes.channel == channel))[0]
        _, y = on_page(tile, 0.0, float(holes.y_mm[first]))
        yield centred(_LEFT_MM - _CROP_MM - 0.8, y, str(printed(channel)), PAGE_NUMBER_MM, Anchor.END, grey=GREY)


def _text_shown(tile: Tile, text: MarkText) -> tuple[Stroke, ...]:
    """The strokes of an engraved text; none where a neighbour shows the whole of what this tile would cut in two."""
    strokes = text_strokes(text)
    points = [point for stroke in strokes for point in stroke]
    if not points:
        return ()
    (left, right), (low, high) = ((min(each), max(each)) for each in zip(*points, strict=True))
    whole = tile.left_mm <= left and right <= tile.right_mm and tile.low_mm <= low and high <= tile.high_mm
    elsewhere = max(right - left, high - low) <= OVERLAP_MM
    return () if elsewhere and not whole else strokes


def _cut(tile: Tile, begin: tuple[float, float], end: tuple[float, float], pen: Pen) -> Iterator[Shape]:
    """The part of a line that a tile shows.

    Args:
        tile: the box.
        begin: of the line, on the table.
        end: of the line.
        pen: to draw it with.

    Source: Liang and Barsky, "A New Concept and Method for Line Clipping", 1984 (from memory).
    """
    first, last = 0.0, 1.0
    box = ((tile.left_mm, tile.right_mm), (tile.low_mm, tile.high_mm))
    for axis, (low, high) in enumerate(box):
        way = end[axis] - begin[axis]
        if not way:
            if not low <= begin[axis] <= high:
                return
            continue
        near, far = sorted(((low - begin[axis]) / way, (high - begin[axis]) / way))
        first, last = max(first, near), min(last, far)
    if first < last:
        points = [
            on_page(tile, begin[0] + share * (end[0] - begin[0]), begin[1] + share * (end[1] - begin[1]))
            for share in (first, last)
        ]
        yield Path(tuple(points), pen)

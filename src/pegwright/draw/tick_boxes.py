"""Boxes to tick on the sheet of a plate: for each lane and for the plate, when it is pinned and when it is proved."""

from __future__ import annotations

from collections.abc import Iterator

from pegwright.draw.furniture import GREY, centred
from pegwright.draw.lettering import CAP_HEIGHT, width_mm
from pegwright.draw.sheet_layout import LABEL_MM, PLATE_LABEL, View
from pegwright.drawing import Anchor, Path, Pen, Shape, Text, rectangle

DONE = ("pinned", "proved")  # proved: by the counts, after it was pinned
_PAGE_LABEL = "page"  # instead of the plate, where that takes several
_BOX_MM, _PLATE_BOX_MM = 2.7, 3.2
_IN_LANE = 0.78  # of a box, as a share of its lane
_BOX = Pen(stroke=0.3, width_mm=0.25)
_PLATE_BOX = Pen(stroke=0.3, width_mm=0.4)


def tick_boxes(view: View) -> Iterator[Shape]:
    """Two columns of boxes between counts and names, and below them two for the whole page.

    Args:
        view: what the page shows.
    """
    layout, part = view.layout, view.part
    size_mm = min(_BOX_MM * layout.zoom, _IN_LANE * layout.lane_mm)
    plate_mm = min(_PLATE_BOX_MM * layout.zoom, 0.85 * layout.counts_mm)
    plate_y = layout.bottom_mm(part) + layout.ruler_mm + (layout.count_lines - 0.5) * layout.counts_mm
    for number, word in enumerate(DONE):
        x = layout.ticks_left_mm + (number + 0.5) * layout.tick_column_mm
        yield _turned(x, layout.top_mm - layout.ruler_mm, word, 2 * layout.ruler_mm, LABEL_MM * layout.zoom)
        yield from (_box(x, layout.lane_y_mm(part, channel), size_mm, _BOX) for channel in part.channels)
        yield _box(x, plate_y, plate_mm, _PLATE_BOX)
    words = PLATE_LABEL if len(layout.parts) == 1 else _PAGE_LABEL
    yield centred(layout.right_names_mm, plate_y, words, LABEL_MM * layout.zoom, Anchor.START, grey=GREY)


def _box(x_mm: float, y_mm: float, size_mm: float, pen: Pen) -> Path:
    half = size_mm / 2
    return rectangle(x_mm - half, y_mm - half, x_mm + half, y_mm + half, pen)


def _turned(x_mm: float, y_mm: float, word: str, room_mm: float, max_mm: float) -> Text:
    """A word that reads upwards, its capitals about a point."""
    size_mm = min(max_mm, room_mm / width_mm(word, 1.0))
    return Text(x_mm + CAP_HEIGHT * size_mm / 2, y_mm, word, size_mm, Anchor.MIDDLE, grey=GREY, turn_deg=-90.0)

"""The legend: which mark is which row, which figure which pin type."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from pegwright.draw.furniture import GREY, centred
from pegwright.draw.lettering import fitted, width_mm
from pegwright.draw.marks import hole_ring, lost_cross, pin_mark
from pegwright.drawing import Anchor, Path, Pen, Shape
from pegwright.wheel import Wheel

LINE_MM = 5.0
_MARK_MM = 3.4
_HOLE_MM = 1.4
_TEXT_MM = 3.2
_GAP_MM = 5.0
_ARROW = Pen(stroke=GREY, width_mm=0.3)
_LONGEST_MM = 50.0  # of the words beside one mark


@dataclass(frozen=True, slots=True)
class Entry:
    """One mark and its words; `draw` puts the mark at a point, None leaves it away."""

    words: str
    draw: Callable[[float, float], tuple[Shape, ...]] | None = None

    @property
    def mark_mm(self) -> float:
        """Room for the mark, from the left edge to the words."""
        return _MARK_MM + 1.2 if self.draw else 0.0

    @property
    def width_mm(self) -> float:
        """From the left edge to the end of the words."""
        return self.mark_mm + width_mm(self.words, _TEXT_MM)


def legend_lines(wheel: Wheel, room_mm: float) -> tuple[tuple[Entry, ...], ...]:
    """The legend of a wheel, broken into lines that fit `room_mm`."""
    lines: list[list[Entry]] = [[]]
    used = 0.0
    for entry in _entries(wheel):
        if lines[-1] and used + entry.width_mm > room_mm:
            lines.append([])
            used = 0.0
        lines[-1].append(entry)
        used += entry.width_mm + _GAP_MM
    return tuple(map(tuple, lines))


def legend(wheel: Wheel, x_mm: float, y_mm: float, room_mm: float) -> tuple[Shape, ...]:
    """The legend, the middle of its first line at `y_mm`."""
    shapes: list[Shape] = []
    for number, line in enumerate(legend_lines(wheel, room_mm)):
        x, y = x_mm, y_mm + number * LINE_MM
        for entry in line:
            if entry.draw:
                shapes += entry.draw(x + _MARK_MM / 2, y)
            shapes.append(centred(x + entry.mark_mm, y, entry.words, _TEXT_MM, Anchor.START, grey=GREY))
            x += entry.width_mm + _GAP_MM
    return tuple(shapes)


def _entries(wheel: Wheel) -> list[Entry]:
    entries = [_pin_entry(number, 0, f"pin in row {row.name}") for number, row in enumerate(wheel.rows)]
    if len(wheel.pin_types) > 1:
        first, *others = (f"{kind.name} pin" for kind in wheel.pin_types)
        entries += [_pin_entry(0, number, words) for number, words in enumerate(others, start=1)]
        entries.append(Entry(fitted(f"no figure: {first}", _TEXT_MM, _LONGEST_MM)))
    entries.append(Entry("hole", lambda x, y: (hole_ring(x, y, _HOLE_MM),)))
    entries.append(Entry("lost hole", lambda x, y: lost_cross(x, y, _HOLE_MM)))
    entries.append(Entry("plays this way", _arrow))
    return entries


def _arrow(x_mm: float, y_mm: float) -> tuple[Shape, ...]:
    left, right = x_mm - _MARK_MM / 2, x_mm + _MARK_MM / 2
    head = ((right - 1.1, y_mm - 0.8), (right, y_mm), (right - 1.1, y_mm + 0.8))
    return (Path(((left, y_mm), (right, y_mm)), _ARROW), Path(head, _ARROW))


def _pin_entry(row: int, pin_type: int, words: str) -> Entry:
    return Entry(fitted(words, _TEXT_MM, _LONGEST_MM), lambda x, y: pin_mark(row, pin_type, x, y, _MARK_MM))

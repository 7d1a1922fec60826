"""The legend: the meaning of each mark that occurs on a sheet."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial

from pegwright.draw.furniture import GREY, centred
from pegwright.draw.lettering import fitted, width_mm
from pegwright.draw.marks import RowMark, change_mark, hole_ring, lost_cross, pin_mark, pull_mark, stay_mark
from pegwright.draw.sheet_style import SheetStyle
from pegwright.drawing import Anchor, Path, Pen, Shape
from pegwright.frozen import frozen
from pegwright.grid import Loss, hole_grid
from pegwright.wheel import Wheel

LINE_MM = 5.0
_MARK_MM = 3.4
_HOLE_MM = 1.4
_TEXT_MM = 3.2
_GAP_MM = 5.0
_ARROW = Pen(stroke=GREY, width_mm=0.3)
_LONGEST_MM = 50.0  # of the words beside one mark
SET, PULL, STAYS = "set", "pull", "stays"
SWAP_MARKS: dict[str, RowMark] = {SET: pin_mark, PULL: pull_mark, STAYS: stay_mark}  # what is done to a pin


@frozen()
class Entry:
    """One mark and its words; `draw` draws the mark at a point, None for no mark."""

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


def legend_lines(entries: Sequence[Entry], room_mm: float) -> tuple[tuple[Entry, ...], ...]:
    """The entries broken into lines that fit `room_mm`."""
    lines: list[list[Entry]] = [[]]
    used = 0.0
    for entry in entries:
        if lines[-1] and used + entry.width_mm > room_mm:
            lines.append([])
            used = 0.0
        lines[-1].append(entry)
        used += entry.width_mm + _GAP_MM
    return tuple(map(tuple, lines))


def legend(entries: Sequence[Entry], x_mm: float, y_mm: float, room_mm: float) -> Iterator[Shape]:
    """The legend.

    Args:
        entries: in order.
        x_mm: its left edge.
        y_mm: the middle of its first line.
        room_mm: width of a line.
    """
    for number, line in enumerate(legend_lines(entries, room_mm)):
        x, y = x_mm, y_mm + number * LINE_MM
        for entry in line:
            if entry.draw:
                yield from entry.draw(x + _MARK_MM / 2, y)
            yield centred(x + entry.mark_mm, y, entry.words, _TEXT_MM, Anchor.START, grey=GREY)
            x += entry.width_mm + _GAP_MM


def pin_entries(wheel: Wheel, rows: Iterable[int], pin_types: Iterable[int]) -> tuple[Entry, ...]:
    """The entries of the marks of pins.

    Args:
        wheel: for names.
        rows: those that occur.
        pin_types: those that occur; a single one without a figure needs no entry.
    """
    rows = sorted(set(rows))
    entries = [_mark_entry(_of_row("pin", wheel, row, " in"), pin_mark, row) for row in rows]
    return (*entries, *type_entries(wheel, min(rows, default=0), pin_types))


def type_entries(wheel: Wheel, row: int, pin_types: Iterable[int]) -> tuple[Entry, ...]:
    """The entries of the figures in the marks of pins.

    Args:
        wheel: for names.
        row: whose mark is shown.
        pin_types: those that occur; a single one without a figure needs no entry.
    """
    pin_types = sorted(set(pin_types))
    if not any(pin_types):
        return ()
    names = [kind.name for kind in wheel.pin_types]
    figures = [_mark_entry(f"{names[kind]} pin", pin_mark, row, kind) for kind in pin_types if kind]
    return (*figures, *(_entry(f"no figure: {names[kind]} pin") for kind in pin_types if not kind))


def swap_entries(wheel: Wheel, rows: Mapping[str, Iterable[int]], changed: Iterable[int]) -> tuple[Entry, ...]:
    """The entries of what is done to pins, and of the shapes of rows; no two have the same mark.

    Each row is named once, beside the first mark in its shape.

    Args:
        wheel: for the names of its rows.
        rows: of the pins to which each of `SWAP_MARKS` is done.
        changed: rows of the pins that are pulled for one of another type.
    """
    entries: list[Entry] = []
    named: set[int] = set()
    for words, mark in SWAP_MARKS.items():
        here = set(rows[words])
        entries += [_mark_entry(words, mark, row) for row in sorted(here & named)[:1]]
        entries += [_mark_entry(_of_row(words, wheel, row), mark, row) for row in sorted(here - named)]
        named |= here
    entries += [_mark_entry("pull, then set this type", change_mark, row) for row in sorted(changed)[:1]]
    return tuple(entries)


def _of_row(words: str, wheel: Wheel, row: int, joint: str = ",") -> str:
    """The words with the row's name, which says nothing where the wheel has one row.

    Args:
        words: what is done to a pin.
        wheel: for the name.
        row: 0-based.
        joint: after the words.
    """
    return f"{words}{joint} row {wheel.rows[row].name}" if len(wheel.rows) > 1 else words


def plate_entries(wheel: Wheel, style: SheetStyle) -> tuple[Entry, ...]:
    """The entries of all else that is drawn of a plate, and of its direction on the face that is seen."""
    entries = [_entry("hole", lambda x, y: hole_ring(x, y, _HOLE_MM))]
    if any((line.loss != Loss.NONE).any() for line in hole_grid(wheel).lines):
        entries.append(_entry("lost hole", lambda x, y: lost_cross(x, y, _HOLE_MM)))
    return (*entries, _entry(f"turns this way, {style.face}", partial(_arrow, style.inside)))


def _arrow(inside: bool, x_mm: float, y_mm: float) -> tuple[Shape, ...]:
    """An arrow towards step 1, which comes first: to the left, and seen from inside to the right."""
    towards = 1 if inside else -1
    tip, tail = x_mm + towards * _MARK_MM / 2, x_mm - towards * _MARK_MM / 2
    head = ((tip - towards * 1.1, y_mm - 0.8), (tip, y_mm), (tip - towards * 1.1, y_mm + 0.8))
    return (Path(((tail, y_mm), (tip, y_mm)), _ARROW), Path(head, _ARROW))


def _mark_entry(words: str, mark: Callable[..., tuple[Shape, ...]], row: int, *pin_type: int) -> Entry:
    return _entry(words, lambda x, y: mark(row, x, y, _MARK_MM, *pin_type))


def _entry(words: str, draw: Callable[[float, float], tuple[Shape, ...]] | None = None) -> Entry:
    return Entry(fitted(words, _TEXT_MM, _LONGEST_MM), draw)

"""Lines of a list one below another, column after column."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TypeAlias

from pegwright.drawing import Shape
from pegwright.frozen import frozen


@frozen()
class FlowLine:
    """One line: its height in mm, and a function that draws it with its upper left corner at a point."""

    height_mm: float
    draw: Callable[[float, float], Iterable[Shape]]


@frozen()
class Block:
    """A head and the lines under it, kept together where a column can hold them.

    Args:
        head: never last in a column if there are lines.
        lines: the lines under it.
        again: the head to repeat where the block is cut.
    """

    head: FlowLine
    lines: tuple[FlowLine, ...]
    again: FlowLine

    @property
    def height_mm(self) -> float:
        """Of head and lines together."""
        return self.head.height_mm + sum(line.height_mm for line in self.lines)


Column: TypeAlias = tuple[tuple[float, FlowLine], ...]  # lines, each with its distance from the top in mm


def columns_across(room_mm: float, min_mm: float, gap_mm: float) -> tuple[int, float]:
    """How many columns stand side by side, at least one, and their width in mm when they fill the room.

    Args:
        room_mm: for all of them.
        min_mm: minimum width of a column.
        gap_mm: between two.
    """
    count = max(1, int((room_mm + gap_mm) / (min_mm + gap_mm)))
    return count, (room_mm + gap_mm) / count - gap_mm


def drawn(columns: Sequence[Column], left_mm: float, top_mm: float, pitch_mm: float) -> Iterator[Shape]:
    """Columns side by side.

    Args:
        columns: from left to right.
        left_mm: the left edge of the first.
        top_mm: the upper edge of all.
        pitch_mm: from one to the next.
    """
    for place, column in enumerate(columns):
        for y_mm, line in column:
            yield from line.draw(left_mm + place * pitch_mm, top_mm + y_mm)


def flowed(blocks: Sequence[Block], high_mm: float, gap_mm: float) -> tuple[Column, ...]:
    """The blocks in columns, whole where possible; at least one column.

    Args:
        blocks: in order.
        high_mm: height of a column.
        gap_mm: between blocks.
    """
    columns: list[list[tuple[float, FlowLine]]] = [[]]
    y = 0.0

    def put(line: FlowLine) -> None:
        nonlocal y
        columns[-1].append((y, line))
        y += line.height_mm

    for block in blocks:
        y += gap_mm if columns[-1] else 0.0
        first_mm = block.head.height_mm + (block.lines[0].height_mm if block.lines else 0.0)
        whole = block.height_mm <= high_mm
        if columns[-1] and y + (block.height_mm if whole else first_mm) > high_mm:
            columns.append([])
            y = 0.0
        put(block.head)
        for number, line in enumerate(block.lines):
            if number and y + line.height_mm > high_mm:
                columns.append([])
                y = 0.0
                put(block.again)
            put(line)
    return tuple(map(tuple, columns))

"""Lines of a list set one under the other, column after column."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from pegwright.drawing import Shape


@dataclass(frozen=True, slots=True)
class Line:
    """One line: its height in mm, and what it draws when its upper left corner is at a point."""

    height_mm: float
    draw: Callable[[float, float], tuple[Shape, ...]]


@dataclass(frozen=True, slots=True)
class Block:
    """A head and the lines under it, kept together where a column can hold them.

    Args:
        head: never last in a column if there are lines.
        lines: what stands under it.
        again: the head to repeat where the block is cut.
    """

    head: Line
    lines: tuple[Line, ...]
    again: Line

    @property
    def height_mm(self) -> float:
        """All of it."""
        return self.head.height_mm + sum(line.height_mm for line in self.lines)


Column: TypeAlias = tuple[tuple[float, Line], ...]  # lines with how far down each begins


def flowed(blocks: Sequence[Block], high_mm: float, gap_mm: float) -> tuple[Column, ...]:
    """The blocks in as few columns as keep them whole; at least one column.

    Args:
        blocks: in order.
        high_mm: height of a column.
        gap_mm: between blocks.
    """
    columns: list[list[tuple[float, Line]]] = [[]]
    y = 0.0

    def put(line: Line) -> None:
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

"""Lines of a list one below another, column after column."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from pegwright.drawing import Shape


@dataclass(frozen=True, slots=True)
class FlowLine:
    """One line: its height in mm, and a function that draws it with its upper left corner at a point."""

    height_mm: float
    draw: Callable[[float, float], tuple[Shape, ...]]


@dataclass(frozen=True, slots=True)
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

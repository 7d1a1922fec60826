"""Text for a terminal: one line for any name, and tables whose columns stand under each other."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence

LINE_CELLS = 100  # the width that plain text is written for
_HIDDEN = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")  # controls, direction marks, what has no shape; line breaks


def one_line(text: str, cells: int) -> str:
    """A name as one harmless line: no line breaks, terminal controls or changes of direction.

    Args:
        text: any text.
        cells: the terminal cells it may take; what is longer ends in `…`.
    """
    shown = "".join(" " if unicodedata.category(mark) in _HIDDEN else mark for mark in text[: 4 * cells])
    shown = " ".join(shown.split())
    return shown if cells_of(shown) <= cells else cut_to(shown, cells - 1).rstrip() + "…"


def cells_of(text: str) -> int:
    """How many cells of a terminal a line of text takes; it has no controls."""
    if text.isascii():
        return len(text)
    from rich.cells import cell_len  # noqa: PLC0415  # East Asian and emoji widths, when needed

    return cell_len(text)


def cut_to(text: str, cells: int) -> str:
    """A line of text cut, or made up with spaces, to a number of cells of a terminal; it has no controls."""
    if text.isascii():
        return text[:cells].ljust(cells)
    from rich.cells import set_cell_size  # noqa: PLC0415  # as above

    return set_cell_size(text, cells)


def text_table(header: Sequence[str], rows: Sequence[Sequence[str]], left: Sequence[int] = (0,)) -> list[str]:
    """Lines of a table; columns are flush right but those numbered in `left`, two cells apart.

    Args:
        header: one name for each column.
        rows: cells that are single lines already.
        left: 0-based columns that are flush left.
    """
    table = [header, *rows]
    widths = [max(cells_of(line[column]) for line in table) for column in range(len(header))]

    def padded(cell: str, column: int) -> str:
        space = " " * (widths[column] - cells_of(cell))
        return cell + space if column in left else space + cell

    return ["  ".join(padded(cell, column) for column, cell in enumerate(line)).rstrip() for line in table]


def ruled(lines: Sequence[str]) -> list[str]:
    """The lines of a table with a rule under its header and one over its last line, the totals."""
    rule = "─" * min(LINE_CELLS, max(map(len, lines)))
    return [lines[0], rule, *lines[1:-1], rule, lines[-1]]


def paragraphs(blocks: Iterable[Sequence[str]]) -> str:
    """Blocks of lines with an empty line between them; empty blocks are left out."""
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"

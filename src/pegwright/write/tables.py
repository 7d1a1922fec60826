"""Text for a terminal or a text file: lines and tables that are fitted to a width when they are joined to a text.

Writers make blocks of lines as long as they come and of tables as wide as they come; `paragraphs` breaks the lines at
words and brings the tables to the width, so that no writer needs to know it.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Collection, Iterable, Sequence
from itertools import zip_longest
from typing import TypeAlias

from pegwright.frozen import frozen
from pegwright.units import printed

LINE_CELLS = 100  # the width of text files, and the maximum on a terminal
HANG = "\t"  # in a line: its continuation lines begin under what follows
KEPT = "\u00a0"  # a space at which no line is broken
_HANGING = 4  # cells by which continuation lines are indented otherwise
_GAP = "  "
_MIN_OVER, _MIN_LEFT = 12, 8  # cells of a last column, and of one that is broken at words
_HIDDEN = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")  # controls, direction marks, what has no shape; line breaks
_ONE_CELL = re.compile("[\0-\u02ff‐-―‘-”…−→─▁-█♩♭♯]*")  # the characters of most texts, each one cell wide
_OPTION = re.compile(r"(?<![^ \t])(--?[a-z][a-z-]*) (?=[^-&>|]|-[0-9])")  # as typed, with its value
_OPTION_NAMED = re.compile(r"(?<![\w-])(--[a-z][a-z-]*) (?=[-+]?[0-9]|[A-Z]{2}|['\"]|(?:straight|find|auto)\b)")
_UNIT = re.compile(r"(?<=[0-9]) (?=(?:mm|ms|s|%)(?![^\s,.;:)]))")  # between a number and its unit
_QUOTED = re.compile(r"\"[^\"]*\"|'[^']*'")


class UncutLine(str):
    """A line whose words are never cut, as they are to be copied: a command, options, a path."""

    __slots__ = ()


def one_line(text: str, cells: int) -> str:
    """A name as one harmless line: no line breaks, terminal controls or changes of direction.

    Args:
        text: any text.
        cells: the terminal cells it may take; what is longer ends in `…`, after a whole word where one is in its
            second half.
    """
    shown = "".join(" " if unicodedata.category(mark) in _HIDDEN else mark for mark in text[: 4 * cells])
    shown = " ".join(shown.split())
    if cells_of(shown) <= cells:
        return shown
    start = cut_to(shown, cells - 1).rstrip()
    words, space, _ = start.rpartition(" ")
    in_word = not shown.startswith(f"{start} ")
    return (words if in_word and space and 2 * cells_of(words) >= cells else start) + "…"


def channel_line(name: str, channel: int, cells: int) -> str:
    """A channel's name in one line; where it is cut, its printed number is in front, for names can begin alike.

    Args:
        name: of the channel.
        channel: its index in the wheel.
        cells: see `one_line`, without those of the number.
    """
    shown = one_line(name, cells)
    return f"{printed(channel)} {shown}" if shown.endswith("…") and not name.endswith("…") else shown


def names_line(names: Sequence[str]) -> str:
    """Names with commas between them, or with semicolons where one has a comma itself."""
    return ("; " if any("," in name for name in names) else ", ").join(names)


def cells_of(text: str) -> int:
    """How many cells of a terminal a line of text takes; it has no controls."""
    if _ONE_CELL.fullmatch(text):
        return len(text)
    from rich.cells import cell_len  # noqa: PLC0415  # East Asian and emoji widths, when needed

    return cell_len(text)


def cut_to(text: str, cells: int) -> str:
    """A line of text cut, or made up with spaces, to a number of cells of a terminal; it has no controls."""
    if text.isascii():
        return text[:cells].ljust(cells)
    from rich.cells import set_cell_size  # noqa: PLC0415  # as above

    return set_cell_size(text, cells)


def wrapped(text: str, width: int, first: str = "", later: str = "", whole: bool = False) -> list[str]:
    """Text in lines broken at spaces; a single word wider than a line is cut, after a slash where it has one.

    Args:
        text: without controls; at a `KEPT` space it is not broken.
        width: cells of a line.
        first: before the first line.
        later: before the others.
        whole: print a word that is wider than a line as one, so that it can be copied.
    """
    lines, line, begun = [], first, False
    joined = _OPTION_NAMED.sub(rf"\1{KEPT}", _UNIT.sub(KEPT, text.strip(" \n")))
    for word in re.split(r"[ \n]+", joined):
        if begun and cells_of(line) + 1 + cells_of(word) > width:
            lines.append(line)
            line, begun = later, False
        rest = word
        while not whole and cells_of(rest) > (room := max(1, width - cells_of(line))):
            piece = _piece(rest, room)
            lines.append(line + piece)
            line, rest = later, rest[len(piece) :]
        line += f" {rest}" if begun else rest
        begun = True
    return [each.replace(KEPT, " ") for each in [*lines, line]]


def _piece(word: str, room: int) -> str:
    """The beginning of a word that fits into some cells, up to a slash if there is one, or else as much as fits."""
    fits = 1
    while fits < len(word) and cells_of(word[: fits + 1]) <= room:
        fits += 1
    slash = max(word.rfind(mark, 0, fits) for mark in "/\\")
    return word[: slash + 1] if slash > 0 else word[:fits]


def unbroken_quotes(text: str) -> str:
    """A command or a line of a file, in which nothing in quotes may be broken over lines."""
    return _QUOTED.sub(lambda quoted: quoted[0].replace(" ", KEPT), text)


def unbroken_options(text: str) -> str:
    """Options as they are typed, of which none is broken from its value, and nothing in quotes."""
    return _OPTION.sub(rf"\1{KEPT}", unbroken_quotes(text))


def command_lines(command: str, width: int, indent: str = "  ") -> list[str]:
    """A command to be copied, broken with backslashes, as shells have them, where it is wider than a line.

    Args:
        command: as it is typed.
        width: cells of a line.
        indent: before the first line; twice before the others.
    """
    lines = wrapped(unbroken_options(command), width - 2, indent, 2 * indent, whole=True)
    if cells_of(f"{indent}{command}") <= width:
        return [f"{indent}{command}"]
    return [*(f"{line} \\" for line in lines[:-1]), lines[-1]]


@frozen()
class TextTable:
    """A table of text; columns are flush right but those in `left`, two cells apart.

    Where it is wider than the text, its header is broken at words, then groups of columns are moved into a line under
    each row, with their names, then columns flush left are broken at words. Nothing of it is left out.

    Args:
        header: one name for each column; if all are empty there is no such line.
        rows: cells that are single lines already.
        left: 0-based columns that are flush left.
        below: groups of columns that can be moved into a line under their row, in that order.
        over: whether the last column can run over into a line under its row.
        ruled: whether there is a rule under the header and one over the last row, the totals.
        indent: before every line.
    """

    header: Sequence[str]
    rows: Sequence[Sequence[str]]
    left: Collection[int] = (0,)
    below: Sequence[Sequence[int]] = ()
    over: bool = False
    ruled: bool = False
    indent: str = ""

    def lines(self, width: int) -> list[str]:
        """Its lines.

        Args:
            width: cells of a line.
        """
        room = width - cells_of(self.indent)
        widths, under = self._layout(room)
        head = self._row(self.header, widths, under, room, is_header=True) if any(self.header) else []
        rows = [self._row(row, widths, under, room) for row in self.rows]
        if self.ruled:
            rule = "─" * min(room, max(cells_of(line) for block in (head, *rows) for line in block))
            head, rows = [*head, rule], [*rows[:-1], [rule], *rows[-1:]]
        return [f"{self.indent}{line}".rstrip() for block in (head, *rows) for line in block]

    def _layout(self, width: int) -> tuple[dict[int, int], list[int]]:
        """The width of each column that stays, and the columns that are moved under their rows."""
        columns, under = list(range(len(self.header))), list[int]()
        last = [columns.pop()] if self.over else []
        widths = self._widths(columns, width)
        for group in self.below:
            if _total(widths) <= width:
                break
            under += group
            columns = [column for column in columns if column not in group]
            widths = self._widths(columns, width)
        for least in (self._longest_word, lambda _: _MIN_LEFT):
            self._narrow(widths, width, least)
        for column in last:
            room = width - _total(widths) - len(_GAP)
            if room >= max(cells_of(self.header[column]), min(_MIN_OVER, self._widest(column))):
                widths[column] = min(room, max(cells_of(self.header[column]), self._widest(column)))
        return widths, sorted(under)

    def _widths(self, columns: Sequence[int], width: int) -> dict[int, int]:
        """The width of each column, with names broken at words where they must be."""
        names = {column: cells_of(self.header[column]) for column in columns}
        word = {column: max(map(cells_of, self.header[column].split(" "))) for column in columns}
        widths = {column: max(word[column], self._widest(column)) for column in columns}
        for column in columns:
            if _total(widths) + names[column] - widths[column] <= width:
                widths[column] = max(names[column], widths[column])
        return widths

    def _widest(self, column: int) -> int:
        return max((cells_of(row[column]) for row in self.rows), default=0)

    def _longest_word(self, column: int) -> int:
        cells = [self.header[column], *(row[column] for row in self.rows)]
        return max(max(map(cells_of, re.split(" +", cell.strip()))) + _indent_of(cell) for cell in cells)

    def _narrow(self, widths: dict[int, int], width: int, least: Callable[[int], int]) -> None:
        """Take from columns flush left, the widest first, what the table is too wide."""
        for column in sorted(set(self.left) & set(widths), key=lambda column: -widths[column]):
            excess = _total(widths) - width
            if excess > 0:
                widths[column] = max(min(least(column), widths[column]), widths[column] - excess)

    def _row(
        self, row: Sequence[str], widths: dict[int, int], under: Sequence[int], width: int, *, is_header: bool = False
    ) -> list[str]:
        """Lines of one row.

        Args:
            row: its cells.
            widths: of the columns that stay.
            under: columns that go into a line below.
            width: cells of a line.
            is_header: whether it is the header, which has no line below.
        """
        more = [f"{self.header[column]} {row[column]}".strip() for column in under if row[column]]
        shown = {column: row[column] for column in widths}
        last = len(row) - 1
        if self.over and cells_of(row[last]) > widths.get(last, -1):
            more += [row[last]] if row[last] else []
            shown |= {last: ""} if last in shown else {}
        cells = [_broken(cell, widths[column]) for column, cell in shown.items()]
        if is_header:  # its lines stand just above the rows
            tallest = max(map(len, cells))
            cells = [[*[""] * (tallest - len(cell)), *cell] for cell in cells]
        lines = [
            _GAP.join(self._padded(cell, column, widths[column]) for column, cell in zip(widths, line, strict=True))
            for line in zip_longest(*cells, fillvalue="")
        ]
        if more and not is_header:
            lines += wrapped(", ".join(more), width, " " * _HANGING, " " * _HANGING)
        return [line.rstrip() for line in lines]

    def _padded(self, cell: str, column: int, cells: int) -> str:
        space = " " * (cells - cells_of(cell))
        return cell + space if column in self.left else space + cell


Line: TypeAlias = str | TextTable


def _total(widths: dict[int, int]) -> int:
    return sum(widths.values()) + len(_GAP) * max(0, len(widths) - 1)


def _indent_of(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


def _broken(cell: str, width: int) -> list[str]:
    """A cell broken at words if it is wider than its column."""
    if cells_of(cell) <= width:
        return [cell]
    indent = " " * _indent_of(cell)
    return wrapped(cell, width, indent, indent)


def fitted_lines(line: Line, width: int) -> list[str]:
    """A line or a table as lines that fit a width.

    Args:
        line: with its indentation; a `HANG` in it is where the lines that continue it begin.
        width: cells of a line.
    """
    if isinstance(line, TextTable):
        return line.lines(width)
    head, hangs, text = line.partition(HANG)
    indent = _indent_of(line)
    first, later = (head, cells_of(head)) if hangs else (" " * indent, indent + _HANGING)
    if cells_of(shown := line.replace(HANG, "").replace(KEPT, " ")) <= width:
        return [shown.rstrip()]
    return wrapped(text if hangs else line, width, first, " " * later, whole=isinstance(line, UncutLine))


def paragraphs(blocks: Iterable[Sequence[Line]], width: int = LINE_CELLS) -> str:
    """Blocks of lines and tables, fitted to a width, with an empty line between them; empty blocks are left out."""
    texts = ("\n".join(each for line in block for each in fitted_lines(line, width)) for block in blocks if block)
    return "\n\n".join(texts) + "\n"

"""The pin count as a page of plain text."""

from __future__ import annotations

from collections.abc import Iterable

from pegwright.draw.count_page import CountTable
from pegwright.note_count import NoteCount
from pegwright.show.count import PinCount
from pegwright.tell.counts import count_words
from pegwright.write.cautions import TOUCH_LINE
from pegwright.write.count.tables import count_tables, songs_words, spares_words, verdict
from pegwright.write.tables import LINE_CELLS, Line, TextTable, one_line, paragraphs

NAME_CELLS = 28
TYPE_CELLS = 12


def count_text(count: PinCount, notes: NoteCount | None = None, width: int = LINE_CELLS, song: str = "") -> str:
    """What to buy, then pins by type, song (if several), plate and channel; each table adds up to the same total.

    Args:
        count: of pins.
        notes: of the song, where it is one.
        width: cells of a line.
        song: its name, where it is one; several maps are then its sets of plates.
    """
    names = [one_line(need.name, TYPE_CELLS) for need in count.needs]
    words, title = verdict(count.needs, names), one_line(songs_words(count, song), LINE_CELLS)
    return count_page_text(words, title, count, count_tables(count, song), notes, width)


def count_page_text(
    words: str,
    title: str,
    count: PinCount,
    tables: Iterable[CountTable],
    notes: NoteCount | None = None,
    width: int = LINE_CELLS,
) -> str:
    """A page of tables of pins.

    Args:
        words: what is needed, and what must be bought of it.
        title: in one line.
        count: for the wheel and the spares.
        tables: in order.
        notes: of the song, where it is one.
        width: cells of a line.
    """
    sounding = [f"{count_words(notes)}."] if notes else []
    wheel = f"{one_line(count.wheel_name, LINE_CELLS // 2)}, {spares_words(count)}"
    return paragraphs([[words, title, wheel, *sounding], *map(table_lines, tables), [TOUCH_LINE]], width)


def table_lines(table: CountTable) -> list[Line]:
    """A table for text, and its remark."""
    digits = max(map(len, table.numbers), default=0)
    numbers = [f"{number:>{digits}} " for number in table.numbers] or [""] * len(table.rows)
    rows = [(number + one_line(row[0], NAME_CELLS), *row[1:]) for number, row in zip(numbers, table.rows, strict=True)]
    head = [one_line(word, TYPE_CELLS) for word in table.head]
    below = [(column,) for column in range(len(head) - 2, 0, -1)]  # all but the names and the last, their sum
    return [TextTable(head, [*rows, table.total], below=below), *([table.remark] if table.remark else [])]

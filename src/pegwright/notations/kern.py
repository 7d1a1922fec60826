"""Humdrum **kern made ready for music21: one piece, sections in playing order, what is lost counted.

Source: the Humdrum Reference (D. Huron) on syntax, the **kern representation and *> expansion lists.
"""

from __future__ import annotations

import re

from pegwright.errors import InputError, check_limit
from pegwright.findings import Notices
from pegwright.formats import MAX_BARS
from pegwright.musicxml.parts import clean
from pegwright.notations.kern_sections import in_playing_order
from pegwright.notations.losses import NotationLoss
from pegwright.notations.prepared import BarExtra, Drums, PartExtra, Prepared

_JUMP = re.compile(r"\bd\.?\s?[cs]\b|\bda capo\b|\bdal segno\b|\bfine\b|\bcoda\b", re.IGNORECASE)
_PITCH = re.compile(r"[a-gA-G]")


def prepare_kern(text: str, file: str) -> Prepared:
    """The first piece of a text.

    Args:
        text: lines end in a line feed.
        file: for messages.

    Raises:
        InputError: the piece holds no note, or too many bars as played.
    """
    losses = Notices(NotationLoss, file)
    lines, labels = in_playing_order(_first_piece(text, losses), losses)
    scan = _Scan(losses)
    for line in lines:
        scan.take_line(line)
    if not scan.note_count:
        raise InputError("the **kern columns hold no note", where=file, hint="check that this is the right file")
    check_limit(len(labels), MAX_BARS, "bars as played", file)
    bars = tuple(map(BarExtra, labels))
    return Prepared("\n".join(lines) + "\n", scan.note_count, scan.tie_count, losses, scan.title, scan.parts(), bars)


def _first_piece(text: str, losses: Notices) -> list[str]:
    """Lines to the end of the first piece, where all spines end; comments after it are kept for their references."""
    lines = [line.rstrip() for line in text.split("\n") if line.strip()]
    ends = [place for place, line in enumerate(lines) if set(line.split("\t")) == {"*-"}]
    starts = [place for place, line in enumerate(lines) if line.startswith("**") or "\t**" in line]
    if not ends or not starts or starts[-1] < ends[0]:
        return lines
    losses.add(NotationLoss.MOVEMENTS, sum(start > ends[0] for start in starts))
    return lines[: ends[0] + 1]


class _Scan:
    """Goes over a piece once and follows its spines."""

    def __init__(self, losses: Notices) -> None:
        self.title = ""
        self.note_count = 0
        self.tie_count = 0
        self._losses = losses
        self._columns: list[int] = []  # numbers of the spines that they belong to, from 0 at the left
        self._parts: dict[int, PartExtra] = {}  # by spine, of those that hold notes

    def take_line(self, line: str) -> None:
        """Take in the next line."""
        if line.startswith("!"):
            self._comment(line)
            return
        cells = line.split("\t")
        if line.startswith("**"):
            self._begin(cells)
        elif line.startswith("*"):
            self._interpret(cells)
        elif not line.startswith("="):
            for spine, cell in zip(self._columns, cells, strict=False):
                if spine in self._parts:
                    self._data(cell)

    def parts(self) -> list[PartExtra]:
        """Parts from the rightmost spine to the leftmost, which is from the top of the score down."""
        return list(reversed(self._parts.values()))

    def _comment(self, line: str) -> None:
        title = re.match(r"!!!OTL(?:@{0,2}[A-Za-z]*)?:(.*)", line)
        if title and not self.title:
            self.title = clean(title[1])
        elif not line.startswith("!!!"):
            self._losses.add(NotationLoss.JUMPS, bool(_JUMP.search(line)))

    def _begin(self, cells: list[str]) -> None:
        if not self._columns:
            self._columns = list(range(len(cells)))
            self._parts = {spine: PartExtra() for spine, cell in enumerate(cells) if cell == "**kern"}
            self._losses.add(NotationLoss.SPINES, len(cells) - len(self._parts))

    def _interpret(self, cells: list[str]) -> None:
        if len(cells) != len(self._columns):
            return  # not well-formed: the library refuses it
        after: list[int] = []
        place = 0
        while place < len(cells):
            cell, spine = cells[place], self._columns[place]
            place += 1
            if cell == "*^":
                after += [spine, spine]
            elif cell == "*v":
                while place < len(cells) and cells[place] == "*v" and self._columns[place] == spine:
                    place += 1
                after.append(spine)
            elif cell == "*x" and place < len(cells) and cells[place] == "*x":
                after += [self._columns[place], spine]
                place += 1
            elif cell != "*-":
                after.append(spine)
                self._tandem(cell, self._parts.get(spine, PartExtra()))
        self._columns = after

    def _tandem(self, cell: str, part: PartExtra) -> None:
        if cell.startswith('*I"'):
            part.name = part.name or clean(cell[3:])
        elif cell == "*clefX":
            part.drums = Drums.PLACES
        elif cell in ("*segno", "*coda", "*fine", "*dacapo", "*dalsegno"):
            self._losses.add(NotationLoss.JUMPS)

    def _data(self, cell: str) -> None:
        if cell == "." or cell.startswith("!"):
            return
        for note in cell.split(" "):
            if _PITCH.search(note) and "r" not in note:
                self.note_count += 1
                self.tie_count += "[" not in note and ("]" in note or "_" in note)
        self._losses.add(NotationLoss.TREMOLOS, "@" in cell)
        self._losses.add(NotationLoss.ARPEGGIOS, ":" in cell)

"""Humdrum **kern made ready for music21: one piece, sections in playing order, what is lost counted.

Source: the Humdrum Reference (D. Huron) on syntax, the **kern representation and *> expansion lists.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

from pegwright.errors import InputError
from pegwright.formats import MAX_BARS
from pegwright.musicxml.parts import clean
from pegwright.notations.kern_sections import in_playing_order
from pegwright.notations.losses import NotationLoss
from pegwright.notations.prepared import BarExtra, Drums, PartExtra, Prepared

_JUMP = re.compile(r"\bd\.?\s?[cs]\b|\bda capo\b|\bdal segno\b|\bfine\b|\bcoda\b", re.IGNORECASE)
_PITCH = re.compile(r"[a-gA-G]")
_NUMBER = re.compile(r"(\d+[a-z]?)")


@dataclass(slots=True)
class _Spine:
    """One column of the file as it stands at some line.

    Args:
        number: of the spine it belongs to, counted from 0 at the left.
        is_kern: it holds notes.
    """

    number: int
    is_kern: bool


def prepare_kern(text: str, file: str) -> Prepared:
    """The first piece of a text.

    Args:
        text: lines end in a line feed.
        file: for messages.

    Raises:
        InputError: the piece holds no note, or too many bars as played.
    """
    losses: Counter[NotationLoss] = Counter()
    lines = _first_piece(text, losses)
    lines, labels = in_playing_order(lines, losses, file)
    scan = _Scan(losses)
    for line in lines:
        scan.take_line(line)
    if not scan.note_count:
        raise InputError("the **kern columns hold no note", where=file, hint="check that this is the right file")
    if len(labels) > MAX_BARS:
        raise InputError(
            f"{len(labels):,} bars as played; at most {MAX_BARS:,} are read",
            where=file,
            hint="cut the song into shorter files",
        )
    return Prepared(
        "\n".join(lines) + "\n",
        scan.note_count,
        scan.tie_count,
        losses,
        scan.title,
        scan.parts(),
        tuple(BarExtra(label) for label in labels),
    )


def _first_piece(text: str, losses: Counter[NotationLoss]) -> list[str]:
    """Lines to the end of the first piece, where all spines end; comments after it are kept for their references."""
    lines = [line.rstrip() for line in text.split("\n") if line.strip()]
    ends = [place for place, line in enumerate(lines) if set(line.split("\t")) == {"*-"}]
    starts = [place for place, line in enumerate(lines) if line.startswith("**") or "\t**" in line]
    if not ends or not starts or starts[-1] < ends[0]:
        return lines
    losses[NotationLoss.MOVEMENTS] += sum(start > ends[0] for start in starts)
    return lines[: ends[0] + 1]


class _Scan:
    """Goes over a piece once and follows its spines."""

    def __init__(self, losses: Counter[NotationLoss]) -> None:
        self.title = ""
        self.note_count = 0
        self.tie_count = 0
        self._losses = losses
        self._spines: list[_Spine] = []
        self._kern: list[int] = []
        self._names: dict[int, str] = {}
        self._drums: set[int] = set()

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
            for spine, cell in zip(self._spines, cells, strict=False):
                if spine.is_kern:
                    self._data(cell)

    def parts(self) -> tuple[PartExtra, ...]:
        """Parts from the rightmost spine to the leftmost, which is from the top of the score down."""
        return tuple(
            PartExtra(self._names.get(spine, ""), drums=Drums.PLACES if spine in self._drums else Drums.NONE)
            for spine in reversed(self._kern)
        )

    def _comment(self, line: str) -> None:
        title = re.match(r"!!!OTL(?:@{0,2}[A-Za-z]*)?:(.*)", line)
        if title and not self.title:
            self.title = clean(title[1])
        elif not line.startswith("!!!"):
            self._losses[NotationLoss.JUMPS] += bool(_JUMP.search(line))

    def _begin(self, cells: list[str]) -> None:
        if self._spines:
            return
        self._spines = [_Spine(number, cell == "**kern") for number, cell in enumerate(cells)]
        self._kern = [spine.number for spine in self._spines if spine.is_kern]
        self._losses[NotationLoss.SPINES] += len(cells) - len(self._kern)

    def _interpret(self, cells: list[str]) -> None:
        if len(cells) != len(self._spines):
            return  # not well-formed: the library refuses it
        after: list[_Spine] = []
        place = 0
        while place < len(cells):
            cell, spine = cells[place], self._spines[place]
            place += 1
            if cell == "*^":
                after += [spine, spine]
            elif cell == "*v":
                while place < len(cells) and cells[place] == "*v" and self._spines[place].number == spine.number:
                    place += 1
                after.append(spine)
            elif cell == "*x" and place < len(cells) and cells[place] == "*x":
                after += [self._spines[place], spine]
                place += 1
            elif cell != "*-":
                after.append(spine)
                self._tandem(cell, spine)
        self._spines = after

    def _tandem(self, cell: str, spine: _Spine) -> None:
        if cell.startswith('*I"'):
            self._names.setdefault(spine.number, clean(cell[3:]))
        elif cell == "*clefX":
            self._drums.add(spine.number)
        elif cell in ("*segno", "*coda", "*fine", "*dacapo", "*dalsegno"):
            self._losses[NotationLoss.JUMPS] += 1

    def _data(self, cell: str) -> None:
        if cell == "." or cell.startswith("!"):
            return
        for note in cell.split(" "):
            if _PITCH.search(note) and "r" not in note:
                self.note_count += 1
                self.tie_count += "[" not in note and ("]" in note or "_" in note)
        self._losses[NotationLoss.TREMOLOS] += "@" in cell
        self._losses[NotationLoss.ARPEGGIOS] += ":" in cell

"""Maximum coverage by integer programming: first the maximum of pieces, then, with as many pieces, of notes.

Additions are whole columns. The others are shares, which are whole of themselves where the additions are: one for each
way of a piece, which add up to 1; one for each list that a way needs, no more than that of the way, and over all ways
of the piece no more than what is taken of the list; one for each note that needs several lists, no more than theirs;
one for each way with which the whole piece is covered.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import chain
from typing import Any

import numpy as np

from pegwright.columns import Ints
from pegwright.frozen import frozen
from pegwright.remedy.additions import Addition
from pegwright.verdict.coverage import Coverage
from pegwright.verdict.needs import PieceNeeds, Way

MAX_SIZE = 20_000  # entries of the rows of a programme; beyond, it takes too long
RELAXED = 20  # times as many, up to which a programme is solved with parts of additions
MAX_NODES = 200  # of each search; a bound on time that is the same on every machine
_SLACK = 0.01  # of the solver's numbers
_EARLY = 0.25  # what the last additions in order cost more than the first, in all; the other half what they cost at all


@frozen()
class Solved:
    """The outcome of a programme.

    Args:
        chosen: the additions, sorted; None where parts of additions were allowed, for the bound alone.
        bound: what no set covers more of: pieces or notes.
    """

    chosen: tuple[Addition, ...] | None
    bound: int


def most_pieces(model: Coverage, count: int, max_size: int = MAX_SIZE) -> Solved | None:
    """The additions that cover the most pieces; None where the programme is too large or no set was reached.

    Args:
        model: pieces and additions.
        count: of additions.
        max_size: of the programme.
    """
    programme = _Programme(model, count)
    for piece in model.pieces:
        _add_whole(programme, piece, count)
    if programme.size > max_size:
        return None
    return programme.solved(programme.wholes, sum(map(_is_whole, model.pieces)))


def most_notes(model: Coverage, count: int, pieces: int, max_size: int = MAX_SIZE) -> Solved | None:
    """The additions that cover the most notes among those that cover some pieces; None as above.

    Where the programme is too large, but no more than `RELAXED` times, it is solved with parts of additions.

    Args:
        model: pieces and additions, with the ways that matter.
        count: of additions.
        pieces: to be covered at least.
        max_size: of the programme.
    """
    programme = _Programme(model, count)
    fixed = sum([_add_notes(programme, piece, count) for piece in model.pieces])
    if programme.size > RELAXED * max_size:
        return None
    more = pieces - sum(map(_is_whole, model.pieces))
    if more > 0:
        programme.row(programme.wholes, more, math.inf)
    return programme.solved(programme.notes, fixed, whole=programme.size <= max_size)


class _Programme:
    """An integer programme under construction.

    Args:
        model: of which the additions are the first columns.
        count: of additions that may be taken.

    Attributes:
        notes: what columns are worth in notes.
        wholes: what they are worth in pieces.
    """

    def __init__(self, model: Coverage, count: int) -> None:
        self._model, self._count = model, count
        self._columns = len(model.additions)
        self._rows: list[tuple[dict[int, float], float, float]] = []  # entries, minimum, maximum
        self.notes: dict[int, float] = {}
        self.wholes: dict[int, float] = {}
        self.row(dict.fromkeys(range(self._columns), 1.0), 0, count)
        for pair in model.apart:
            self.row({model.number[addition]: 1.0 for addition in pair}, 0, 1)

    @property
    def size(self) -> int:
        """Entries of all rows."""
        return sum(len(entries) for entries, _, _ in self._rows)

    def column(self, notes: int = 0) -> int:
        """A new share that is worth some notes."""
        self._columns += 1
        if notes:
            self.notes[self._columns - 1] = float(notes)
        return self._columns - 1

    def row(self, entries: dict[int, float], least: float, most: float) -> None:
        """The bounds of a sum.

        Args:
            entries: what columns count.
            least: the minimum.
            most: the maximum.
        """
        self._rows.append((entries, least, most))

    def no_more(self, shares: Iterable[int], other: int) -> None:
        """Shares that are, each for itself, no more than another."""
        for share in shares:
            self.row({share: 1.0, other: -1.0}, -math.inf, 0)

    def within(self, shares: Sequence[int], choice: tuple[Addition, ...]) -> None:
        """Shares that are together no more than what is taken of some additions."""
        taken = {self._model.number[addition]: -1.0 for addition in choice}
        self.row(dict.fromkeys(shares, 1.0) | taken, -math.inf, 0)

    def solved(self, worth: dict[int, float], fixed: int, whole: bool = True) -> Solved | None:
        """The best solution, None where none was reached.

        Of equals it has the fewest and earliest additions: all together they cost less than one note or piece.

        Args:
            worth: of columns.
            fixed: what is worth as much without any.
            whole: whether additions are taken whole.
        """
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415  # heavy, and rarely needed
        from scipy.sparse import csr_array  # noqa: PLC0415

        aim, size = np.zeros(self._columns), len(self._model.additions)
        aim[list(worth)] = list(worth.values())
        aim[:size] -= (_EARLY + _EARLY * np.arange(size) / max(1, size)) / self._count
        lengths = [len(entries) for entries, _, _ in self._rows]
        begins: Ints = np.cumsum([0, *lengths], dtype=np.int64)
        columns = np.array(list(chain.from_iterable(entries for entries, _, _ in self._rows)), dtype=np.int64)
        values = np.array(list(chain.from_iterable(entries.values() for entries, _, _ in self._rows)))
        matrix = csr_array((values, columns, begins), shape=(len(lengths), self._columns))
        result: Any = milp(
            -aim,
            constraints=LinearConstraint(matrix, [each[1] for each in self._rows], [each[2] for each in self._rows]),
            integrality=(np.arange(self._columns) < size).astype(np.int64) if whole else None,
            bounds=Bounds(0, 1),
            options={"node_limit": MAX_NODES, "mip_rel_gap": 0.0},
        )
        if result.x is None:
            return None
        bound = math.floor(2 * _EARLY + _SLACK - (result.mip_dual_bound if whole else result.fun))
        if not whole:
            return Solved(None, fixed + bound)
        chosen = zip(self._model.additions, result.x, strict=False)
        return Solved(tuple(addition for addition, share in chosen if share > 0.5), fixed + bound)


def _is_whole(piece: PieceNeeds) -> bool:
    return any(way.sounding == piece.notes for way in piece.ways)


def _lists(way: Way) -> dict[tuple[Addition, ...], int]:
    """The lists that a way needs, with the notes that need that alone."""
    lists = dict.fromkeys(chain.from_iterable(need for need, _ in way.needs), 0)
    return lists | {need[0]: notes for need, notes in way.needs if len(need) == 1}


def _can_be_whole(way: Way, count: int) -> bool:
    return not way.beyond and sum(len(choice) == 1 for choice in _lists(way)) <= count


def _add_whole(programme: _Programme, piece: PieceNeeds, count: int) -> None:
    """The columns and rows of a piece that can be covered as a whole.

    Args:
        programme: to add to.
        piece: with the ways that matter.
        count: of additions.
    """
    if _is_whole(piece):
        return
    needing: dict[tuple[Addition, ...], list[int]] = {}
    columns = []
    for way in piece.ways:
        if _can_be_whole(way, count):
            columns.append(programme.column())
            for choice in _lists(way):
                needing.setdefault(choice, []).append(columns[-1])
    programme.wholes |= dict.fromkeys(columns, 1.0)
    if len(columns) > 1:
        programme.row(dict.fromkeys(columns, 1.0), 0, 1)
    for choice, shares in needing.items():
        programme.within(shares, choice)


def _add_notes(programme: _Programme, piece: PieceNeeds, count: int) -> int:
    """The columns and rows of a piece, and the notes that it has without any addition.

    Args:
        programme: to add to.
        piece: with the ways that matter.
        count: of additions.
    """
    fixed = max(way.sounding for way in piece.ways)
    single = len(piece.ways) == 1
    covered: dict[tuple[Addition, ...], list[int]] = {}
    ways = []
    for way in piece.ways:
        lists = {choice: programme.column(notes) for choice, notes in _lists(way).items()}
        for choice, column in lists.items():
            covered.setdefault(choice, []).append(column)
        if not single:
            ways.append(programme.column())
            programme.notes[ways[-1]] = float(way.sounding - fixed)
            programme.no_more(lists.values(), ways[-1])
        for need, notes in way.needs:
            if len(need) > 1:
                column = programme.column(notes)
                for choice in need:
                    programme.no_more([column], lists[choice])
        if not _is_whole(piece) and _can_be_whole(way, count):
            column = programme.column()
            programme.wholes[column] = 1.0
            for share in lists.values():
                programme.no_more([column], share)
    if ways:
        programme.row(dict.fromkeys(ways, 1.0), 1, 1)
    for choice, shares in covered.items():
        programme.within(shares, choice)
    return fixed

"""The coverage model of a build-out: which pieces and notes a set of additions covers.

A note is covered if it sounds on the wheel as it is, or one addition of each list that it needs is in the set. A piece
is covered if all its notes are, at one of its transpositions; of each piece the notes are counted at the transposition
at which the set covers most. What additions do to one another beyond that is not in the model.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import cached_property
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints
from pegwright.frozen import frozen
from pegwright.remedy.additions import Addition
from pegwright.verdict.needs import Need, PieceNeeds, Way

MAX_COUNT = 20  # additions of a build-out
_ROUNDING = 1e-6  # of sums of parts of notes


@frozen()
class Covered:
    """What a set of additions covers in the model.

    Args:
        pieces: of which every note is covered.
        notes: of all pieces.
    """

    pieces: int
    notes: int


class Coverage:
    """Pieces and the additions that they need.

    Args:
        pieces: what each needs.
        excluded: additions that the wheel cannot have.
        apart: pairs of additions that the wheel cannot have together.
    """

    def __init__(
        self,
        pieces: Sequence[PieceNeeds],
        excluded: Collection[Addition] = (),
        apart: Collection[tuple[Addition, Addition]] = (),
    ) -> None:
        self.pieces = tuple(_without(piece, frozenset(excluded)) for piece in pieces)
        needs = {need for piece in self.pieces for way in piece.ways for need, _ in way.needs}
        self.additions = tuple(
            sorted({each for need in needs for choice in need for each in choice}, key=Addition.order)
        )
        self.number = {addition: number for number, addition in enumerate(self.additions)}
        self.apart = tuple((one, other) for one, other in apart if one in self.number and other in self.number)
        self.notes = sum(piece.notes for piece in self.pieces)

    def with_ways_for(self, count: int) -> Coverage:
        """The same without ways that do not matter for sets of some additions, see `worth_keeping`."""
        pieces = [PieceNeeds(piece.notes, worth_keeping(piece, count)) for piece in self.pieces]
        smaller = Coverage(pieces)
        smaller.additions, smaller.number, smaller.apart = self.additions, self.number, self.apart
        return smaller

    def covered(self, chosen: Collection[Addition]) -> Covered:
        """What a set of additions covers."""
        taken = np.zeros(len(self.additions), dtype=bool)
        taken[[self.number[addition] for addition in chosen]] = True
        return self.covered_by(taken)

    def covered_by(self, taken: NDArray[np.bool_]) -> Covered:
        """What additions cover; shape (additions,), whether each is made."""
        index = self._index
        if not len(index.of_piece):
            return Covered(0, 0)
        notes = index.sounding.copy()
        if len(index.counts):
            met = np.maximum.reduceat(taken[index.entries], index.lists)
            whole = np.minimum.reduceat(met, index.needs)
            notes += np.bincount(index.of_way, weights=index.counts * whole, minlength=len(notes)).astype(np.int64)
        best = np.maximum.reduceat(notes, index.of_piece)
        return Covered(int(np.count_nonzero(best == index.notes)), int(best.sum()))

    @cached_property
    def _index(self) -> _Index:
        ways = [way for piece in self.pieces for way in piece.ways]
        needs = [(number, need, count) for number, way in enumerate(ways) for need, count in way.needs]
        lists = [choice for _, need, _ in needs for choice in need]
        return _Index(
            of_piece=_starts([len(piece.ways) for piece in self.pieces]),
            notes=np.array([piece.notes for piece in self.pieces], dtype=np.int64),
            sounding=np.array([way.sounding for way in ways], dtype=np.int64),
            of_way=np.array([number for number, _, _ in needs], dtype=np.int64),
            counts=np.array([count for _, _, count in needs], dtype=np.int64),
            needs=_starts([len(need) for _, need, _ in needs]),
            lists=_starts([len(choice) for choice in lists]),
            entries=np.array([self.number[each] for each in chain.from_iterable(lists)], dtype=np.int64),
        )


@frozen(eq=False)
class _Index:
    """Ways, needs and lists of all pieces, one after another.

    Args:
        of_piece: the first way of each piece.
        notes: of each piece.
        sounding: of each way.
        of_way: the way of each need.
        counts: the notes of each need.
        needs: the first list of each need.
        lists: the first entry of each list.
        entries: the number of an addition.
    """

    of_piece: Ints
    notes: Ints
    sounding: Ints
    of_way: Ints
    counts: Ints
    needs: Ints
    lists: Ints
    entries: Ints


def _starts(lengths: Sequence[int]) -> Ints:
    return np.cumsum([0, *lengths[:-1]], dtype=np.int64) if lengths else np.zeros(0, dtype=np.int64)


def _without(piece: PieceNeeds, excluded: frozenset[Addition]) -> PieceNeeds:
    """A piece whose lists have no excluded additions; notes that a list leaves nothing for are beyond help."""
    if not excluded:
        return piece
    ways = []
    for way in piece.ways:
        needs: dict[Need, int] = {}
        beyond = way.beyond
        for need, count in way.needs:
            left = tuple(tuple(each for each in choice if each not in excluded) for choice in need)
            if all(left):
                needs[left] = needs.get(left, 0) + count
            else:
                beyond += count
        ways.append(Way(way.transpose_semitones, way.start_steps, way.sounding, tuple(needs.items()), beyond))
    return PieceNeeds(piece.notes, tuple(ways))


def notes_by_addition(model: Coverage, count: int) -> Ints:
    """Shape (additions,): for each no fewer notes than it adds to any `count` - 1 others, all pieces together.

    A piece at its best way now has *b* notes, at another *d* fewer. With `count` additions it has there b - d and the
    notes of each addition, which is b and the sum, over the additions, of their notes less d / count.
    """
    total = np.zeros(len(model.additions))
    for piece in model.pieces:
        best = max(way.sounding for way in piece.ways)
        most = np.zeros(len(model.additions))
        for way in piece.ways:
            notes = np.zeros(len(model.additions))
            for need, each in way.needs:  # all additions of one of its lists: at least one of them is made
                notes[[model.number[addition] for addition in min(need, key=len)]] += each
            most = np.maximum(most, notes - (best - way.sounding) / count)
        total += most
    return np.ceil(total - _ROUNDING).astype(np.int64)


def worth_keeping(piece: PieceNeeds, count: int) -> tuple[Way, ...]:
    """The ways of a piece without those that no set of `count` additions makes better than one other way.

    Of two ways, one is never better if it has no more notes even with those additions that make most for it: the best
    `count` of the needs that one addition serves, and all others.
    """
    ways = piece.ways
    keys = {key: number for number, key in enumerate(dict.fromkeys(need for way in ways for need, _ in way.needs))}
    notes = np.zeros((len(ways), len(keys)), dtype=np.int64)
    for row, way in enumerate(ways):
        for need, each in way.needs:
            notes[row, keys[need]] = each
    alone = np.array([len(key) == 1 and len(key[0]) == 1 for key in keys], dtype=bool)
    sounding = np.array([way.sounding for way in ways], dtype=np.int64)
    kept: list[int] = []
    for row in np.argsort(-sounding, kind="stable").tolist():
        if kept:
            more = np.maximum(notes[row] - notes[kept], 0)
            best = np.sort(more[:, alone], axis=1)[:, ::-1][:, :count].sum(axis=1)
            if np.any(sounding[row] - sounding[kept] + best + more[:, ~alone].sum(axis=1) <= 0):
                continue
        kept.append(row)
    return tuple(ways[row] for row in sorted(kept))

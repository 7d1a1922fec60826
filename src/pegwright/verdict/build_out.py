"""What to build next: for 1, 2, ... additions to a wheel the set that lets most pieces in, then makes most notes sound.

The set is chosen in the coverage model by maximum coverage: integer programming where the model is small enough for it,
else one addition after another. Either way it is known how much more another set could cover at most.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from pegwright.frozen import frozen
from pegwright.remedy.additions import Addition, AdditionKind, any_wheel, with_additions
from pegwright.verdict.coverage import Coverage, Covered, notes_by_addition
from pegwright.verdict.exact_coverage import MAX_SIZE, most_notes, most_pieces
from pegwright.verdict.needs import PieceNeeds, Way
from pegwright.wheel import Wheel

MAX_SWAPS = 5  # of a set that was chosen one after another, in which one addition is replaced by another
PROMISING = 2  # additions for each of a set that are tried in its place


@frozen()
class BuildOut:
    """A set of additions, the best of its size that is known in the coverage model.

    Args:
        additions: sorted; fewer than were allowed where no more help.
        covered: what they cover in the model.
        more_pieces: how many more pieces another set of as many could cover at most; 0 where that is proved.
        more_notes: the same of notes, by sets that cover at least as many pieces.
    """

    additions: tuple[Addition, ...]
    covered: Covered
    more_pieces: int
    more_notes: int

    @property
    def exact(self) -> bool:
        """Whether no set of as many additions covers more pieces, or as many and more notes, in the model."""
        return not (self.more_pieces or self.more_notes)


def coverage_of(
    pieces: Sequence[PieceNeeds], wheel: Wheel, could_be_made: Callable[[Wheel], bool] = any_wheel
) -> Coverage:
    """The coverage model of some pieces, without additions that could not be made.

    Args:
        pieces: what each needs.
        wheel: as it is.
        could_be_made: whether a wheel could be made.
    """

    def allowed(*additions: Addition) -> bool:
        return could_be_made(with_additions(wheel, additions, could_be_made))

    every = Coverage(pieces).additions
    excluded = [addition for addition in every if addition.kind is not AdditionKind.HAMMER and not allowed(addition)]
    rows = [addition for addition in every if addition.kind is AdditionKind.ROW and addition not in excluded]
    return Coverage(pieces, excluded, [pair for pair in combinations(rows, 2) if not allowed(*pair)])


def build_outs(model: Coverage, count: int, max_size: int = MAX_SIZE) -> tuple[BuildOut, ...]:
    """The best sets of 1 to `count` additions, as far as one more covers more.

    Args:
        model: pieces and additions.
        count: how many, at least 1.
        max_size: of an integer programme; beyond, additions are chosen one after another.
    """
    sets: list[BuildOut] = []
    for size in range(1, count + 1 if model.additions else 1):
        best = _best(model, size, max_size, sets[-1].additions if sets else ())
        before = sets[-1].covered if sets else model.covered(())
        if (best.covered.pieces, best.covered.notes) <= (before.pieces, before.notes):
            break
        sets.append(best)
    return tuple(sets)


def _best(model: Coverage, count: int, max_size: int, before: Collection[Addition]) -> BuildOut:
    """The best set of some additions.

    Args:
        model: pieces and additions.
        count: of additions.
        max_size: of an integer programme.
        before: the best set of one fewer, which is kept where nothing is better than that with one more.
    """
    kept = model.with_ways_for(count)
    first = most_pieces(kept, count, max_size)
    starts = [before, (), *([first.chosen] if first and first.chosen else [])]
    chosen = max((_extended(kept, start, count) for start in starts), key=lambda each: _rank(model, each))
    solved = most_notes(kept, count, model.covered(chosen).pieces, max_size)
    if solved is None or solved.chosen is None:
        chosen = _exchanged(kept, chosen, count)
    elif _rank(model, solved.chosen) > _rank(model, chosen):
        chosen = solved.chosen
    covered, bound = model.covered(chosen), _bound(kept, count)
    most = bound.pieces if first is None else first.bound
    notes = bound.notes if solved is None else min(bound.notes, solved.bound)
    return BuildOut(chosen, covered, max(0, most - covered.pieces), max(0, notes - covered.notes))


def _rank(model: Coverage, chosen: Collection[Addition]) -> tuple[int, int]:
    covered = model.covered(chosen)
    return covered.pieces, covered.notes


def _bound(model: Coverage, count: int) -> Covered:
    """What no set of additions exceeds: the sum over pieces, or over additions, of the maximum of each."""
    reached = [max(_most(way, count) for way in piece.ways) for piece in model.pieces]
    whole = sum(notes == piece.notes for notes, piece in zip(reached, model.pieces, strict=True))
    now = sum(max(way.sounding for way in piece.ways) for piece in model.pieces)
    by_addition = now + int(np.sort(notes_by_addition(model, count))[::-1][:count].sum())
    return Covered(whole, min(sum(reached), by_addition))


def _most(way: Way, count: int) -> int:
    alone = sorted((notes for need, notes in way.needs if len(need) == 1 and len(need[0]) == 1), reverse=True)
    others = sum(notes for need, notes in way.needs if not (len(need) == 1 and len(need[0]) == 1))
    return way.sounding + sum(alone[:count]) + others


def _extended(model: Coverage, start: Collection[Addition], count: int) -> tuple[Addition, ...]:
    """Additions chosen one after another, or several at once where a note or a piece needs them together.

    Args:
        model: pieces and additions.
        start: those that are taken at first.
        count: of additions.
    """
    taken = np.zeros(len(model.additions), dtype=bool)
    taken[[model.number[addition] for addition in start]] = True
    steps = _steps(model, count)
    while True:
        now, room = _gain(model, taken), count - int(taken.sum())
        better = []
        for number, step in enumerate(steps):
            size = int((step & ~taken).sum())
            if 0 < size <= room and _allowed(model, taken | step) and (gain := _gain(model, taken | step)) > now:
                better.append(((gain[0] - now[0]) / size, (gain[1] - now[1]) / size, -size, -number))
        if not better:
            return _named(model, taken)
        taken = taken | steps[-int(max(better)[3])]


def _named(model: Coverage, taken: NDArray[np.bool_]) -> tuple[Addition, ...]:
    return tuple(addition for addition, is_taken in zip(model.additions, taken, strict=True) if is_taken)


def _steps(model: Coverage, count: int) -> list[NDArray[np.bool_]]:
    """Every addition alone, what each note needs, and what each piece needs at each transposition."""
    numbers = {frozenset({number}): None for number in range(len(model.additions))}
    for way in (way for piece in model.pieces for way in piece.ways):
        every = [frozenset(model.number[choice[0]] for choice in need) for need, _ in way.needs]
        numbers |= {each: None for each in every if len(each) <= count}
        whole = frozenset[int]().union(*every)
        if not way.beyond and 0 < len(whole) <= count:
            numbers[whole] = None
    steps = []
    for each in numbers:
        step = np.zeros(len(model.additions), dtype=bool)
        step[list(each)] = True
        steps.append(step)
    return steps


def _exchanged(model: Coverage, chosen: Collection[Addition], count: int) -> tuple[Addition, ...]:
    """Additions with one after another exchanged for that, of the most promising, which covers most in its place.

    Args:
        model: pieces and additions.
        chosen: the additions.
        count: how many are allowed.
    """
    promising = np.argsort(-notes_by_addition(model, count), kind="stable")[: PROMISING * count].tolist()
    taken = np.zeros(len(model.additions), dtype=bool)
    taken[[model.number[addition] for addition in chosen]] = True
    for _ in range(MAX_SWAPS):
        best, most = taken, _gain(model, taken)
        for out in np.flatnonzero(taken).tolist():
            for instead in promising:
                other = taken.copy()
                other[[out, instead]] = False, True
                if not taken[instead] and _allowed(model, other) and (gain := _gain(model, other)) > most:
                    best, most = other, gain
        if best is taken:
            break
        taken = best
    return _named(model, taken)


def _gain(model: Coverage, taken: NDArray[np.bool_]) -> tuple[int, int]:
    covered = model.covered_by(taken)
    return covered.pieces, covered.notes


def _allowed(model: Coverage, taken: NDArray[np.bool_]) -> bool:
    return not any(taken[model.number[one]] and taken[model.number[other]] for one, other in model.apart)

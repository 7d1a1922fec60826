"""What to build next: for 1, 2, ... additions to a wheel the set that lets most pieces in, then makes most notes sound.

The set is chosen in the coverage model by maximum coverage: integer programming where the model is small enough for it,
else one addition after another. Either way it is known how much more another set could cover at most.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from pegwright.frozen import frozen
from pegwright.remedy.additions import Addition, AdditionKind, any_wheel, with_additions
from pegwright.verdict.coverage import Coverage, Covered, worth_keeping
from pegwright.verdict.exact_coverage import MAX_SIZE, solve
from pegwright.verdict.needs import PieceNeeds, Way
from pegwright.wheel import Wheel

MAX_SWAPS = 20  # of a set that was chosen one after another, in which one addition is replaced by another


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
    for size in range(1, count + 1):
        best = _best(model, size, max_size)
        before = sets[-1].covered if sets else model.covered(())
        if (best.covered.pieces, best.covered.notes) <= (before.pieces, before.notes):
            break
        sets.append(best)
    return tuple(sets)


def _best(model: Coverage, count: int, max_size: int) -> BuildOut:
    kept = tuple(PieceNeeds(piece.notes, worth_keeping(piece, count)) for piece in model.pieces)
    solved = solve(model, kept, count, max_size)
    chosen = _one_after_another(model, count, exchange=solved is None)
    covered, bound = model.covered(chosen), _bound(kept, count)
    if solved is not None:
        bound = solved.bound
        better = model.covered(solved.chosen)
        if (better.pieces, better.notes) >= (covered.pieces, covered.notes):  # its order of equals is the same anywhere
            chosen, covered = solved.chosen, better
    more_pieces = max(0, bound.pieces - covered.pieces)
    return BuildOut(chosen, covered, more_pieces, max(0, bound.notes - covered.notes))


def _bound(pieces: Sequence[PieceNeeds], count: int) -> Covered:
    """What no set of additions exceeds, each piece for itself with the additions that make most for it."""
    reached = [max(_most(way, count) for way in piece.ways) for piece in pieces]
    whole = sum(notes == piece.notes for notes, piece in zip(reached, pieces, strict=True))
    return Covered(whole, sum(reached))


def _most(way: Way, count: int) -> int:
    alone = sorted((notes for need, notes in way.needs if len(need) == 1 and len(need[0]) == 1), reverse=True)
    others = sum(notes for need, notes in way.needs if not (len(need) == 1 and len(need[0]) == 1))
    return way.sounding + sum(alone[:count]) + others


def _one_after_another(model: Coverage, count: int, exchange: bool) -> tuple[Addition, ...]:
    """Additions chosen one after another, or several at once where a note or a piece needs them together.

    Args:
        model: pieces and additions.
        count: of additions.
        exchange: whether single ones are exchanged for others afterwards, while that covers more.
    """
    taken = np.zeros(len(model.additions), dtype=bool)
    steps = _steps(model, count)
    while True:
        trials = [
            (_gain(model, taken | step), -int((step & ~taken).sum()), number)
            for number, step in enumerate(steps)
            if 0 < (step & ~taken).sum() <= count - taken.sum() and _allowed(model, taken | step)
        ]
        now = _gain(model, taken)
        better = [
            (tuple(part / -size for part in (gain[0] - now[0], gain[1] - now[1])), size, -number)
            for gain, size, number in trials
            if gain > now
        ]
        if not better:
            break
        taken = taken | steps[-max(better)[2]]
    if exchange:
        taken = _exchanged(model, taken)
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


def _exchanged(model: Coverage, taken: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Additions with one after another exchanged for that which covers most in its place."""
    for _ in range(MAX_SWAPS):
        best, most = taken, _gain(model, taken)
        for other in _exchanges(taken):
            if _allowed(model, other) and (gain := _gain(model, other)) > most:
                best, most = other, gain
        if best is taken:
            break
        taken = best
    return taken


def _exchanges(taken: NDArray[np.bool_]) -> Iterator[NDArray[np.bool_]]:
    for out in np.flatnonzero(taken).tolist():
        for instead in np.flatnonzero(~taken).tolist():
            other = taken.copy()
            other[[out, instead]] = False, True
            yield other


def _gain(model: Coverage, taken: NDArray[np.bool_]) -> tuple[int, int]:
    covered = model.covered_by(taken)
    return covered.pieces, covered.notes


def _allowed(model: Coverage, taken: NDArray[np.bool_]) -> bool:
    return not any(taken[model.number[one]] and taken[model.number[other]] for one, other in model.apart)

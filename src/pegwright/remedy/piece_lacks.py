"""What a whole piece lacks on a wheel, and whether it fits with that added."""

from __future__ import annotations

from collections import Counter

from pegwright.frozen import frozen
from pegwright.remedy.additions import Addition, AdditionKind
from pegwright.remedy.lacking import Additions, without_idle
from pegwright.remedy.trials import Trials

MAX_ADDITIONS = 5  # beyond, it is not tried whether the piece fits with them


@frozen()
class PieceLacks:
    """What a piece lacks.

    Args:
        additions: sorted.
        notes: for each of them, the notes that lack it.
        let_in: whether the piece was fitted to the wheel with all of them and every note sounds.
    """

    additions: tuple[Addition, ...]
    notes: tuple[int, ...]
    let_in: bool


def lacked_by_piece(trials: Trials) -> PieceLacks:
    """Compute what a piece lacks.

    Every silent note lacks the first of its list in `Trials.lacked`. With these added, further notes may turn out to
    lack something, until every note sounds or a note is left that no addition helps.

    Args:
        trials: of the piece.
    """
    additions: Additions = frozenset()
    notes: Counter[Addition] = Counter()
    by_turn = trials.lacked()
    choices: tuple[tuple[Addition, ...], ...] = ((),)
    while by_turn is not None:
        choices = tuple(choice for turn in by_turn for choice in turn.values())
        notes.update(choice[0] for choice in choices if choice)
        new = {choice[0] for choice in choices if choice} - additions
        additions |= new
        if not new or not all(choices) or len(additions) > MAX_ADDITIONS:
            break
        by_turn = trials.lacked(additions)
    let_in = not choices and bool(additions)
    if let_in and sum(addition.kind in _REPLACEABLE for addition in additions) > 1:
        additions = without_idle(additions, trials.silent)
    ordered = tuple(sorted(additions, key=Addition.order))
    return PieceLacks(ordered, tuple(notes[addition] for addition in ordered), let_in)


_REPLACEABLE = frozenset({AdditionKind.ROW, AdditionKind.HAMMER})  # what another of them can make unnecessary

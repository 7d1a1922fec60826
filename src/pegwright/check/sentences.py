"""Broken rules as sentences: every sentence of the verifier is a literal given to `each` or yielded by a rule."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from pegwright.check.columns import Bools

MAX_SENTENCES = 20  # of one rule; the rest are counted


def each(name: Callable[[int], str], broken: Bools, what: str) -> Iterator[str]:
    """A sentence for each note that breaks a rule.

    Args:
        name: of the note of a number.
        broken: shape (n,), whether each note breaks the rule.
        what: the end of the sentence, which begins with the note.
    """
    if not np.count_nonzero(broken):
        return
    notes = np.flatnonzero(broken)
    for note in notes[:MAX_SENTENCES].tolist():
        yield f"{name(note)} {what}"
    if len(notes) > MAX_SENTENCES:
        yield f"{len(notes) - MAX_SENTENCES} more: {what}"

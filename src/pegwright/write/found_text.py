"""The best few ways that a search found, as a table for a terminal."""

from __future__ import annotations

import numpy as np

from pegwright.fit.audible import Audibility, audibility
from pegwright.fit.best import Best, Found
from pegwright.placement import Outcome
from pegwright.score import Score
from pegwright.units import plural, printed
from pegwright.write.tables import text_table

HEADER = ("Semitones", "Start", "As good", "Notes in", "Moved", "Audibly", "Left out", "Because")
REASONS_SHOWN = 1  # the most frequent; more would make lines too long, so the others are counted together


def found_text(score: Score, best: Best) -> str:
    """One line for each of the best transpositions, at its best start.

    Args:
        score: the song.
        best: what a search found for it.
    """
    weighed = f"{plural(best.transpositions, 'transposition')} x {plural(best.starts, 'start')}"
    lines = text_table(HEADER, [_row(score, found) for found in best.found], left=(7,))
    sure = "the best, proved" if best.gap is None else "the best found, not proved"
    return "\n".join([f"Weighed {weighed}; {sure}:", "", *lines]) + "\n"


def _row(score: Score, found: Found) -> tuple[str, ...]:
    placement = found.placement
    heard = audibility(score, placement)
    reasons = [Outcome(reason) for reason in np.unique(placement.outcome).tolist() if reason != Outcome.PLACED]
    counts = sorted(
        ((int(np.count_nonzero(placement.outcome == reason)), reason.words) for reason in reasons), reverse=True
    )
    because = [f"{count:,} {words}" for count, words in counts[:REASONS_SHOWN]]
    others = sum(count for count, _ in counts[REASONS_SHOWN:])
    semitones = found.choice.transpose_semitones
    return (
        f"{semitones:+d}" if semitones else "0",
        f"{printed(found.choice.start_steps)}",
        f"{found.equal_starts - 1:,} more",
        f"{placement.placed_count:,}",
        f"{int(np.count_nonzero(heard > Audibility.EXACT)):,}",
        f"{int(np.count_nonzero(heard == Audibility.AUDIBLE)):,}",
        f"{placement.left_out_count:,}",
        ", ".join([*because, *([plural(others, "other")] if others else [])]),
    )

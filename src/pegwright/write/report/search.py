"""The best few results of a search, as a table for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pegwright.note_count import NoteCount, note_count
from pegwright.remedy.changes import CommandOf
from pegwright.remedy.song_remedies import Remedies
from pegwright.search.best import Best, RankedFit
from pegwright.tell.audible import Audibility, audibility
from pegwright.units import plural, printed
from pegwright.write.tables import LINE_CELLS, TextTable, UncutLine, command_lines, paragraphs

HEADER = ("Semitones", "Start", "As good", "Sound", "Moved", "Audibly", "Left out", "Because")
STARTS_LISTED = 12  # runs of equally good starts; more are counted, and the report as JSON has all
REASONS_SHOWN = 1  # the most frequent; more would make lines too long, so the others are counted together


def search_text(best: Best, width: int = LINE_CELLS) -> str:
    """One line for each of the best transpositions, at its best start, over all turns of the song.

    Args:
        best: the result of a search.
        width: cells of a line.
    """
    tried = f"{plural(best.transpositions, 'transposition')} x {plural(best.starts, 'start')}"
    table = TextTable(HEADER, [_row(way) for way in best.ranked], left=(7,), over=True)
    sure = "the best, proved" if best.gap is None else "the best found, not proved"
    equal = best.ranked[0].equal_starts
    equal_lines = [f"Equally good starts of the first: steps {starts_text(equal)}"] if len(equal) > 1 else []
    return paragraphs([[f"Compared {tried}; {sure}:"], [table], equal_lines], width)


def beyond_search_text(remedies: Remedies, count: NoteCount, command: CommandOf, width: int = LINE_CELLS) -> str:
    """A line on what would sound more notes than the first choice of a search; empty where nothing that was tried does.

    Args:
        remedies: for the song at the first choice of the search.
        count: of the song's notes at that choice.
        command: the whole command that makes the changes of a remedy.
        width: cells of a line.
    """
    more = next((remedy for remedy in remedies.song if remedy.shortfall.silent < remedies.now.silent), None)
    if more is None:
        return ""
    now, then = count.sounding, count.sounding + remedies.now.silent - more.shortfall.silent
    words = (
        f"A search varies transposition and start alone: {now:,} of {plural(count.read, 'note')} sound with its first "
        f"choice, {then:,} with"
    )
    return paragraphs([[words, *map(UncutLine, command_lines(command(more.changes, None), width))]], width) + "\n"


def taking_text(command: CommandOf, width: int = LINE_CELLS) -> str:
    """The command that takes the first choice of a search, for its report.

    Args:
        command: the whole command that makes changes.
        width: cells of a line.
    """
    return paragraphs([["The first is taken by", *map(UncutLine, command_lines(command((), None), width))]], width)


def starts_text(starts: Sequence[int]) -> str:
    """Starts as text, consecutive ones as a range: `1, 5, 9 to 12`."""
    runs: list[list[int]] = []
    for step in starts:
        if runs and step == runs[-1][-1] + 1:
            runs[-1].append(step)
        else:
            runs.append([step])
    words = [
        f"{printed(run[0])} to {printed(run[-1])}" if len(run) > 2 else ", ".join(str(printed(step)) for step in run)
        for run in runs
    ]
    listed = ", ".join(words[:STARTS_LISTED])
    return f"{listed} and {len(words) - STARTS_LISTED} more" if len(words) > STARTS_LISTED else listed


def _row(way: RankedFit) -> tuple[str, ...]:
    count = note_count(way.placements)
    levels = np.concatenate([audibility(fit.fitting.score, fit.placement) for fit in way.fits])
    counts = sorted(((notes, reason.words) for reason, notes in count.left_out_by_reason.items()), reverse=True)
    because = [f"{notes:,} {words}" for notes, words in counts[:REASONS_SHOWN]]
    others = sum(notes for notes, _ in counts[REASONS_SHOWN:])
    semitones = way.choice.transpose_semitones
    return (
        f"{semitones:+d}" if semitones else "0",
        f"{printed(way.choice.start_steps)}",
        f"{len(way.equal_starts) - 1:,} more",
        f"{count.sounding:,}",
        f"{int(np.count_nonzero(levels > Audibility.EXACT)):,}",
        f"{int(np.count_nonzero(levels == Audibility.AUDIBLE)):,}",
        f"{count.left_out:,}",
        ", ".join([*because, *([plural(others, "other")] if others else [])]),
    )

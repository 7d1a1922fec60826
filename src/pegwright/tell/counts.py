"""The count of a song's notes in words, the same for terminal, report, page, sheet and plan."""

from __future__ import annotations

from pegwright.note_count import NoteCount
from pegwright.score import Score
from pegwright.tell.report import Report
from pegwright.units import plural

BARS_NAMED = 8
DAMAGE_CODES = (
    "midi-track-broken",
    "midi-track-count",
)  # findings after which notes may be missing that were never read


def count_words(count: NoteCount) -> str:
    """The notes that sound, those left out by reason and those dropped by option, the most frequent first.

    >>> from pegwright.placement import Outcome
    >>> count_words(NoteCount(9, 4, 2, {Outcome.OFF_GRID: 1}, {"thin": 2}))
    '6 of 9 notes sound (2 share a pin); 1 left out: 1 off the grid; 2 dropped on request: 2 by --thin'
    """
    if not count.read:
        return "The song has no notes: there is nothing to place"
    shared = f" ({plural(count.shared_pin, 'shares', 'share')} a pin)" if count.shared_pin else ""
    return "; ".join([_sounding(count) + shared, *_left_out(count), *_dropped(count)])


def damage_words(report: Report) -> str:
    """A sentence to follow the count where part of the file could not be read; empty where all was."""
    if not any(report.of_code(code) for code in DAMAGE_CODES):
        return ""
    return "The file is damaged, and notes in what could not be read are not counted."


def doubtful_words(score: Score) -> str:
    """The notes played by hand whose hole is in doubt, with their bars; empty where there are none.

    Args:
        score: a song, or a turn of it.
    """
    doubtful = score.doubtful
    if not len(doubtful):
        return ""
    labels, bars = score.bar_map.labels, score.bar_map
    named = list(dict.fromkeys(labels[bars.bar_of(int(tick))] for tick in score.onset_ticks[doubtful]))
    more = f" and {len(named) - BARS_NAMED:,} more" if len(named) > BARS_NAMED else ""
    where = f"{'bar' if len(named) == 1 else 'bars'} {', '.join(named[:BARS_NAMED])}{more}"
    return f"{plural(len(doubtful), 'note')} whose hole is in doubt: {where}"


def _sounding(count: NoteCount) -> str:
    if count.sounding < count.read:
        return f"{count.sounding:,} of {plural(count.read, 'note')} {'sounds' if count.sounding == 1 else 'sound'}"
    return f"All {plural(count.read, 'note')} sound" if count.read > 1 else "The only note sounds"


def _left_out(count: NoteCount) -> list[str]:
    if not count.left_out:
        return ["none left out"] if count.dropped else []
    largest = sorted(count.left_out_by_reason.items(), key=lambda item: -item[1])
    return [f"{count.left_out:,} left out: " + ", ".join(f"{notes:,} {reason.words}" for reason, notes in largest)]


def _dropped(count: NoteCount) -> list[str]:
    if not count.dropped:
        return []
    options = ", ".join(f"{notes:,} by --{option}" for option, notes in count.dropped_by_option.items())
    return [f"{count.dropped:,} dropped on request: {options}"]

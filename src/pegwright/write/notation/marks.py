"""Which written bars to draw, and which of their notes to mark."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import count

import numpy as np

from pegwright.columns import Ints
from pegwright.frozen import frozen
from pegwright.placement import Outcome, Placement
from pegwright.score import Score, WrittenMusic

LEVELS = ("out", "audible", "slight")  # troubles that are marked, the worst first
MAX_BARS = 32  # drawn of one song: with more, the wheel and the list show more than the music
MAX_MARKS = 500  # in all: a page of them is no help, and bars of thousands of notes take very long to draw
BARS_IN_A_ROW = 4  # in one picture: about two lines of music, so that its key stays beside it


@frozen()
class Mark:
    """A note on the page of the score that is in trouble, at one time round or more.

    Args:
        number: printed beside it, from 1.
        element: which note, as `Score.written` counts.
        bar: its written bar, 0-based.
        level: its worst outcome, of `LEVELS`.
        notes: those that it stands for, with trouble at that level or less; in playing order.
    """

    number: int
    element: int
    bar: int
    level: str
    notes: tuple[int, ...]


@frozen()
class Picture:
    """Written bars next to each other, first and last 0-based, with their marks by number."""

    first: int
    last: int
    marks: tuple[Mark, ...]


@frozen()
class Chosen:
    """What to draw, and how much is not drawn.

    Args:
        pictures: in the order of the score; numbers of marks run on through them.
        unshown_bars, unshown_notes: bars in trouble beyond the limit, and the notes in trouble there.
        unshown_past: notes past the end of the turn, after the bar in which it ends.
    """

    pictures: tuple[Picture, ...]
    unshown_bars: int = 0
    unshown_notes: int = 0
    unshown_past: int = 0


def choose(score: Score, placement: Placement, outcomes: Sequence[str], music: WrittenMusic) -> Chosen:
    """Choose the bars with the worst troubles, up to a limit.

    Of a song longer than the turn, everything after some place is left out: only the bar in which that begins is
    shown.

    Args:
        score: its notes know their elements.
        placement: its outcome.
        outcomes: of every note, in a word.
        music: the file it was read from.
    """
    troubled = [note for note, outcome in enumerate(outcomes) if outcome in LEVELS]
    past = _far_past_turn(score, placement)
    notes_of: dict[int, list[int]] = defaultdict(list)
    for note in troubled:
        if note not in past:
            notes_of[int(score.written[note])].append(note)
    bar_of = _bar_of_element(music)
    level_of = {element: min(LEVELS.index(outcomes[note]) for note in notes) for element, notes in notes_of.items()}
    elements_in: dict[int, list[int]] = defaultdict(list)
    for element in sorted(notes_of):
        elements_in[int(bar_of[element])].append(element)
    worst_first = sorted(elements_in, key=lambda bar: (min(level_of[element] for element in elements_in[bar]), bar))
    shown: set[int] = set()
    room = MAX_MARKS
    for bar in worst_first[:MAX_BARS]:
        if len(elements_in[bar]) <= room:
            shown.add(bar)
            room -= len(elements_in[bar])
    numbers = count(1)
    marks = {
        bar: [
            Mark(next(numbers), element, bar, LEVELS[level_of[element]], tuple(notes_of[element]))
            for element in elements_in[bar]
        ]
        for bar in sorted(shown)
    }
    unshown = [bar for bar in worst_first if bar not in shown]
    return Chosen(
        tuple(_pictures(marks)),
        len(unshown),
        sum(len(notes_of[element]) for bar in unshown for element in elements_in[bar]),
        len(past.intersection(troubled)),
    )


def bar_played(score: Score, note: int) -> int:
    """The bar as played that a note begins in, 0-based."""
    return score.bar_map.bar_of(int(score.onset_ticks[note]))


def _far_past_turn(score: Score, placement: Placement) -> set[int]:
    """Notes past the end of the turn, but for those in the bar that the first of them is in."""
    past = np.flatnonzero(placement.outcome == Outcome.PAST_TURN).tolist()
    first = min((bar_played(score, note) for note in past), default=0)
    return {note for note in past if bar_played(score, note) > first}


def _bar_of_element(music: WrittenMusic) -> Ints:
    """Shape (elements,): the written bar of every `note` element."""
    bars = [bar for _, elements in music.parts for bar in elements]
    counts = [len(element.findall("note")) for _, elements in music.parts for element in elements.values()]
    return np.repeat(np.array(bars, dtype=np.int64), counts)


def _pictures(marks: Mapping[int, Sequence[Mark]]) -> Iterable[Picture]:
    """Bars that touch, or have one bar between, go together."""
    runs: list[list[int]] = []
    for bar in marks:
        if runs and bar <= runs[-1][-1] + 2 and bar - runs[-1][0] < BARS_IN_A_ROW:
            runs[-1].append(bar)
        else:
            runs.append([bar])
    for run in runs:
        yield Picture(run[0], run[-1], tuple(mark for bar in run for mark in marks[bar]))

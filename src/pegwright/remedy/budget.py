"""How much work the remedies of a song may take: counted, so that the same remedies are found on every machine.

A unit of work takes about 10 microseconds. A fit has a fixed part, one for the holes of the wheel, and one for the
notes; where limits or shared pitches join channels, every pair of notes within their window counts one unit. The
constants were measured by `tests/benchmarks/bench_remedies.py`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.fit.arrange import PITCH_COUNT
from pegwright.grid import hole_grid
from pegwright.score import Score
from pegwright.wheel import Channel, Wheel

PAGE_WORK = 50_000  # about half a second: for the report page, where remedies were not asked for
FULL_WORK = 2_000_000  # about 20 seconds: where they were
WHEEL_SHARE = 3  # a third of it is kept for changes to the wheel
RHYTHM_SHARE = 10  # where remedies were asked for, a tenth of it is kept for other rhythms
FIT_WORK = 130  # of a fit without notes
WHEEL_WORK = 500  # of a wheel with its rules checked
HOLES_PER_UNIT = 140  # that are laid out
NOTES_PER_UNIT = 4  # that are fitted
NOTES_PER_START_UNIT = 25  # that a search compares at one start
SOLVED_STARTS = 4  # that a search solves on the whole where channels are joined
SEARCH_SHARE = 20  # at most one part in 20 of what is left is for one search for a start
MAX_SEARCHED_HOLES = 500_000  # that are laid out in one search, which bounds its memory


class Budget:
    """Work that may be done.

    Args:
        work: in units.

    Attributes:
        spent: in units.
        complete: whether nothing has been refused.
    """

    def __init__(self, work: int) -> None:
        self._work = work
        self.spent, self.complete = 0, True

    @property
    def left(self) -> int:
        """In units."""
        return max(0, self._work - self.spent)

    def take(self, work: int, kept: int = 0) -> bool:
        """Spend some; False where less is left besides what is kept."""
        if work > self.left - kept:
            self.complete = False
            return False
        self.spent += work
        return True


class WorkOf:
    """The work of fits and searches of a song, in units.

    Args:
        turns: of the song.
        wheel: the wheel.
        options: as every turn is fitted.
        us_per_quarter: the tempo.
    """

    def __init__(self, turns: Sequence[Score], wheel: Wheel, options: FitOptions, us_per_quarter: int) -> None:
        joined = _joined_channels(wheel)
        lines = hole_grid(wheel).lines
        types = len(wheel.pin_types)
        self._turns = len(turns)
        self._notes = sum(turn.note_count for turn in turns)
        self._pairs = sum(_pairs(turn, wheel, options, window, us_per_quarter) for window in joined for turn in turns)
        self._holes = types * sum(len(line.position) for line in lines)
        alone = set(lines) - {lines[channel] for window in joined for channel in window.channels}
        together = {channel for window in joined for channel in window.channels}
        self._searched = types * sum(len(line.position) for line in (*alone, *(lines[channel] for channel in together)))

    @property
    def fit(self) -> int:
        """Of one fit of all turns."""
        return self._turns * (FIT_WORK + self._holes // HOLES_PER_UNIT) + self._notes // NOTES_PER_UNIT + self._pairs

    @property
    def wheel(self) -> int:
        """Of a changed wheel, which is checked."""
        return WHEEL_WORK + self._holes // HOLES_PER_UNIT

    def search(self, starts: int, transpositions: int = 1, best_few: int = 1) -> int:
        """Of a search.

        Args:
            starts: how many.
            transpositions: how many.
            best_few: of these, how many are to be exact.
        """
        begin = self._turns * FIT_WORK * (4 + transpositions)
        return begin + starts * self._of_start + self._pairs * (min(starts, SOLVED_STARTS) + best_few)

    def starts_in(self, work: int) -> int:
        """How many starts can be searched with some work, at least one."""
        by_work = (work - self.search(SOLVED_STARTS)) // max(1, self._of_start)
        return max(1, min(by_work, MAX_SEARCHED_HOLES // max(1, self._searched)))

    @property
    def _of_start(self) -> int:
        return self._turns * self._searched // HOLES_PER_UNIT + self._notes // NOTES_PER_START_UNIT


class _Window(NamedTuple):
    """Channels of which a limit counts the strikes, or that share a pitch, and within which time."""

    channels: tuple[int, ...]
    ms: float


def _joined_channels(wheel: Wheel) -> list[_Window]:
    windows = [_Window(wheel.limited(limit), limit.window_ms) for limit in wheel.strike_limits]
    sounds = [_sounds(channel, 0) for channel in wheel.channels]
    times = Counter(sound for each in sounds for sound in each)
    sharing = tuple(number for number, each in enumerate(sounds) if any(times[sound] > 1 for sound in each))
    slowest_ms = max((wheel.channels[channel].restrike_ms for channel in sharing), default=0.0)
    return [*windows, *([_Window(sharing, slowest_ms)] if sharing else [])]


def _sounds(channel: Channel, transpose_semitones: int) -> set[tuple[bool, int]]:
    """Percussion or not, with the key or the pitch as written, of what a channel sounds."""
    pitches = {(False, pitch - transpose_semitones) for pitch in channel.pitches}
    return pitches | {(True, key) for key in channel.drum_keys}


def _pairs(turn: Score, wheel: Wheel, options: FitOptions, window: _Window, us_per_quarter: int) -> int:
    """Pairs of notes of some channels of which one begins within a time after the other."""
    semitones = options.transpose_semitones
    sounds = set[tuple[bool, int]]().union(*(_sounds(wheel.channels[number], semitones) for number in window.channels))
    code = turn.pitch_midi + PITCH_COUNT * turn.percussion_notes()
    here = np.isin(code, [pitch + PITCH_COUNT * drum for drum, pitch in sounds])
    onset = turn.onset_ticks[here]
    after = np.searchsorted(onset, onset + window.ms * 1000 * turn.resolution / us_per_quarter, side="right")
    return int((after - np.arange(len(onset)) - 1).sum())

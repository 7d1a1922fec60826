"""The table of every transposition and start of a song: each is computed exactly or bounded below the best.

Parts of a wheel (see `parts.py`) do not depend on one another, so a transposition and a start together are worth the
sum of what their parts are worth, and bounded by the sum of their bounds. The choice with the best bound is solved
exactly, one after another, until the best bound is that of a choice solved already: then no other can be better.

A transposition is laid out in parts when it first has the best bound; until then it has the bound of
`bounds.py`, where there is one for the options transposed for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.columns import Ints, distinct, read_only
from pegwright.errors import UsageError
from pegwright.fit.arrange import Choices, key_rows
from pegwright.fit.turn import turn_of
from pegwright.grid import meant_grid
from pegwright.score import Score
from pegwright.search.bounds import bounds_of, can_be_bounded
from pegwright.search.choices import Search, stacked, unsettled
from pegwright.search.parts import Keys, LaidOut, Parts, WheelPart
from pegwright.search.period import distinct_starts, grid_period_steps
from pegwright.wheel import Wheel

MOST_SEMITONES = 127
MOST_STRIKES = 100_000  # solved in a search for the best few; a bound on time that is the same on every machine


def search_turns(
    turns: Sequence[Score],
    wheel: Wheel,
    options: FitOptions,
    transpositions: Sequence[int],
    starts: Sequence[int],
    best_few: int | None = None,
    most_strikes: int | None = None,
) -> Search:
    """Compute what every transposition with every start, which all turns of a song share, is worth over all turns.

    Args:
        turns: of one song, at least one, all at one resolution; a turn that is played twice is there twice.
        wheel: the wheel.
        options: all but transposition and start, which are searched.
        transpositions: semitones, without duplicates.
        starts: steps of the turn from 0, without duplicates.
        best_few: how many of `Search.ranked` are to be exact, with all that equal them; the others may stay bounds,
            which is faster. Such a search is stopped after `most_strikes`; `Search.gap` then says how far it is from
            a proof. None computes every one exactly.
        most_strikes: that are solved in a search for the best few; None: `MOST_STRIKES`.

    Raises:
        UsageError: a range is empty or out of its bounds, or the options do not suit score or wheel.
    """
    _check(wheel, transpositions, starts)
    different = distinct_starts(starts, grid_period_steps(meant_grid(wheel), wheel))
    laid_out: LaidOut = {}
    by_turn = []
    for score in turns:
        turn, _ = turn_of(score, wheel, replace(options, start_steps=Fraction(0), transpose_semitones=0))
        by_turn.append((score, Parts(score, wheel, options, turn, different.steps, laid_out)))

    def parts_of(semitones: int) -> list[WheelPart]:
        transposed = replace(options, transpose_semitones=semitones)
        return [part for score, parts in by_turn for part in parts.of(_sounded(score, wheel, transposed, parts.key))]

    if best_few is not None and best_few < len(transpositions) and can_be_bounded(options):
        table = _Table(bounds_of(turns, wheel, options, transpositions, starts), parts_of, different.of_each)
    else:
        nothing = np.zeros((2, len(transpositions), len(starts)), dtype=np.int64)
        table = _Table(unsettled(transpositions, starts, *nothing), parts_of, different.of_each)
        for row in range(len(transpositions)):
            table.lay_out(row)
    if best_few is None:
        table.settle_all()
    else:
        table.settle_best(best_few, MOST_STRIKES if most_strikes is None else most_strikes)
    for column in table.search.columns:
        read_only(column)
    return table.search


def _check(wheel: Wheel, transpositions: Sequence[int], starts: Sequence[int]) -> None:
    if not transpositions or not starts:
        what = "transpositions" if not transpositions else "starts"
        raise UsageError(f"there are no {what} to search", where="search", hint="widen the range")
    farthest = max(map(abs, transpositions))
    if farthest > MOST_SEMITONES:
        raise UsageError(f"{farthest} semitones is beyond the {MOST_SEMITONES} of MIDI pitches", where="search")
    if not 0 <= min(starts) <= max(starts) < wheel.turn_steps:
        raise UsageError(f"starts must be on the turn, steps 1 to {wheel.turn_steps}", where="search")


def _sounded(score: Score, wheel: Wheel, options: FitOptions, key: Ints) -> dict[Choices, Keys]:
    """From each set of channels to the keys of the song (of `Parts`) that it sounds."""
    row_of, sounded = key_rows(score, wheel, options), dict[Choices, list[int]]()
    for number in distinct(key).tolist():
        _, _, choices = row_of(number)
        if choices:
            sounded.setdefault(choices, []).append(number)
    return {choices: tuple(keys) for choices, keys in sounded.items()}


class _Table:
    """What every transposition and start is worth as far as it is known.

    Args:
        search: bounds, or nothing where every transposition is laid out at once; what is found out is written to it.
        parts_of: the parts of the wheel for a transposition.
        residue: shape (s,), which of the starts that differ each start is like.
    """

    def __init__(self, search: Search, parts_of: Callable[[int], list[WheelPart]], residue: Ints) -> None:
        self.search = search
        self._parts_of = parts_of
        self._parts: list[list[WheelPart] | None] = [None] * len(search.transpositions)
        self._residue = residue
        self._rows: dict[int, list[int]] = {}

    def settle_all(self) -> None:
        """Solve every one exactly."""
        for row in range(len(self._parts)):
            for residue in distinct(self._residue[~self.search.settled[row]]).tolist():
                self._settle(row, residue)

    def settle_best(self, count: int, most_strikes: int) -> None:
        """Solve choices by their bounds until the best starts of the best `count` transpositions are known.

        A start is solved once its bound is as low as prices bring it. When more than `most_strikes` strikes were
        priced or solved, the best start of each of the `count` by its bound is solved, and that is all.
        """
        search, solved = self.search, 0
        while True:
            open_ones = []
            choices = search.ranked_by_bound(count)
            rows = [int(np.flatnonzero(search.transpositions == choice.transpose_semitones)[0]) for choice in choices]
            if any(self.lay_out(row) for row in rows):
                continue
            for row, choice in zip(rows, choices, strict=True):
                level = (search.weight[row] == choice.weight) & (search.cost_ticks[row] == choice.cost_ticks)
                open_ones += [(row, column) for column in np.flatnonzero(level & ~search.settled[row]).tolist()[:1]]
            spent = solved > most_strikes
            for row, column in open_ones:
                residue = int(self._residue[column])
                solved += (not spent and self._tighten(row, residue)) or self._settle(row, residue)
            if spent or not open_ones:
                return

    def lay_out(self, row: int) -> bool:
        """Lay a transposition out in parts, which can lower its bounds.

        Returns:
            Whether it was not laid out before.
        """
        if self._parts[row] is not None:
            return False
        parts = self._parts_of(int(self.search.transpositions[row]))
        self._parts[row] = parts
        for part in parts:
            self._rows.setdefault(id(part), []).append(row)
        self._add_up(row)
        return True

    def _tighten(self, row: int, residue: int) -> int:
        """Lower bounds at one start of a transposition where that is faster than to solve it; as `_settle`."""
        return self._improve(row, residue, WheelPart.tighten)

    def _settle(self, row: int, residue: int) -> int:
        """Solve one start of a transposition; how many strikes that took."""
        return self._improve(row, residue, WheelPart.settle)

    def _improve(self, row: int, residue: int, improve: Callable[[WheelPart, int], int]) -> int:
        changed, solved = set(), 0
        for part in self._parts[row] or ():
            if not part.worth.settled[residue]:
                solved += improve(part, residue)
                changed.update(self._rows[id(part)])
        for other in changed:
            self._add_up(other)
        return solved

    def _add_up(self, row: int) -> None:
        worths = [part.worth for part in self._parts[row] or ()]
        values = stacked(worths).total().at(self._residue).columns if worths else (0, 0, 0, True, True)
        for column, value in zip(self.search.columns, values, strict=True):
            column[row] = value

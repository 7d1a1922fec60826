"""The time of a MusicXML score: from bars as written to ticks, bars and tempi as played."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from itertools import count
from math import ceil, lcm
from typing import TypeVar

import numpy as np

from pegwright.columns import Ints, firsts, frozen_ints, runs
from pegwright.errors import InputError
from pegwright.findings import Notices
from pegwright.formats import MAX_QUARTERS, MAX_RESOLUTION
from pegwright.frozen import frozen
from pegwright.musicxml.notices import Notice
from pegwright.musicxml.written import WrittenPart
from pegwright.score import DEFAULT_US_PER_QUARTER, BarMap, TempoMap
from pegwright.units import us_per_quarter

DEFAULT_METRE = (4, 4)
STRAIGHT = Fraction(1)  # the ratio of even eighths
ROUNDED_RESOLUTION = 11_531_520  # 256 times every odd number to 13: a stand-in when exact ticks would overflow
Value = TypeVar("Value")


@frozen()
class Timeline:
    """Where the bars lie, in ticks.

    Args:
        resolution: ticks per quarter.
        lengths: of every written bar.
        written: where every written bar would begin if all were played once in order.
        order: written bar of every played bar.
        starts: where every played bar begins.
        playings: how many times, itself counted, the written bar of each played bar was played so far.
        by_bar: the played bars, ordered by their written bar, then in playing order.
        firsts, counts: for every written bar its first place in `by_bar`, and how often it is played.
        end: where the last played bar ends.
    """

    resolution: int
    lengths: Ints
    written: Ints
    order: Ints
    starts: Ints
    playings: Ints
    by_bar: Ints
    firsts: Ints
    counts: Ints
    end: int

    def ticks(self, quarters: Iterable[Fraction]) -> Ints:
        """Whole ticks of exact quarters, to the nearest where the resolution was cut."""
        return _ticks(quarters, self.resolution)

    def played(self, bars: Ints) -> tuple[Ints, Ints]:
        """The played bars of some written bars, in playing order, and for each its place among the written ones."""
        counts = self.counts[bars]
        played = self.by_bar[runs(self.firsts[bars], counts)]
        order = np.argsort(played)
        return played[order], np.repeat(np.arange(len(bars)), counts)[order]

    def written_ticks(self, bars: Sequence[int], quarters: Iterable[Fraction]) -> Ints:
        """Places on the written axis of quarters counted from the start of written bars."""
        return self.written[np.array(bars, dtype=np.int64)] + self.ticks(quarters)


def _ticks(quarters: Iterable[Fraction], resolution: int) -> Ints:
    return frozen_ints(
        [
            round(value.numerator * resolution / value.denominator)
            if resolution % value.denominator
            else value.numerator * (resolution // value.denominator)
            for value in quarters
        ]
    )


def in_force(stated: Sequence[Mapping[int, Value]], bar_count: int, value: Value) -> list[Value]:
    """What holds in every written bar; where parts differ the first that states it is followed.

    Args:
        stated: for each part what it states, by bar.
        bar_count: how many bars there are.
        value: what holds before anything is stated.
    """
    changes = {bar: change for part in reversed(stated) for bar, change in part.items()}
    return [value := changes.get(bar, value) for bar in range(bar_count)]


def timeline(
    parts: Sequence[WrittenPart], lengths: Sequence[Fraction], order: Sequence[int], notices: Notices
) -> Timeline:
    """Lay the bars end to end at the coarsest resolution that keeps every time exact.

    Args:
        parts: whose times are to be exact.
        lengths: quarters of every written bar.
        order: written bar of every bar played.
        notices: counts times that are rounded.

    Raises:
        InputError: the song as played is longer than the limit.
    """
    times = list(lengths)
    for part in parts:
        times += [*part.onset, *part.duration, *(place for _, place, _ in (*part.tempi, *part.levels))]
    resolution = _resolution({time.denominator for time in times})
    if resolution > MAX_RESOLUTION:
        resolution = ROUNDED_RESOLUTION
        notices.add(Notice.ROUNDED_TIME, sum(resolution % time.denominator != 0 for time in times))
    ticks = frozen_ints(np.maximum(_ticks(lengths, resolution), 1))
    bars = frozen_ints(order)
    ends = np.cumsum(ticks[bars])
    if ends[-1] > MAX_QUARTERS * resolution:
        length = f"{ends[-1] // resolution:,} quarter notes long as played"
        message = f"the song is {length}; at most {MAX_QUARTERS:,} are read"
        raise InputError(message, where=notices.file, hint="cut the song into shorter files")
    counters = [count(1) for _ in lengths]
    counts = np.bincount(bars, minlength=len(lengths))
    return Timeline(
        resolution,
        lengths=ticks,
        written=frozen_ints(np.cumsum(ticks) - ticks),
        order=bars,
        starts=frozen_ints(ends - ticks[bars]),
        playings=frozen_ints([next(counters[bar]) for bar in order]),
        by_bar=frozen_ints(np.argsort(bars, kind="stable")),
        firsts=frozen_ints(np.cumsum(counts) - counts),
        counts=frozen_ints(counts),
        end=int(ends[-1]),
    )


def _resolution(denominators: Iterable[int]) -> int:
    """The least resolution at which all times are whole, or any one beyond the limit."""
    resolution = 1
    for denominator in denominators:
        resolution = lcm(resolution, denominator)
        if resolution > MAX_RESOLUTION:
            break
    return resolution


def bar_map(
    line: Timeline,
    metres: Sequence[tuple[int, int] | None],
    labels: Sequence[str],
    stated: bool,
    swings: Sequence[Fraction],
) -> BarMap:
    """Bars as played, labelled as written; a bar played again says how many times it has come round.

    Args:
        line: where the bars lie.
        metres: of the written bars, None for none.
        labels: of the written bars.
        stated: the file states a metre.
        swings: the ratio of eighths in every written bar.
    """
    played_metres = [
        metres[bar] or _counted_out(Fraction(int(line.lengths[bar]), line.resolution)) for bar in line.order
    ]
    return BarMap(
        line.starts,
        tuple(
            labels[bar] if playing == 1 else f"{labels[bar]}, {ordinal(playing)} time"
            for bar, playing in zip(line.order, line.playings.tolist(), strict=True)
        ),
        frozen_ints([beats for beats, _ in played_metres]),
        frozen_ints([beat_type for _, beat_type in played_metres]),
        line.end,
        stated,
        tuple(swings[bar] for bar in line.order) if set(swings) != {STRAIGHT} else (),
    )


def _counted_out(quarters: Fraction) -> tuple[int, int]:
    """A metre for a bar that has none: its length in quarters, or in eighths to 64ths where that is whole."""
    for beat_type in (4, 8, 16, 32, 64):
        beats = quarters * beat_type / 4
        if beats.denominator == 1:
            return int(beats), beat_type
    return ceil(quarters), 4


def ordinal(number: int) -> str:
    """The number of a time round in letters and digits: 2nd."""
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def tempo_map(parts: Sequence[WrittenPart], line: Timeline) -> TempoMap:
    """Tempi as played: in every bar the tempo in force where the bar is written.

    Where parts differ at one place the first is followed.
    """
    tempo_at: dict[int, int] = {}
    for part in reversed(parts):
        ticks = line.written_ticks([bar for bar, _, _ in part.tempi], [place for _, place, _ in part.tempi])
        tempo_at |= {
            tick: us_per_quarter(tempo) for tick, (_, _, tempo) in zip(ticks.tolist(), part.tempi, strict=True)
        }
    changes = {0: DEFAULT_US_PER_QUARTER} | dict(sorted(tempo_at.items()))
    change_ticks, tempi = np.array(list(changes)), np.array(list(changes.values()))
    begins = line.written[line.order]
    first = np.searchsorted(change_ticks, begins, side="right") - 1
    counts = np.searchsorted(change_ticks, begins + line.lengths[line.order], side="left") - first
    played = runs(first, counts)
    ticks_played = np.repeat(line.starts, counts) + np.maximum(0, change_ticks[played] - np.repeat(begins, counts))
    changed = firsts(tempi[played])
    return TempoMap(frozen_ints(ticks_played[changed]), frozen_ints(tempi[played][changed]), bool(tempo_at))

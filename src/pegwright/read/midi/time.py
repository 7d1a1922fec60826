"""The clock, tempo map and bars of a MIDI file."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from operator import itemgetter
from typing import NamedTuple

import numpy as np

from pegwright.columns import frozen_ints
from pegwright.errors import check_limit
from pegwright.formats import MAX_BARS
from pegwright.frozen import frozen
from pegwright.score import DEFAULT_US_PER_QUARTER, BarMap, TempoMap
from pegwright.units import printed

DEFAULT_METRE = (4, 4)
MAX_BEAT_TYPE = 64
_US_PER_SECOND = 1_000_000
_DROP_FRAME_RATE = Fraction(30_000, 1001)
_MAX_SCALE = 64
_PARTS = MAX_BEAT_TYPE  # of a unit of the clock: beats of every metre are whole numbers of them
_EXACT_FROM_TICKS = 64  # a file whose tick is longer than 1/64 of a quarter cannot be wrong by a tick


@frozen()
class Clock:
    """What a tick of the file is worth.

    Args:
        resolution: units per quarter note.
        scale: units per tick of the file.
        us_per_quarter: the only tempo, where ticks are of fixed duration; otherwise None.
    """

    resolution: int
    scale: int
    us_per_quarter: int | None = None

    @property
    def ticks_per_quarter(self) -> Fraction:
        """Ticks of the file in a quarter note."""
        return Fraction(self.resolution, self.scale)

    @property
    def tolerance_units(self) -> int:
        """One tick of the file, or 0 where a tick is longer than 1/64 of a quarter."""
        return self.scale if self.ticks_per_quarter >= _EXACT_FROM_TICKS else 0


def clock_of(division: int, us_per_quarter: int) -> Clock:
    """The clock that a header's division sets.

    Frames: a tick lasts a fixed time and tempo does not change it. The quarter is as long as the tempo says,
    in an exact number of units; where that takes more than 64 units a tick, a tick is a unit, a quarter the nearest
    whole number of them, and the tempo is set so that time stays right.

    Args:
        division: the header's 16 bits, unsigned; valid.
        us_per_quarter: the first tempo of the file, or the default.

    Source: Standard MIDI Files 1.0, header chunk, division (from memory): bit 15 set, then minus the frames per
        second and the ticks per frame; 29 means 30 drop frame, 30000/1001 frames a second.
    """
    if not division & 0x8000:
        return Clock(division, 1)
    frames = 256 - (division >> 8)
    ticks_per_second = (_DROP_FRAME_RATE if frames == 29 else frames) * Fraction(division & 0xFF)
    ticks_per_quarter = ticks_per_second * us_per_quarter / _US_PER_SECOND
    if ticks_per_quarter.denominator <= _MAX_SCALE:
        return Clock(ticks_per_quarter.numerator, ticks_per_quarter.denominator, us_per_quarter)
    resolution = max(1, round(ticks_per_quarter))
    return Clock(resolution, 1, round(resolution * _US_PER_SECOND / ticks_per_second))


def lay_tempi(changes: Sequence[tuple[int, int]], clock: Clock) -> TempoMap:
    """The tempo map from (tick, microseconds per quarter) changes; the last one stated at a tick holds."""
    if clock.us_per_quarter is not None:
        return TempoMap(frozen_ints([0]), frozen_ints([clock.us_per_quarter]), stated=bool(changes))
    at = dict([(0, DEFAULT_US_PER_QUARTER), *sorted(changes, key=itemgetter(0))])
    kept = [tick for tick, before in zip(at, [None, *at.values()], strict=False) if at[tick] != before]
    return TempoMap(
        frozen_ints(np.array(kept, np.int64) * clock.scale), frozen_ints([at[tick] for tick in kept]), bool(changes)
    )


class _Stretch(NamedTuple):
    """Bars of one metre, from a place on; places and lengths in `_PARTS` of a unit of the clock."""

    start: int
    beats: int
    beat_type: int
    bar: int


def lay_bars(
    changes: Sequence[tuple[int, int, int]], clock: Clock, last_tick: int, where: str
) -> tuple[BarMap, Clock, int]:
    """Lay bars under a song.

    A metre change inside a bar begins a new bar there, unless it is within 1/8 of a quarter of a bar line:
    then it counts from that bar line. A metre stated again changes nothing.

    Args:
        changes: (tick, beats, beat type), valid; the last one stated at a tick holds.
        clock: of the ticks.
        last_tick: the last bar is the one that holds the moment before it; above 0.
        where: for messages.

    Returns:
        The bars; the clock, made finer where a bar would not be a whole number of units; how many changes
        stood inside a bar.

    Raises:
        InputError: more bars than the limit.
    """
    stretches, inside = _stretches(changes, clock)
    last = last_tick * clock.scale * _PARTS
    starts, beats, beat_types, bar_lengths = np.array([each for each in stretches if each.start < last]).T
    counts = -(-np.diff(starts, append=last) // bar_lengths)
    bar_count = int(counts.sum())
    check_limit(bar_count, MAX_BARS, "bars", where)
    parts = math.gcd(_PARTS, int(np.gcd.reduce(np.append(starts, bar_lengths))))  # of which all are whole numbers
    factor = _PARTS // parts
    begins, lengths = starts // parts, bar_lengths // parts
    within = np.arange(bar_count) - np.repeat(np.cumsum(counts) - counts, counts)
    return (
        BarMap(
            frozen_ints(np.repeat(begins, counts) + np.repeat(lengths, counts) * within),
            tuple(str(printed(bar)) for bar in range(bar_count)),
            frozen_ints(np.repeat(beats, counts)),
            frozen_ints(np.repeat(beat_types, counts)),
            end_ticks=int(begins[-1] + lengths[-1] * counts[-1]),
            stated=bool(changes),
        ),
        Clock(clock.resolution * factor, clock.scale * factor, clock.us_per_quarter),
        inside,
    )


def _stretches(changes: Sequence[tuple[int, int, int]], clock: Clock) -> tuple[list[_Stretch], int]:
    """Metres with the places they count from, rising from 0, and how many began inside a bar."""
    quarter, tick_parts = clock.resolution * _PARTS, clock.scale * _PARTS

    def stretch(start: int, beats: int, beat_type: int) -> _Stretch:
        return _Stretch(start, beats, beat_type, quarter * 4 * beats // beat_type)

    laid = [stretch(0, *DEFAULT_METRE)]
    inside = 0
    last_at = {tick: (beats, beat_type) for tick, beats, beat_type in changes}
    for tick, metre in sorted(last_at.items()):
        now, place = laid[-1], tick * tick_parts
        if metre == (now.beats, now.beat_type):
            continue
        bars, past = divmod(place - now.start, now.bar)
        bars += 2 * past > now.bar or (2 * past == now.bar and bars % 2)  # the nearer line, the even one of two
        line = now.start + bars * now.bar
        if abs(place - line) * 8 >= quarter:
            line = place
            inside += 1
        laid.append(stretch(max(line, now.start), *metre))
    return laid, inside

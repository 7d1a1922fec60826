"""The time of a MusicXML score: from bars as written to ticks, bars and tempi as played."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, lcm

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.errors import InputError
from pegwright.formats import MAX_QUARTERS
from pegwright.musicxml.notices import Notice, Notices
from pegwright.musicxml.written import WrittenPart
from pegwright.score import DEFAULT_US_PER_QUARTER, BarMap, TempoMap
from pegwright.units import us_per_quarter

DEFAULT_METRE = (4, 4)
MAX_RESOLUTION = 2**31
ROUNDED_RESOLUTION = 11_531_520  # 256 times every odd number to 13: a stand-in when exact ticks would overflow


@dataclass(frozen=True, slots=True)
class Timeline:
    """Where the bars lie, in ticks.

    Args:
        resolution: ticks per quarter.
        lengths: of every written bar.
        written: where every written bar would begin if all were played once in order.
        order: written bar of every played bar.
        starts: where every played bar begins.
        playings: how many times, itself counted, the written bar of each played bar was played so far.
        end: where the last played bar ends.
    """

    resolution: int
    lengths: Ints
    written: Ints
    order: Ints
    starts: Ints
    playings: Ints
    end: int

    def ticks(self, quarters: Iterable[Fraction]) -> Ints:
        """Whole ticks of exact quarters, to the nearest where the resolution was cut."""
        resolution = self.resolution
        return frozen_ints(
            [
                round(value.numerator * resolution / value.denominator)
                if resolution % value.denominator
                else value.numerator * (resolution // value.denominator)
                for value in quarters
            ]
        )

    def written_ticks(self, bars: Sequence[int], quarters: Iterable[Fraction]) -> Ints:
        """Places on the written axis of quarters counted from the start of written bars."""
        return self.written[np.array(bars, dtype=np.int64)] + self.ticks(quarters)


def metres_of(parts: Sequence[WrittenPart], bar_count: int) -> tuple[list[tuple[int, int] | None], bool]:
    """The metre in force in every written bar, None for bars without one, and whether any was stated.

    Where parts differ the first that states one is followed.
    """
    stated: dict[int, tuple[int, int] | None] = {}
    for part in reversed(parts):
        stated.update(part.metres)
    metres: list[tuple[int, int] | None] = []
    metre: tuple[int, int] | None = DEFAULT_METRE
    for bar in range(bar_count):
        metre = stated.get(bar, metre)
        metres.append(metre)
    return metres, bool(stated)


def swings_of(parts: Sequence[WrittenPart], bar_count: int) -> tuple[Fraction, ...]:
    """The ratio of eighths in force in every written bar; empty where none but even ones are asked for.

    Where parts differ the first that states one is followed.
    """
    stated: dict[int, Fraction] = {}
    for part in reversed(parts):
        stated.update(part.swings)
    swings = [Fraction(1)]
    for bar in range(bar_count):
        swings.append(stated.get(bar, swings[-1]))
    return tuple(swings[1:]) if set(swings) != {Fraction(1)} else ()


def bar_lengths(
    parts: Sequence[WrittenPart], metres: Sequence[tuple[int, int] | None], places: Sequence[str], notices: Notices
) -> list[Fraction]:
    """Quarters of every written bar: as far as the parts with notes in it reach, so that pickups stay short.

    Rests alone fit any bar, since programs write a full bar's rest into a pickup too. A bar with
    nothing at all lasts as long as its metre says. The last bar ends with its last note or rest, not with an
    empty gap behind it, where that makes up a full bar with the pickup at the beginning.

    Args:
        parts: of the score.
        metres: in force in every written bar, None for none.
        places: of the written bars, for findings.
        notices: counts empty and uneven bars.
    """
    lengths = []
    for bar, (metre, where) in enumerate(zip(metres, places, strict=True)):
        reached = [part.bar_quarters[bar] for part in parts if bar < len(part.bar_quarters)]
        length = max(reached)
        if not length:
            length = max(part.rest_quarters[bar] for part in parts if bar < len(part.rest_quarters))
        if not length:
            notices.add(Notice.EMPTY_BAR, where=where)
            beats, beat_type = metre or DEFAULT_METRE
            length = Fraction(4 * beats, beat_type)
        short = sum(0 < reach < length for reach in reached)
        notices.add(Notice.UNEVEN_BAR, short, where)
        lengths.append(length)
    last_note = max(part.note_quarters[-1] for part in parts if len(part.note_quarters) == len(metres))
    beats, beat_type = metres[-1] or DEFAULT_METRE
    if len(lengths) > 1 and last_note and last_note + lengths[0] == Fraction(4 * beats, beat_type):
        lengths[-1] = min(lengths[-1], last_note)
    return lengths


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
    resolution = _resolution(_times(parts, lengths))
    if resolution > MAX_RESOLUTION:
        resolution = ROUNDED_RESOLUTION
        rounded = sum(resolution % value.denominator != 0 for value in _times(parts, lengths))
        notices.add(Notice.ROUNDED_TIME, rounded)
    none = frozen_ints([])
    bare = Timeline(resolution, none, none, none, none, none, end=0)
    ticks = frozen_ints(np.maximum(bare.ticks(lengths), 1))
    bars = frozen_ints(order)
    ends = np.cumsum(ticks[bars])
    if ends[-1] > MAX_QUARTERS * resolution:
        raise InputError(
            f"the song is {ends[-1] // resolution:,} quarter notes long as played; at most {MAX_QUARTERS:,} are read",
            where=notices.file,
            hint="cut the song into shorter files",
        )
    playings: list[int] = []
    counts = [0] * len(lengths)
    for bar in order:
        counts[bar] += 1
        playings.append(counts[bar])
    return Timeline(
        resolution,
        lengths=ticks,
        written=frozen_ints(np.cumsum(ticks) - ticks),
        order=bars,
        starts=frozen_ints(ends - ticks[bars]),
        playings=frozen_ints(playings),
        end=int(ends[-1]),
    )


def _resolution(times: Iterable[Fraction]) -> int:
    """The least resolution at which all times are whole, or any one beyond the limit."""
    resolution = 1
    for denominator in {value.denominator for value in times}:
        resolution = lcm(resolution, denominator)
        if resolution > MAX_RESOLUTION:
            break
    return resolution


def _times(parts: Sequence[WrittenPart], lengths: Sequence[Fraction]) -> Iterator[Fraction]:
    yield from lengths
    for part in parts:
        yield from part.onset
        yield from part.duration
        for events in (part.tempi, part.levels):
            yield from (place for _, place, _ in events)


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
        swings: of the written bars; empty where all are even.
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
        tuple(swings[bar] for bar in line.order) if swings else (),
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
        tempo_at.update(
            (tick, us_per_quarter(tempo)) for tick, (_, _, tempo) in zip(ticks.tolist(), part.tempi, strict=True)
        )
    stated = bool(tempo_at)
    changes = {0: DEFAULT_US_PER_QUARTER} | dict(sorted(tempo_at.items()))
    change_ticks, tempi = np.array(list(changes)), list(changes.values())
    begins = line.written[line.order]
    first = np.searchsorted(change_ticks, begins, side="right") - 1
    last = np.searchsorted(change_ticks, begins + line.lengths[line.order], side="left")
    ticks_played: list[int] = []
    tempi_played: list[int] = []
    for start, begin, low, high in zip(
        line.starts.tolist(), begins.tolist(), first.tolist(), last.tolist(), strict=True
    ):
        for change in range(low, high):
            if not tempi_played or tempi[change] != tempi_played[-1]:
                ticks_played.append(start + max(0, int(change_ticks[change]) - begin))
                tempi_played.append(tempi[change])
    return TempoMap(frozen_ints(ticks_played), frozen_ints(tempi_played), stated)

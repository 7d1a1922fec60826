"""The clock, the tempo map and the bars of a MIDI file, each by itself and to the tick."""

from __future__ import annotations

import random
from fractions import Fraction

import numpy as np
import pytest

from pegwright.errors import InputError
from pegwright.read.midi import time
from pegwright.read.midi.time import Clock, clock_of, lay_bars, lay_tempi
from pegwright.score import BarMap
from thorough import cases

FINE = Clock(96, 1)
Change = tuple[int, int, int]  # tick, beats, beat type


# The clock ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("division", [1, 96, 480, 32_767])
def test_ticks_of_a_quarter_are_units(division: int) -> None:
    assert clock_of(division, 400_000) == Clock(division, 1, None)


@pytest.mark.parametrize(
    ("division", "us", "clock"),
    [
        (0xE728, 500_000, Clock(500, 1, 500_000)),  # 25 frames of 40 ticks: 1 ms a tick
        (0xE828, 500_000, Clock(480, 1, 500_000)),  # 24 frames
        (0xE228, 500_000, Clock(600, 1, 500_000)),  # 30 frames
        (0xE701, 625_625, Clock(1001, 64, 625_625)),  # 15 and 41/64 ticks a quarter
        (0xE3FF, 500_500, Clock(3825, 1, 500_500)),  # 30000 / 1001 frames of 255 ticks
        (0xE350, 462_077, Clock(1108, 1, 462_128)),  # 1107 and 57/65 ticks a quarter: in whole ticks
        (0xE728, 461_538, Clock(462, 1, 462_000)),
        (0xE728, 461_501, Clock(462, 1, 462_000)),
        (0xE728, 461_499, Clock(461, 1, 461_000)),
        (0xE801, 10_001, Clock(1, 1, 41_667)),  # less than half a tick a quarter
    ],
)
def test_film_frames_are_exact_where_64_units_a_tick_are_enough(division: int, us: int, clock: Clock) -> None:
    assert clock_of(division, us) == clock


@pytest.mark.parametrize(
    ("clock", "units"), [(Clock(64, 1), 1), (Clock(63, 1), 0), (Clock(256, 4), 4), (Clock(255, 4), 0)]
)
def test_a_tick_is_tolerated_from_64_ticks_a_quarter_on(clock: Clock, units: int) -> None:
    assert clock.tolerance_units == units
    assert clock.ticks_per_quarter == Fraction(clock.resolution, clock.scale)


# Tempo -------------------------------------------------------------------------------------------------------------


def tempi(changes: list[tuple[int, int]], clock: Clock) -> tuple[list[tuple[int, int]], bool]:
    laid = lay_tempi(changes, clock)
    return list(zip(laid.ticks.tolist(), laid.us_per_quarter.tolist(), strict=True)), laid.stated


def test_tempi_come_in_the_order_of_time_and_the_last_of_a_tick_holds() -> None:
    changes = [(96, 400_000), (0, 450_000), (192, 450_000), (96, 300_000)]
    assert tempi(changes, Clock(288, 3)) == ([(0, 450_000), (288, 300_000), (576, 450_000)], True)


def test_a_tempo_stated_again_is_no_change() -> None:
    changes = [(0, 450_000), (48, 450_000), (96, 400_000), (144, 400_000), (192, 450_000)]
    assert tempi(changes, FINE) == ([(0, 450_000), (96, 400_000), (192, 450_000)], True)


def test_until_the_first_tempo_the_default_holds() -> None:
    """120 quarter notes a minute. Source: Standard MIDI Files 1.0, tempo (from memory)."""
    assert tempi([(96, 400_000)], FINE) == ([(0, 500_000), (96, 400_000)], True)
    assert tempi([], FINE) == ([(0, 500_000)], False)


def test_a_clock_of_fixed_duration_has_one_tempo() -> None:
    assert tempi([(0, 400_000), (96, 300_000)], Clock(500, 1, 462_000)) == ([(0, 462_000)], True)
    assert tempi([], Clock(500, 1, 462_000)) == ([(0, 462_000)], False)


def test_what_is_laid_is_read_only() -> None:
    bars, _, _ = lay_bars([], FINE, 384, "song.mid")
    for clock in (FINE, Clock(500, 1, 462_000)):
        laid = lay_tempi([], clock)
        for column in (laid.ticks, laid.us_per_quarter, bars.ticks, bars.beats, bars.beat_types):
            assert column.dtype == np.int64
            assert not column.flags.writeable


# Bars --------------------------------------------------------------------------------------------------------------


def rows(bars: BarMap) -> list[tuple[int, int, int]]:
    """Where each bar begins and its metre."""
    return list(zip(bars.ticks.tolist(), bars.beats.tolist(), bars.beat_types.tolist(), strict=True))


def test_a_song_without_a_metre_has_bars_of_four_quarters_to_its_end() -> None:
    for last_tick, count in ((1, 1), (384, 1), (385, 2), (768, 2)):
        bars, clock, inside = lay_bars([], FINE, last_tick, "song.mid")
        assert rows(bars) == [(384 * bar, 4, 4) for bar in range(count)]
        assert bars.labels == tuple(str(bar + 1) for bar in range(count))
        assert (bars.end_ticks, bars.stated, clock, inside) == (384 * count, False, FINE, 0)


def test_a_metre_at_the_end_of_the_song_or_past_it_has_no_bar() -> None:
    for tick in (384, 480):
        bars, _, _ = lay_bars([(tick, 3, 4)], FINE, 384, "song.mid")
        assert rows(bars) == [(0, 4, 4)]
        assert (bars.end_ticks, bars.stated) == (384, True)
    assert rows(lay_bars([(384, 3, 4)], FINE, 385, "song.mid")[0]) == [(0, 4, 4), (384, 3, 4)]


def test_the_units_are_as_fine_as_the_bars_need_and_no_finer() -> None:
    """At 2 ticks a quarter, of 3 units each, a bar of 3/16 has 1 1/2 ticks, 4 1/2 units."""
    bars, clock, inside = lay_bars([(0, 3, 16)], Clock(6, 3, 462_000), 4, "song.mid")
    assert (clock, inside) == (Clock(12, 6, 462_000), 0)
    assert rows(bars) == [(0, 3, 16), (9, 3, 16), (18, 3, 16)]
    assert bars.end_ticks == 27
    bars, clock, _ = lay_bars([(0, 3, 8)], Clock(6, 3), 4, "song.mid")
    assert (rows(bars), clock) == ([(0, 3, 8), (9, 3, 8)], Clock(6, 3))


def test_a_metre_counts_from_no_line_before_the_last_one() -> None:
    """The first change counts from the bar line after it; of its own tiny bars, a line before that is nearer."""
    for tick in (374, 375, 383):
        bars, _, inside = lay_bars([(373, 1, 64), (tick, 3, 4)], FINE, 500, "song.mid")
        assert (rows(bars), inside) == ([(0, 4, 4), (384, 3, 4)], 0)


def test_as_many_bars_as_the_limit_are_read(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(time, "MAX_BARS", 3)
    changes = [(384, 3, 4)]
    assert len(lay_bars(changes, FINE, 960, "song.mid")[0].ticks) == 3
    with pytest.raises(InputError, match=r"song\.mid: 4 bars; at most 3 are read"):
        lay_bars(changes, FINE, 961, "song.mid")


def stepped(changes: list[Change], quarter: int, last_tick: int) -> tuple[list[tuple[Fraction, int, int]], int]:
    """Bars found by going on from bar line to bar line, and how many changes begin one inside a bar."""
    start, metre, inside = Fraction(0), (4, 4), 0
    laid = [(start, metre)]
    for tick in sorted({tick for tick, _, _ in changes}):
        new = next((beats, kind) for at, beats, kind in reversed(changes) if at == tick)
        if new == metre:
            continue
        length = Fraction(4 * quarter * metre[0], metre[1])
        line = start
        while line + length <= tick:
            line += length
        near = [at for at in (line, line + length) if 8 * abs(at - tick) < quarter]
        inside += not near
        start, metre = near[0] if near else Fraction(tick), new
        laid.append((start, metre))
    bars = []
    ends = [start for start, _ in laid[1:]] + [Fraction(last_tick)]
    for (at, metre), end in zip(laid, ends, strict=True):
        while at < end and at < last_tick:
            bars.append((at, *metre))
            at += Fraction(4 * quarter * metre[0], metre[1])  # noqa: PLW2901  # from bar line to bar line
    return bars, inside


def test_bars_are_those_that_going_from_line_to_line_finds() -> None:
    """With bars longer than two 32nds, so that one bar line at most is near, and changes far enough apart."""
    chance = random.Random("bars")  # noqa: S311  # cases for a test, not secrets
    inside_count = finer_count = 0
    for _ in range(cases(300, 3000)):
        quarter, scale = chance.choice([(1, 1), (5, 1), (24, 1), (96, 1), (7, 2)])
        ticks = [chance.randrange(6 * quarter) + 12 * quarter * place for place in range(chance.randint(0, 4))]
        metres = [(3, 4), (4, 4), (5, 8), (7, 16), (2, 2), (11, 32), (1, 4)]
        changes = [(tick, *chance.choice(metres)) for tick in (*ticks, *ticks[:1])]
        chance.shuffle(changes)
        last_tick = chance.randint(1, 60 * quarter)
        bars, clock, inside = lay_bars(changes, Clock(quarter * scale, scale), last_tick, "song.mid")
        expected, expected_inside = stepped(changes, quarter, last_tick)
        assert [(Fraction(at, clock.scale), *metre) for at, *metre in rows(bars)] == expected
        assert inside == expected_inside
        at, beats, kind = expected[-1]
        assert Fraction(bars.end_ticks, clock.scale) == at + Fraction(4 * quarter * beats, kind)
        assert clock.ticks_per_quarter == quarter
        inside_count += inside
        finer_count += clock.scale > scale
    assert min(inside_count, finer_count) > 50

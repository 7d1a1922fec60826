"""Tempo maps and bars laid from changes, without a file around them."""

from __future__ import annotations

import pytest

from pegwright.read.midi.time import Clock, lay_bars, lay_tempi

CLOCK = Clock(96, 1)


def test_tempi_of_several_tracks_come_in_the_order_of_time() -> None:
    tempi = lay_tempi([(192, 400_000), (96, 600_000), (192, 300_000)], CLOCK)
    assert tempi.ticks.tolist() == [0, 96, 192]
    assert tempi.us_per_quarter.tolist() == [500_000, 600_000, 300_000]


@pytest.mark.parametrize(("tick", "line"), [(2, 0), (3, 0), (4, 6), (8, 6), (9, 12), (10, 12), (21, 24)])
def test_a_metre_counts_from_the_nearest_bar_line_and_of_two_from_the_even_one(tick: int, line: int) -> None:
    """Bars of one 64th, which is 6 ticks: a change within 1/8 of a quarter, 12 ticks, of a line counts from it."""
    bars, clock, inside = lay_bars([(0, 1, 64), (tick, 3, 4)], CLOCK, 330, "a.mid")
    assert (clock, inside) == (CLOCK, 0)
    assert bars.ticks.tolist() == [*range(0, line, 6), line, line + 288]

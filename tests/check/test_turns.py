"""Turns checked in one pass: each as if it were alone, and its notes by their numbers in it."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from broken_placements import RIM, put, sound
from pegwright.ask.options import FitOptions
from pegwright.check.subject import lane_ticks, rim_of
from pegwright.check.verify import MAX_TICKS, verify_turns
from pegwright.placement import Outcome, Placement
from pegwright.score import Score
from pegwright.wheel import Channel, StrikeLimit, Wheel
from samples import channel, score, wheel

PLACED = Outcome.PLACED
EXACTLY = FitOptions(reach_quarters=Fraction(0))


def bars(count: int) -> list[Channel]:
    return [channel(f"bar {60 + number}", [60 + number], rows=["on"]) for number in range(count)]


def turns_of(on: Wheel, *notes: tuple[tuple[int, int], ...]) -> list[tuple[Score, Placement]]:
    """A turn for each list of (step, channel), all of them placed."""
    songs = [score([(6 * step, 60 + number) for step, number in of_turn]) for of_turn in notes]
    return [(song, sound(song, on, [PLACED] * song.note_count, EXACTLY)) for song in songs]


@pytest.mark.parametrize("count", [1, 2, 3])
def test_pins_of_other_turns_are_no_neighbours(count: int) -> None:
    """Neighbouring channels are so near that their pins would touch, and so are the strikes of one channel."""
    on = wheel(bars(count), geometry=replace(RIM, channel_pitch_mm=3.0))
    every = [((1, number),) for number in range(count)]
    assert verify_turns(turns_of(on, *every, *every, *reversed(every)), on) == ()
    assert verify_turns(turns_of(on, ((1, 0), (9, 0)), ((2, 0), (8, 0))), on) == ()


def test_a_broken_rule_names_the_note_by_its_number_in_its_turn() -> None:
    on = wheel(bars(2), geometry=RIM)
    turns = turns_of(on, ((1, 0), (9, 0)), ((1, 0), (5, 1), (9, 0)), ((3, 1),), ((1, 1), (7, 0)))
    for number, note in ((0, 1), (1, 2), (2, 0), (3, 1)):
        song, placement = turns[number]
        moved = put(placement, note, index=int(placement.index[note]) + 1)
        (broken, *_) = verify_turns([*turns[:number], (song, moved), *turns[number + 1 :]], on)
        found = re.match(r"note (\d+) at (.*?) (?:deviates|has|is)", broken)
        assert found, broken
        assert (int(found[1]), found[2]) == (note + 1, str(song.source(note)))


@pytest.mark.parametrize("count", [1, 3])
def test_all_lanes_of_a_turn_are_as_long_as_their_keys_need(count: int) -> None:
    """Places on lanes are numbered with a turn to spare before and two after each."""
    on = wheel(bars(count), geometry=RIM)
    ((_, placement),) = turns_of(on, ((1, 0),))
    rim = rim_of(on, placement.resolution, placement.us_per_quarter)
    first, second = rim.lane(np.array([0, 1]), np.array([0, 0])).tolist()
    length = lane_ticks(on, placement)
    assert length == (second - first) * 4 * rim.turn_ticks
    assert isinstance(length, int)
    assert 4 * MAX_TICKS < 2**63 <= 8 * MAX_TICKS, (
        "places on all lanes are numbers of 64 bits, with a factor of 4 to spare"
    )


def test_strikes_that_are_too_many_are_counted_in_each_turn_by_itself() -> None:
    """One strike in 125 ms, a step: two turns have a pair nearer than that, one of them round the end of the turn."""
    on = wheel(bars(2), geometry=RIM)
    turns = turns_of(on, ((5, 0), (7, 1)), ((4, 1), (5, 0), (20, 0)), ((6, 0),), ((0, 0), (40, 1), (191, 1)), ((1, 0),))
    limit = StrikeLimit("motor", tuple(one.name for one in on.channels), strikes=1, window_ms=125.001)
    limited = replace(on, strike_limits=(limit,))
    broken = [
        [int(number) for sentence in verify_turns([turn], limited) for number in re.findall(r"^note (\d+)", sentence)]
        for turn in turns
    ]
    assert broken == [[], [1, 2], [], [1, 3], []]
    together = verify_turns(turns, limited)
    assert [int(number) for line in together for number in re.findall(r"^note (\d+)", line)] == [1, 2, 1, 3]
    assert verify_turns(turns, replace(on, strike_limits=(replace(limit, window_ms=125.0),))) == ()


def test_a_strike_is_not_too_many_beside_itself_a_turn_later() -> None:
    """The turn takes 24 seconds, and the window 30."""
    on = wheel(bars(2), geometry=RIM)
    turns = turns_of(on, ((5, 0),), ((5, 0), (9, 1)))
    for strikes, fine in ((1, [True, False]), (2, [True, True])):
        limit = StrikeLimit("motor", tuple(one.name for one in on.channels), strikes, window_ms=30_000.0)
        limited = replace(on, strike_limits=(limit,))
        assert [verify_turns([turn], limited) == () for turn in turns] == fine

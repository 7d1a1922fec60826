"""The reason of a note left out, and the channel that gives it, where several places are near; worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from broken_placements import OFFSETS, RIM, STEP_MM, sound
from pegwright.ask.options import FitOptions
from pegwright.placement import Outcome
from pegwright.wheel import LostHole, PinType, StrikeLimit
from samples import channel, score, wheel

PLACED, RESTRIKE, HOLE_USED = Outcome.PLACED, Outcome.RESTRIKE, Outcome.HOLE_USED


def test_a_hole_that_exists_gives_the_channel_before_a_nearer_one_that_is_lost() -> None:
    """The first channel's hole at the note is lost; those of the second half a step away are used."""
    first = channel("first", [60], restrike_ms=0.0, rows=["on"])
    second = channel("second", [60, 61], restrike_ms=0.0, rows=["half"])
    on = wheel([first, second], lost=(LostHole("on", 1, channel="first"),), geometry=RIM)
    song = score([(3, 61, 90), (6, 60, 70), (9, 61, 90)])
    placement = sound(song, on, [PLACED, HOLE_USED, PLACED], FitOptions(reach_quarters=Fraction(1, 8)))
    assert placement.channel.tolist() == [1, 1, 1]


def test_a_pin_with_an_offset_that_is_right_comes_before_a_plain_one_that_is_a_tick_off() -> None:
    """Plain on the first channel a tick late; late by two ticks on the second, exactly right; both holes are used."""
    types = (PinType("peg", 9), PinType("late", 9, offset_mm=2 * STEP_MM / 6))
    first = channel("first", [60, 61], restrike_ms=0.0, rows=["on"])
    second = channel("second", [60, 62], restrike_ms=0.0, rows=["half"])
    on = wheel([first, second], pin_types=types, geometry=RIM)
    song = score([(3, 62, 90), (5, 60, 70), (6, 61, 90)])
    placement = sound(song, on, [PLACED, HOLE_USED, PLACED], FitOptions(reach_quarters=Fraction(1, 12)))
    assert placement.channel.tolist() == [1, 1, 0]


def test_a_strike_is_too_soon_by_when_its_pin_trips() -> None:
    """Early by two ticks in a hole that is 6 ticks, 125 ms, after the first pin: 4 ticks, 83 ms, after it."""
    bar = channel("bar 60", [60], restrike_ms=100.0, rows=["on"])
    on = wheel([bar], pin_types=OFFSETS[:2], geometry=RIM)
    song = score([(0, 60, 90), (4, 60, 70)])
    sound(song, on, [PLACED, RESTRIKE], FitOptions(reach_quarters=Fraction(1, 48)))


def test_strikes_are_counted_in_the_order_of_the_turn_and_not_of_the_song() -> None:
    """The song starts four steps before the end of the turn: every strike is 6 ticks, 125 ms, after the one before."""
    channels = [channel(f"bar {pitch}", [pitch], restrike_ms=0.0, rows=["on"]) for pitch in range(60, 68)]
    limit = StrikeLimit("motor", tuple(one.name for one in channels), strikes=2, window_ms=260.0)
    on = wheel(channels, strike_limits=(limit,), geometry=RIM)
    song = score([(6 * step, 60 + step, 70 if step % 3 == 2 else 90) for step in range(8)])
    outcome = [Outcome.TOO_MANY if step % 3 == 2 else PLACED for step in range(8)]
    for start in range(184, 192):
        sound(song, on, outcome, FitOptions(start_steps=Fraction(start)))


def test_an_early_pin_is_no_plain_one_though_it_has_the_least_offset() -> None:
    """Early by 5 ticks in the hole after, exactly right but too soon; plain in its own hole, a tick off and used."""
    types = (PinType("peg", 9), PinType("early", 9, offset_mm=-5 * STEP_MM / 6))
    on = wheel([channel("bar 60", [60], rows=["on"])], pin_types=types, geometry=RIM)
    sound(score([(6, 60, 90), (7, 60, 70)], tolerance_ticks=1), on, [PLACED, HOLE_USED])


def test_a_late_pin_whose_collar_would_reach_over_the_edge_is_no_place() -> None:
    """Late by three ticks, 7.8 mm, in the last hole of a plate whose edge is 8.6 mm after it: the collar needs 9.3."""
    types = (PinType("peg", 9), PinType("late", 9, offset_mm=3 * STEP_MM / 6))
    bar = channel("bar 60", [60], restrike_ms=0.0, rows=["on"])
    for trail_edge_mm, outcome in ((7.0, Outcome.LOST_AT_SEAM), (5.0, PLACED)):
        on = wheel([bar], pin_types=types, geometry=replace(RIM, trail_edge_mm=trail_edge_mm))
        sound(score([(31 * 6 + 3, 60)]), on, [outcome], FitOptions(reach_quarters=Fraction(0)))


def test_one_tick_beyond_the_rounding_of_the_file_counts_before_a_plain_pin() -> None:
    """As above at the resolution of the wheel: plain a single tick late, late by an offset exactly right."""
    step = 1566  # of a quarter of 6,264 ticks
    types = (PinType("peg", 9), PinType("late", 9, offset_mm=(step // 2 - 1) * STEP_MM / step))
    first = channel("first", [60, 61], restrike_ms=0.0, rows=["on"])
    second = channel("second", [60, 62], restrike_ms=0.0, rows=["half"])
    on = wheel([first, second], pin_types=types, geometry=RIM)
    song = score([(step // 2, 62, 90), (step - 1, 60, 70), (step, 61, 90)], resolution=4 * step)
    placement = sound(song, on, [PLACED, HOLE_USED, PLACED], FitOptions(reach_quarters=Fraction(1, 12)))
    assert placement.resolution == song.resolution
    assert placement.channel.tolist() == [1, 1, 0]

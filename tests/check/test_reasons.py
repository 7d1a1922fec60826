"""The reason of a note left out, and the channel that gives it, where several places are near; worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from broken_placements import OFFSETS, RIM, STEP_MM, left_out, sound
from pegwright.ask.options import FitOptions
from pegwright.check.verify import verify_turns
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


def test_a_channel_whose_pins_are_early_misses_the_hole_before_its_note() -> None:
    """Two and a half steps early: the note at step 5 1/2 needs the hole at step 3, and not that at 8."""
    bar = replace(channel("bar 60", [60], restrike_ms=0.0, rows=["on"]), advance_steps=Fraction(5, 2))
    for lost, outcome in ((3, Outcome.LOST_AT_SEAM), (8, PLACED)):
        on = wheel([bar], lost=(LostHole("on", lost),), geometry=RIM)
        placement = sound(score([(33, 60)]), on, [outcome], FitOptions(reach_quarters=Fraction(0)))
        assert placement.index.tolist() == [3 if outcome == PLACED else -1]


def test_early_pins_are_too_soon_by_when_their_notes_are_meant() -> None:
    """Early by half a step alike: the strikes are one step, 125 ms, apart."""
    bar = replace(channel("bar 60", [60], rows=["on", "half"]), advance_steps=Fraction(1, 2))
    for restrike_ms, outcome in ((126.0, RESTRIKE), (125.0, PLACED)):
        on = wheel([replace(bar, restrike_ms=restrike_ms)], geometry=RIM)
        sound(score([(6, 60, 90), (12, 60, 70)]), on, [PLACED, outcome], FitOptions(reach_quarters=Fraction(0)))


def test_limits_count_early_pins_where_their_notes_are_meant() -> None:
    """The second channel's pin is half a step early, and its note with that of the first."""
    early = replace(channel("bar 61", [61], rows=["half"]), advance_steps=Fraction(1, 2))
    channels = (channel("bar 60", [60], rows=["on"]), early)
    limit = StrikeLimit("motor", tuple(one.name for one in channels), strikes=1, window_ms=20.0)
    on = wheel(channels, strike_limits=(limit,), geometry=RIM)
    at_once, apart = score([(6, 60, 90), (6, 61, 70)]), score([(6, 60, 90), (12, 61, 70)])
    sound(at_once, on, [PLACED, Outcome.TOO_MANY], FitOptions(reach_quarters=Fraction(0)))
    sound(apart, on, [PLACED, PLACED], FitOptions(reach_quarters=Fraction(0)))


def test_a_limit_bars_the_notes_of_every_turn_by_the_strikes_of_that_turn() -> None:
    """A turn without a note that is too many is between turns with one."""
    channels = [channel(f"bar {pitch}", [pitch], rows=["on"]) for pitch in (60, 61)]
    limit = StrikeLimit("motor", tuple(one.name for one in channels), strikes=1, window_ms=20.0)
    on = wheel(channels, strike_limits=(limit,), geometry=RIM)
    full, free = score([(6, 60, 90), (6, 61, 70)]), score([(6, 60, 90), (12, 61, 70)])
    of_full = full, sound(full, on, [PLACED, Outcome.TOO_MANY])
    of_free = free, sound(free, on, [PLACED, PLACED])
    assert verify_turns((of_full, of_free, of_full, of_full), on) == ()
    alone = score([(6, 60, 90)])
    eased = alone, left_out(sound(alone, on, [PLACED]), 0, Outcome.TOO_MANY)  # the reason of another turn
    for turns in ((of_full, eased), (eased, of_full), (of_full, eased, of_full)):
        broken = verify_turns(turns, on)
        assert [sentence for sentence in broken if "could simply be added" in sentence], broken


def test_a_drum_without_cut_edges_has_a_place_for_every_pin() -> None:
    bar = channel("bar 60", [60], restrike_ms=0.0, rows=["on"])
    on = wheel([bar], geometry=replace(RIM, seams=False))
    sound(score([(5, 60, 70), (6, 60, 90), (7, 60, 60)]), on, [HOLE_USED, PLACED, HOLE_USED])

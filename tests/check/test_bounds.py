"""Where the verifier's rules begin and end: what just keeps them passes, and who breaks them is named, no other."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest

from broken_placements import (
    OFFSETS,
    RIM,
    STEP_MM,
    TURN_TICKS,
    TWINS,
    by_hand,
    crowded,
    put,
    soon,
    sound,
    together,
    wheel_of,
)
from pegwright.ask.options import FitOptions
from pegwright.check.verify import verify
from pegwright.check.wheel import SLACK_MM
from pegwright.columns import frozen_floats
from pegwright.placement import Outcome, Status
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import Collar, LostHole, PinType, Row, StrikeLimit
from samples import ON, TRIPLET, channel, score, wheel

PLACED, RESTRIKE, HOLE_USED = Outcome.PLACED, Outcome.RESTRIKE, Outcome.HOLE_USED
SIDE = Row("side", (Fraction(0),), lateral_mm=5.0)  # beside the holes of `on`, at the same places


def named(broken: Sequence[str]) -> list[int]:
    """Numbers of the notes that sentences are about."""
    return [int(number) for sentence in broken for number in re.findall(r"^note (\d+)", sentence)]


def test_pins_on_one_channel_may_stand_a_little_more_than_a_pin_apart() -> None:
    close = Row("close", (Fraction(0), Fraction(1, 3)))  # 5.2 mm apart
    on = wheel([channel("bar 60", [60], restrike_ms=0.0, rows=["close"])], rows=(close,), geometry=RIM)
    sound(score([(6, 60), (8, 60)]), on, [PLACED, PLACED])


def test_pins_touch_across_channels_by_where_their_rows_are() -> None:
    """The first channel's row lies towards the second channel: 4 mm of pitch less 2 mm; the other way round 6 mm."""
    rows = (ON, replace(SIDE, lateral_mm=2.0))
    towards = wheel([channel("bar 60", [60], rows=["side"]), channel("bar 61", [61], rows=["on"])], rows=rows)
    away = wheel([channel("bar 60", [60], rows=["on"]), channel("bar 61", [61], rows=["side"])], rows=rows)
    song = score([(6, 60), (6, 61)])
    narrow = replace(towards.geometry, channel_pitch_mm=4.0)
    for on, touching in ((towards, [1, 2]), (away, [])):
        placement, _ = fit_with_findings(song, on, FitOptions())
        assert named(verify(song, replace(on, geometry=narrow), placement)) == touching


def test_pins_touch_round_the_end_of_the_turn_and_both_are_named() -> None:
    """The last hole of the turn is 15.6 mm before the first."""
    song, on = score([(0, 60), (TURN_TICKS - 6, 60)]), wheel_of()
    placement = sound(song, on, [PLACED, PLACED])
    for diameter_mm, touching in ((15.1, []), (15.2, [1, 2])):
        wide = replace(RIM, pin_diameter_mm=diameter_mm, lead_edge_mm=8.0, trail_edge_mm=8.0)
        assert named(verify(song, replace(on, geometry=wide), placement)) == touching


def test_pins_of_neighbouring_channels_may_be_as_near_as_their_clearance() -> None:
    """Also where a tick is a small part of a pin."""
    for resolution in (24, 2400):
        song, on = score([(resolution // 4, 60), (resolution // 4, 61)], resolution=resolution), wheel(TWINS[:2])
        placement = sound(song, on, [PLACED, PLACED])
        for pitch_mm, touching in ((3.5, []), (3.5 - SLACK_MM, []), (3.5 - 2 * SLACK_MM, [1, 2])):
            near = replace(on, geometry=replace(on.geometry, channel_pitch_mm=pitch_mm))
            assert named(verify(song, near, placement)) == touching


def test_a_pin_may_reach_to_the_edge_of_its_plate() -> None:
    """A pin of 3 mm in the first hole, the middle of which is 1.5 mm from the edge."""
    song, on = score([(0, 60)]), wheel_of()
    placement = sound(song, on, [PLACED])
    for edge_mm, over in ((1.5, []), (1.5 - SLACK_MM, []), (1.5 - 2 * SLACK_MM, [1])):
        geometry = replace(RIM, hole_diameter_mm=1.0, min_wall_mm=0.0, lead_edge_mm=edge_mm)
        assert named(verify(song, replace(on, geometry=geometry), placement)) == over


def test_the_rounding_of_a_coarse_file_is_counted_in_its_own_ticks() -> None:
    """A third of a quarter, written as a quarter of it: a sixteenth is a tick here, and 4 ticks a quarter note."""
    on = wheel([channel("bar 60", [60], rows=["triplet"])], rows=(TRIPLET,))
    placement = sound(score([(1, 60)], resolution=4, tolerance_ticks=1), on, [PLACED])
    assert placement.resolution > 4
    assert placement.deviation_ticks[0] != 0
    assert (placement.deviation_ms[0], placement.cost_ticks) == (0.0, 0)


def test_no_channel_is_struck_twice_at_one_place_however_quick_it_is() -> None:
    on = wheel([channel("bar 60", [60], restrike_ms=0.0, rows=["on", "side"])], rows=(ON, SIDE))
    sound(score([(6, 60, 90), (7, 60, 70)]), on, [PLACED, HOLE_USED])


def test_a_note_without_a_channel_is_not_past_the_turn() -> None:
    sound(score([(TURN_TICKS, 64), (TURN_TICKS, 60)]), wheel(TWINS), [Outcome.PAST_TURN, Outcome.NO_CHANNEL])


def test_a_shared_strike_needs_no_reason_of_its_own() -> None:
    """The strike went to the second channel, for the first has another pin too near; the reason of neither counts."""
    on = wheel([channel("first", [60, 62], restrike_ms=200.0), channel("second", [60])])
    placement = sound(score([(6, 60), (6, 60), (12, 62)]), on, [PLACED, HOLE_USED, PLACED])
    assert (placement.unison.tolist(), placement.channel.tolist()) == ([-1, 0, -1], [1, 1, 0])


def test_a_note_does_not_stand_for_itself() -> None:
    song, on, placement = together(80, 80)
    broken = verify(song, on, put(placement, 1, unison=1))
    assert named(broken) == [2, 2]
    assert "a note that shares one itself" in broken[0]
    assert "a note that weighs less or comes later" in broken[1]


def test_a_song_may_start_at_any_step() -> None:
    """At 4 1/2 steps, 27 ticks, the holes 5 and 6 are at ticks 3 and 9 of the song; 6 is used."""
    on = wheel([channel("bar 60", [60], restrike_ms=0.0, rows=["on"])], geometry=RIM)
    song = score([(5, 60, 80), (8, 60, 70), (10, 60, 90)])
    options = FitOptions(start_steps=Fraction(9, 2), reach_quarters=Fraction(1, 12))
    placement = sound(song, on, [PLACED, HOLE_USED, PLACED], options)
    assert placement.index.tolist() == [5, -1, 6]
    assert placement.deviation_ticks.tolist() == [-2, 0, -1]


@pytest.mark.parametrize("onset", [7, 8])
def test_a_pin_may_be_moved_by_just_less_than_half_a_turn(onset: int) -> None:
    """Either way, on a turn of 15 ticks."""
    bar = channel("bar 60", [60], rows=["on"])
    on = wheel([bar], plate_count=1, steps_per_plate=3, step_quarters=Fraction(1), rows=(ON,), geometry=RIM)
    song = score([(onset, 60)], resolution=5)
    made = by_hand(song, on, [(0, 0, 0, 0)], reach_quarters=Fraction(7, 5))
    assert verify(*made) == ()


def test_a_plain_pin_within_the_rounding_gives_the_reason_before_a_nearer_one_with_an_offset() -> None:
    """Late by 5 ticks in the hole before, exactly right but too soon; plain in its own hole, a tick off and used."""
    types = (PinType("peg", 9), PinType("late", 9, offset_mm=5 * STEP_MM / 6))
    on = wheel([channel("bar 60", [60], rows=["on"])], pin_types=types, geometry=RIM)
    sound(score([(5, 60, 70), (6, 60, 90)], tolerance_ticks=1), on, [HOLE_USED, PLACED])


def test_a_strike_may_come_as_soon_as_the_restrike_is_over() -> None:
    """A step is 125 ms; a re-strike is whole microseconds, the nearest."""
    sound(score([(6, 60), (12, 60)]), wheel_of(restrike_ms=125.0), [PLACED, PLACED])
    song, on = score([(6, 60), (12, 60)], us_per_quarter=4002), wheel_of()  # a step is 1000.5 us
    placement = sound(song, on, [PLACED, PLACED])
    for restrike_ms, broken in ((1.0, []), (1.001, [1])):
        slow = replace(on, channels=(replace(on.channels[0], restrike_ms=restrike_ms),))
        assert named(verify(song, slow, placement)) == broken


def test_a_strike_too_soon_before_the_first_of_the_turn() -> None:
    sound(score([(0, 60, 90), (TURN_TICKS - 6, 60, 70)]), wheel_of(restrike_ms=126.0), [PLACED, RESTRIKE])
    sound(score([(0, 60, 70), (TURN_TICKS - 6, 60, 90)]), wheel_of(restrike_ms=126.0), [RESTRIKE, PLACED])


def test_a_strike_too_soon_on_any_channel() -> None:
    """Just after another one, and before the first of the turn."""
    on = wheel([channel(f"bar {pitch}", [pitch], restrike_ms=126.0) for pitch in (60, 61, 62)], geometry=RIM)
    notes = []
    for pitch, later in ((60, 0), (61, 30), (62, 60)):
        strikes = ((0, 90), (60 + later, 90), (66 + later, 70), (TURN_TICKS - 6, 70))
        notes += [(onset, pitch, velocity) for onset, velocity in strikes]
    sound(score(notes), on, [PLACED] * 3 + [PLACED, RESTRIKE] * 3 + [RESTRIKE] * 3)


def test_a_limit_is_the_reason_on_a_channel_without_a_pin() -> None:
    limit = StrikeLimit("drive", ("bar 60", "bar 61"), 1, 100.0)
    for us_per_quarter in (500_000, 500_001):
        song = score([(6, 60, 70), (6, 61, 90)], us_per_quarter=us_per_quarter)
        sound(song, wheel(TWINS[:2], strike_limits=(limit,)), [Outcome.TOO_MANY, PLACED])


def test_a_strike_too_many_round_the_end_of_the_turn() -> None:
    on = wheel_of(strike_limits=(StrikeLimit("drive", ("bar 60",), 1, 126.0),))
    sound(score([(0, 60, 70), (TURN_TICKS - 6, 60, 90)]), on, [Outcome.TOO_MANY, PLACED])
    sound(score([(0, 60, 90), (TURN_TICKS - 6, 60, 70)]), on, [PLACED, Outcome.TOO_MANY])


@pytest.mark.parametrize("velocities", [(90, 90, 70), (70, 90, 90), (90, 70, 90)])
def test_one_strike_too_many_may_be_the_first_the_last_or_between(velocities: tuple[int, int, int]) -> None:
    limit = StrikeLimit("drive", ("bar 60", "bar 61", "twin 60"), 2, 251.0)
    notes = [(6 * place, 60 + place % 2, velocity) for place, velocity in enumerate(velocities)]
    outcome = [PLACED if velocity == 90 else Outcome.TOO_MANY for velocity in velocities]
    sound(score(notes), wheel(TWINS, strike_limits=(limit,)), outcome)


def test_a_limit_is_no_reason_on_a_channel_that_it_leaves_out() -> None:
    channels = [channel(f"bar {pitch}", [pitch], restrike_ms=0.0, rows=["on"]) for pitch in (60, 61)]
    on = wheel(channels, strike_limits=(StrikeLimit("drive", ("bar 60",), 1, 126.0),), geometry=RIM)
    song = score([(6, 60, 90), (12, 60, 70), (12, 61, 90), (13, 61, 70), (18, 61, 90)])
    sound(song, on, [PLACED, Outcome.TOO_MANY, PLACED, HOLE_USED, PLACED])


def test_strikes_may_follow_as_soon_as_the_window_of_a_limit_ends() -> None:
    song, on, placement = crowded([0, 6, 12], strikes=1, window_ms=125.0)
    assert verify(song, on, placement) == ()


def test_a_window_is_whole_microseconds() -> None:
    """A step is 16.1 ms, and a window of 16.1 ms a little more as a float."""
    song, on = score([(0, 60), (6, 60)], us_per_quarter=64_400), wheel_of()
    placement = sound(song, on, [PLACED, PLACED])
    for window_ms, broken in ((16.1, []), (16.101, [1, 2])):
        limited = replace(on, strike_limits=(StrikeLimit("drive", ("bar 60",), 1, window_ms),))
        assert named(verify(song, limited, placement)) == broken


def test_every_strike_of_a_crowd_is_named_and_no_other() -> None:
    song, on, placement = crowded([0, 6, 12, 60, 90], strikes=2, window_ms=250.001)
    assert named(verify(song, on, placement)) == [1, 2, 3]
    song, on, placement = crowded([0, 60, 90, TURN_TICKS - 6], strikes=1, window_ms=125.001)
    assert named(verify(song, on, placement)) == [1, 4]


def test_exact_holes_alone_may_be_asked_for() -> None:
    sound(score([(6, 60)]), wheel_of(), [PLACED], FitOptions(reach_quarters=Fraction(0)))


def test_a_hold_of_whole_ticks_is_no_tick_longer_for_the_rounding_of_floats() -> None:
    """23 ticks, a little more as a float; so the strike 24 ticks on is one tick, 20.83 ms, after the pin lets go."""
    for restrike_ms, broken in ((20.8, []), (20.9, [1])):
        assert named(verify(*soon(24, restrike_ms, hold_mm=23 * STEP_MM / 6))) == broken


def test_a_whole_turn_from_the_first_pin_is_one_too_far() -> None:
    """The last note was moved to the place of the first: a strike too soon, and out of order."""
    on = wheel([channel("bar 60", [60], restrike_ms=0.0, rows=["on", "side"])], rows=(ON, SIDE), geometry=RIM)
    broken = verify(*by_hand(score([(0, 60), (1150, 60)]), on, [(0, 0, 0, 0), (0, 1, 0, 0)]))
    assert any("out of the order" in sentence for sentence in broken)


def test_two_pins_at_one_place_are_in_no_order() -> None:
    """In two rows side by side: a strike too soon as well."""
    on = wheel([channel("bar 60", [60], restrike_ms=0.0, rows=["on", "side"])], rows=(ON, SIDE), geometry=RIM)
    broken = verify(*by_hand(score([(6, 60), (7, 60)]), on, [(0, 0, 1, 0), (0, 1, 1, 0)]))
    assert any("out of the order" in sentence for sentence in broken)


def test_a_deviation_in_ms_may_differ_by_the_rounding_of_floats() -> None:
    song, on, placement = by_hand(score([(7, 60)]), wheel_of(), [(0, 0, 1, 0)])
    assert placement.deviation_ms.tolist() == [pytest.approx(-500 / 24)]
    for factor, broken in ((1 + 1e-12, []), (1 + 1e-8, [1])):
        near = replace(placement, deviation_ms=frozen_floats(placement.deviation_ms * factor))
        assert named(verify(song, on, near)) == broken


def test_a_bound_above_the_weight_is_no_fault_where_nothing_more_is_claimed() -> None:
    song, on = score([(6, 60)]), wheel_of()
    placement = replace(sound(song, on, [PLACED]), weight_bound=1000)
    assert verify(song, on, replace(placement, status=Status.BOUNDED)) == ()
    assert len(verify(song, on, placement)) == 1


def test_a_wider_hole_needs_more_sheet_to_the_edge() -> None:
    song, on = score([(0, 60)]), wheel_of()  # 5 mm from the edge; a wall of 2.5 mm
    placement = sound(song, on, [PLACED])
    for diameter_mm, lost in ((5.0, []), (5.01, [1])):
        wider = replace(on, geometry=replace(RIM, hole_diameter_mm=diameter_mm))
        assert named(verify(song, wider, placement)) == lost


@pytest.mark.parametrize(
    ("step", "edge", "edge_mm", "lost"),
    [
        (31, "trail_edge_mm", STEP_MM - 4.5 + 1e-10, []),
        (31, "trail_edge_mm", STEP_MM - 4.5 + 1e-8, [1]),
        (0, "lead_edge_mm", 4.5 - 1e-10, []),
        (0, "lead_edge_mm", 4.5 - 1e-8, [1]),
        (0, "lead_edge_mm", 4.5 - SLACK_MM, []),  # equal as floats
        (31, "trail_edge_mm", STEP_MM - (4.5 - SLACK_MM), []),
        (1, "lead_edge_mm", 0.0, []),
        (30, "trail_edge_mm", STEP_MM, []),
    ],
)
def test_a_hole_has_its_wall_to_both_edges(step: int, edge: str, edge_mm: float, lost: list[int]) -> None:
    """Half a hole of 4 mm and a wall of 2.5 mm from the middle to either edge of the plate."""
    song, on = score([(6 * step, 60)]), wheel_of()
    placement = sound(song, on, [PLACED])
    rim = replace(RIM, **{edge: edge_mm})  # type: ignore[arg-type]  # one of the lengths
    assert named(verify(song, replace(on, geometry=rim), placement)) == lost


def test_a_part_sounds_on_the_channels_of_its_pattern() -> None:
    song, on = score([(6, 60, 80, 0), (12, 36, 80, 1)]), wheel([*TWINS, channel("drum", drum_keys=[36])])
    placement = sound(song, on, [PLACED, PLACED], FitOptions(part_channels=(("Melody", "twin *"),)))
    assert placement.channel.tolist() == [2, 3]
    (broken,) = verify(song, on, put(placement, 0, channel=0))
    assert "has a channel that does not sound it" in broken
    elsewhere = FitOptions(part_channels=(("Drums", "twin *"),))
    assert sound(score([(6, 60)]), wheel(TWINS), [PLACED], elsewhere).channel.tolist() == [0]


def test_the_priority_of_a_part_is_in_its_weight() -> None:
    on = wheel([channel("bar 60", [60], drum_keys=[36])])
    song = score([(6, 60, 80, 0), (24, 36, 90, 1)])
    placement = sound(song, on, [PLACED, PLACED], FitOptions(part_priorities=(("Melody", 3),)))
    assert placement.weight == (3 * 128 + 80) + (128 + 90)


def test_notes_are_transposed_and_drum_notes_are_not() -> None:
    """A drum note sounds by its key, whatever the pitch of that number, unless another key is to stand for it."""
    on = wheel([channel("bar 60", [60]), channel("bass drum", drum_keys=[36]), channel("bar 36", [36])])
    song = score([(6, 48, 80, 0), (12, 36, 80, 1), (18, 24, 80, 0), (24, 40, 80, 1)])
    outcome = [PLACED, PLACED, PLACED, Outcome.NO_CHANNEL]
    placement = sound(song, on, outcome, FitOptions(transpose_semitones=12))
    assert placement.channel.tolist() == [0, 1, 2, -1]
    keys = FitOptions(transpose_semitones=12, drum_keys=((40, 36), (36, 35)))
    assert sound(song, on, [PLACED, Outcome.NO_CHANNEL, PLACED, PLACED], keys).channel.tolist() == [0, -1, 2, 1]


@pytest.mark.parametrize(
    ("pitch", "outcome"), [(72, PLACED), (48, PLACED), (73, Outcome.NO_CHANNEL), (47, Outcome.NO_CHANNEL)]
)
def test_a_pitch_is_folded_by_octaves_and_nothing_else(pitch: int, outcome: Outcome) -> None:
    sound(score([(6, pitch)]), wheel_of(), [outcome], FitOptions(fold_octaves=True))


def test_a_bridge_is_no_pin_for_a_note_wherever_it_stands_in_the_list() -> None:
    bridge = PinType("bridge", 9, bridge_mm=9.0)
    for types, number in (((bridge, PinType("peg", 9)), 0), ((PinType("peg", 9), bridge), 1)):
        song, on, placement = by_hand(score([(6, 60)]), wheel_of(pin_types=types), [(0, 0, 1, number)])
        assert named(verify(song, on, placement)) == [1]


def test_a_hole_lost_on_another_channel_is_none_of_a_notes_business() -> None:
    song, on = score([(6, 60)]), wheel(TWINS[:2], lost=(LostHole("on", 1, channel="bar 61"),))
    sound(song, on, [PLACED])


def test_a_note_whose_holes_are_lost_is_left_out_on_the_channel_of_the_nearest() -> None:
    channels = [channel("first", [60], rows=["triplet"]), channel("second", [60], rows=["on"])]
    on = wheel(channels, lost=(LostHole("on", 1),))
    placement = sound(score([(6, 60)]), on, [Outcome.LOST_AT_SEAM])
    assert placement.channel.tolist() == [1]


def test_the_last_holes_of_the_turn_are_near_its_first_note() -> None:
    """The holes at the note and after it are lost, the one before it is used, and the one before that is lost too."""
    lost = (LostHole("on", 0, plate=0), LostHole("on", 1, plate=0), LostHole("on", 30, plate=5))
    on = wheel([channel("bar 60", [60], restrike_ms=0.0, rows=["on"])], lost=lost, geometry=RIM)
    options = FitOptions(reach_quarters=Fraction(1, 4))
    sound(score([(0, 60, 70), (TURN_TICKS - 6, 60, 90)]), on, [HOLE_USED, PLACED], options)


def test_an_early_pin_is_in_the_hole_after_the_note() -> None:
    """Two ticks early; the hole is used, and without such a pin none is within reach."""
    bar = channel("bar 60", [60], restrike_ms=0.0, rows=["on"])
    song, options = score([(4, 60, 70), (6, 60, 90)]), FitOptions(reach_quarters=Fraction(1, 48))
    for types, outcome in ((OFFSETS[:2], HOLE_USED), (OFFSETS[:1], Outcome.OFF_GRID)):
        sound(song, wheel([bar], pin_types=types, geometry=RIM), [outcome, PLACED], options)


def test_a_collar_that_moves_with_its_pin_may_touch_where_one_that_stays_does_not() -> None:
    """The collar of an early pin for the second note is 3.8 mm after the first pin, or else 7.8 mm, in its hole."""
    bar = channel("bar 60", [60], restrike_ms=0.0, rows=["on", "half"])
    wide = replace(RIM, pin_diameter_mm=3.4)  # and 0.5 mm of clearance
    song, options = score([(3, 60, 90), (4, 60, 70)]), FitOptions(reach_quarters=Fraction(1, 48))
    for collar, outcome in ((Collar.MOVES, Outcome.PINS_TOUCH), (Collar.STAYS, PLACED)):
        types = (OFFSETS[0], replace(OFFSETS[1], collar=collar))
        sound(song, wheel([bar], pin_types=types, geometry=wide), [PLACED, outcome], options)


def test_a_collar_that_stays_is_in_the_middle_of_its_hole() -> None:
    """Between two pins that are half a step from it, as much as a pin and its clearance."""
    bar = channel("bar 60", [60], restrike_ms=0.0, rows=["on", "half"])
    types = (OFFSETS[0], replace(OFFSETS[1], collar=Collar.STAYS))
    on = wheel([bar], pin_types=types, geometry=replace(RIM, pin_diameter_mm=STEP_MM / 2 - 0.5))
    options = FitOptions(reach_quarters=Fraction(1, 48))
    sound(score([(3, 60), (4, 60), (9, 60)]), on, [PLACED, PLACED, PLACED], options)


def test_of_equal_pin_types_the_first_is_taken_and_those_with_other_collars_are_not_equal() -> None:
    """As above: the early pin is taken whose collar stays, although one comes first whose collar would touch."""
    bar = channel("bar 60", [60], restrike_ms=0.0, rows=["on", "half"])
    wide, options = replace(RIM, pin_diameter_mm=3.4), FitOptions(reach_quarters=Fraction(1, 48))
    early = OFFSETS[1]
    types = (OFFSETS[0], early, replace(early, name="stays", collar=Collar.STAYS), replace(early, name="early again"))
    on = wheel([bar], pin_types=types, geometry=wide)
    assert sound(score([(3, 60), (4, 60)]), on, [PLACED, PLACED], options).pin_type.tolist() == [0, 2]
    assert sound(score([(4, 60)]), on, [PLACED], options).pin_type.tolist() == [1]


def test_collars_of_pins_are_where_their_type_has_them() -> None:
    """As above, both notes with a pin; then all the collars move with their pins."""
    bar = channel("bar 60", [60], restrike_ms=0.0, rows=["on", "half"])
    types = (OFFSETS[0], replace(OFFSETS[1], collar=Collar.STAYS))
    on = wheel([bar], pin_types=types, geometry=replace(RIM, pin_diameter_mm=3.4))
    song = score([(3, 60), (4, 60)])
    placement = sound(song, on, [PLACED, PLACED], FitOptions(reach_quarters=Fraction(1, 48)))
    assert named(verify(song, replace(on, pin_types=OFFSETS[:2]), placement)) == [1, 2]


def test_a_late_pin_at_the_end_of_the_turn_trips_after_the_first() -> None:
    """17 mm late, in the last hole, which is 15.6 mm before the first."""
    types = (OFFSETS[0], replace(OFFSETS[2], offset_mm=17.0, collar=Collar.STAYS))
    on = wheel([channel("bar 60", [60], restrike_ms=0.0, rows=["on"])], pin_types=types, geometry=RIM)
    options = FitOptions(reach_quarters=Fraction(1, 48))
    placement = sound(score([(0, 60), (1, 60)]), on, [PLACED, PLACED], options)
    assert placement.index.tolist() == [0, 31]


def test_no_bridge_is_tried_for_a_note_left_out() -> None:
    types = (PinType("peg", 9), PinType("early bridge", 9, offset_mm=-4.0, bridge_mm=9.0))
    on = wheel([channel("bar 60", [60], rows=["on"])], pin_types=types, geometry=RIM)
    sound(score([(4, 60)]), on, [Outcome.OFF_GRID], FitOptions(reach_quarters=Fraction(1, 48)))


def test_pins_of_every_type_are_tried_for_a_note_left_out() -> None:
    """A note 4 mm before a free hole would go in with an early pin."""
    on = wheel([channel("bar 60", [60], rows=["on"])], pin_types=OFFSETS, geometry=RIM)
    song = score([(4, 60)])
    placement, _ = fit_with_findings(song, on, FitOptions(reach_quarters=Fraction(1, 48)))
    assert placement.outcome.tolist() == [PLACED]
    assert on.pin_types[int(placement.pin_type[0])].name == "early"
    without = replace(on, pin_types=OFFSETS[:1])
    left_out, _ = fit_with_findings(song, without, FitOptions(reach_quarters=Fraction(1, 48)))
    assert left_out.outcome.tolist() == [Outcome.OFF_GRID]


@pytest.mark.parametrize("us_per_quarter", [10**15, 10**18])
def test_no_tempo_is_too_slow_for_the_re_strike_and_the_limits(us_per_quarter: int) -> None:
    """The time between strikes, in microseconds times the resolution, is more than 64 bits hold."""
    limit = StrikeLimit("all", ("bar 60",), 1, 5.0)
    on = wheel([channel("bar 60", [60], restrike_ms=100.0)], strike_limits=(limit,))
    placement = sound(score([(0, 60), (20_160, 60)], resolution=20_160), on, [PLACED, PLACED])
    assert placement.resolution >= 20_160
    assert (
        verify(score([(0, 60), (20_160, 60)], resolution=20_160), on, replace(placement, us_per_quarter=us_per_quarter))
        == ()
    )


def test_of_plain_pin_types_the_first_is_taken_whatever_their_collars() -> None:
    types = (PinType("peg", 9), PinType("peg with a fixed collar", 9, collar=Collar.STAYS))
    for number, broken in ((0, []), (1, [1])):
        song, on, placement = by_hand(score([(6, 60)]), wheel_of(pin_types=types), [(0, 0, 1, number)])
        assert named(verify(song, on, placement)) == broken


def test_the_end_of_the_turn_meets_its_beginning_on_every_channel() -> None:
    """One of two channels has a pin on the first step and one on the last, 125 ms before it."""
    for near in (60, 61):
        notes = [(0, near), (300, 121 - near), (600, 121 - near), (TURN_TICKS - 6, near)]
        song, on = score(notes), wheel([channel(f"bar {pitch}", [pitch], restrike_ms=0.0) for pitch in (60, 61)])
        placement = sound(song, on, [PLACED] * 4)
        slow = replace(on, channels=tuple(replace(one, restrike_ms=200.0) for one in on.channels))
        assert named(verify(song, slow, placement)) == [4]

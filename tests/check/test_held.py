"""Where the rules of holding channels' pins begin and end: what just keeps them passes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from broken_held import BRIDGE, HORN, chosen, held
from broken_placements import RIM, STEP_MM
from pegwright.check.held import SLACK_MM, verify_held
from pegwright.columns import frozen_ints
from pegwright.wheel import Collar, LostHole, PinType
from samples import channel

Notes = tuple[tuple[int, int], ...]
THIN = replace(RIM, hole_diameter_mm=1.0, min_wall_mm=0.0)  # holes near an edge are not lost
OVER = "pin 1 reaches over an edge of its plate"


@pytest.mark.parametrize(
    ("step", "row", "edge", "edge_mm"),
    [
        (0, "on", "lead_edge_mm", 1.5),
        (31, "on", "trail_edge_mm", STEP_MM - 1.5),
        (31.5, "half", "trail_edge_mm", STEP_MM / 2 - 1.5),
    ],
)
def test_a_pin_may_reach_to_the_edge_of_its_plate(step: float, row: str, edge: str, edge_mm: float) -> None:
    """A pin of 3 mm in the first or the last hole of a plate, an edge of which is 1.5 mm from its middle."""
    on, placement, pins = held((step, 1), channels=(replace(HORN, rows=(row,)),), geometry=THIN)
    assert len(pins.note) == 1
    sign = -1 if edge == "lead_edge_mm" else 1  # 0.02 mm are slack
    off = PinType("off", 9, offset_mm=0.5 * sign, collar=Collar.STAYS)
    for by_mm, kind, broken in (
        (0.015 * sign, on.pin_types[0], ()),
        (SLACK_MM * sign, on.pin_types[0], ()),  # equal as floats
        (0.025 * sign, on.pin_types[0], (OVER,)),
        (0.0, off, ()),
        (0.0, replace(off, collar=Collar.MOVES), (OVER,)),
    ):
        geometry = replace(THIN, **{edge: edge_mm + by_mm})  # type: ignore[arg-type]  # one of the lengths
        told = verify_held(replace(on, geometry=geometry, pin_types=(kind,)), placement, pins)
        assert tuple(sentence.removeprefix("channel horn: ") for sentence in told) == broken


def test_every_holding_channel_is_followed_by_itself() -> None:
    """Two horns between bars, one of them with the other's notes in its way if they were its own."""
    low = replace(HORN, name="low horn", pitches=(48,))
    channels = (channel("bar 62", [62]), HORN, channel("bar 64", [64]), low)
    on, placement, pins = held((4, 2), (4, 1, 62), (5, 3, 48), (6, 1, 64), (8, 2), (8, 2), channels=channels)
    assert placement.channel.tolist() == [1, 0, 3, 2, 1, 1]
    assert placement.shared.tolist() == [False] * 5 + [True]  # the two at the end are one strike
    lost = replace(on, lost=(LostHole("on", 5, channel="low horn"),))
    assert verify_held(lost, placement, pins) == ("channel low horn: pin 7 shares its hole or has none",)


@pytest.mark.parametrize(("wider_mm", "broken"), [(0.015, 0), (SLACK_MM, 0), (0.025, 1)])
def test_pins_that_hold_a_note_may_stand_as_near_as_their_clearance(wider_mm: float, broken: int) -> None:
    """A step apart, of which 0.5 mm are clearance; 0.02 mm are slack."""
    on, placement, pins = held((4, 2))
    wide = replace(on, geometry=replace(RIM, pin_diameter_mm=STEP_MM - 0.5 + wider_mm))
    assert len(verify_held(wide, placement, pins)) == broken


def test_pins_are_not_too_near_where_a_length_that_decides_it_is_not_known() -> None:
    on, placement, pins = held((4, 2))
    wide = replace(RIM, pin_diameter_mm=STEP_MM)
    for unknown, broken in (("pin_diameter_mm", 0), ("channel_pitch_mm", 0), ("min_wall_mm", 1)):
        assert len(verify_held(replace(on, geometry=replace(wide, unknown=(unknown,))), placement, pins)) == broken


def test_no_pin_reaches_over_an_edge_that_is_not_known_or_is_not_there() -> None:
    on, placement, pins = held((0, 1), geometry=THIN)
    over = replace(THIN, lead_edge_mm=1.0)
    for changes, broken in (({}, 1), ({"unknown": ("min_wall_mm",)}, 0), ({"seams": False}, 0)):
        geometry = replace(over, **changes)
        assert len(verify_held(replace(on, geometry=geometry), placement, pins)) == broken


def test_the_first_note_of_the_turn_may_follow_the_last() -> None:
    """Two steps after it, one of which it is held, and not one as from the beginning of the turn."""
    on, placement, pins = held((1, 1), (191, 1))
    assert pins.index.tolist() == [1, 31]
    slow = replace(on, channels=(replace(HORN, restrike_ms=125.0),))
    assert verify_held(slow, placement, pins) == ()


def test_rows_between_steps_are_measured_as_they_stand() -> None:
    """From step 4 to step 7 1/2, less the step that the channel is held: 312.5 ms."""
    on, placement, pins = held((4, 1), (7.5, 1), channels=(replace(HORN, rows=("on", "half")),))
    assert pins.row.tolist() == [0, 1]
    for restrike_ms, broken in ((312.0, 0), (313.0, 1)):
        slow = replace(on, channels=(replace(on.channels[0], restrike_ms=restrike_ms),))
        assert len(verify_held(slow, placement, pins)) == broken


@pytest.mark.parametrize(("notes", "near"), [(((4, 2), (7, 1)), 2), (((4, 1), (6, 1)), 0)])
def test_pins_of_two_notes_may_be_too_near_unless_they_are_single(notes: Notes, near: int) -> None:
    """Two steps from the last pin of a note to the first of the next; single pins may be in rows side by side."""
    on, placement, pins = held(*notes)
    wide = replace(on, geometry=replace(RIM, pin_diameter_mm=2 * STEP_MM - 0.4))
    broken = verify_held(wide, placement, pins)
    assert [sentence.endswith("too near") for sentence in broken] == [True] * near


@pytest.mark.parametrize(("shorter_mm", "broken"), [(0.015, 0), (SLACK_MM, 0), (0.025, 1)])
def test_the_next_pin_is_to_come_before_the_channel_lets_go(shorter_mm: float, broken: int) -> None:
    """A step after the one before; 0.02 mm are slack."""
    on, placement, pins = held((4, 2))
    quick = replace(on, channels=(replace(HORN, hold_mm=STEP_MM - shorter_mm),))
    assert len(verify_held(quick, placement, pins)) == broken


@pytest.mark.parametrize("offset_mm", [5.0, -5.0])
def test_collars_that_stay_in_their_holes_are_as_far_apart_as_those(offset_mm: float) -> None:
    """The middle pin of three trips 5 mm off its hole; from hole to hole is just enough."""
    off = PinType("off", 900, offset_mm=offset_mm, collar=Collar.STAYS)
    on, placement, pins = held((4, 3), pin_types=(PinType("peg", 900), off))
    pins = replace(pins, pin_type=frozen_ints([0, 1, 0]))
    wide = replace(on, channels=(replace(HORN, hold_mm=21.0),), geometry=replace(RIM, pin_diameter_mm=15.1))
    assert verify_held(wide, placement, pins) == ()
    moves = replace(wide, pin_types=(on.pin_types[0], replace(off, collar=Collar.MOVES)))
    assert [sentence.endswith("too near") for sentence in verify_held(moves, placement, pins)] == [True]


def test_notes_are_counted_from_1_in_sentences() -> None:
    on, placement, pins = held((4, 1), (7, 1), (9, 1))
    (broken,) = verify_held(on, placement, chosen(pins, [1, 2]))
    assert broken == "channel horn: notes [1, 2, 3] are placed, [2, 3] are begun"


def test_a_note_may_begin_just_as_the_restrike_is_over() -> None:
    """A step after the channel lets go, and 0.02 mm of slack, at 8 ms a mm."""
    on, placement, pins = held((4, 1), (6, 1))
    for more_ms, broken in ((0.0, 0), (1e-6, 1)):
        channels = (replace(HORN, restrike_ms=(STEP_MM + SLACK_MM) * 8.0 + more_ms),)
        assert len(verify_held(replace(on, channels=channels), placement, pins)) == broken


def test_a_late_pin_in_the_last_hole_may_trip_after_the_first() -> None:
    """17 mm late, from 15.6 mm before the first pin to 1.4 mm after it, where the channel has let go after 1 mm."""
    quick = replace(HORN, hold_mm=1.0, restrike_ms=0.0)
    on, placement, pins = held((0, 1), (191, 1), channels=(quick,))
    assert pins.index.tolist() == [0, 31]
    types = (on.pin_types[0], PinType("late", 9, offset_mm=17.0, collar=Collar.STAYS))
    late = frozen_ints([0, 1])
    placement, pins = replace(placement, pin_type=late), replace(pins, pin_type=late)
    assert verify_held(replace(on, pin_types=types), placement, pins) == ()


def test_a_bridge_holds_on_to_its_end() -> None:
    """Three steps, one of them the channel's own; a note of seven steps has two of them and a pin."""
    _, _, pins = held((4, 7), pin_types=(PinType("peg", 900), BRIDGE))
    assert sorted(pins.pin_type.tolist()) == [0, 1, 1]

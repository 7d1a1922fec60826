"""Every rule of pins on a map without its score, at its bounds: what just keeps it, and what just breaks it.

Those that time decides are in `test_pin_map_times.py`.

On the small wheel of `pins_told` a step is 10 mm and 100 ms, so that what is expected can be told by hand.
"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import pytest

from map_oracle import Fault, Oracle
from map_oracle import Pin as OraclePin
from pegwright.check import pin_map
from pegwright.wheel import LostHole, PinType, Row, StrikeLimit, Wheel
from pins_told import (
    BAR,
    BLOCK,
    BRIDGE,
    HORN,
    LATE,
    NEVER,
    PEG,
    REED,
    STAYS,
    US_PER_QUARTER,
    Pin,
    aside,
    at,
    geometry,
    rules,
    small,
    told,
)
from samples import HALF, ON
from thorough import cases
from wheel_text import wheel_text

THIN = geometry(hole_diameter_mm=0.2, min_wall_mm=0.0)  # holes near an edge are not lost


def test_a_map_without_pins_breaks_no_rule() -> None:
    assert told(small(strike_limits=(StrikeLimit("air", ("bar",), 1, 50.0),))) == []


# --- numbers ---


@pytest.mark.parametrize(("column", "count"), [(0, 3), (1, 2), (2, 3), (4, 1)])
def test_a_number_is_below_the_count_of_the_wheel(column: int, count: int) -> None:
    """Nothing else is told where a number is none, such as that the other pins share a hole."""
    sound = (2, 1, 0, 0, 0)
    bad = [tuple(number if place == column else one for place, one in enumerate(sound)) for number in (-1, count)]
    top = tuple(count - 1 if place == column else one for place, one in enumerate(sound))
    assert told(small(), sound, bad[0], sound, bad[1]) == [("number", (1,), 0.0, -1), ("number", (3,), 0.0, -1)]
    assert told(small(), top) == []


def test_a_hole_has_no_number_below_the_first() -> None:
    assert rules(small(), at(0, 3), (0, 0, 0, -1), at(0, 6)) == [("number", (1,))]
    assert rules(small(), at(0, 0)) == []


# --- holes ---


def test_a_hole_is_in_a_row_that_the_channel_has_and_on_the_plate() -> None:
    on = small()
    assert told(on, (0, 0, 0, 7), (0, 1, 2, 3), (0, 0, 1, 6)) == []
    beyond = ((0, 0, 0, 8), (0, 1, 0, 99), (0, 0, 2, 4), (1, 0, 1, 3), at(1, 3))
    assert told(on, *beyond) == [("hole", (number,), 0.0, -1) for number in range(4)]


def test_a_row_may_have_a_single_hole() -> None:
    on = small(BLOCK, rows=(ON,), steps_per_plate=1, plate_count=16, geometry=replace(THIN, lead_edge_mm=2.0))
    assert rules(on, (0, 3, 0, 1), (0, 5, 0, 0)) == [("hole", (0,))]


def test_a_hole_is_lost_where_too_little_wall_is_left_at_a_seam() -> None:
    """4.5 mm are needed: at step 7 1/2 of a plate, 5 mm from the next, they are there if the edge is at that."""
    last = (at(0, 7.5), at(0, 15.5))
    assert told(small(), *last) == [("lost", (0,), 0.0, -1), ("lost", (1,), 0.0, -1)]
    for trail_mm, lost in ((0.5, []), (0.501, ["lost", "lost"])):
        on = small(BAR, geometry=geometry(trail_edge_mm=trail_mm))
        assert [rule for rule, _ in rules(on, *last)] == lost


def test_a_hole_is_lost_as_declared() -> None:
    lost = (LostHole("on", 2, plate=1), LostHole("on", 3, channel="bar"), LostHole("half", 4), LostHole("half", 5))
    on = small(lost=lost)
    gone = (at(0, 10), at(1, 10), at(0, 3), at(0, 11), at(2, 4.5))
    there = (at(0, 2), at(1, 3), at(1, 4), at(2, 6.5))
    assert rules(on, *gone, *there) == [("lost", (number,)) for number in range(5)]
    assert rules(on, (1, 0, 1, 4)) == [("hole", (0,))]  # of a row that the channel has not


def test_pins_without_a_hole_break_no_other_rule_and_are_told_by_rule() -> None:
    """Each is beside a pin of its channel, shares its place with another or is a bridge."""
    on = small(
        lost=(LostHole("on", 3),), pin_types=(PEG, BRIDGE), strike_limits=(StrikeLimit("air", ("bar",), 1, 9.0),)
    )
    pins = (at(0, 3), at(0, 3), (0, 0, 1, 9), at(0, 3, 1), at(0, 2.5), at(2, 3))
    assert rules(on, *pins) == [("hole", (2,)), ("lost", (0,)), ("lost", (1,)), ("lost", (3,)), ("lost", (5,))]


# --- shared holes ---


def test_pins_that_share_a_hole_are_one_fault() -> None:
    on = small(replace(BAR, restrike_ms=99.0), BLOCK, HORN, pin_types=(PEG, LATE))
    pins = (at(1, 9), at(0, 4), at(0, 9), at(1, 9), at(0, 4), at(0, 4, 1), at(2, 9))
    assert told(on, *pins) == [("shared", (0, 3), 0.0, -1), ("shared", (1, 4, 5), 0.0, -1)]


@pytest.mark.parametrize("begins", [(1, 1), (1, 0), (0, 1), (0, 0), (-1, -1)])
@pytest.mark.parametrize("notes", [-1, (3, 3), (3, 4)])
@pytest.mark.parametrize("kinds", [(0, 0), (1, 0), (0, 1)])
def test_so_are_those_of_a_holding_channel(
    begins: tuple[int, int], notes: int | tuple[int, int], kinds: tuple[int, int]
) -> None:
    on = small(pin_types=(PEG, BRIDGE))
    pins = [at(2, 4, kind) for kind in kinds]
    assert told(on, *pins, begins=begins, notes=notes) == [("shared", (0, 1), 0.0, -1)]


def test_the_pins_before_and_after_a_shared_hole_are_looked_at() -> None:
    on = small(geometry=geometry(pin_diameter_mm=5.0))
    pins = (at(2, 4), at(2, 4), at(2, 4.5), at(0, 4), at(0, 4), aside(0, 5))
    faults = told(on, *pins)
    assert [fault[:3] for fault in faults if fault[0] != "touch"] == [
        ("shared", (0, 1), 0.0),
        ("shared", (3, 4), 0.0),
        ("restrike", (1, 2), 50.0),
    ]
    assert [fault[1] for fault in faults if fault[0] == "touch"] == [(0, 2), (1, 2)]
    slow = replace(BAR, restrike_ms=100.001)
    assert told(small(slow), at(0, 4), aside(0, 5), at(0, 4))[1:] == [("restrike", (2, 1), 100.0, -1)]


def test_pins_side_by_side_in_holes_of_one_number_share_none() -> None:
    on = small(HORN, pin_types=(PEG,))
    for pin in ((0, 1, 0, 1), (0, 0, 1, 1), (0, 0, 0, 2)):  # of another plate, row, number
        assert rules(on, (0, 0, 0, 1), pin, begins=(1, 0)) != [("shared", (0, 1))]


# --- bridges and edges ---


def test_a_bridge_is_for_a_channel_that_holds() -> None:
    on = small(BAR, HORN, BLOCK, pin_types=(PEG, PinType("short", 9, bridge_mm=0.5), BRIDGE))
    pins = (at(2, 2, 2), at(1, 2, 1), at(1, 12, 2), at(0, 2, 0), at(0, 12, 1))
    assert told(on, *pins) == [("bridge", (0,), 0.0, -1), ("bridge", (4,), 0.0, -1)]


@pytest.mark.parametrize("channel", [0, 2])
@pytest.mark.parametrize(
    ("edge", "step", "kind", "just_mm"),
    [
        ("lead_edge_mm", 0, 0, 1.5),
        ("lead_edge_mm", 0, 1, 0.5),  # its collar is 1 mm late
        ("lead_edge_mm", 0, 2, 2.5),  # and 1 mm early
        ("lead_edge_mm", 0, 3, 1.5),  # its edge is, and its collar stays
        ("trail_edge_mm", 7, 0, 8.5),
        ("trail_edge_mm", 7, 1, 7.5),
        ("trail_edge_mm", 7, 2, 9.5),
        ("trail_edge_mm", 7, 3, 8.5),
    ],
)
def test_a_collar_may_reach_to_the_edge_of_its_plate(
    channel: int, edge: str, step: int, kind: int, just_mm: float
) -> None:
    """It is 1.5 mm to either side of its middle; the last step of a plate is 10 mm from the next plate."""
    kinds = (PEG, LATE, replace(LATE, offset_mm=-1.0), STAYS)
    wide = replace(THIN, lead_edge_mm=5.0, trail_edge_mm=5.0)
    lost_and_sound = ((0, 0, 0, 99), at(0, 4), at(0, 12))
    sign = -1 if edge == "lead_edge_mm" else 1
    for by_mm, broken in ((0.0, []), (0.001 * sign, [3, 4])):
        met = replace(wide, **{edge: just_mm + by_mm})  # type: ignore[arg-type]  # one of the lengths
        on = small(pin_types=kinds, geometry=met)
        pins = (*lost_and_sound, at(channel, step, kind), at(channel, 8 + step, kind))
        assert told(on, *pins)[1:] == [("edge", (pin,), 0.0, -1) for pin in broken]


@pytest.mark.parametrize(("trail_mm", "broken"), [(4.5, 0), (4.515, 0), (4.525, 1)])
def test_a_bridge_may_reach_to_the_edge_with_its_end(trail_mm: float, broken: int) -> None:
    """It begins 10 mm before the next plate and is 4 mm long; 0.02 mm are slack."""
    kinds = (PEG, PinType("bridge", 9, bridge_mm=4.0))
    on = small(pin_types=kinds, geometry=replace(THIN, trail_edge_mm=trail_mm))
    assert rules(on, (0, 0, 0, 99), at(2, 3), at(2, 7, 1))[1:] == [("edge", (2,))] * broken
    assert rules(on, at(0, 7, 1)) == [("bridge", (0,))]


# --- touching ---


@pytest.mark.parametrize("begins", [(1, 1, 1, 1), (1, 0, 1, 0), (-1, -1, -1, -1)])
def test_pins_may_stand_as_near_as_the_clearance(begins: tuple[int, ...]) -> None:
    """Half a step apart is 5 mm, on a channel that strikes and on one that holds, also from plate to plate."""
    pins = (at(0, 4), at(0, 3.5), at(2, 12), at(2, 12.5))
    bar, horn = replace(BAR, **NEVER), replace(HORN, restrike_ms=0.0, hold_mm=5.0)
    for diameter_mm, touch in ((4.5, []), (4.501, [("touch", (0, 1), 0.0, -1), ("touch", (2, 3), 0.0, -1)])):
        on = small(bar, BLOCK, horn, geometry=geometry(pin_diameter_mm=diameter_mm))
        assert told(on, *pins, begins=begins) == touch


def test_pins_of_neighbouring_channels_touch_where_they_stand_too_near_across_the_rim() -> None:
    channels = [replace(BLOCK, name=str(number), **NEVER) for number in range(3)]
    pins = (at(2, 4), at(1, 4), at(0, 4), at(1, 5), at(0, 9))
    for pitch_mm, broken in ((3.5, []), (3.4, [(0, 1), (1, 2)])):
        assert rules(small(*channels, geometry=geometry(channel_pitch_mm=pitch_mm)), *pins) == [
            ("touch", pair) for pair in broken
        ]


def test_many_pins_that_touch_are_told_in_order() -> None:
    chance = random.Random(3)  # noqa: S311  # a seeded order
    steps = [half / 2 for half in range(28) if half != 15]
    chance.shuffle(steps)
    on = small(replace(BAR, **NEVER), geometry=replace(THIN, pin_diameter_mm=4.6, trail_edge_mm=0))
    number = {step: pin for pin, step in enumerate(steps)}
    pairs = [(pin, number[step + 0.5]) for step, pin in number.items() if step + 0.5 in number]
    expected = [("touch", (min(pair), max(pair))) for pair in pairs]
    assert rules(on, *(at(0, step) for step in steps)) == sorted(expected)


def test_rows_of_a_channel_that_holds_may_be_side_by_side_for_single_pins_alone() -> None:
    """Half a step along, 4 mm across: enough for notes that begin; one that holds on is to be clear along the rim."""
    on = small(replace(HORN, restrike_ms=0.0, hold_mm=5.0), geometry=geometry(pin_diameter_mm=4.6))
    pins = (aside(0, 3), at(0, 2.5))
    assert rules(on, *pins, begins=(1, 1)) == []
    assert rules(on, *pins, begins=(0, 1)) == [("touch", (0, 1))]


@pytest.mark.parametrize(("diameter_mm", "broken"), [(2.5, 0), (2.515, 0), (2.525, 1)])
def test_a_pin_is_clear_of_the_end_of_the_bridge_before_it(diameter_mm: float, broken: int) -> None:
    """The end is 3 mm before the next pin, also round the end of the turn; 0.02 mm are slack."""
    drum = geometry(pin_diameter_mm=diameter_mm, seams=False)
    on = small(HORN, REED, pin_types=(PEG, BRIDGE), geometry=drum)
    pins = (at(0, 0), at(1, 5), at(1, 4, 1), at(0, 15, 1))
    assert (
        told(on, *pins, begins=(0, 0, 1, 1)) == [("touch", (0, 3), 0.0, -1), ("touch", (1, 2), 0.0, -1)][: 2 * broken]
    )


# --- all of them ---


THIRD = Row("third", (Fraction(1, 3), Fraction(2, 3)))


@pytest.mark.parametrize(
    ("expected", "rows", "advance", "step", "offsets_mm", "round_mm"),
    [
        (4, (ON,), 0, 4, (0.0,), 160.0),
        (8, (ON, HALF), 0, 4, (0.0, 0.0), 160.0),
        (24, (ON, HALF, THIRD), 0, 4, (0.0,), 160.0),
        (12, (THIRD, ON), 0, 4, (0.0,), 160.0),
        (8, (ON,), Fraction(1, 2), 4, (0.0,), 160.0),
        (4, (ON, HALF), 0, 2, (0.0,), 160.0),
        (4000, (ON, HALF), 0, 4, (0.0, 1.0), 160.0),
        (4000, (ON, HALF), 0, 4, (-1.0, 0.0), 159.9),
        (4008, (ON, HALF), 0, 4, (0.0, 0.0, 1.0), 160.1),
        (2000, (ON, HALF), 0, 2, (1.0,), 159.9),
    ],
)
def test_ticks_are_whole_for_every_hole_and_short_for_offsets(
    expected: int, rows: tuple[Row, ...], advance: Fraction, step: int, offsets_mm: tuple[float, ...], round_mm: float
) -> None:
    """Of a step of 1/4 or 1/2 quarter; with offsets none is longer than 0.01 mm."""
    on = small(
        replace(BLOCK, advance_steps=Fraction(0)),
        replace(BLOCK, advance_steps=Fraction(advance)),
        rows=rows,
        step_quarters=Fraction(1, step),
        pin_types=tuple(PinType(str(number), 9, offset_mm) for number, offset_mm in enumerate(offsets_mm)),
        geometry=geometry(round_mm),
    )
    assert pin_map._resolution(on) == expected


def test_faults_come_by_rule_then_by_limit_then_by_pin() -> None:
    limits = tuple(StrikeLimit(str(number), ("bar", "block"), 1, 40.0 + number) for number in range(2))
    on = small(
        replace(BAR, restrike_ms=60.0),
        BLOCK,
        HORN,
        pin_types=(PEG, BRIDGE),
        lost=(LostHole("on", 6, channel="block"),),
        strike_limits=limits,
        geometry=geometry(pin_diameter_mm=4.6, trail_edge_mm=4.0),
    )
    horn = (at(2, 13), at(2, 11), at(2, 15, 1), at(2, 5.5), at(2, 4))
    pins = (at(1, 6), (1, 0, 1, 1), *horn, at(0, 3), at(0, 2.5), at(1, 3), at(0, 12), at(0, 12), at(1, 1), at(0, 1, 1))
    begins = (1, 1, 0, 1, 1, 1, 1, *[1] * 7)
    assert rules(on, *pins, begins=begins) == [
        ("hole", (1,)),
        ("lost", (0,)),
        ("shared", (10, 11)),
        ("bridge", (13,)),
        ("edge", (4,)),
        ("touch", (7, 8)),
        ("restrike", (6, 5)),
        ("restrike", (8, 7)),
        ("held", (3, 2)),
        *(("limit", pair) for _ in limits for pair in ((7, 9), (10, 11), (12, 13))),
    ]


def random_pins(on: Wheel, chance: random.Random) -> list[Pin]:
    """Some pins near one another, no two of which are alike; a few in holes that are not there."""
    first = chance.randrange(16)
    pins = set()
    for _ in range(chance.randint(1, 9)):
        plate, step = divmod((first + chance.randrange(4)) % 16, 8)
        row = chance.randrange(3)
        index = step // 2 if row == 2 and chance.random() < 0.9 else step
        pins.add((chance.randrange(len(on.channels)), plate, row, index, chance.randrange(len(on.pin_types))))
    return sorted(pins)  # of strikes at once the last is followed by the next, for both checkers


def test_a_checker_written_from_the_wheel_file_finds_the_same_faults() -> None:
    """On wheels with and without offsets, with bounds that no pins meet nearly, which each rounds by itself."""
    chance = random.Random(11)  # noqa: S311  # a seeded sample
    bars = (replace(BAR, restrike_ms=120.5), BLOCK, replace(BAR, name="low", pitches=(64,), restrike_ms=60.5))
    shared: dict[str, object] = {
        "lost": (LostHole("on", 3, plate=1), LostHole("half", 2, channel="low")),
        "strike_limits": (
            StrikeLimit("air", ("bar", "low"), 2, 155.0),
            StrikeLimit("drive", ("block", "bar"), 1, 30.0),
        ),
        "geometry": geometry(channel_pitch_mm=4.7, pin_diameter_mm=4.8, trail_edge_mm=4.9),
    }
    seen: set[str] = set()
    for types in ((PEG,), (PEG, replace(LATE, offset_mm=3.0)), (PEG, STAYS, replace(LATE, offset_mm=-2.0))):
        on = small(*bars, pin_types=types, **shared)
        oracle = Oracle(wheel_text(on))
        for _ in range(cases(100, 1000)):
            pins = random_pins(on, chance)
            found = as_oracle(on, pins)
            assert found == oracle.faults([printed(pin) for pin in pins], US_PER_QUARTER), pins
            seen |= {rule.split()[0] for rule, _ in found}
    assert seen == {"hole", "lost", "shared", "edge", "touch", "restrike", "limit"}


def printed(pin: Pin) -> OraclePin:
    channel, plate, row, index, kind = (number + 1 for number in pin)
    return channel, plate, row, index, kind


def as_oracle(on: Wheel, pins: list[Pin]) -> set[Fault]:
    """What is told of pins as the other checker has it, which puts all crowds of a limit together."""
    crowds: dict[str, set[OraclePin]] = {}
    broken: set[Fault] = set()
    for rule, numbers, _, limit in told(on, *pins):
        group = {printed(pins[number]) for number in numbers}
        if rule == "limit":
            crowds.setdefault(f"limit {on.strike_limits[limit].name}", set()).update(group)
        else:
            broken.add((rule, frozenset(group)))
    return broken | {(rule, frozenset(group)) for rule, group in crowds.items()}

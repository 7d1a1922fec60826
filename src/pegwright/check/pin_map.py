"""The rules of pins on a pin map that has no score: which pins break which, computed from the map and the wheel alone.

What only a score can say, such as whether a note is where it was written, is not checked here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from pegwright.check import alone
from pegwright.check.columns import Bools, Ints
from pegwright.check.held import Stand, gaps, reaches_over, stand_of
from pegwright.check.subject import CheckedPins, CheckedRim, rim_of, standing_pins, too_soon, within
from pegwright.check.wheel import hole_table
from pegwright.placement import PinMap
from pegwright.wheel import Kind, Wheel

TICK_MM = 0.01  # the longest tick where pins have offsets, which are rounded to whole ticks
SLACK_MM = 0.02  # the maximum that rounding two offsets to whole ticks can change


class PinRule(StrEnum):
    """A rule that a pin, or some pins together, can break."""

    NUMBER = "number"  # of a channel, plate, row or pin type that the wheel does not have
    HOLE = "hole"  # that the channel does not have
    LOST = "lost"  # hole, at a seam or declared
    SHARED = "shared"  # hole
    BRIDGE = "bridge"  # on a channel that strikes
    EDGE = "edge"  # of the plate
    TOUCH = "touch"
    RESTRIKE = "restrike"
    HELD = "held"
    LIMIT = "limit"


@dataclass(frozen=True, slots=True)
class PinFault:
    """A rule that is broken.

    Args:
        rule: which.
        pins: numbers of the pins that break it together, in the order of the pin map; those of a strike too soon or a
            limit by time.
        apart_ms: from the first to the last of them, where time breaks the rule.
        limit: number of the limit, or -1.
    """

    rule: PinRule
    pins: tuple[int, ...]
    apart_ms: float = 0.0
    limit: int = -1


def pin_faults(wheel: Wheel, pins: PinMap, begins: Ints) -> tuple[PinFault, ...]:
    """Check every rule of pins.

    Args:
        wheel: what they are set on.
        pins: in any order; numbers may exceed those of the wheel.
        begins: shape (p,), of a pin on a holding channel 1 where it begins its note, 0 where it only holds it on, and
            -1 where that is not known.

    Returns:
        The faults, by rule, then by limit, then by pin.
    """
    out_of_bounds = _out_of_bounds(wheel, pins)
    if out_of_bounds.any():
        return tuple(PinFault(PinRule.NUMBER, (pin,)) for pin in np.flatnonzero(out_of_bounds).tolist())
    resolution = _resolution(wheel)
    table = hole_table(wheel, resolution)
    last = table.row_holes[pins.row] - 1
    has = pins.index <= last
    hole = table.numbers[pins.row, pins.plate, np.minimum(pins.index, last)]
    has &= table.has[pins.channel, hole]
    there = has & table.present[pins.channel, hole]
    missing = [PinFault(PinRule.LOST if has[pin] else PinRule.HOLE, (pin,)) for pin in np.flatnonzero(~there).tolist()]
    rim, number = rim_of(wheel, resolution, pins.us_per_quarter), np.flatnonzero(there)
    standing = standing_pins(
        rim, number, np.zeros_like(number), pins.channel[number], pins.pin_type[number], hole[number]
    )
    begins = _begun(wheel, pins, number, begins)
    strikes = _some(standing, begins[number] == 1)
    faults = (
        *missing,
        *_sharing(rim, standing),
        *_bridges(wheel, standing),
        *_edges(wheel, pins, rim, standing),
        *_touching(rim, standing, _too_near(wheel, pins, number, begins)),
        *_restrikes(rim, strikes),
        *_held(wheel, pins, number, begins),
        *_limits(rim, strikes),
    )
    return tuple(sorted(faults, key=_order))


def _order(fault: PinFault) -> tuple[int, int, tuple[int, ...]]:
    return list(PinRule).index(fault.rule), fault.limit, fault.pins


def _out_of_bounds(wheel: Wheel, pins: PinMap) -> Bools:
    counts = np.array([len(wheel.channels), wheel.plate_count, len(wheel.rows), len(wheel.pin_types)])
    columns = np.array([pins.channel, pins.plate, pins.row, pins.pin_type])
    bad = (columns < 0) | (columns >= counts[:, None])
    return np.asarray(bad.any(axis=0) | (pins.index < 0), dtype=bool)


def _resolution(wheel: Wheel) -> int:
    """Ticks per quarter at which every hole is a whole tick, and offsets of pins are very nearly."""
    steps = [phase for row in wheel.rows for phase in row.phases] + [each.advance_steps for each in wheel.channels]
    places = [place * wheel.step_quarters for place in steps]
    whole = math.lcm(wheel.step_quarters.denominator, *(place.denominator for place in places))
    if not any(kind.offset_mm for kind in wheel.pin_types):
        return whole
    return whole * math.ceil(wheel.geometry.circumference_mm / (wheel.turn_quarters * whole) / TICK_MM)


def _some(pins: CheckedPins, which: Bools) -> CheckedPins:
    of_notes = pins.note, pins.turn, pins.channel, pins.lane, pins.pin_type
    return CheckedPins(*(column[which] for column in (*of_notes, pins.hole, pins.position_ticks, pins.collar_ticks)))


def _apart(rim: CheckedRim, pins: CheckedPins, one: Ints, other: Ints) -> tuple[Ints, Ints]:
    """Ticks from pins to pins that follow them round the turn, and how many it can be without the rounding of offsets.

    Pins that trip in one tick are taken to trip at once.
    """
    apart = (pins.position_ticks[other] - pins.position_ticks[one]) % rim.turn_ticks
    apart[one == other] = rim.turn_ticks
    whole = rim.offsets.whole_ticks[pins.pin_type]
    slack = math.ceil(SLACK_MM / rim.wheel.geometry.circumference_mm * rim.turn_ticks)
    return apart, apart + np.where((apart == 0) | (whole[one] == whole[other]), 0, slack)


def _ms(rim: CheckedRim, ticks: int) -> float:
    return ticks * rim.us_per_quarter / 1000 / rim.resolution


def _sharing(rim: CheckedRim, pins: CheckedPins) -> list[PinFault]:
    groups: dict[tuple[int, int], list[int]] = {}
    for channel, hole, pin in np.transpose([pins.channel, pins.hole, pins.note])[alone.sharing(rim, pins)].tolist():
        groups.setdefault((channel, hole), []).append(pin)
    return [PinFault(PinRule.SHARED, tuple(group)) for group in groups.values()]


def _bridges(wheel: Wheel, pins: CheckedPins) -> list[PinFault]:
    bridge = np.array([kind.bridge_mm > 0 for kind in wheel.pin_types])[pins.pin_type]
    holds = _holding(wheel)[pins.channel]
    return [PinFault(PinRule.BRIDGE, (pin,)) for pin in pins.note[bridge & ~holds].tolist()]


def _edges(wheel: Wheel, pins: PinMap, rim: CheckedRim, standing: CheckedPins) -> list[PinFault]:
    over = alone.over(rim, standing)
    for place in np.flatnonzero(_holding(wheel)[standing.channel]).tolist():
        pin = standing.note[place]
        kind = wheel.pin_types[pins.pin_type[pin]]
        over[place] = over[place] or reaches_over(wheel, kind, pins.row[pin], pins.index[pin])
    return [PinFault(PinRule.EDGE, (pin,)) for pin in standing.note[over].tolist()]


def _touching(rim: CheckedRim, pins: CheckedPins, near: list[tuple[int, int]]) -> list[PinFault]:
    """Pairs that touch, with those of one holding channel that were seen to be too near along it."""
    one, other = alone.touching(rim, pins)
    apart = (pins.channel[one] != pins.channel[other]) | (pins.hole[one] != pins.hole[other])
    pairs = [*near, *np.transpose([pins.note[one], pins.note[other]])[apart].tolist()]
    return [PinFault(PinRule.TOUCH, pair) for pair in {(min(pair), max(pair)) for pair in pairs}]


def _restrikes(rim: CheckedRim, pins: CheckedPins) -> list[PinFault]:
    pins = _some(pins, ~_holding(rim.wheel)[pins.channel])
    one, other = alone.struck_again(rim, pins)
    apart, longest = _apart(rim, pins, one, other)
    soon = too_soon(rim, pins.channel[one], longest)
    soon &= (pins.hole[one] != pins.hole[other]) | (one == other)  # two pins in a hole are a fault of their own
    return [
        PinFault(PinRule.RESTRIKE, tuple(dict.fromkeys(pins.note[[first, then]].tolist())), _ms(rim, ticks))
        for first, then, ticks in np.transpose([one, other, apart])[soon].tolist()
    ]


def _limits(rim: CheckedRim, pins: CheckedPins) -> list[PinFault]:
    faults = []
    for number, limit in enumerate(rim.wheel.strike_limits):
        crowds = alone.crowds(rim, pins, limit)
        apart, longest = _apart(rim, pins, crowds[:, 0], crowds[:, -1])
        faults += [
            PinFault(PinRule.LIMIT, tuple(pins.note[crowds[crowd]].tolist()), _ms(rim, int(apart[crowd])), number)
            for crowd in np.flatnonzero(within(rim, limit, longest)).tolist()
        ]
    return faults


def _holding(wheel: Wheel) -> Bools:
    return np.array([channel.kind is Kind.HOLD for channel in wheel.channels], dtype=bool)


def _begun(wheel: Wheel, pins: PinMap, numbers: Ints, begins: Ints) -> Ints:
    """Shape (p,): 1 for pins that strike, 0 for those that only hold a note on: where not known, as the lever moves."""
    known = np.where(_holding(wheel)[pins.channel], begins, 1)
    for channel, stands in _levers(wheel, pins, numbers, begins):
        reach_mm = wheel.channels[channel].hold_mm + SLACK_MM
        for place, stand in enumerate(stands):
            lap_mm = wheel.geometry.circumference_mm if place == 0 else 0.0
            if known[stand.pin] < 0:
                known[stand.pin] = stand.trips_mm + lap_mm - stands[place - 1].ends_mm > reach_mm
    return known


def _levers(wheel: Wheel, pins: PinMap, numbers: Ints, begins: Ints) -> list[tuple[int, list[Stand]]]:
    """Every holding channel with its pins by where they trip."""
    levers = []
    for channel in np.flatnonzero(_holding(wheel)).tolist():
        own = numbers[pins.channel[numbers] == channel].tolist()
        levers.append((channel, sorted(stand_of(wheel, pins, pin, begins[pin] == 1) for pin in own)))
    return levers


def _gaps(wheel: Wheel, pins: PinMap, numbers: Ints, begins: Ints) -> list[tuple[int, int, float, bool, bool]]:
    """Pins of holding channels and those that follow them, in ms apart, with what is wrong: in time, too near.

    Two pins in a hole are a fault of their own.
    """
    faults = []
    ms_per_mm = wheel.turn_quarters * pins.us_per_quarter / 1000 / wheel.geometry.circumference_mm
    for channel, stands in _levers(wheel, pins, numbers, begins):
        for gap in gaps(wheel, pins.us_per_quarter, channel, stands):
            note_known = min(gap.one.note, gap.other.note) >= 0
            free_mm = gap.apart_mm - wheel.channels[channel].hold_mm
            let_go = gap.let_go and (note_known or free_mm > SLACK_MM)  # a pin of no known note may hold on any
            if not _in_one_hole(pins, gap.one.pin, gap.other.pin):
                in_time = gap.too_soon or let_go
                faults.append((gap.one.pin, gap.other.pin, gap.apart_mm * ms_per_mm, in_time, gap.too_near))
    return faults


def _in_one_hole(pins: PinMap, one: int, other: int) -> bool:
    """Whether two pins of a channel are in one hole; a pin that follows itself round the turn is not two."""
    return one != other and all(column[one] == column[other] for column in (pins.plate, pins.row, pins.index))


def _held(wheel: Wheel, pins: PinMap, numbers: Ints, begins: Ints) -> list[PinFault]:
    return [
        PinFault(PinRule.RESTRIKE if begins[other] else PinRule.HELD, tuple(dict.fromkeys((one, other))), apart_ms)
        for one, other, apart_ms, in_time, _ in _gaps(wheel, pins, numbers, begins)
        if in_time
    ]


def _too_near(wheel: Wheel, pins: PinMap, numbers: Ints, begins: Ints) -> list[tuple[int, int]]:
    return [(one, other) for one, other, _, _, near in _gaps(wheel, pins, numbers, begins) if near and one != other]

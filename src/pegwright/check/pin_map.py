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
from pegwright.check.held import gaps, reaches_over, stand_of
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
        The faults, by rule, then by pin.
    """
    out_of_bounds = _out_of_bounds(wheel, pins)
    if out_of_bounds.any():
        return tuple(PinFault(PinRule.NUMBER, (pin,)) for pin in np.flatnonzero(out_of_bounds).tolist())
    resolution = _resolution(wheel)
    table = hole_table(wheel, resolution)
    has = pins.index < table.row_holes[pins.row]
    hole = table.numbers[pins.row, pins.plate, np.where(has, pins.index, 0)]
    has &= table.has[pins.channel, hole]
    there = has & table.present[pins.channel, hole]
    missing = [PinFault(PinRule.LOST if has[pin] else PinRule.HOLE, (pin,)) for pin in np.flatnonzero(~there).tolist()]
    rim, number = rim_of(wheel, resolution, pins.us_per_quarter), np.flatnonzero(there)
    standing = standing_pins(
        rim, number, np.zeros_like(number), pins.channel[number], pins.pin_type[number], hole[number]
    )
    begins = _begun(wheel, pins, number, begins)
    strikes = _some(standing, begins[number] == 1)
    return (
        *missing,
        *_sharing(rim, standing),
        *_bridges(wheel, standing),
        *_edges(wheel, pins, rim, standing),
        *_touching(rim, standing, _too_near(wheel, pins, number, begins)),
        *_restrikes(rim, strikes),
        *_held(wheel, pins, number, begins),
        *_limits(rim, strikes),
    )


def _out_of_bounds(wheel: Wheel, pins: PinMap) -> Bools:
    counts = len(wheel.channels), wheel.plate_count, len(wheel.rows), len(wheel.pin_types)
    columns = pins.channel, pins.plate, pins.row, pins.pin_type
    bad = [(column < 0) | (column >= count) for column, count in zip(columns, counts, strict=True)]
    return np.asarray(np.any([*bad, pins.index < 0], axis=0), dtype=bool)


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
    """Ticks from pins to pins that follow them round the turn, and by how many the rounding of offsets can be out."""
    apart = (pins.position_ticks[other] - pins.position_ticks[one]) % rim.turn_ticks
    apart[one == other] = rim.turn_ticks
    whole = rim.offsets.whole_ticks[pins.pin_type]
    slack = math.ceil(SLACK_MM / rim.wheel.geometry.circumference_mm * rim.turn_ticks)
    return apart, np.where(whole[one] == whole[other], 0, slack)


def _ms(rim: CheckedRim, ticks: int) -> float:
    return ticks * rim.us_per_quarter / 1000 / rim.resolution


def _sharing(rim: CheckedRim, pins: CheckedPins) -> list[PinFault]:
    groups: dict[tuple[int, int], list[int]] = {}
    for pin in np.flatnonzero(alone.sharing(rim, pins)).tolist():
        groups.setdefault((int(pins.channel[pin]), int(pins.hole[pin])), []).append(int(pins.note[pin]))
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
        over[place] = over[place] or reaches_over(wheel, kind, int(pins.row[pin]), int(pins.index[pin]))
    return [PinFault(PinRule.EDGE, (pin,)) for pin in standing.note[over].tolist()]


def _touching(rim: CheckedRim, pins: CheckedPins, near: set[tuple[int, int]]) -> list[PinFault]:
    """Pairs that touch, with those of one holding channel that were seen to be too near along it."""
    one, other = alone.touching(rim, pins)
    apart = (pins.channel[one] != pins.channel[other]) | (pins.hole[one] != pins.hole[other])
    pairs = zip(pins.note[one[apart]].tolist(), pins.note[other[apart]].tolist(), strict=True)
    return [PinFault(PinRule.TOUCH, pair) for pair in sorted({pair for pair in pairs if pair[0] < pair[1]} | near)]


def _restrikes(rim: CheckedRim, pins: CheckedPins) -> list[PinFault]:
    pins = _some(pins, ~_holding(rim.wheel)[pins.channel])
    one, other = alone.struck_again(rim, pins)
    apart, slack = _apart(rim, pins, one, other)
    soon = too_soon(rim, pins.channel[one], np.where(apart == 0, 0, apart + slack))
    soon &= (pins.hole[one] != pins.hole[other]) | (one == other)  # two pins in a hole are a fault of their own
    return [
        PinFault(PinRule.RESTRIKE, tuple(dict.fromkeys(pins.note[[first, then]].tolist())), _ms(rim, ticks))
        for first, then, ticks in zip(one[soon].tolist(), other[soon].tolist(), apart[soon].tolist(), strict=True)
    ]


def _limits(rim: CheckedRim, pins: CheckedPins) -> list[PinFault]:
    faults = []
    for number, limit in enumerate(rim.wheel.strike_limits):
        crowds = alone.crowds(rim, pins, limit)
        apart, slack = _apart(rim, pins, crowds[:, 0], crowds[:, -1])
        crowded = within(rim, limit, np.where(apart == 0, 0, apart + slack))
        faults += [
            PinFault(PinRule.LIMIT, tuple(pins.note[crowd].tolist()), _ms(rim, ticks), number)
            for crowd, ticks in zip(crowds[crowded], apart[crowded].tolist(), strict=True)
        ]
    return faults


def _holding(wheel: Wheel) -> Bools:
    return np.array([channel.kind is Kind.HOLD for channel in wheel.channels], dtype=bool)


def _begun(wheel: Wheel, pins: PinMap, numbers: Ints, begins: Ints) -> Ints:
    """Shape (p,): 1 for pins that strike, 0 for those that only hold a note on: where not known, as the lever moves."""
    known = np.where(_holding(wheel)[pins.channel], begins, 1)
    for channel in sorted(set(pins.channel[numbers[known[numbers] < 0]].tolist())):
        own = numbers[pins.channel[numbers] == channel].tolist()
        stands = sorted(stand_of(wheel, pins, pin, False) for pin in own)
        lapped = stands[-1]._replace(ends_mm=stands[-1].ends_mm - wheel.geometry.circumference_mm)
        for before, stand in zip([lapped, *stands], stands, strict=False):
            if known[stand.pin] < 0:
                held = stand.trips_mm - before.ends_mm <= wheel.channels[channel].hold_mm + SLACK_MM
                known[stand.pin] = int(not held)
    return known


def _gaps(wheel: Wheel, pins: PinMap, numbers: Ints, begins: Ints) -> list[tuple[int, int, float, bool, bool]]:
    """Pins of holding channels and those that follow them, in ms apart, with what is wrong: in time, too near."""
    faults = []
    for channel in np.flatnonzero(_holding(wheel)).tolist():
        own = numbers[pins.channel[numbers] == channel].tolist()
        stands = sorted(stand_of(wheel, pins, pin, bool(begins[pin])) for pin in own)
        ms_per_mm = float(wheel.turn_quarters * pins.us_per_quarter / 1000) / wheel.geometry.circumference_mm
        for gap in gaps(wheel, pins.us_per_quarter, channel, stands):
            note_known = min(gap.one.note, gap.other.note) >= 0
            free_mm = gap.apart_mm - wheel.channels[channel].hold_mm
            let_go = gap.let_go and (note_known or free_mm > SLACK_MM)  # a pin of no known note may hold on any
            faults.append((gap.one.pin, gap.other.pin, gap.apart_mm * ms_per_mm, gap.too_soon or let_go, gap.too_near))
    return faults


def _held(wheel: Wheel, pins: PinMap, numbers: Ints, begins: Ints) -> list[PinFault]:
    return [
        PinFault(PinRule.RESTRIKE if begins[other] else PinRule.HELD, tuple(dict.fromkeys((one, other))), apart_ms)
        for one, other, apart_ms, in_time, _ in _gaps(wheel, pins, numbers, begins)
        if in_time
    ]


def _too_near(wheel: Wheel, pins: PinMap, numbers: Ints, begins: Ints) -> set[tuple[int, int]]:
    pairs = ((one, other) for one, other, _, _, near in _gaps(wheel, pins, numbers, begins) if near)
    return {(min(pair), max(pair)) for pair in pairs if _hole(pins, pair[0]) != _hole(pins, pair[1])}


def _hole(pins: PinMap, pin: int) -> tuple[int, int, int, int]:
    return int(pins.channel[pin]), int(pins.plate[pin]), int(pins.row[pin]), int(pins.index[pin])

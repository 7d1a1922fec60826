"""Proof by other means that the pins of holding channels sound their notes, once each and no longer than they may.

The lever of every holding channel is followed round the turn, pin by pin, from the pin map and the wheel alone; nothing
here is shared with the search for the pins.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from pegwright.fit.verify_wheel import hole_table
from pegwright.placement import Outcome, PinMap, Placement
from pegwright.units import printed
from pegwright.wheel import Kind, Wheel

SLACK_MM = 0.02  # places of pins with an offset are whole ticks of no more than 0.01 mm


class _Stood(NamedTuple):
    """A pin: where it trips and ends, in mm round the rim from the song's start; its note; whether it begins that."""

    trips_mm: float
    ends_mm: float
    note: int
    first: bool


def verify_held(wheel: Wheel, placement: Placement, pins: PinMap) -> tuple[str, ...]:
    """Check the pins of every holding channel.

    Args:
        wheel: what was fitted to.
        placement: the outcome of every note.
        pins: the pin map made of it.

    Returns:
        A sentence for each rule that is broken; none if all hold.
    """
    return tuple(
        f"channel {made.name}: {told}"
        for channel, made in enumerate(wheel.channels)
        if made.kind is Kind.HOLD
        for told in _faults(wheel, placement, pins, channel)
    )


def _faults(wheel: Wheel, placement: Placement, pins: PinMap, channel: int) -> Iterator[str]:
    mine = np.flatnonzero(pins.channel == channel).tolist()
    placed = np.flatnonzero((placement.outcome == Outcome.PLACED) & (placement.channel == channel)).tolist()
    yield from _hole_faults(wheel, placement, pins, mine)
    stood = sorted(_stood(wheel, placement, pins, pin) for pin in mine)
    begun = sorted(pin.note for pin in stood if pin.first)
    if begun != placed:
        yield f"notes {[printed(note) for note in placed]} are placed, {[printed(note) for note in begun]} are begun"
        return
    geometry, made = wheel.geometry, wheel.channels[channel]
    clear_mm = geometry.pin_diameter_mm + geometry.pin_clearance_mm - SLACK_MM
    ms_per_mm = float(wheel.turn_quarters) * placement.us_per_quarter / 1000 / geometry.circumference_mm
    again = [pin._replace(trips_mm=pin.trips_mm + geometry.circumference_mm) for pin in stood[:1]]
    for one, other in pairwise([*stood, *again]):
        apart_mm = other.trips_mm - one.ends_mm
        after = f"{apart_mm:.3f} mm after a pin of note {printed(one.note)}"
        if other.first and (apart_mm - made.hold_mm + SLACK_MM) * ms_per_mm < made.restrike_ms:
            yield f"note {printed(other.note)} begins {after}, too soon"
        if not other.first and (other.note != one.note or apart_mm > made.hold_mm + SLACK_MM):
            yield f"note {printed(other.note)} is to be held on {after}, when the channel has let go"
        if not other.first and apart_mm < clear_mm:
            yield f"a pin of note {printed(other.note)} stands {after}, which is too near"


def _hole_faults(wheel: Wheel, placement: Placement, pins: PinMap, mine: list[int]) -> Iterator[str]:
    """Holes that do not exist or have two pins, and bridges over the end of a plate."""
    table = hole_table(wheel, placement.resolution)
    seen = set()
    for pin in mine:
        plate, row, index = _hole(pins, pin)
        number = table.number(np.array([plate]), np.array([row]), np.array([index]))[0]
        if (plate, row, index) in seen or not table.exists[int(pins.channel[pin]), number]:
            yield f"pin {printed(pin)} shares its hole or has none"
        seen.add((plate, row, index))
        kind = wheel.pin_types[int(pins.pin_type[pin])]
        ends_mm = float(wheel.rows[row].position_steps(index)) * wheel.step_mm + kind.offset_mm + kind.bridge_mm
        if kind.bridge_mm and ends_mm > wheel.steps_per_plate * wheel.step_mm - wheel.geometry.trail_edge_mm:
            yield f"pin {printed(pin)} is a bridge that reaches over the end of its plate"


def _hole(pins: PinMap, pin: int) -> tuple[int, int, int]:
    return int(pins.plate[pin]), int(pins.row[pin]), int(pins.index[pin])


def _stood(wheel: Wheel, placement: Placement, pins: PinMap, pin: int) -> _Stood:
    (plate, row, index), note = _hole(pins, pin), int(pins.note[pin])
    kind = wheel.pin_types[int(pins.pin_type[pin])]
    steps = plate * wheel.steps_per_plate + wheel.rows[row].position_steps(index)
    start_steps = placement.start_ticks / placement.resolution / float(wheel.step_quarters)
    trips_mm = ((float(steps) - start_steps) * wheel.step_mm + kind.offset_mm) % wheel.geometry.circumference_mm
    own = (int(placement.plate[note]), int(placement.row[note]), int(placement.index[note]))
    placed_with = wheel.pin_types[int(placement.pin_type[note])]
    first = own == (plate, row, index) and placed_with.offset_mm == kind.offset_mm
    return _Stood(trips_mm, trips_mm + kind.bridge_mm, note, first)

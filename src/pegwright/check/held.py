"""Proof by other means that the pins of holding channels sound their notes, exactly once and no longer than allowed.

The lever of every holding channel is followed round the turn, pin by pin, from the pin map and the wheel alone; nothing
here is shared with the search for the pins.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, pairwise
from typing import NamedTuple

import numpy as np

from pegwright.check.wheel import HoleTable, collars_end_at, collars_touch, hole_table
from pegwright.placement import Outcome, PinMap, Placement
from pegwright.units import printed
from pegwright.wheel import Collar, Kind, PinType, Wheel

SLACK_MM = 0.02  # places of pins with an offset are whole ticks of no more than 0.01 mm


class Stand(NamedTuple):
    """A pin: where it trips and ends, in mm round the rim; its note; whether it begins that.

    Its collar begins and ends `early_mm` before that. `pin` is its number in the map.
    """

    trips_mm: float
    ends_mm: float
    early_mm: float
    note: int
    first: bool
    pin: int


class Gap(NamedTuple):
    """What is wrong between a pin and the one that follows it on a channel, `apart_mm` after it ends."""

    one: Stand
    other: Stand
    apart_mm: float
    too_soon: bool
    let_go: bool
    too_near: bool


def verify_held(wheel: Wheel, placement: Placement, pins: PinMap) -> tuple[str, ...]:
    """Check the pins of every holding channel.

    Args:
        wheel: what was fitted to.
        placement: the outcome of every note.
        pins: its pin map.

    Returns:
        A sentence for each rule that is broken; none if all hold.
    """
    table = hole_table(wheel, placement.resolution)
    return tuple(
        f"channel {channel.name}: {sentence}"
        for number, channel in enumerate(wheel.channels)
        if channel.kind is Kind.HOLD
        for sentence in chain(_holes(wheel, table, pins, number), _notes(wheel, placement, pins, number))
    )


def _holes(wheel: Wheel, table: HoleTable, pins: PinMap, channel: int) -> Iterator[str]:
    """Holes that do not exist or have two pins, and pins over an edge of a plate."""
    seen = set()
    for pin in np.flatnonzero(pins.channel == channel).tolist():
        plate, row, index = hole = _hole(pins, pin)
        if hole in seen or not table.present[channel, table.numbers[row, plate, index]]:
            yield f"pin {printed(pin)} shares its hole or has none"
        seen.add(hole)
        kind = wheel.pin_types[pins.pin_type[pin]]
        if reaches_over(wheel, kind, row, index):
            yield f"pin {printed(pin)} reaches over an edge of its plate"


def reaches_over(wheel: Wheel, kind: PinType, row: int, index: int) -> bool:
    """Whether a pin of a holding channel, with all of its bridge, reaches over an edge of its plate.

    Args:
        wheel: with the hole.
        kind: of the pin.
        row: of the hole.
        index: of the hole in its row and plate.
    """
    if not collars_end_at(wheel.geometry):
        return False
    middle_mm = wheel.rows[row].position_steps(index) * wheel.step_mm
    begins_mm = middle_mm + (kind.offset_mm if kind.collar == Collar.MOVES else 0.0)
    edges_mm = -wheel.geometry.lead_edge_mm, wheel.steps_per_plate * wheel.step_mm - wheel.geometry.trail_edge_mm
    half_mm = wheel.geometry.pin_diameter_mm / 2 - SLACK_MM
    return begins_mm - half_mm < edges_mm[0] or begins_mm + kind.bridge_mm + half_mm > edges_mm[1]


def _notes(wheel: Wheel, placement: Placement, pins: PinMap, number: int) -> Iterator[str]:
    """Notes that are not begun once each, or are held by pins too near, too far or of another note."""
    placed = np.flatnonzero((placement.outcome == Outcome.PLACED) & (placement.channel == number)).tolist()
    own = np.flatnonzero(pins.channel == number).tolist()
    standing = sorted(_stand(wheel, placement, pins, pin) for pin in own)
    begun = sorted(pin.note for pin in standing if pin.first)
    if begun != placed:
        yield f"notes {_numbers(placed)} are placed, {_numbers(begun)} are begun"
        return
    for one, other, apart_mm, too_soon, let_go, too_near in gaps(wheel, placement.us_per_quarter, number, standing):
        after = f"{apart_mm:.3f} mm after a pin of note {printed(one.note)}"
        if too_soon:
            yield f"note {printed(other.note)} begins {after}, too soon"
        if let_go:
            yield f"note {printed(other.note)} is to be held on {after}, when the channel has let go"
        if too_near:
            yield f"a pin of note {printed(other.note)} is {after}, too near"


def gaps(wheel: Wheel, us_per_quarter: int, number: int, standing: list[Stand]) -> list[Gap]:
    """Every pin of a holding channel with the one that follows it round the turn, and what is wrong between them.

    Args:
        wheel: the wheel.
        us_per_quarter: the tempo.
        number: of the channel.
        standing: its pins, by where they trip.
    """
    geometry, channel = wheel.geometry, wheel.channels[number]
    clear_mm = (geometry.pin_diameter_mm + geometry.pin_clearance_mm) * collars_touch(geometry) - SLACK_MM
    ms_per_mm = wheel.turn_quarters * us_per_quarter / 1000 / geometry.circumference_mm
    again = [pin._replace(trips_mm=pin.trips_mm + geometry.circumference_mm) for pin in standing[:1]]
    between = []
    for one, other in pairwise([*standing, *again]):
        apart_mm = other.trips_mm - one.ends_mm
        too_soon = other.first and (apart_mm - channel.hold_mm + SLACK_MM) * ms_per_mm < channel.restrike_ms
        let_go = not other.first and (other.note != one.note or apart_mm > channel.hold_mm + SLACK_MM)
        single = one.first and other.first and one.ends_mm == one.trips_mm  # their rows may be side by side
        too_near = not single and apart_mm + one.early_mm - other.early_mm < clear_mm
        between.append(Gap(one, other, apart_mm, too_soon, let_go, too_near))
    return between


def _numbers(notes: list[int]) -> list[int]:
    return [printed(note) for note in notes]


def _hole(columns: PinMap | Placement, number: int) -> tuple[int, int, int]:
    return columns.plate[number], columns.row[number], columns.index[number]


def _stand(wheel: Wheel, placement: Placement, pins: PinMap, pin: int) -> Stand:
    note, kind = int(pins.note[pin]), wheel.pin_types[pins.pin_type[pin]]
    placed_with = wheel.pin_types[placement.pin_type[note]]
    first = _hole(placement, note) == _hole(pins, pin) and placed_with.offset_mm == kind.offset_mm
    return stand_of(wheel, pins, pin, first)


def stand_of(wheel: Wheel, pins: PinMap, pin: int, first: bool) -> Stand:
    """Where a pin stands.

    Args:
        wheel: the wheel.
        pins: the pin map.
        pin: its number in the map.
        first: whether it begins its note.
    """
    plate, row, index = _hole(pins, pin)
    kind = wheel.pin_types[pins.pin_type[pin]]
    steps = plate * wheel.steps_per_plate + wheel.rows[row].position_steps(index)
    trips_mm = (steps * wheel.step_mm + kind.offset_mm) % wheel.geometry.circumference_mm
    early_mm = 0.0 if kind.collar == Collar.MOVES else kind.offset_mm
    return Stand(trips_mm, trips_mm + kind.bridge_mm, early_mm, int(pins.note[pin]), first, pin)

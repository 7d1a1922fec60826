"""Rules between the fields of a wheel: it can be made, its pins do not collide, it can play something."""

from __future__ import annotations

import math

from pegwright.config.fields import Faults
from pegwright.config.pins_apart import check_pins_apart
from pegwright.grid import LENGTH_SLACK_MM, Loss, hole_grid
from pegwright.units import plural, printed
from pegwright.wheel import Kind, Wheel

MAX_HOLES = 2_000_000  # in one set of plates
MIN_SILENCE_MS = 1.0  # between two notes of a channel that holds
MAX_RESOLUTION = 1_000_000  # units a quarter note, so that places in a turn stay far within 64 bits


def check_wheel(wheel: Wheel, faults: Faults) -> None:
    """Note every rule between fields that `wheel` breaks, as far as the fields concerned are sound."""
    if faults.none_in("wheel", "geometry"):
        _check_lengths(wheel, faults)
    if faults.none_in("channel") and not any(channel.pitches or channel.drum_keys for channel in wheel.channels):
        faults.add("channel", "no channel has a pitch or a drum key", "give at least one of them pitches or drum_keys")
    if faults.none_in("channel_defaults", "channel"):
        _check_silences(wheel, faults)
    if faults.none_in("pin_type") and all(pin_type.bridge_mm for pin_type in wheel.pin_types):
        faults.add("pin_type", "every one is a bridge", "give one without bridge_mm, for strikes and short notes")
    grid_parts = ("wheel", "row", "channel_defaults", "channel")
    if faults.none_in(*grid_parts):
        _check_size(wheel, faults)
    if faults.none_in(*grid_parts, "geometry", "pin_type"):
        check_pins_apart(wheel, faults)
    if faults.none_in(*grid_parts, "geometry", "lost"):
        _check_something_left(wheel, faults)


def _check_silences(wheel: Wheel, faults: Faults) -> None:
    """Without a silence between them two notes of a channel that holds would sound as one."""
    for number, channel in enumerate(wheel.channels):
        if channel.kind is Kind.HOLD and channel.restrike_ms < MIN_SILENCE_MS:
            message = f"{channel.restrike_ms:g} is below the minimum of a channel that holds, {MIN_SILENCE_MS:g} ms"
            hint = "give the time from letting go to the next note"
            faults.add(f"channel[{printed(number)}].restrike_ms", message, hint)


def _check_lengths(wheel: Wheel, faults: Faults) -> None:
    geometry = wheel.geometry
    plate_mm = wheel.steps_per_plate * wheel.step_mm
    lead_mm, trail_mm = geometry.lead_edge_mm, geometry.trail_edge_mm
    sheet_mm = plate_mm - trail_mm + lead_mm
    widest_mm = geometry.hole_diameter_mm + 2 * geometry.min_wall_mm
    if geometry.thickness_mm >= geometry.radius_mm:
        message = f"{geometry.thickness_mm:g} mm is not below the radius, {geometry.radius_mm:g} mm"
        faults.add("geometry.thickness_mm", message, "give the thickness of a plate's sheet")
    if trail_mm < lead_mm - LENGTH_SLACK_MM:
        message = f"{trail_mm:g} mm is below lead_edge_mm, {lead_mm:g} mm: plates would overlap"
        hint = "it runs from the cut to the next plate's first step, the gap included"
        faults.add("geometry.trail_edge_mm", message, hint)
    elif sheet_mm < widest_mm:
        message = f"a plate of {sheet_mm:.2f} mm cannot hold one hole with its walls, {widest_mm:.2f} mm"
        faults.add("geometry.trail_edge_mm", message, "give a larger radius_mm, or smaller edges, holes or walls")
    for number, pin_type in enumerate(wheel.pin_types):
        if abs(pin_type.offset_mm) >= wheel.step_mm:
            message = f"{pin_type.offset_mm:g} mm is not below a step, {wheel.step_mm:.3f} mm"
            faults.add(f"pin_type[{printed(number)}].offset_mm", message, "use the next hole instead")
        if pin_type.bridge_mm >= plate_mm:
            message = f"{pin_type.bridge_mm:g} mm is not below a plate, {plate_mm:.3f} mm"
            faults.add(f"pin_type[{printed(number)}].bridge_mm", message, "give a bridge that a plate can carry")


def _check_size(wheel: Wheel, faults: Faults) -> None:
    holes = {row.name: wheel.plate_count * row.hole_count(wheel.steps_per_plate) for row in wheel.rows}
    total = sum(holes[name] for channel in wheel.channels for name in channel.rows)
    if total > MAX_HOLES:
        message = f"{plural(total, 'hole')} in a set of plates, above the maximum, {MAX_HOLES:,}"
        faults.add("wheel", message, "give fewer plates, steps, channels or phases")
    places = (wheel.step_quarters * phase for row in wheel.rows for phase in row.phases)
    resolution = math.lcm(wheel.step_quarters.denominator, *(place.denominator for place in places))
    if resolution > MAX_RESOLUTION:
        message = f"the phases of all rows meet only at {resolution:,} units a quarter note, above {MAX_RESOLUTION:,}"
        faults.add("row", message, "give phases with simpler denominators")


def _check_something_left(wheel: Wheel, faults: Faults) -> None:
    for channel, line in zip(wheel.channels, hole_grid(wheel).lines, strict=True):
        if (channel.pitches or channel.drum_keys) and (line.loss == Loss.NONE).any():
            return
    message = "every hole of every channel that sounds is lost"
    faults.add("geometry", message, "give smaller edges, holes or walls, or fewer [[lost]]")

"""Rules between the fields of a wheel: it can be made, its pins do not collide, it can play something."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial

from pegwright.config.fields import Faults
from pegwright.config.lengths import length_key
from pegwright.config.pins_apart import check_pins_apart
from pegwright.grid import LENGTH_SLACK_MM, Loss, hole_grid
from pegwright.units import length_text, plural, printed
from pegwright.wheel import Kind, Wheel

MAX_HOLES = 2_000_000  # in one set of plates
MIN_SILENCE_MS = 1.0  # between two notes of a channel that holds
MAX_RESOLUTION = 1_000_000  # units a quarter note, so that places in a turn stay far within 64 bits


def check_wheel(wheel: Wheel, faults: Faults, channel_paths: Sequence[str] = ()) -> None:
    """Note every rule between fields that `wheel` breaks, as far as the fields concerned are sound.

    Args:
        wheel: as it was read.
        faults: of its file.
        channel_paths: the key path of the table that each channel comes from; by default a table for each.
    """
    paths = channel_paths or [f"channel[{printed(number)}]" for number in range(len(wheel.channels))]
    if faults.none_in("wheel", "geometry"):
        _check_lengths(wheel, faults)
        _check_radius_known(wheel, faults, paths)
    if faults.none_in("channel", "channels") and not any(
        channel.pitches or channel.drum_keys for channel in wheel.channels
    ):
        faults.add("channel", "no channel has a pitch or a drum key", "give at least one of them pitches or drum_keys")
    if faults.none_in("channel_defaults", "channel", "channels"):
        _check_silences(wheel, faults, paths)
        _check_early(wheel, faults, paths)
    if faults.none_in("pin_type") and all(pin_type.bridge_mm for pin_type in wheel.pin_types):
        faults.add("pin_type", "every one is a bridge", "give one without bridge_mm, for strikes and short notes")
    grid_parts = ("wheel", "row", "channel_defaults", "channel", "channels")
    if faults.none_in(*grid_parts):
        _check_size(wheel, faults)
    if faults.none_in(*grid_parts, "geometry", "pin_type"):
        check_pins_apart(wheel, faults)
    if faults.none_in(*grid_parts, "geometry", "lost"):
        _check_something_left(wheel, faults)


def _check_radius_known(wheel: Wheel, faults: Faults, paths: Sequence[str]) -> None:
    """A length along the rim is a time only where the rim's own length is known."""
    if wheel.geometry.radius_known:
        return
    lengths = [
        (f"{path}.{key}", length_mm)
        for path, one in zip(paths, wheel.channels, strict=True)
        for key, length_mm in (("hold_mm", one.hold_mm), ("reader_mm", one.reader_mm))
    ]
    for number, pin_type in enumerate(wheel.pin_types):
        path = f"pin_type[{printed(number)}]"
        lengths += [(f"{path}.offset_mm", pin_type.offset_mm), (f"{path}.bridge_mm", pin_type.bridge_mm)]
    key = length_key(wheel, "radius_mm")
    for path, length_mm in lengths:
        if length_mm:
            message = f"{length_text(length_mm, wheel.unit)} along the rim is a time only if the radius is known"
            faults.add(length_key(wheel, path), message, f"add {key} to [geometry]")


def _check_silences(wheel: Wheel, faults: Faults, paths: Sequence[str]) -> None:
    """Without a silence between them two notes of a channel that holds would sound as one."""
    for path, channel in zip(paths, wheel.channels, strict=True):
        if channel.kind is Kind.HOLD and channel.restrike_ms < MIN_SILENCE_MS:
            message = f"{channel.restrike_ms:g} is below the minimum of a channel that holds, {MIN_SILENCE_MS:g} ms"
            hint = "give the time from letting go to the next note"
            faults.add(f"{path}.restrike_ms", message, hint)


def _check_early(wheel: Wheel, faults: Faults, paths: Sequence[str]) -> None:
    """A pin that is set half a turn early or more, or read so far away, is no longer on the side of its note."""
    half_mm = wheel.geometry.circumference_mm / 2
    for path, channel in zip(paths, wheel.channels, strict=True):
        if 2 * channel.advance_steps >= wheel.turn_steps:
            message = f"{float(channel.advance_steps):g} is not below half a turn, {wheel.turn_steps / 2:g} steps"
            faults.add(f"{path}.advance_steps", message, "give the steps by which the channel's pins are set early")
        if wheel.geometry.radius_known and abs(channel.reader_mm) >= half_mm:
            text = partial(length_text, unit=wheel.unit, decimals=1)
            message = f"{text(channel.reader_mm)} is not below half the rim, {text(half_mm)}"
            hint = "give the distance from the common line of the readers"
            faults.add(length_key(wheel, f"{path}.reader_mm"), message, hint)


def _check_lengths(wheel: Wheel, faults: Faults) -> None:
    geometry, text = wheel.geometry, partial(length_text, unit=wheel.unit)
    plate_mm = wheel.plate_mm

    def add(key_mm: str, message: str, hint: str) -> None:
        faults.add(length_key(wheel, key_mm), message, hint)

    if geometry.radius_known and geometry.thickness_mm >= geometry.radius_mm:
        message = f"{text(geometry.thickness_mm)} is not below the radius, {text(geometry.radius_mm)}"
        add("geometry.thickness_mm", message, "give the thickness of a plate's sheet")
    if geometry.edges_known:
        _check_edges(wheel, add)
    for number, pin_type in enumerate(wheel.pin_types if geometry.radius_known else ()):
        if abs(pin_type.offset_mm) >= wheel.step_mm:
            message = f"{text(pin_type.offset_mm)} is not below a step, {text(wheel.step_mm, decimals=3)}"
            add(f"pin_type[{printed(number)}].offset_mm", message, "use the next hole instead")
        if pin_type.bridge_mm >= plate_mm:
            message = f"{text(pin_type.bridge_mm)} is not below a plate, {text(plate_mm, decimals=3)}"
            add(f"pin_type[{printed(number)}].bridge_mm", message, "give a bridge that a plate can carry")


def _check_edges(wheel: Wheel, add: Callable[[str, str, str], None]) -> None:
    geometry, text = wheel.geometry, partial(length_text, unit=wheel.unit)
    lead_mm, trail_mm = geometry.lead_edge_mm, geometry.trail_edge_mm
    sheet_mm = wheel.plate_mm - trail_mm + lead_mm
    widest_mm = geometry.hole_diameter_mm + 2 * geometry.min_wall_mm
    if trail_mm < lead_mm - LENGTH_SLACK_MM:
        lead = f"{length_key(wheel, 'lead_edge_mm')}, {text(lead_mm)}"
        hint = "it runs from the cut to the next plate's first step, the gap included"
        add("geometry.trail_edge_mm", f"{text(trail_mm)} is below {lead}: plates would overlap", hint)
    elif sheet_mm < widest_mm:
        needed = f"one hole with its walls, {text(widest_mm, decimals=2)}"
        message = f"a plate of {text(sheet_mm, decimals=2)} cannot hold {needed}"
        hint = f"give a larger {length_key(wheel, 'radius_mm')}, or smaller edges, holes or walls"
        add("geometry.trail_edge_mm", message, hint)


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

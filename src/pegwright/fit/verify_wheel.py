"""What the verifier works out of a wheel by itself: holes, what channels sound, and which pins touch."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fnmatch import fnmatchcase

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints
from pegwright.placement import Placement
from pegwright.wheel import Geometry, Wheel

SLACK_MM = 1e-9  # a length limit that is met exactly is met


@dataclass(frozen=True, slots=True, eq=False)
class HoleTable:
    """Every place for a hole round the turn, by position, then row; columns of shape (h,).

    Args:
        turn_ticks: once round.
        position: ticks from the start of the turn.
        row: which row it is in.
        has: shape (channels, h), whether the channel has that row.
        exists: shape (channels, h), whether the hole is there and not lost.
        row_holes: shape (rows,), holes of each row on a plate.
        numbers: shape (rows, plates, most holes of a row), the hole's place in the columns.
    """

    turn_ticks: int
    position: Ints
    row: Ints
    has: NDArray[np.bool_]
    exists: NDArray[np.bool_]
    row_holes: Ints
    numbers: Ints

    def number(self, plate: Ints, row: Ints, index: Ints) -> Ints:
        """Where holes stand in the columns."""
        return self.numbers[row, plate, index]


def hole_table(wheel: Wheel, resolution: int) -> HoleTable:
    """Work out every hole of a wheel at a resolution that makes all of them whole."""
    step_ticks = wheel.step_quarters * resolution
    plates = np.arange(wheel.plate_count)
    channels, steps = len(wheel.channels), wheel.steps_per_plate
    listed: list[tuple[int, Ints, NDArray[np.bool_], NDArray[np.bool_]]] = []
    for number, row in enumerate(wheel.rows):
        periods = np.arange(steps // row.period_steps)
        phases = np.array([int(phase * step_ticks) for phase in row.phases], dtype=np.int64)
        along = (periods[:, None] * int(row.period_steps * step_ticks) + phases).reshape(-1)
        inside = _inside_edges(wheel.geometry, along / float(steps * step_ticks), wheel.plate_count)
        has = np.array([row.name in channel.rows for channel in wheel.channels], dtype=bool)
        exists = np.broadcast_to(inside, (channels, wheel.plate_count, len(along))) & has[:, None, None]
        for lost in wheel.lost:
            if lost.row == row.name:
                on = [place for place, channel in enumerate(wheel.channels) if lost.channel in {None, channel.name}]
                at = slice(None) if lost.plate is None else lost.plate
                exists[on, at, lost.index] = False
        position = plates[:, None] * int(steps * step_ticks) + along
        listed.append((number, position, np.broadcast_to(has[:, None, None], exists.shape), exists))
    position = np.concatenate([item[1].reshape(-1) for item in listed])
    row_column = np.concatenate([np.full(item[1].size, item[0]) for item in listed])
    order = np.lexsort([row_column, position])
    has = np.concatenate([item[2].reshape(channels, -1) for item in listed], axis=1)[:, order]
    exists = np.concatenate([item[3].reshape(channels, -1) for item in listed], axis=1)[:, order]
    row_holes = np.array([item[1].shape[1] for item in listed], dtype=np.int64)
    numbers = np.zeros((len(wheel.rows), wheel.plate_count, int(row_holes.max())), dtype=np.int64)
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    before = 0
    for number, holes in enumerate(row_holes.tolist()):
        size = wheel.plate_count * holes
        numbers[number, :, :holes] = place[before : before + size].reshape(wheel.plate_count, holes)
        before += size
    turn_ticks = int(wheel.plate_count * steps * step_ticks)
    return HoleTable(turn_ticks, position[order], row_column[order], has, exists, row_holes, numbers)


def _inside_edges(geometry: Geometry, along_plate: NDArray[np.float64], plate_count: int) -> NDArray[np.bool_]:
    """Whether holes leave wall enough to both cut edges, from their places along the plate as a part of it."""
    plate_mm = 2 * math.pi * geometry.radius_mm / plate_count
    wall_mm = geometry.hole_diameter_mm / 2 + geometry.min_wall_mm - SLACK_MM
    before_mm = along_plate * plate_mm + geometry.lead_edge_mm
    after_mm = (1 - along_plate) * plate_mm - geometry.trail_edge_mm
    return (before_mm >= wall_mm) & (after_mm >= wall_mm)


def sounding_table(wheel: Wheel, placement: Placement, pattern: str) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which channel with a name of a pattern may sound which written pitch, and which percussion key.

    Returns:
        Two of shape (channels, 128).
    """
    pitched = np.zeros((len(wheel.channels), 128), dtype=bool)
    percussion = np.zeros_like(pitched)
    keys = dict(placement.drum_keys)
    named = [fnmatchcase(channel.name, pattern) for channel in wheel.channels]
    sounded = {
        pitch for channel, asked in zip(wheel.channels, named, strict=True) if asked for pitch in channel.pitches
    }
    for written in range(128):
        pitch = written + placement.transpose_semitones
        if placement.fold_octaves and pitch not in sounded:
            octaves = [other for other in sounded if (other - pitch) % 12 == 0]
            pitch = min(octaves, key=lambda other: (abs(other - pitch), other), default=pitch)
        for number, channel in enumerate(wheel.channels):
            pitched[number, written] = named[number] and pitch in channel.pitches
            percussion[number, written] = named[number] and keys.get(written, written) in channel.drum_keys
    return pitched, percussion


def pin_offsets(wheel: Wheel, turn_ticks: int) -> tuple[NDArray[np.float64], int, Ints]:
    """Where pins of each type trip.

    Returns:
        For each type the ticks from its hole's middle; the plain type, of the least offset, the first
        of equals; for each type the one to take of those with its offset: the plain one, or else the first; -1 for
        a bridge, which no note is placed with.
    """
    offsets_mm = [pin_type.offset_mm for pin_type in wheel.pin_types]
    ticks = np.array(offsets_mm, dtype=np.float64) / wheel.geometry.circumference_mm * turn_ticks
    bridge = [pin_type.bridge_mm > 0 for pin_type in wheel.pin_types]
    distances = [np.inf if is_bridge else abs(mm) for mm, is_bridge in zip(offsets_mm, bridge, strict=True)]
    plain = distances.index(min(distances))
    short = [np.nan if is_bridge else mm for mm, is_bridge in zip(offsets_mm, bridge, strict=True)]
    first = [
        -1 if is_bridge else plain if mm == offsets_mm[plain] else short.index(mm)
        for mm, is_bridge in zip(offsets_mm, bridge, strict=True)
    ]
    return ticks, plain, np.array(first, dtype=np.int64)


def held_ticks(wheel: Wheel, turn_ticks: int) -> Ints:
    """Shape (channels,): how many ticks a single pin holds each channel, to the next whole one; 0 where it strikes."""
    share = np.array([channel.hold_mm for channel in wheel.channels]) / wheel.geometry.circumference_mm
    return np.ceil(share * turn_ticks - 1e-9).astype(np.int64)


def pairs_in_windows(low: Ints, past: Ints) -> tuple[Ints, Ints]:
    """Every pair of a window's number and a place in it, from `low` to below `past` of each window."""
    count = np.maximum(past - low, 0)
    window = np.repeat(np.arange(len(count)), count)
    before = np.cumsum(count) - count
    return window, np.arange(len(window)) - before[window] + low[window]


def touching_pairs(
    wheel: Wheel, holes: HoleTable, asked: tuple[Ints, Ints, Ints], pins: tuple[Ints, Ints, Ints]
) -> tuple[Ints, Ints]:
    """Pairs of an asked hole and a pin that would touch in the plane of the rim, as places in the two lists.

    Args:
        wheel: its geometry.
        holes: the table.
        asked: channel and hole of each place asked about, and where in the turn its pin would trip.
        pins: the same of each pin; an asked hole and the pin in it are a pair too.
    """
    geometry, lateral_mm = wheel.geometry, np.array([row.lateral_mm for row in wheel.rows])
    needed_mm = geometry.pin_diameter_mm + geometry.pin_clearance_mm - SLACK_MM
    mm_per_tick = geometry.circumference_mm / holes.turn_ticks
    window = math.ceil(needed_mm / mm_per_tick)
    across_mm = needed_mm + float(np.ptp(lateral_mm))
    channels_away = min(len(wheel.channels) - 1, math.floor(across_mm / geometry.channel_pitch_mm))
    stretch = 3 * holes.turn_ticks + 2 * window
    laps = np.repeat([-1, 0, 1], len(pins[0])) * holes.turn_ticks
    pin_at = np.tile(pins[2], 3) + laps
    key = np.tile(pins[0], 3) * stretch + pin_at
    order = np.argsort(key, kind="stable")
    key, pin_at, pin = key[order], pin_at[order], np.tile(np.arange(len(pins[0])), 3)[order]
    found = []
    for away in range(-channels_away, channels_away + 1):
        middle = (asked[0] + away) * stretch + asked[2]
        low, past = np.searchsorted(key, middle - window), np.searchsorted(key, middle + window, side="right")
        one, place = pairs_in_windows(low, past)
        along_mm = (pin_at[place] - asked[2][one]) * mm_per_tick
        side_mm = lateral_mm[holes.row[pins[1][pin[place]]]] - lateral_mm[holes.row[asked[1][one]]]
        touch = np.hypot(along_mm, side_mm + away * geometry.channel_pitch_mm) < needed_mm
        found.append((one[touch], pin[place][touch]))
    return np.concatenate([one for one, _ in found]), np.concatenate([other for _, other in found])

"""What the verifier computes from a wheel by itself: holes, what channels sound, and which pins touch."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fnmatch import fnmatchcase
from fractions import Fraction

import numpy as np

from pegwright.check.columns import Bools, Floats, Ints
from pegwright.placement import Placement
from pegwright.wheel import Geometry, Row, Wheel

SLACK_MM = 1e-9  # a length limit that is met exactly is met


@dataclass(frozen=True, slots=True, eq=False)
class HoleTable:
    """Every place for a hole round the turn, by position, then row; columns of shape (h,).

    Args:
        turn_ticks: once round.
        position: ticks from the start of the turn.
        row: which row it is in.
        has: shape (channels, h), whether the channel has that row.
        present: shape (channels, h), whether the hole is there and not lost.
        row_holes: shape (rows,), holes of each row on a plate.
        numbers: shape (rows, plates, maximum of holes of a row), the hole's place in the columns.
    """

    turn_ticks: int
    position: Ints
    row: Ints
    has: Bools
    present: Bools
    row_holes: Ints
    numbers: Ints

    def number(self, plate: Ints, row: Ints, index: Ints) -> Ints:
        """Where holes are in the columns.

        Args:
            plate: shape (m,), as in `Placement`.
            row: shape (m,), the same.
            index: shape (m,), the same.
        """
        return self.numbers[row, plate, index]


def hole_table(wheel: Wheel, resolution: int) -> HoleTable:
    """Compute every hole of a wheel at a resolution that makes all of them whole."""
    step_ticks = wheel.step_quarters * resolution
    of_rows = [_holes_of(wheel, row, step_ticks) for row in wheel.rows]
    position = np.concatenate([holes[0] for holes in of_rows])
    row = np.repeat(np.arange(len(wheel.rows)), [len(holes[0]) for holes in of_rows])
    order = np.lexsort([row, position])
    has = np.concatenate([holes[1] for holes in of_rows], axis=1)[:, order]
    exists = np.concatenate([holes[2] for holes in of_rows], axis=1)[:, order]
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    row_holes = np.array([len(holes[0]) // wheel.plate_count for holes in of_rows], dtype=np.int64)
    numbers = np.zeros((len(wheel.rows), wheel.plate_count, int(row_holes.max())), dtype=np.int64)
    for number, count in enumerate(row_holes.tolist()):
        numbers[number, :, :count] = place[row == number].reshape(wheel.plate_count, count)
    turn_ticks = int(wheel.plate_count * wheel.steps_per_plate * step_ticks)
    return HoleTable(turn_ticks, position[order], row[order], has, exists, row_holes, numbers)


def _holes_of(wheel: Wheel, row: Row, step_ticks: Fraction) -> tuple[Ints, Bools, Bools]:
    """The holes of one row, plate after plate.

    Returns:
        Their positions, of shape (h,); which channel has the row, and where its hole exists, of shape (channels, h).
    """
    channels, plate_ticks = wheel.channels, int(wheel.steps_per_plate * step_ticks)
    periods = np.arange(wheel.steps_per_plate // row.period_steps)
    phases = np.array([int(phase * step_ticks) for phase in row.phases], dtype=np.int64)
    along = (periods[:, None] * int(row.period_steps * step_ticks) + phases).reshape(-1)
    inside = _inside_edges(wheel.geometry, along / float(plate_ticks), wheel.plate_count)
    shape = (len(channels), wheel.plate_count, len(along))
    has = np.broadcast_to(np.array([row.name in channel.rows for channel in channels])[:, None, None], shape)
    exists = has & inside
    for lost in wheel.lost:
        if lost.row == row.name:
            on = [number for number, channel in enumerate(channels) if lost.channel in {None, channel.name}]
            exists[on, slice(None) if lost.plate is None else lost.plate, lost.index] = False
    position = np.arange(wheel.plate_count)[:, None] * plate_ticks + along
    return position.reshape(-1), has.reshape(len(channels), -1), exists.reshape(len(channels), -1)


def _inside_edges(geometry: Geometry, along_plate: Floats, plate_count: int) -> Bools:
    """Whether holes leave wall enough to both cut edges, from their places along the plate as a part of it."""
    plate_mm = 2 * math.pi * geometry.radius_mm / plate_count
    wall_mm = geometry.hole_diameter_mm / 2 + geometry.min_wall_mm - SLACK_MM
    before_mm = along_plate * plate_mm + geometry.lead_edge_mm
    after_mm = (1 - along_plate) * plate_mm - geometry.trail_edge_mm
    return (before_mm >= wall_mm) & (after_mm >= wall_mm)


def sounding_table(wheel: Wheel, placement: Placement, pattern: str) -> tuple[Bools, Bools]:
    """Which channel with a name of a pattern may sound which written pitch, and which percussion key.

    Args:
        wheel: with the channels.
        placement: for its transposition, folding and percussion keys.
        pattern: of channel names.

    Returns:
        Two of shape (channels, 128).
    """
    pitched = np.zeros((len(wheel.channels), 128), dtype=bool)
    percussion = np.zeros_like(pitched)
    keys = dict(placement.drum_keys)
    named = [fnmatchcase(channel.name, pattern) for channel in wheel.channels]
    sounded = {
        pitch for channel, matches in zip(wheel.channels, named, strict=True) if matches for pitch in channel.pitches
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


@dataclass(frozen=True, slots=True, eq=False)
class PinOffsets:
    """Where pins of each type trip; columns of shape (pin types,).

    Args:
        exact_ticks: from the middle of the hole; later is positive.
        whole_ticks: the same to the nearest tick.
        plain: the pin type of the smallest offset either way, the first of equals; never a bridge.
        first: for each type the one to take of those with its offset: the plain one, or else the first; -1 for
            a bridge, which no note is placed with.
    """

    exact_ticks: Floats
    whole_ticks: Ints
    plain: int
    first: Ints


def pin_offsets(wheel: Wheel, turn_ticks: int) -> PinOffsets:
    """Compute where pins of each type trip on a turn of `turn_ticks`."""
    offsets_mm = [pin_type.offset_mm for pin_type in wheel.pin_types]
    exact = np.array(offsets_mm, dtype=np.float64) / wheel.geometry.circumference_mm * turn_ticks
    single = [number for number, pin_type in enumerate(wheel.pin_types) if not pin_type.bridge_mm]
    plain = min(single, key=lambda number: abs(offsets_mm[number]))
    first = np.full(len(offsets_mm), -1, dtype=np.int64)
    for number in single:
        equal = [other for other in single if offsets_mm[other] == offsets_mm[number]]
        first[number] = plain if plain in equal else equal[0]
    return PinOffsets(exact, np.rint(exact).astype(np.int64), plain, first)


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
    wheel: Wheel, holes: HoleTable, candidates: tuple[Ints, Ints, Ints], pins: tuple[Ints, Ints, Ints]
) -> tuple[Ints, Ints]:
    """Pairs of a hole and a pin that would touch if the hole had a pin too, as indexes into the two lists.

    Args:
        wheel: its geometry.
        holes: the table.
        candidates: channel and hole of each candidate, and where in the turn its pin would trip.
        pins: the same of each pin; a candidate and the pin in its hole are a pair too.
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
    pairs = []
    for away in range(-channels_away, channels_away + 1):
        middle = (candidates[0] + away) * stretch + candidates[2]
        low, past = np.searchsorted(key, middle - window), np.searchsorted(key, middle + window, side="right")
        one, place = pairs_in_windows(low, past)
        along_mm = (pin_at[place] - candidates[2][one]) * mm_per_tick
        side_mm = lateral_mm[holes.row[pins[1][pin[place]]]] - lateral_mm[holes.row[candidates[1][one]]]
        touch = np.hypot(along_mm, side_mm + away * geometry.channel_pitch_mm) < needed_mm
        pairs.append((one[touch], pin[place][touch]))
    return np.concatenate([one for one, _ in pairs]), np.concatenate([other for _, other in pairs])

"""What the verifier computes from a wheel by itself: holes, what channels sound, and which pins touch."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fnmatch import fnmatchcase
from fractions import Fraction
from functools import lru_cache

import numpy as np

from pegwright.check.columns import Bools, Floats, Ints
from pegwright.placement import Placement
from pegwright.wheel import Collar, Geometry, Row, Wheel

SLACK_MM = 1e-9  # a length limit that is met exactly is met
# Lengths without any of which it is not decided where walls are too thin, where pins touch, and where collars overhang.
_UPON_WALLS = frozenset({"radius_mm", "hole_diameter_mm", "min_wall_mm", "lead_edge_mm", "trail_edge_mm"})
_UPON_PINS = frozenset({"radius_mm", "pin_diameter_mm", "pin_clearance_mm", "channel_pitch_mm"})


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


@lru_cache(maxsize=4)  # the turns of a song are checked one after another
def hole_table(wheel: Wheel, resolution: int) -> HoleTable:
    """Compute every hole of a wheel at a resolution that makes all of them whole."""
    step_ticks, plates = wheel.step_quarters * resolution, wheel.plate_count
    plate_ticks = int(wheel.steps_per_plate * step_ticks)
    of_rows = [_along_ticks(row, wheel.steps_per_plate, step_ticks) for row in wheel.rows]
    row_holes = np.array([len(along) for along in of_rows], dtype=np.int64)
    of_a_plate = (
        np.concatenate(of_rows),
        np.repeat(np.arange(len(of_rows)), row_holes),
        np.concatenate([np.arange(count) for count in row_holes]),
    )
    along, row, index = (np.tile(column, plates) for column in of_a_plate)
    plate = np.repeat(np.arange(plates), row_holes.sum())
    order = np.lexsort([row, plate * plate_ticks + along])
    along, row, index, plate = (column[order] for column in (along, row, index, plate))
    numbers = np.zeros((len(of_rows), plates, row_holes.max()), dtype=np.int64)
    numbers[row, plate, index] = np.arange(len(order))
    rows = [holes.name for holes in wheel.rows]
    has = np.array([[name in channel.rows for name in rows] for channel in wheel.channels])[:, row]
    present = has & _inside_edges(wheel.geometry, along / plate_ticks, plates)
    for lost in wheel.lost:
        if not (lost.plate_set is None or wheel.plate_set is None or lost.plate_set == wheel.plate_set):
            continue
        number, plates_of = rows.index(lost.row), slice(None) if lost.plate is None else lost.plate
        on = [lost.channel in {None, channel.name} for channel in wheel.channels]
        present[np.ix_(np.flatnonzero(on), numbers[number, plates_of, lost.index].ravel())] = False
    return HoleTable(plates * plate_ticks, plate * plate_ticks + along, row, has, present, row_holes, numbers)


@lru_cache(maxsize=4)
def early_ticks(wheel: Wheel, turn_ticks: int) -> Ints:
    """Shape (channels,): how many ticks before the place of its note every pin of a channel is set."""
    early = [channel.advance_steps * turn_ticks / wheel.turn_steps for channel in wheel.channels]
    return np.array([int(ticks) for ticks in early], dtype=np.int64)


def _along_ticks(row: Row, steps_per_plate: int, step_ticks: Fraction) -> Ints:
    """Where the holes of a row lie along a plate, shape (holes,)."""
    periods = np.arange(steps_per_plate // row.period_steps) * int(row.period_steps * step_ticks)
    phases = np.array([phase * step_ticks for phase in row.phases], dtype=np.int64)
    return np.add.outer(periods, phases).ravel()


def _inside_edges(geometry: Geometry, along_plate: Floats, plate_count: int) -> Bools:
    """Whether holes leave wall enough to both cut edges, from their places along the plate as a part of it.

    All do on a drum without cut edges, and where a length that decides it is not known.
    """
    if not geometry.seams or not _UPON_WALLS.isdisjoint(geometry.unknown):
        return np.ones(len(along_plate), dtype=bool)
    plate_mm = 2 * math.pi * geometry.radius_mm / plate_count
    wall_mm = geometry.hole_diameter_mm / 2 + geometry.min_wall_mm - SLACK_MM
    before_mm = along_plate * plate_mm + geometry.lead_edge_mm
    after_mm = (1 - along_plate) * plate_mm - geometry.trail_edge_mm
    return (before_mm >= wall_mm) & (after_mm >= wall_mm)


def collars_touch(geometry: Geometry) -> bool:
    """Whether all is known that decides which collars touch."""
    return _UPON_PINS.isdisjoint(geometry.unknown)


def collars_end_at(geometry: Geometry) -> bool:
    """Whether plates have cut edges, and all is known that decides which collars reach over them."""
    return geometry.seams and (_UPON_WALLS | _UPON_PINS).isdisjoint(geometry.unknown)


def sounding_kinds(wheel: Wheel, placement: Placement, patterns: tuple[str, ...]) -> tuple[Bools, Ints]:
    """Which channel may sound which of the 128 written pitches, then which percussion key, for each of some patterns.

    Args:
        wheel: with the channels.
        placement: for its transposition, folding and percussion keys.
        patterns: of channel names.

    Returns:
        Shape (channels, 256 * patterns), and a number for each column, equal for equal ones.
    """
    sounds = placement.transpose_semitones, placement.fold_octaves, placement.drum_keys
    return _sounding_kinds(wheel, patterns, *sounds)


@lru_cache(maxsize=32)  # every turn of a song needs the same, and every transposition of a search another
def _sounding_kinds(
    wheel: Wheel,
    patterns: tuple[str, ...],
    transpose_semitones: int,
    fold_octaves: bool,
    drum_keys: tuple[tuple[int, int], ...],
) -> tuple[Bools, Ints]:
    sounds = transpose_semitones, fold_octaves, drum_keys
    all_of = np.concatenate([_sounding_table(wheel, pattern, *sounds) for pattern in patterns], axis=1)
    _, kind = np.unique(all_of, axis=1, return_inverse=True)
    kind = kind.ravel()
    all_of.flags.writeable = kind.flags.writeable = False
    return all_of, kind


def _sounding_table(
    wheel: Wheel, pattern: str, transpose_semitones: int, fold_octaves: bool, drum_keys: tuple[tuple[int, int], ...]
) -> Bools:
    keys = dict(drum_keys)
    named = {number: channel for number, channel in enumerate(wheel.channels) if fnmatchcase(channel.name, pattern)}
    sounded = {pitch for channel in named.values() for pitch in channel.pitches}
    pitches = [written + transpose_semitones for written in range(128)]
    if fold_octaves:
        pitches = [_folded(pitch, sounded) for pitch in pitches]
    table = np.zeros((len(wheel.channels), 256), dtype=bool)
    for number, channel in named.items():
        table[number, :128] = [pitch in channel.pitches for pitch in pitches]
        table[number, 128:] = [keys.get(written, written) in channel.drum_keys for written in range(128)]
    return table


def _folded(pitch: int, sounded: set[int]) -> int:
    """The pitch some octaves away that is sounded, the nearest, the lower on a tie; the same where none is."""
    octaves = [other for other in sounded if (other - pitch) % 12 == 0]
    return min(octaves, key=lambda other: (abs(other - pitch), other), default=pitch)


@dataclass(frozen=True, slots=True, eq=False)
class PinOffsets:
    """Where pins of each type trip; columns of shape (pin types,).

    Args:
        exact_ticks: from the middle of the hole; later is positive.
        whole_ticks: the same to the nearest tick.
        collar_ticks: from the middle of the hole to that of the pin's collar.
        plain: the pin type of the smallest offset either way, the first of equals; never a bridge.
        first: for each type the one to take of those with its offset and place of the collar, the first in the list;
            -1 for a bridge, which no note is placed with.
    """

    exact_ticks: Floats
    whole_ticks: Ints
    collar_ticks: Ints
    plain: int
    first: Ints


@lru_cache(maxsize=4)
def pin_offsets(wheel: Wheel, turn_ticks: int) -> PinOffsets:
    """Compute where pins of each type trip on a turn of `turn_ticks`."""
    offsets_mm = [pin_type.offset_mm for pin_type in wheel.pin_types]
    exact = np.array(offsets_mm, dtype=np.float64) / wheel.geometry.circumference_mm * turn_ticks
    single = [number for number, pin_type in enumerate(wheel.pin_types) if not pin_type.bridge_mm]
    plain = min(single, key=lambda number: abs(offsets_mm[number]))
    first = np.full(len(offsets_mm), -1, dtype=np.int64)
    for number in single:
        first[number] = next(
            other
            for other in single
            if offsets_mm[other] == offsets_mm[number]
            and (not offsets_mm[number] or wheel.pin_types[other].collar == wheel.pin_types[number].collar)
        )
    whole = np.rint(exact).astype(np.int64)
    moves = [pin_type.collar == Collar.MOVES for pin_type in wheel.pin_types]
    return PinOffsets(exact, whole, np.where(moves, whole, 0), plain, first)


def over_the_edge(wheel: Wheel, holes: HoleTable, hole: Ints, pin_type: Ints) -> Bools:
    """Whether the collar of a pin reaches over an edge of its plate, shape (m,).

    Args:
        wheel: its geometry and pin types.
        holes: the table.
        hole: shape (m,), places in the table.
        pin_type: shape (m,), the type of the pin in each.
    """
    geometry = wheel.geometry
    if not collars_end_at(geometry):
        return np.zeros(len(hole), dtype=bool)
    moved_mm = np.array([one.offset_mm if one.collar == Collar.MOVES else 0.0 for one in wheel.pin_types])
    plate_ticks = holes.turn_ticks // wheel.plate_count
    plate_mm = geometry.circumference_mm / wheel.plate_count
    middle_mm = holes.position[hole] % plate_ticks / plate_ticks * plate_mm + moved_mm[pin_type]
    half_mm = geometry.pin_diameter_mm / 2 - SLACK_MM
    before = middle_mm - half_mm < -geometry.lead_edge_mm
    return np.asarray(before | (middle_mm + half_mm > plate_mm - geometry.trail_edge_mm), dtype=bool)


def held_ticks(wheel: Wheel, turn_ticks: int) -> Ints:
    """Shape (channels,): how many ticks a single pin holds each channel, to the next whole one; 0 where it strikes."""
    share = np.array([channel.hold_mm for channel in wheel.channels]) / wheel.geometry.circumference_mm
    return np.ceil(share * turn_ticks - 1e-9).astype(np.int64)


def pairs_in_windows(low: Ints, past: Ints) -> tuple[Ints, Ints]:
    """Every pair of a window's number and a place in it, from `low` to below `past` of each window."""
    count = past - low
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
        candidates: channel (or lane, see `Subject.lane`) and hole of each candidate, and where in the turn the collar
            of its pin would be.
        pins: the same of each pin; a candidate and the pin in its hole are a pair too.

    Returns:
        The pairs; no pairs where a length that decides which pins touch is not known.
    """
    (channel, hole, collar), (pin_channel, pin_hole, pin_collar) = candidates, pins
    if not collars_touch(wheel.geometry):
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    geometry, lateral_mm = wheel.geometry, np.array([row.lateral_mm for row in wheel.rows])
    needed_mm = geometry.pin_diameter_mm + geometry.pin_clearance_mm - SLACK_MM
    mm_per_tick = geometry.circumference_mm / holes.turn_ticks
    window = needed_mm / mm_per_tick  # in ticks; which of the pins in it touch is computed
    channels_away = math.floor((needed_mm + np.ptp(lateral_mm)) / geometry.channel_pitch_mm)
    channels_away = min(channels_away, len(wheel.channels) - 1)  # there are no more
    turns = np.array([-1, 0, 1])  # on which pins are laid out
    stretch = len(turns) * holes.turn_ticks
    pin = np.tile(np.arange(len(pin_hole)), len(turns))
    pin_at = pin_collar[pin] + np.repeat(turns, len(pin_hole)) * holes.turn_ticks
    order = np.lexsort([pin_at, pin_channel[pin]])
    pin, pin_at = pin[order], pin_at[order]
    key = pin_channel[pin] * stretch + pin_at
    pairs = []
    for away in range(-channels_away, channels_away + 1):
        middle = (channel + away) * stretch + collar
        low, past = np.searchsorted(key, middle - window), np.searchsorted(key, middle + window)
        one, place = pairs_in_windows(low, past)
        along_mm = (pin_at[place] - collar[one]) * mm_per_tick
        side_mm = lateral_mm[holes.row[pin_hole[pin[place]]]] - lateral_mm[holes.row[hole[one]]]
        touch = np.hypot(along_mm, side_mm + away * geometry.channel_pitch_mm) < needed_mm
        pairs.append((one[touch], pin[place][touch]))
    return np.concatenate([one for one, _ in pairs]), np.concatenate([other for _, other in pairs])

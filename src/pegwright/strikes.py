"""Pins to time: when every pin of a turn trips its channel, and when that sounds.

All lengths are on the outer face of the rim, and the wheel turns steadily: a turn lasts as long as its quarter notes
do at the tempo, whatever the seams add. Time 0 is the moment at which the song's start, as a place on the turn, would
pass the readers of a wheel without seam errors.

Seam errors. The error of a seam is how much farther apart the holes on its two sides are than the wheel's inside
pitch requires, in mm; below 0 they are too near. Plate 1 is where it should be; every following plate is displaced by
the errors of all seams before it. The last seam, between the last plate and plate 1, displaces no plate, but its error
counts like the others in the length of the rim: with S the sum of all errors, the rim is C + S long instead of C, and
still goes round in one turn, so that the turn closes. A hole at s mm from the turn's beginning trips at
T (s + errors before its plate + pin offset) / (C + S), and without errors at T (s + pin offset) / C.

A channel that holds sounds for its `hold_mm` of rim from where a pin trips, and for the pin's `bridge_mm` more. A pin
that comes before it has been released is no strike: it prolongs the sound.

A channel sounds where its reader stands, `reader_mm` after the common line at the rim's speed, and its lead later. Its
pins can be set `advance_steps` early, so that it sounds when it is meant to all the same.

Source: uniform circular motion, t = T s / C.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.frozen import frozen
from pegwright.grid import hole_grid, place_units
from pegwright.placement import PinMap
from pegwright.score import Score
from pegwright.wheel import Kind, Wheel

DEFAULT_VELOCITY = 80  # of a pin whose note is not known
_MEET_S = 1e-6  # spans no farther apart than this meet


@frozen(eq=False)
class StrikeTimes:
    """Every strike of some turns, by time of sounding, then channel; columns of shape (s,).

    Args:
        pin: which pin of the pin map strikes.
        channel: index into `Wheel.channels`.
        trip_s: when the pin trips its channel, were its reader in the common line, in seconds from the song's start.
        sound_s: when that sounds: later by where the channel's reader stands, and by its lead.
        meant_s: when it would sound were reader and lead what the channel's pins are set early for.
        velocity: that of the score's note, 1..127, or `DEFAULT_VELOCITY`.
        note: the note of the score, or -1 where that is not known.
        turn: which turn, from 0.
        lasts_s: how long it sounds on a channel that holds; 0 on one that strikes.
        turn_s: seconds a turn.
    """

    pin: Ints
    channel: Ints
    trip_s: Floats
    sound_s: Floats
    meant_s: Floats
    velocity: Ints
    note: Ints
    turn: Ints
    lasts_s: Floats
    turn_s: float

    @property
    def strike_count(self) -> int:
        """Strikes in all."""
        return len(self.pin)


def turn_seconds(wheel: Wheel, us_per_quarter: int) -> float:
    """Seconds a turn of `wheel` lasts at a tempo in microseconds per quarter note."""
    return float(wheel.turn_quarters * us_per_quarter / 1_000_000)


def strike_times(
    pins: PinMap,
    wheel: Wheel,
    *,
    start_steps: Fraction = Fraction(0),
    turn_count: int = 1,
    score: Score | None = None,
    seam_errors_mm: Sequence[float] = (),
) -> StrikeTimes:
    """When every pin strikes; those that hold a note on are no strikes of their own.

    Args:
        pins: the pin map; its tempo is the wheel's.
        wheel: what they are set on; gives the leads.
        start_steps: where on the turn the song begins, as in `FitOptions`.
        turn_count: number of turns, from 1.
        score: what was fitted; gives velocities, and distinguishes a note moved to before the song's start from one at
            the end of the turn. Without it every strike of the first turn trips in that turn, but for its pin's offset
            and the seams.
        seam_errors_mm: one for each seam, the first between plates 1 and 2, the last between the last plate and
            plate 1; none if empty.

    Returns:
        `turn_count` strikes for each pin that strikes.
    """
    turn_s = turn_seconds(wheel, pins.us_per_quarter)
    meant_s = _meant_seconds(pins, wheel, start_steps, score) + _late_seconds(pins, wheel, turn_s, seam_errors_mm)
    first_s = meant_s - _early_seconds(wheel, turn_s)[pins.channel]
    velocity = np.full(pins.pin_count, DEFAULT_VELOCITY, dtype=np.int64)
    if score is not None:
        known = pins.note >= 0
        velocity[known] = score.velocity[pins.note[known]]
    later_s = sounding_seconds(wheel, turn_s, seam_errors_mm)
    lasts_s = _lasting_seconds(pins, wheel, first_s, turn_s, seam_errors_mm)
    striking = np.flatnonzero(~np.isnan(lasts_s))
    pin = np.tile(striking, turn_count)
    turn = np.repeat(np.arange(turn_count), len(striking))
    trip_s = first_s[pin] + turn * turn_s
    sound_s = trip_s + later_s[pins.channel[pin]]
    order = np.lexsort([pins.channel[pin], sound_s])
    return StrikeTimes(
        pin=frozen_ints(pin[order]),
        channel=frozen_ints(pins.channel[pin][order]),
        trip_s=frozen_floats(trip_s[order]),
        sound_s=frozen_floats(sound_s[order]),
        meant_s=frozen_floats((meant_s[pin] + turn * turn_s)[order]),
        velocity=frozen_ints(velocity[pin][order]),
        note=frozen_ints(pins.note[pin][order]),
        turn=frozen_ints(turn[order]),
        lasts_s=frozen_floats(lasts_s[pin][order]),
        turn_s=turn_s,
    )


def sounding_seconds(wheel: Wheel, turn_s: float, seam_errors_mm: Sequence[float] = ()) -> Floats:
    """How long after its trip each channel sounds, shape (channels,): from where its reader stands, and its lead.

    Args:
        wheel: the wheel.
        turn_s: seconds a turn.
        seam_errors_mm: as in `strike_times`.
    """
    _, scale = _rim(wheel, seam_errors_mm)
    s_per_mm = scale * turn_s / wheel.geometry.circumference_mm
    return frozen_floats([channel.reader_mm * s_per_mm + channel.lead_ms / 1000 for channel in wheel.channels])


def late_seconds(wheel: Wheel, turn_s: float) -> Floats:
    """How much later than its notes are meant each channel sounds, shape (channels,); early is below 0."""
    return frozen_floats(sounding_seconds(wheel, turn_s) - _early_seconds(wheel, turn_s))


def _early_seconds(wheel: Wheel, turn_s: float) -> Floats:
    """How much earlier than its notes are meant the pins of each channel are set, shape (channels,)."""
    return frozen_floats([float(channel.advance_steps / wheel.turn_steps) * turn_s for channel in wheel.channels])


def plate_late_seconds(wheel: Wheel, turn_s: float, seam_errors_mm: Sequence[float]) -> Floats:
    """How late the first step of each plate comes because of the seams, shape (plates,); early is below 0.

    Args:
        wheel: the wheel.
        turn_s: seconds a turn.
        seam_errors_mm: as in `strike_times`.
    """
    before_mm, scale = _rim(wheel, seam_errors_mm)
    first_mm = np.arange(wheel.plate_count) * wheel.steps_per_plate * wheel.step_mm
    return frozen_floats(turn_s * ((first_mm + before_mm) * scale - first_mm) / wheel.geometry.circumference_mm)


def _meant_seconds(pins: PinMap, wheel: Wheel, start_steps: Fraction, score: Score | None) -> Floats:
    """From the song's start to the place for whose notes each pin's hole is, on its first time round.

    It is exact but for the last rounding.
    """
    grid_units = hole_grid(wheel).resolution
    resolution = grid_units * (start_steps * wheel.step_quarters * grid_units).denominator
    start_units = int(start_steps * wheel.step_quarters * resolution)
    turn_units = int(wheel.turn_quarters * resolution)
    place = place_units(wheel, pins.plate, pins.row, pins.index) * (resolution // grid_units)
    early_units = [int(channel.advance_steps * wheel.step_quarters * resolution) for channel in wheel.channels]
    units = (place + np.array(early_units)[pins.channel] - start_units) % turn_units
    if score is not None:
        known = pins.note >= 0
        onset = score.onset_ticks[pins.note[known]] * (resolution / score.resolution)
        units[known] -= np.rint((units[known] - onset) / turn_units).astype(np.int64) * turn_units
    return frozen_floats(units * pins.us_per_quarter / (resolution * 1_000_000))


def _late_seconds(pins: PinMap, wheel: Wheel, turn_s: float, seam_errors_mm: Sequence[float]) -> Floats:
    """How much later than its hole each pin trips, because of its type's offset and the seams."""
    before_mm, scale = _rim(wheel, seam_errors_mm)
    offsets_mm = np.array([pin_type.offset_mm for pin_type in wheel.pin_types])
    units = place_units(wheel, pins.plate, pins.row, pins.index)
    place_mm = units * (wheel.geometry.circumference_mm / hole_grid(wheel).turn_units)
    late_mm = (before_mm[pins.plate] + offsets_mm[pins.pin_type]) * scale + place_mm * (scale - 1)
    return frozen_floats(late_mm * (turn_s / wheel.geometry.circumference_mm))


def _lasting_seconds(
    pins: PinMap, wheel: Wheel, first_s: Floats, turn_s: float, seam_errors_mm: Sequence[float]
) -> Floats:
    """How long what each pin strikes sounds: 0 on a channel that strikes, NaN for a pin that holds a note on."""
    lasts_s = np.zeros(pins.pin_count)
    _, scale = _rim(wheel, seam_errors_mm)
    s_per_mm = scale * turn_s / wheel.geometry.circumference_mm
    for number, channel in enumerate(wheel.channels):
        if channel.kind is Kind.HOLD:
            mine = np.flatnonzero(pins.channel == number)
            held_mm = [channel.hold_mm + wheel.pin_types[kind].bridge_mm for kind in pins.pin_type[mine].tolist()]
            lasts_s[mine] = _joined(first_s[mine] % turn_s, np.array(held_mm) * s_per_mm, turn_s)
    return frozen_floats(lasts_s)


def _joined(begin_s: Floats, held_s: Floats, turn_s: float) -> Floats:
    """Join spans of time that meet, round the turn: the length of the whole for the first of each, NaN for the others.

    Spans that leave no silence in the whole turn are one, which the earliest begins.
    """
    count, order = len(begin_s), np.argsort(begin_s, kind="stable")
    begin_s, ends_s = begin_s[order], (begin_s + held_s)[order]
    joined_s = np.full(count, np.nan)
    if not count:
        return frozen_floats(joined_s)
    sounding_until_s = np.maximum.accumulate(np.append(ends_s.max() - turn_s, ends_s))[:-1]
    first = np.flatnonzero(begin_s > sounding_until_s + _MEET_S)
    if len(first):
        ends_s = np.append(ends_s, ends_s + turn_s)[: first[0] + count]  # the last may go on into the next turn
        joined_s[order[first]] = np.maximum.reduceat(ends_s, first) - begin_s[first]
    else:
        joined_s[order[0]] = turn_s
    return frozen_floats(joined_s)


def _rim(wheel: Wheel, seam_errors_mm: Sequence[float]) -> tuple[Floats, float]:
    """Shape (plates,): the errors before each plate, in mm; and the rim's length as it should be over what it is."""
    if not seam_errors_mm:
        return frozen_floats([0.0] * wheel.plate_count), 1.0
    errors_mm = np.array(seam_errors_mm, dtype=np.float64)
    circumference_mm = wheel.geometry.circumference_mm
    scale = circumference_mm / (circumference_mm + float(errors_mm.sum()))
    return frozen_floats(np.append(0.0, np.cumsum(errors_mm)[:-1])), scale

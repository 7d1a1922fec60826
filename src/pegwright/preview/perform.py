"""From a fitted song to what is played: the pins, the score beside or before them, or only what was changed."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.errors import UsageError
from pegwright.grid import hole_grid
from pegwright.percussion import drum_key_name
from pegwright.placement import Outcome, PinMap, Placement
from pegwright.preview.performance import Performance, Sound
from pegwright.score import Score
from pegwright.strikes import DEFAULT_VELOCITY, strike_times
from pegwright.units import common_resolution, pitch_name
from pegwright.wheel import Channel, Kind, Wheel

LONGEST_S = 600.0  # to the last strike; a WAV of 106 MB
PAUSE_S = 1.0  # between the score and the pins, when one follows the other
_SPREAD = 0.55  # how far to the sides the first and the last channel stand
_LEFT, _RIGHT = -1.0, 1.0


class Compare(StrEnum):
    """How the score is heard with the pins: `beside` on the left, `after` one another."""

    BESIDE = "beside"
    AFTER = "after"


@dataclass(frozen=True, slots=True)
class Wish:
    """What to hear.

    Args:
        turn_count: turns of the wheel, from 1.
        seam_errors_mm: as `strike_times` takes them.
        compare: the score as well, and how; None for the pins alone.
        only_changed: nothing but the notes that were moved (as the pins play them) or left out (as written).
        leads: whether channels sound their leads late; else as if the readers were set to make up for them.
        even: every blow alike, as a pin gives it, and not as loud as the score says.
    """

    turn_count: int = 1
    seam_errors_mm: tuple[float, ...] = ()
    compare: Compare | None = None
    only_changed: bool = False
    leads: bool = True
    even: bool = False


class _Strand(NamedTuple):
    """Sounds and their strikes, by time: one side of a comparison."""

    sounds: tuple[Sound, ...]
    sound: Ints
    seconds: Floats
    velocity: Ints
    lasts_s: Floats


def perform(score: Score, wheel: Wheel, placement: Placement, pins: PinMap, wish: Wish) -> tuple[Performance, float]:
    """What is heard of a fitted song.

    Score, wheel, placement and pins are those of one fit.

    Returns:
        The performance, and by how many seconds it was put off: 0, or whole quarter notes if something sounds before
        the song's start.

    Raises:
        UsageError: it is longer than `LONGEST_S`.
    """
    machine = _machine(score, wheel, placement, pins, wish)
    strands = [machine]
    if wish.compare or wish.only_changed:
        late_s = _common_lead_s(wheel, pins) if wish.leads else 0.0
        strands = _with_score(machine, score, placement, wish, late_s)
    seconds = np.concatenate([strand.seconds for strand in strands])
    quarter_s = placement.us_per_quarter / 1_000_000
    put_off_s = math.ceil(-seconds.min(initial=0.0) / quarter_s) * quarter_s
    _check_length(float(seconds.max(initial=0.0)))
    before = np.cumsum([0] + [len(strand.sounds) for strand in strands[:-1]])
    sound = np.concatenate([strand.sound + first for strand, first in zip(strands, before, strict=True)])
    velocity = np.concatenate([strand.velocity for strand in strands])
    if wish.even:
        velocity = np.full(len(velocity), DEFAULT_VELOCITY)
    lasts_s = np.concatenate([strand.lasts_s for strand in strands])
    order = np.lexsort([sound, seconds])
    made = Performance(
        title=score.title,
        sounds=tuple(sound for strand in strands for sound in strand.sounds),
        sound=frozen_ints(sound[order]),
        seconds=frozen_floats(seconds[order] + put_off_s),
        velocity=frozen_ints(velocity[order]),
        us_per_quarter=placement.us_per_quarter,
        resolution=common_resolution(hole_grid(wheel).resolution, placement.resolution),
        beats=int(score.bar_map.beats[0]),
        beat_type=int(score.bar_map.beat_types[0]),
        lasts_s=frozen_floats(lasts_s[order]),
    )
    return made, put_off_s


def _check_length(last_s: float) -> None:
    if last_s > LONGEST_S:
        raise UsageError(
            f"{last_s:,.0f} s to hear, above the most, {LONGEST_S:g} s",
            hint="take fewer --turns, or a part with --bars",
        )


def changed_notes(placement: Placement) -> NDArray[np.bool_]:
    """Shape (n,): whether a note is left out, or moved by more than counts as exact."""
    changed: NDArray[np.bool_] = (placement.outcome != Outcome.PLACED) | (placement.deviation_ms != 0)
    return changed


def sound_of(channel: Channel, side: float) -> Sound | None:
    """What a channel sounds as: its first pitch, or its first percussion key; None if it has neither."""
    if channel.pitches:
        return Sound(channel.name, channel.pitches[0], False, side, holds=channel.kind is Kind.HOLD)
    if channel.drum_keys:
        return Sound(channel.name, channel.drum_keys[0], True, side)
    return None


def _machine(score: Score, wheel: Wheel, placement: Placement, pins: PinMap, wish: Wish) -> _Strand:
    """What the pins play, channels from left to right in the order of the wheel."""
    sides = np.linspace(-_SPREAD, _SPREAD, len(wheel.channels)) if len(wheel.channels) > 1 else [0.0]
    made = [sound_of(channel, float(side)) for channel, side in zip(wheel.channels, sides, strict=True)]
    number = np.cumsum([sound is not None for sound in made]) - 1
    times = strike_times(
        pins,
        wheel,
        start_steps=Fraction(placement.start_ticks, placement.resolution) / wheel.step_quarters,
        turn_count=wish.turn_count,
        score=score,
        seam_errors_mm=wish.seam_errors_mm,
    )
    heard = np.array([made[channel] is not None for channel in times.channel], dtype=bool)
    if wish.only_changed:
        heard &= changed_notes(placement)[times.note]
    seconds = times.sound_s if wish.leads else times.trip_s
    sounds = tuple(sound for sound in made if sound is not None)
    chosen = number[times.channel[heard]]
    return _Strand(sounds, chosen, seconds[heard], times.velocity[heard], times.lasts_s[heard])


def _with_score(machine: _Strand, score: Score, placement: Placement, wish: Wish, late_s: float) -> list[_Strand]:
    """The score and the pins as the wish has them, or what was left out among the pins."""
    if wish.compare is None:
        left_out = placement.outcome != Outcome.PLACED
        return [machine, _written(score, placement, left_out, late_s)]
    chosen = changed_notes(placement) if wish.only_changed else np.full(score.note_count, True)
    written = _written(score, placement, chosen, late_s)
    if wish.compare is Compare.BESIDE:
        return [_alone(written, _LEFT, "score: "), _alone(machine, _RIGHT, "pins: ")]
    score_s = score.length_ticks * placement.us_per_quarter / (score.resolution * 1_000_000)
    later = machine._replace(seconds=machine.seconds + (score_s + PAUSE_S))
    return [_named(written, "score: "), _named(later, "pins: ")]


def _written(score: Score, placement: Placement, chosen: NDArray[np.bool_], late_s: float) -> _Strand:
    """Notes as the score has them, at the wheel's tempo and in the key it was asked for.

    `chosen`, of shape (n,), says which notes; all are played `late_s` late, so that they stand beside the pins.
    """
    percussion = score.percussion_notes()[chosen]
    pitch = score.pitch_midi[chosen] + np.where(percussion, 0, placement.transpose_semitones)
    within = (pitch >= 0) & (pitch <= 127)
    keys = np.where(percussion, 128 + pitch, pitch)[within]
    distinct, sound = np.unique(keys, return_inverse=True)
    sounds = tuple(
        Sound(drum_key_name(key - 128) if key >= 128 else pitch_name(key), key % 128, key >= 128)
        for key in distinct.tolist()
    )
    seconds = score.onset_ticks[chosen] * placement.us_per_quarter / (score.resolution * 1_000_000) + late_s
    struck = np.zeros(np.count_nonzero(within))  # the score is heard as blows, which say when notes begin
    return _Strand(sounds, sound.reshape(-1), seconds[within], score.velocity[chosen][within], struck)


def _alone(strand: _Strand, side: float, label: str) -> _Strand:
    sounds = (replace(it, name=label + it.name, side=side, alone=True) for it in strand.sounds)
    return strand._replace(sounds=tuple(sounds))


def _named(strand: _Strand, label: str) -> _Strand:
    sounds = (replace(it, name=label + it.name) for it in strand.sounds)
    return strand._replace(sounds=tuple(sounds))


def _common_lead_s(wheel: Wheel, pins: PinMap) -> float:
    """The middle lead of all pins: what a listener does not notice, as all is that late."""
    if not pins.pin_count:
        return 0.0
    leads_ms = np.array([channel.lead_ms for channel in wheel.channels])
    return float(np.median(leads_ms[pins.channel])) / 1000

"""From a fitted song to what is played: the pins, the score beside or before them, or only changed notes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.grid import hole_grid
from pegwright.percussion import drum_key_name
from pegwright.placement import Placement
from pegwright.preview.performance import Performance, Sound
from pegwright.song import FittedSong, PinnedSong
from pegwright.strikes import DEFAULT_VELOCITY, late_seconds, strike_times, turn_seconds
from pegwright.units import common_resolution, pitch_name
from pegwright.wheel import Channel, Kind

LONGEST_S = 600.0  # to the last strike; a WAV of 106 MB
PAUSE_S = 1.0  # between the score and the pins, when one follows the other
_SPREAD = 0.55  # the sides of the first and the last channel
_LEFT, _RIGHT = -1.0, 1.0


class Compare(StrEnum):
    """How the score is heard with the pins: `beside` on the left, `after` one another."""

    BESIDE = "beside"
    AFTER = "after"


@frozen()
class Wish:
    """What to hear.

    Args:
        turn_count: turns of the wheel, from 1; None for as many as the song takes.
        seam_errors_mm: as `strike_times` takes them.
        compare: the score as well, and how; None for the pins alone.
        only_changed: nothing but the notes that were moved (as the pins play them) or left out (as written).
        leads: whether channels sound late by their leads; else as if the readers were adjusted to compensate for them.
        even: every blow equally loud, as a pin strikes it, not as the score says.
    """

    turn_count: int | None = None
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


def perform(song: FittedSong, wish: Wish) -> tuple[Performance, float]:
    """What is heard of a fitted song.

    Args:
        song: on its wheel.
        wish: what to hear of it.

    Returns:
        The performance, and by how many seconds it was delayed: 0, or whole quarter notes if something sounds before
        the song's start.

    Raises:
        UsageError: it is longer than `LONGEST_S`.
    """
    strands = [_machine(song.pinned, wish, [turn.placement for turn in song.turns])]
    if wish.compare or wish.only_changed:
        strands = _with_score(strands[0], song, wish, _common_lead_s(song) if wish.leads else 0.0)
    bars = song.score.bar_map
    metre = int(bars.beats[0]), int(bars.beat_types[0])
    return _performance(song.pinned, wish, _together(strands), metre, song.turns[0].placement.resolution)


def perform_pins(song: PinnedSong, wish: Wish) -> tuple[Performance, float]:
    """What is heard of pins whose score is not known; as `perform`, with neither a comparison nor changed notes.

    Args:
        song: by its pins.
        wish: what to hear of it.

    Raises:
        UsageError: it is longer than `LONGEST_S`.
    """
    return _performance(song, wish, _machine(song, wish))


def _performance(
    song: PinnedSong, wish: Wish, both: _Strand, metre: tuple[int, int] | None = None, resolution: int = 1
) -> tuple[Performance, float]:
    """The performance of all that is heard, and by how many seconds it was delayed.

    Args:
        song: by its pins.
        wish: what to hear of it.
        both: its strikes, in any order.
        metre: the first of the song; None where it is not known.
        resolution: ticks per quarter note of the fit.
    """
    quarter_s = song.us_per_quarter / 1_000_000
    delay_s = math.ceil(-both.seconds.min(initial=0.0) / quarter_s) * quarter_s
    last_s = float(both.seconds.max(initial=0.0))
    if last_s > LONGEST_S:
        hint = "take fewer --turns, or a part with --bars"
        raise UsageError(f"{last_s:,.0f} s to hear, above the maximum, {LONGEST_S:g} s", hint=hint)
    order = np.lexsort([both.sound, both.seconds])
    velocity = np.full_like(both.velocity, DEFAULT_VELOCITY) if wish.even else both.velocity[order]
    beats, beat_type = metre or (0, 0)
    performance = Performance(
        title=song.title,
        sounds=both.sounds,
        sound=frozen_ints(both.sound[order]),
        seconds=frozen_floats(both.seconds[order] + delay_s),
        velocity=frozen_ints(velocity),
        lasts_s=frozen_floats(both.lasts_s[order]),
        us_per_quarter=song.us_per_quarter,
        resolution=common_resolution(hole_grid(song.wheel).resolution, resolution),
        beats=beats,
        beat_type=beat_type,
    )
    return performance, delay_s


def changed_notes(placement: Placement) -> NDArray[np.bool_]:
    """Shape (n,): whether a note does not sound, or is moved by more than counts as exact."""
    changed: NDArray[np.bool_] = ~placement.sounding | (placement.deviation_ms != 0)
    return changed


def sound_of(channel: Channel, side: float) -> Sound | None:
    """What a channel sounds as: its first pitch, or its first percussion key; None if it has neither."""
    if channel.pitches:
        return Sound(channel.name, channel.pitches[0], False, side, holds=channel.kind is Kind.HOLD)
    if channel.drum_keys:
        return Sound(channel.name, channel.drum_keys[0], True, side)
    return None


def _machine(song: PinnedSong, wish: Wish, placements: Sequence[Placement] = ()) -> _Strand:
    """What the pins play turn after turn, channels from left to right in the order of the wheel.

    After its last turn the song begins again.

    Args:
        song: by its pins.
        wish: what to hear of it.
        placements: of its turns, by which changed notes are known.
    """
    wheel = song.wheel
    sides = np.linspace(-_SPREAD, _SPREAD, len(wheel.channels)) if len(wheel.channels) > 1 else [0.0]
    by_channel = [sound_of(channel, float(side)) for channel, side in zip(wheel.channels, sides, strict=True)]
    number = np.cumsum([sound is not None for sound in by_channel]) - 1
    audible = np.array([sound is not None for sound in by_channel], dtype=bool)
    sounds = tuple(sound for sound in by_channel if sound is not None)
    turns = []
    for count in range(wish.turn_count or len(song.turns)):
        turn = song.turns[count % len(song.turns)]
        begins, seams_mm = turn.start_steps, wish.seam_errors_mm
        times = strike_times(turn.pins, wheel, start_steps=begins, score=turn.score, seam_errors_mm=seams_mm)
        chosen = audible[times.channel]
        if wish.only_changed:
            chosen = chosen & changed_notes(placements[count % len(song.turns)])[times.note]
        seconds = (times.sound_s if wish.leads else times.meant_s)[chosen] + count * times.turn_s
        turns.append((number[times.channel[chosen]], seconds, times.velocity[chosen], times.lasts_s[chosen]))
    return _Strand(sounds, *map(np.concatenate, zip(*turns, strict=True)))


def _together(strands: Sequence[_Strand]) -> _Strand:
    """Strands, each with sounds of its own, as one; not in the order of time."""
    sounds = tuple(sound for strand in strands for sound in strand.sounds)
    before = np.cumsum([0] + [len(strand.sounds) for strand in strands[:-1]])
    sound = [strand.sound + first for strand, first in zip(strands, before, strict=True)]
    _, _, *columns = zip(*strands, strict=True)
    return _Strand(sounds, np.concatenate(sound), *map(np.concatenate, columns))


def _with_score(machine: _Strand, song: FittedSong, wish: Wish, late_s: float) -> list[_Strand]:
    """The score and the pins as requested, or the notes left out among the pins."""
    whole = song.whole_placement
    if wish.compare is None:
        return [machine, _written(song, ~whole.sounding, late_s)]
    chosen = changed_notes(whole) if wish.only_changed else np.full(whole.note_count, True)
    written = _written(song, chosen, late_s)
    if wish.compare is Compare.BESIDE:
        return [_named(written, "score: ", _LEFT), _named(machine, "pins: ", _RIGHT)]
    later = machine._replace(seconds=machine.seconds + (_begins_s(song)[-1] + PAUSE_S))
    return [_named(written, "score: "), _named(later, "pins: ")]


def _begins_s(song: FittedSong) -> Floats:
    """Shape (turns + 1,): when each turn begins, and when the last of the song's bars ends."""
    us_per_quarter = song.turns[0].placement.us_per_quarter
    begins_s = np.arange(len(song.turns)) * turn_seconds(song.wheel, us_per_quarter)
    last = song.turns[-1].score
    return np.append(begins_s, begins_s[-1] + last.length_ticks * us_per_quarter / (last.resolution * 1_000_000))


def _written(song: FittedSong, chosen: NDArray[np.bool_], late_s: float) -> _Strand:
    """Notes as the score has them, at the wheel's tempo and in the key that was requested.

    Args:
        song: on its wheel.
        chosen: shape (notes of the song,), which notes.
        late_s: how late all are played, so that they coincide with the pins.
    """
    score, placement = song.score, song.turns[0].placement
    onset_s = [
        turn.score.onset_ticks * placement.us_per_quarter / (turn.score.resolution * 1_000_000) + begins_s
        for turn, begins_s in zip(song.turns, _begins_s(song), strict=False)
    ]
    percussion = score.percussion_notes()[chosen]
    pitch = score.pitch_midi[chosen] + np.where(percussion, 0, placement.transpose_semitones)
    within = (pitch >= 0) & (pitch <= 127)
    keys = np.where(percussion, 128 + pitch, pitch)[within]
    distinct, sound = np.unique(keys, return_inverse=True)
    sounds = tuple(
        Sound(drum_key_name(key - 128) if key >= 128 else pitch_name(key), key % 128, key >= 128)
        for key in distinct.tolist()
    )
    seconds = np.concatenate(onset_s)[chosen] + late_s
    struck = np.zeros(np.count_nonzero(within))  # the score is heard as blows, which say when notes begin
    return _Strand(sounds, sound.reshape(-1), seconds[within], score.velocity[chosen][within], struck)


def _named(strand: _Strand, label: str, side: float | None = None) -> _Strand:
    """The strand, its sounds labelled; on a side of its own if one is given."""
    sounds = [replace(sound, name=label + sound.name) for sound in strand.sounds]
    if side is not None:
        sounds = [replace(sound, side=side, alone=True) for sound in sounds]
    return strand._replace(sounds=tuple(sounds))


def _common_lead_s(song: FittedSong) -> float:
    """The median of how late all pins sound: a listener does not notice it, as everything is late by it."""
    channel = np.concatenate([turn.pins.channel for turn in song.turns])
    if not len(channel):
        return 0.0
    late_s = late_seconds(song.wheel, turn_seconds(song.wheel, song.turns[0].placement.us_per_quarter))
    return float(np.median(late_s[channel]))

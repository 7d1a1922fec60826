"""A performance as a Standard MIDI File of format 1: one track a sound, percussion on channel 10.

The file has the song's tempo and first metre, so that bars are in their places in any program. A quarter note is
the largest multiple of the wheel's own resolution up to `MAX_TICKS`: a strike in its hole, without lead, pin offset or
seam error, is at a whole tick, which is exact (but for wheels finer than that, and tempi slower than 15 quarter notes a
minute). Any other strike is at the nearest tick, at most half a tick away: 16 us for a wheel of sixteenths and triplets
at 120 quarter notes a minute, and never more than 0.27 ms.
"""

from __future__ import annotations

from io import BytesIO
from itertools import groupby
from typing import TYPE_CHECKING, Any

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.preview.performance import Performance, Sound
from pegwright.preview.pitched import LOWEST_BAR_MIDI

if TYPE_CHECKING:
    from mido import MidiTrack

MAX_TICKS = 15_360  # a quarter note; many programs know no finer one
_SLOWEST_US = 4_000_000  # a quarter note; at slower tempi the file counts halves of them, or halves of those
_LONGEST_S = 0.25  # the maximum of a note that a pin strikes
_DRUM_CHANNEL = 9  # "channel 10" counts from 1
_CHANNELS = tuple(channel for channel in range(16) if channel != _DRUM_CHANNEL)
# General MIDI, 0-based: vibraphone, nylon guitar, church organ (from memory).
_BAR_PROGRAM, _STRING_PROGRAM, _HELD_PROGRAM = 11, 24, 19
_VOLUME, _PAN = 7, 10  # controllers, as in the MIDI 1.0 specification (from memory)
_MAX_TEXT = 200


def midi_bytes(performance: Performance) -> bytes:
    """The file of a performance; the same bytes for the same performance."""
    from mido import MetaMessage, MidiFile, MidiTrack  # noqa: PLC0415  # loaded only where a MIDI file is written

    tempo, ticks_per_quarter = _clock(performance)
    file = MidiFile(type=1, ticks_per_beat=ticks_per_quarter, charset="utf-8")
    name = MetaMessage("track_name", name=_plain(performance.title))
    head = MidiTrack([name, MetaMessage("set_tempo", tempo=tempo)])
    if 0 < performance.beats < 256 and performance.beat_type & (performance.beat_type - 1) == 0:
        metre = MetaMessage("time_signature", numerator=performance.beats, denominator=performance.beat_type)
        head.append(metre)
    file.tracks.append(head)
    lasts_s = np.where(performance.lasts_s > 0, performance.lasts_s, _LONGEST_S)
    lengths = np.maximum(1, (lasts_s * (1_000_000 * ticks_per_quarter / tempo)).astype(np.int64))
    blows = np.stack([tick_of(performance), performance.velocity, lengths], axis=1)
    for number, (sound, channel) in enumerate(zip(performance.sounds, _channels(performance.sounds), strict=True)):
        own = blows[performance.sound == number].tolist()
        if own:
            file.tracks.append(_track(sound, channel, own))
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


def tick_of(performance: Performance) -> Ints:
    """Shape (s,): the tick of each strike in the file."""
    tempo, ticks_per_quarter = _clock(performance)
    return frozen_ints(np.rint(performance.seconds * (1_000_000 * ticks_per_quarter / tempo)))


def _clock(performance: Performance) -> tuple[int, int]:
    """Microseconds and ticks per quarter note of the file."""
    tempo = performance.us_per_quarter
    while tempo > _SLOWEST_US:
        tempo = (tempo + 1) // 2
    multiples = MAX_TICKS // performance.resolution
    return tempo, performance.resolution * multiples if multiples else MAX_TICKS


def _channels(sounds: tuple[Sound, ...]) -> list[int]:
    """A MIDI channel for each sound: sounds share one only if program and side are equal and all pitches differ."""
    groups: dict[tuple[int, float, int], int] = {}
    taken: dict[tuple[int, float, int], int] = {}
    channels = []
    for sound in sounds:
        if sound.percussion:
            channels.append(_DRUM_CHANNEL)
            continue
        program, side = _program(sound), sound.side if sound.alone else 0.0
        copy = taken[program, side, sound.pitch_midi] = taken.get((program, side, sound.pitch_midi), -1) + 1
        group = groups.setdefault((program, side, copy), len(groups))
        channels.append(_CHANNELS[group % len(_CHANNELS)])
    return channels


def _program(sound: Sound) -> int:
    """The General MIDI program that is most similar to a sound with a pitch."""
    if sound.holds:
        return _HELD_PROGRAM
    return _STRING_PROGRAM if sound.pitch_midi < LOWEST_BAR_MIDI else _BAR_PROGRAM


def _track(sound: Sound, channel: int, blows: list[list[int]]) -> MidiTrack:
    """The strikes (tick, velocity, length) of one sound; each note ends before the next begins."""
    from mido import Message, MetaMessage, MidiTrack  # noqa: PLC0415

    track = MidiTrack([MetaMessage("track_name", name=_plain(sound.name))])
    if not sound.percussion:
        track.append(Message("program_change", channel=channel, program=_program(sound)))
        if sound.alone:
            side = round(63.5 + 63.5 * sound.side)
            track.append(Message("control_change", channel=channel, control=_PAN, value=side))
    events: list[tuple[int, Any]] = []
    loudest = [(tick, *map(max, zip(*same, strict=True))) for tick, same in groupby(blows, key=lambda blow: blow[0])]
    next_ticks = [*(tick for tick, *_ in loudest[1:]), None]
    for (tick, _, velocity, length), following in zip(loudest, next_ticks, strict=True):
        end = tick + length if following is None else min(tick + length, following)
        note = {"channel": channel, "note": sound.pitch_midi}
        events.append((tick, Message("note_on", velocity=velocity, **note)))
        events.append((end, Message("note_off", velocity=0, **note)))
    before = 0
    for tick, message in events:
        track.append(message.copy(time=tick - before))
        before = tick
    return track


def _plain(text: str) -> str:
    """A text that every reader of MIDI files can take: no control characters, no lone surrogates, not too long."""
    shown = "".join(mark if mark.isprintable() else " " for mark in text[:_MAX_TEXT])
    return shown.encode("utf-8", "replace").decode("utf-8")

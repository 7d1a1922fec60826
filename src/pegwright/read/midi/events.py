"""The events of a MIDI file, decoded: notes as columns, programs, and the meta events that matter to music."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints, frozen_ints, tuples
from pegwright.errors import InputError, check_limit
from pegwright.findings import Notices
from pegwright.formats import MAX_NOTES
from pegwright.frozen import frozen
from pegwright.read.midi.notices import MidiFault
from pegwright.read.midi.scan import Scan, scan_tracks

_NOTE_ON, _CONTROLLER, _PROGRAM, _BEND, _CHANNELS_END = 0x90, 0xB0, 0xC0, 0xE0, 0xF0
_PEDAL = 64
_PEDAL_DOWN = 64
_BEND_CENTRE = 64  # of the second data byte; the first is then 0

_Bytes = NDArray[np.uint8]


Meta: TypeAlias = tuple[int, int, int, bytes]  # a meta event: track, tick from the start of it, type, data
Program: TypeAlias = tuple[int, int, int, int]  # a program change: track, tick, channel, program


@frozen(eq=False)
class NoteEvents:
    """Note-ons and note-offs in file order, track after track; columns of shape (e,).

    Args:
        tick: from the start of the track.
        voice: track x 16 + channel, both 0-based.
        pitch_midi: 0..127.
        velocity: 1..127, or 0 for a note-off.
    """

    tick: Ints
    voice: Ints
    pitch_midi: Ints
    velocity: Ints


@frozen(eq=False)
class Events:
    """What a MIDI file holds.

    Args:
        notes: see there.
        programs, metas: in file order, track after track.
        track_ends: shape (tracks,), tick of the last event of each.
        pedal_count, bend_count: times the sustain pedal went down; times a pitch bend left the middle.
        breaks: offset at which a track's events break off, by track.
    """

    notes: NoteEvents
    programs: tuple[Program, ...]
    metas: tuple[Meta, ...]
    track_ends: Ints
    pedal_count: int
    bend_count: int
    breaks: Mapping[int, int]


class _Columns(NamedTuple):
    """Events in file order; columns of shape (e,). What a meta or system event has as data bytes means nothing."""

    track: Ints
    tick: Ints
    status: _Bytes
    first: _Bytes
    second: _Bytes


def read_events(bodies: Sequence[bytes], faults: Notices) -> Events:
    """The events of a file's tracks, each read as far as it holds.

    Args:
        bodies: the bytes of each track's events.
        faults: counts what was mended.

    Raises:
        InputError: not one event can be read, or more notes than the limit.
    """
    scan = scan_tracks(bodies)
    if not scan.starts:
        raise InputError(
            "not one whole event in any track; at least 1 is needed",
            where=faults.file,
            hint="export the song again; the file is damaged",
        )
    every = _decode(bodies, scan)
    legal = _legal(every, scan)
    for fault, times in scan.faults.items():
        faults.add(fault, times)
    kind = every.status & 0xF0
    pedal = legal & (kind == _CONTROLLER) & (every.first == _PEDAL) & (every.second >= _PEDAL_DOWN)
    bent = legal & (kind == _BEND) & ((every.first != 0) | (every.second != _BEND_CENTRE))
    counts = np.array(scan.counts)
    last = np.cumsum(counts) - 1
    return Events(
        notes=_notes(every, np.flatnonzero(legal & (kind <= _NOTE_ON)), faults.file),
        programs=_programs(every, np.flatnonzero(legal & (kind == _PROGRAM))),
        metas=_metas(every, scan),
        track_ends=frozen_ints(np.where(counts > 0, every.tick[last], 0)),
        pedal_count=int(np.count_nonzero(pedal)),
        bend_count=int(np.count_nonzero(bent)),
        breaks=scan.breaks,
    )


def _decode(bodies: Sequence[bytes], scan: Scan) -> _Columns:
    """All events at once, from where each begins."""
    stream = np.frombuffer(b"".join((*bodies, b"\0\0")), np.uint8)  # the last event may have no data bytes
    counts, sizes = np.array(scan.counts), np.array([len(body) for body in bodies])
    at = np.array(scan.starts) + np.repeat(np.cumsum(sizes) - sizes, counts)
    tick = np.cumsum(_quantities(stream, at))
    tick -= np.repeat(np.append(0, tick)[np.cumsum(counts) - counts], counts)
    byte = stream[at]
    # Running status: the last status byte of a channel message. A track never goes on from another's.
    stated = np.where((byte >= 0x80) & (byte < _CHANNELS_END), np.arange(len(at)), 0)
    status = np.where(byte < _CHANNELS_END, byte[np.maximum.accumulate(stated)], byte)
    at += byte >= 0x80
    track = np.repeat(np.arange(len(bodies)), counts)
    return _Columns(track, tick, status, stream[at], stream[1:][at])


def _quantities(stream: _Bytes, at: Ints) -> Ints:
    """The variable-length quantities at the offsets, which are moved on to what follows."""
    byte = stream[at]
    at += 1
    value = (byte & 0x7F).astype(np.int64)
    going_on = np.flatnonzero(byte >= 0x80)
    while len(going_on):
        byte = stream[at[going_on]]
        at[going_on] += 1
        value[going_on] = value[going_on] << 7 | byte & 0x7F
        going_on = going_on[byte >= 0x80]
    return value


def _legal(every: _Columns, scan: Scan) -> NDArray[np.bool_]:
    """Which events are channel messages whose first data byte is at most 127, so that they can be read."""
    channel = every.status < _CHANNELS_END
    has_second = channel & ((every.status < _PROGRAM) | (every.status >= _BEND))
    wrong_first = channel & (every.first > 127)
    wrong_count = np.count_nonzero(wrong_first) + np.count_nonzero(has_second & (every.second > 127))
    scan.faults[MidiFault.DATA_BYTE] += int(wrong_count)
    return channel & ~wrong_first


def _notes(every: _Columns, at: Ints, file_name: str) -> NoteEvents:
    status = every.status[at]
    velocity = np.minimum(every.second[at], 127) * (status >= _NOTE_ON)
    check_limit(int(np.count_nonzero(velocity)), MAX_NOTES, "notes", file_name)
    voice = every.track[at] << 4 | status & 15
    return NoteEvents(*(frozen_ints(column) for column in (every.tick[at], voice, every.first[at], velocity)))


def _programs(every: _Columns, at: Ints) -> tuple[Program, ...]:
    return tuple(tuples(every.track[at], every.tick[at], every.status[at] & 15, every.first[at]))


def _metas(every: _Columns, scan: Scan) -> tuple[Meta, ...]:
    at = [index for index, _, _ in scan.metas]
    places = zip(tuples(every.track[at], every.tick[at]), scan.metas, strict=True)
    return tuple((track, tick, kind, data) for (track, tick), (_, kind, data) in places)

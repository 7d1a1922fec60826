"""One lean pass over mido's messages: note events as columns, and the few others that matter."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.errors import InputError
from pegwright.findings import Finding
from pegwright.read.limits import MAX_NOTES
from pegwright.read.midi_chunks import Layout, strict_tracks
from pegwright.read.midi_repair import NO_END, mend_tracks, told, variable_length

_PEDAL = 64
_PEDAL_DOWN = 64
_PRESSURE = frozenset({"aftertouch", "polytouch"})
_MISREAD = frozenset(
    # mido gives an unknown meta event no time, and takes a system message for the status byte that the events
    # after it go on from.
    {"unknown_meta", "quarter_frame", "songpos", "song_select", "tune_request"}
    | {"clock", "start", "continue", "stop", "active_sensing", "reset"}
)
_MAX_SYSEX_CHECKED = 64
_MAX_TICK = 2**50  # only lengths of more than 4 bytes, which are no lengths, go beyond


@dataclass(frozen=True, slots=True, eq=False)
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


@dataclass(frozen=True, slots=True, eq=False)
class Events:
    """What a MIDI file holds.

    Args:
        notes: see there.
        others: (track, tick, mido message) of every other event but controllers and pressure.
        track_ends: shape (tracks,), tick of the last event of each.
        pedal_count, bend_count: times the sustain pedal went down; times a pitch bend left the middle.
    """

    notes: NoteEvents
    others: tuple[tuple[int, int, Any], ...]
    track_ends: Ints
    pedal_count: int
    bend_count: int


@dataclass(slots=True)
class _Gathered:
    """The same in plain lists, before it is known whether mido can be trusted with the file."""

    ticks: list[int] = field(default_factory=list)
    codes: list[int] = field(default_factory=list)  # track, channel, pitch, velocity in one: half the appends
    others: list[tuple[int, int, Any]] = field(default_factory=list)
    ends: list[int] = field(default_factory=list)
    pedal_count: int = 0
    bend_count: int = 0


def read_events(layout: Layout, file_name: str) -> tuple[Events, tuple[Finding, ...]]:
    """The events of a file, mended first where mido refuses or would misread them.

    Args:
        layout: the file taken apart.
        file_name: for messages.

    Returns:
        The events; what was mended.

    Raises:
        InputError: not one event can be read, or more notes than the limit.
    """
    if layout.whole:
        tracks = strict_tracks(layout)
        if tracks is not None:
            gathered = _gather(tracks)
            if _trusted(gathered, tracks, layout):
                unended = sum(not track or track[-1].type != "end_of_track" for track in tracks)
                return _events(gathered, file_name), told({NO_END: unended}, file_name)
    mended, findings = mend_tracks(layout, file_name)
    tracks = strict_tracks(mended)
    if tracks is None or not any(mended.tracks):
        raise InputError(
            "not one whole event in any track; at least 1 is needed",
            where=file_name,
            hint="export the song again; the file is damaged",
        )
    return _events(_gather(tracks), file_name), findings


def _gather(tracks: list[Any]) -> _Gathered:
    found = _Gathered()
    add_tick, add_code, add_other = found.ticks.append, found.codes.append, found.others.append
    for number, track in enumerate(tracks):
        tick = 0
        for message in track:
            tick += message.time
            kind = message.type
            if kind == "note_on":
                add_tick(tick)
                add_code(number << 18 | message.channel << 14 | message.note << 7 | message.velocity)
            elif kind == "note_off":
                add_tick(tick)
                add_code(number << 18 | message.channel << 14 | message.note << 7)
            elif kind == "control_change":
                found.pedal_count += message.control == _PEDAL and message.value >= _PEDAL_DOWN
            elif kind == "pitchwheel":
                found.bend_count += message.pitch != 0
            elif kind not in _PRESSURE:
                add_other((number, tick, message))
        found.ends.append(tick)
    return found


def _trusted(found: _Gathered, tracks: list[Any], layout: Layout) -> bool:
    """Whether mido, which refused nothing, can have misread nothing either."""
    ends = [0] * len(tracks)
    exclusive_count = 0
    for track, _, message in found.others:
        kind = message.type
        if kind in _MISREAD:
            return False
        if kind == "sysex":
            exclusive_count += 1
            if exclusive_count > _MAX_SYSEX_CHECKED or not _stands_in(layout.tracks[track], bytes(message.data)):
                return False
        ends[track] += kind == "end_of_track"
    return max(found.ends) <= _MAX_TICK and all(
        not count or (count == 1 and track[-1].type == "end_of_track")
        for count, track in zip(ends, tracks, strict=True)
    )


def _stands_in(body: bytes, data: bytes) -> bool:
    """Whether a system exclusive event with such data is really in a track.

    After a system exclusive event, mido takes an event that goes on from an earlier status byte for another
    system exclusive one and reads notes as its data; then no F0 or F7 with a fitting length stands before them.
    """
    lengths = (variable_length(len(data)), variable_length(len(data) + 1))  # mido took a closing F7 off
    return bool(data) and any(bytes((status,)) + length + data in body for status in (0xF0, 0xF7) for length in lengths)


def _events(found: _Gathered, file_name: str) -> Events:
    code = frozen_ints(found.codes)
    velocity = frozen_ints(code & 127)
    if (count := int(np.count_nonzero(velocity))) > MAX_NOTES:
        raise InputError(
            f"{count:,} notes; at most {MAX_NOTES:,} are read", where=file_name, hint="cut the song into shorter files"
        )
    notes = NoteEvents(frozen_ints(found.ticks), frozen_ints(code >> 14), frozen_ints(code >> 7 & 127), velocity)
    return Events(notes, tuple(found.others), frozen_ints(found.ends), found.pedal_count, found.bend_count)

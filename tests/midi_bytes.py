"""MIDI files written byte by byte for tests, legal and illegal alike; shares no code with the reader."""

from __future__ import annotations

import struct
from collections.abc import Sequence

END = bytes.fromhex("00 FF 2F 00")


def vlq(value: int) -> bytes:
    out = bytes([value % 128])
    while value := value // 128:
        out = bytes([128 + value % 128]) + out
    return out


def track_chunk(body: bytes) -> bytes:
    return b"MTrk" + struct.pack(">I", len(body)) + body


def midi_file(*bodies: bytes, form: int = 1, division: int = 96, count: int | None = None) -> bytes:
    header = struct.pack(">4sIHHH", b"MThd", 6, form, len(bodies) if count is None else count, division)
    return header + b"".join(track_chunk(body) for body in bodies)


def on(delta: int, pitch: int, velocity: int = 64, channel: int = 0) -> bytes:
    return vlq(delta) + bytes([0x90 | channel, pitch, velocity])


def off(delta: int, pitch: int, channel: int = 0) -> bytes:
    return vlq(delta) + bytes([0x80 | channel, pitch, 0])


def note(delta: int, length: int, pitch: int = 60, channel: int = 0) -> bytes:
    return on(delta, pitch, channel=channel) + off(length, pitch, channel)


def meta(delta: int, kind: int, data: bytes = b"") -> bytes:
    return vlq(delta) + bytes([0xFF, kind]) + vlq(len(data)) + data


def name(text: bytes) -> bytes:
    return meta(0, 0x03, text)


def tempo(delta: int, us_per_quarter: int) -> bytes:
    return meta(delta, 0x51, us_per_quarter.to_bytes(3, "big"))


def metre(delta: int, beats: int, power: int) -> bytes:
    return meta(delta, 0x58, bytes([beats, power, 24, 8]))


def program(delta: int, number: int, channel: int = 0) -> bytes:
    return vlq(delta) + bytes([0xC0 | channel, number])


def tracks_of_notes(
    tracks: Sequence[Sequence[tuple[int, int, int, int, int]]], running: bool, zero_offs: bool
) -> bytes:
    """A file from (onset, duration, pitch, velocity, channel) notes by track.

    Offs come before ons at the same tick. With `running`, a status byte is left out where it repeats; with
    `zero_offs`, a note ends by a note-on of velocity 0.
    """
    bodies = []
    for notes in tracks:
        events = [(onset, 1, 0x90 | channel, pitch, velocity) for onset, _, pitch, velocity, channel in notes]
        off_status = 0x90 if zero_offs else 0x80
        events += [
            (onset + duration, 0, off_status | channel, pitch, 0) for onset, duration, pitch, _, channel in notes
        ]
        body, tick, status = b"", 0, -1
        for at, _, event_status, pitch, velocity in sorted(events):
            head = b"" if running and event_status == status else bytes([event_status])
            body += vlq(at - tick) + head + bytes([pitch, velocity])
            tick, status = at, event_status
        bodies.append(body + END)
    return midi_file(*bodies)

"""Rewrites the events of a damaged MIDI track as legal ones, keeping what music needs, and tells each fault.

Only tracks that a strict reader refuses or would misread come here. Kept: notes, programs, pedal, bends,
names, tempo, metre, end of track. Everything else (lyrics, key signatures, system exclusive, other controllers)
is passed over with its time kept.

Source: Standard MIDI Files 1.0 (RP-001), track chunks, from memory: delta time, then a channel message with
running status, a system exclusive (F0 or F7, length, bytes) or a meta event (FF, type, length, bytes).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from pegwright.findings import Finding, Severity
from pegwright.read.midi_chunks import Layout, track_where
from pegwright.units import plural

_TRACK_NAME, _INSTRUMENT_NAME, _END_OF_TRACK, _TEMPO, _METRE, _KEY = 0x03, 0x04, 0x2F, 0x51, 0x58, 0x59
_PEDAL = 64
_BEND_CENTRE = (0, 64)
_MAX_VALUE = 0xFFFFFFF  # the most a length or delta time can hold
_MAX_NAME_BYTES = 1000
_SYSTEM_DATA_BYTES = {0xF1: 1, 0xF2: 2, 0xF3: 1}

NO_END = "midi-no-end"
_FAULTS = {
    NO_END: "tracks without an end of track read to their last event",
    "midi-running-status": "events that go on from an earlier status byte across a meta or system event read that way",
    "midi-data-byte": "data bytes above their bound of 127: a velocity read as 127, other events left out",
    "midi-key-signature": "key signatures that name no key passed over",
    "midi-meta-length": "tempo or metre events of a wrong length read as far as they go",
    "midi-system-event": "system messages, which a file cannot hold, passed over",
    "midi-after-end": "bytes after an end of track left out",
}


class _BreakOff(Exception):  # noqa: N818  # not an error a user meets: it ends the reading of one track
    """The bytes make no further event."""


@dataclass(slots=True)
class _Track:
    """The state of reading one track."""

    body: bytes
    at: int = 0
    tick: int = 0
    written_tick: int = 0
    status: int = 0
    interrupted: bool = False  # a meta or system event came since the status byte
    ended: bool = False
    events: int = 0
    out: bytearray = field(default_factory=bytearray)
    faults: Counter[str] = field(default_factory=Counter)

    def byte(self) -> int:
        if self.at >= len(self.body):
            raise _BreakOff
        self.at += 1
        return self.body[self.at - 1]

    def value(self) -> int:
        """A variable-length number."""
        number = 0
        while True:
            byte = self.byte()
            number = number << 7 | byte & 0x7F
            if number > _MAX_VALUE:
                raise _BreakOff
            if byte < 0x80:
                return number

    def block(self) -> bytes:
        """A length and that many bytes."""
        length = self.value()
        if length > len(self.body) - self.at:
            raise _BreakOff
        self.at += length
        return self.body[self.at - length : self.at]

    def write(self, *event: int) -> None:
        self.out += variable_length(self.tick - self.written_tick)
        self.out += bytes(event)
        self.written_tick = self.tick


def variable_length(value: int) -> bytes:
    """A number as MIDI files write lengths and delta times: 7 bits a byte, all but the last with the top bit set.

    Source: Standard MIDI Files 1.0, variable-length quantity.
    """
    digits = [value & 0x7F]
    while value := value >> 7:
        digits.append(value & 0x7F | 0x80)
    return bytes(reversed(digits))


def mend_tracks(layout: Layout, file_name: str) -> tuple[Layout, tuple[Finding, ...]]:
    """Every track rewritten as legal events.

    Args:
        layout: the file taken apart.
        file_name: for messages.

    Returns:
        A layout that a strict reader takes, its tracks empty where no event could be read; what was mended.
    """
    bodies: list[bytes] = []
    faults: Counter[str] = Counter()
    breaks: list[Finding] = []
    for number, body in enumerate(layout.tracks):
        track, broken = _mended(body)
        bodies.append(bytes(track.out) if track.events else b"")
        faults += track.faults
        if broken is not None:
            lost = len(body) - broken
            message = f"the events break off at byte {broken:,} of the track; {plural(lost, 'byte')} after it left out"
            breaks.append(
                Finding(
                    "midi-track-broken",
                    Severity.MENDED,
                    track_where(file_name, number),
                    message,
                    "export the song again if notes are missing",
                )
            )
    mended = Layout(layout.format, layout.division, tuple(bodies), True, layout.findings)
    return mended, (*told(faults, file_name), *breaks)


def told(faults: Mapping[str, int], file_name: str) -> tuple[Finding, ...]:
    """Findings for faults mended, each with how often it was met."""
    return tuple(
        Finding(code, Severity.MENDED, file_name, text, count=faults[code])
        for code, text in _FAULTS.items()
        if faults.get(code)
    )


def _mended(body: bytes) -> tuple[_Track, int | None]:
    """One track read as far as its events hold, and where they broke off, if they did."""
    track = _Track(body)
    start = 0
    broken = None
    try:
        while track.at < len(body) and not track.ended:
            start, tick = track.at, track.tick
            track.tick += track.value()
            _event(track)
            track.events += 1
    except _BreakOff:
        broken, track.tick = start, tick
    if track.ended:
        track.faults["midi-after-end"] += len(body) - track.at
    elif broken is None:
        track.faults[NO_END] += 1
    track.write(0xFF, _END_OF_TRACK, 0)
    return track, broken


def _event(track: _Track) -> None:
    status = track.byte()
    if status == 0xFF:
        _meta(track)
        track.interrupted = True
    elif status in {0xF0, 0xF7}:
        track.block()
        track.interrupted = True
    elif status > 0xF0:
        for _ in range(_SYSTEM_DATA_BYTES.get(status, 0)):
            track.byte()
        track.faults["midi-system-event"] += 1
        track.interrupted = True
    else:
        if status < 0x80:
            if not track.status:
                raise _BreakOff
            track.at -= 1
            track.faults["midi-running-status"] += track.interrupted
        else:
            track.status = status
        track.interrupted = False
        _channel_message(track, track.status)


def _meta(track: _Track) -> None:
    kind = track.byte()
    data = track.block()
    if kind == _END_OF_TRACK:
        track.ended = True
    elif kind in {_TRACK_NAME, _INSTRUMENT_NAME}:
        name = data[:_MAX_NAME_BYTES]
        track.write(0xFF, kind, *variable_length(len(name)), *name)
    elif kind in {_TEMPO, _METRE}:
        expected, enough, rest = (3, 3, b"") if kind == _TEMPO else (4, 2, bytes((24, 8)))
        track.faults["midi-meta-length"] += len(data) != expected
        if len(data) >= enough:
            track.write(0xFF, kind, expected, *(data[:expected] + rest[len(data) - enough :])[:expected])
    elif kind == _KEY:
        real_key = len(data) >= 2 and (data[0] <= 7 or data[0] >= 249) and data[1] <= 1
        track.faults["midi-key-signature"] += not real_key


def _channel_message(track: _Track, status: int) -> None:
    kind = status & 0xF0
    data = [track.byte() for _ in range(1 if kind in {0xC0, 0xD0} else 2)]
    if any(byte > 127 for byte in data):
        track.faults["midi-data-byte"] += sum(byte > 127 for byte in data)
        if data[0] > 127:  # no such pitch, program or controller
            return
        data[1] = min(data[1], 127)
    bent = kind == 0xE0 and tuple(data) != _BEND_CENTRE
    pedal = kind == 0xB0 and data[0] == _PEDAL
    if kind in {0x80, 0x90, 0xC0} or bent or pedal:
        track.write(status, *data)

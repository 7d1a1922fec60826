"""Finds the events of MIDI tracks, sound or damaged: where each begins, what meta events say, what is wrong.

Channel messages are stepped over here; `events` decodes them all at once.

Source: Standard MIDI Files 1.0 (RP-001), track chunks, from memory: a variable-length delta time, then a channel
message with running status, a system exclusive (F0 or F7, length, bytes) or a meta event (FF, type, length, bytes).
"""

from __future__ import annotations

from array import array
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from pegwright.read.midi.notices import MidiFault

TRACK_NAME, INSTRUMENT_NAME, END_OF_TRACK, TEMPO, METRE, KEY = 0x03, 0x04, 0x2F, 0x51, 0x58, 0x59
_NEEDED_BYTES = {TRACK_NAME: 0, INSTRUMENT_NAME: 0, TEMPO: 3, METRE: 2}  # without which such an event says nothing
_WHOLE_BYTES = {TEMPO: 3, METRE: 4}
_META = 0xFF
_EXCLUSIVE = (0xF0, 0xF7)
_SYSTEM_DATA_BYTES = {0xF1: 1, 0xF2: 2, 0xF3: 1}
_MAX_QUANTITY = 0xFFFFFFF  # the largest length or delta time


class BrokenOff(IndexError):  # noqa: N818  # not an error a user meets: it ends the reading of one track
    """The bytes make no further event. Where they end inside an event, Python raises the IndexError itself."""


@dataclass(slots=True)
class Scan:
    """The whole events of all tracks.

    Args:
        starts: offset of each event in the bytes of its track, track after track; as an array, since a list of a
            million numbers takes long to turn into a column.
        counts: number of events, by track.
        metas: (index into starts, type, data) of the meta events that matter to music.
        faults: how often each fault was met.
        breaks: offset at which a track's events break off, by track.
    """

    starts: array[int] = field(default_factory=lambda: array("i"))
    counts: list[int] = field(default_factory=list)
    metas: list[tuple[int, int, bytes]] = field(default_factory=list)
    faults: Counter[MidiFault] = field(default_factory=Counter)
    breaks: dict[int, int] = field(default_factory=dict)


def scan_tracks(bodies: Sequence[bytes]) -> Scan:
    """Find the events of each track, as far as they hold."""
    scan = Scan()
    for number, body in enumerate(bodies):
        before = len(scan.starts)
        track = _Track(body, scan)
        try:
            track.find_events()
        except IndexError:
            scan.breaks[number] = scan.starts.pop()
        else:
            scan.faults[MidiFault.NO_END] += not track.ended
        scan.counts.append(len(scan.starts) - before)
    return scan


def quantity(data: bytes, at: int) -> tuple[int, int]:
    """The variable-length quantity at an offset, and the offset after it.

    Raises:
        IndexError: the data end inside it, or it exceeds 28 bits.
    """
    value = 0
    while True:
        byte = data[at]
        at += 1
        value = value << 7 | byte & 0x7F
        if value > _MAX_QUANTITY:
            raise BrokenOff
        if byte < 0x80:
            return value, at


@dataclass(slots=True)
class _Track:
    """One track while it is read."""

    body: bytes
    scan: Scan
    interrupted_length: int = 0  # length of data before a meta or system event, which end running status
    ended: bool = False

    def find_events(self) -> None:
        """Add the events to the scan; of one that breaks off, only its start, before IndexError is raised.

        This loop is what reading a file takes most of its time for, so everything that can wait is done later.
        """
        body, add_start = self.body, self.scan.starts.append
        size = len(body)
        at = length = 0  # length of the data that the running status asks for
        while at < size:
            add_start(at)
            if body[at] < 0x80:
                at += 1
            elif body[at + 1] < 0x80:  # a case of its own, since most other delta times are of two bytes
                at += 2
            else:
                _, at = quantity(body, at)
            byte = body[at]
            if byte < 0x80:
                if not length:
                    length = self._resumed_length()
                at += length
            elif byte < 0xC0:  # notes, pressure on a key, controllers
                length = 2
                at += 3
            elif byte < 0xF0:
                length = 1 if byte < 0xE0 else 2
                at += 1 + length
            else:
                if length:
                    self.interrupted_length, length = length, 0
                at = self._after_meta(at + 1) if byte == _META else self._after_system(byte, at + 1)
        if at > size:
            raise BrokenOff

    def _resumed_length(self) -> int:
        if not self.interrupted_length:
            raise BrokenOff
        self.scan.faults[MidiFault.RUNNING_STATUS] += 1
        return self.interrupted_length

    def _after_system(self, status: int, at: int) -> int:
        """Skip the system event whose status byte ends at `at`; returns the offset of the next event."""
        if status in _EXCLUSIVE:
            return self._block(at)[1]
        at += _SYSTEM_DATA_BYTES.get(status, 0)
        if at > len(self.body):
            raise BrokenOff
        self.scan.faults[MidiFault.SYSTEM_EVENT] += 1
        return at

    def _after_meta(self, at: int) -> int:
        """Keep the meta event of the type at `at` if it matters; returns the offset of the next event."""
        kind = self.body[at]
        data, at = self._block(at + 1)
        if kind in _NEEDED_BYTES:
            if len(data) != _WHOLE_BYTES.get(kind, len(data)):
                self.scan.faults[MidiFault.META_LENGTH] += 1
            if len(data) >= _NEEDED_BYTES[kind]:
                self.scan.metas.append((len(self.scan.starts) - 1, kind, data))
        elif kind == END_OF_TRACK:
            self.scan.faults[MidiFault.AFTER_END] += len(self.body) - at
            self.ended = True
            return len(self.body)
        elif kind == KEY:
            if _is_key(data):
                self.scan.metas.append((len(self.scan.starts) - 1, kind, data))
            else:
                self.scan.faults[MidiFault.KEY] += 1
        return at

    def _block(self, at: int) -> tuple[bytes, int]:
        """The bytes behind a length, and the offset after them."""
        length, begin = self.body[at], at + 1
        if length >= 0x80:
            length, begin = quantity(self.body, at)
        end = begin + length
        if end > len(self.body):
            raise BrokenOff
        return self.body[begin:end], end


def _is_key(data: bytes) -> bool:
    """Whether a key signature names a key: -7 to 7 sharps, then 0 for major or 1 for minor."""
    return len(data) >= 2 and (data[0] <= 7 or data[0] >= 249) and data[1] <= 1

"""The chunks of a Standard MIDI File: header and track bodies, found by their content, not by what it claims.

Source: Standard MIDI Files 1.0 (RP-001), chunks and header, from memory: `MThd` length format tracks
division, then `MTrk` length body; a reader skips chunks it does not know and header bytes past the sixth.
"""

from __future__ import annotations

from struct import unpack_from

from pegwright.errors import InputError, check_limit
from pegwright.findings import Notices
from pegwright.formats import MAX_TRACKS
from pegwright.frozen import frozen
from pegwright.read.midi.notices import MidiFault
from pegwright.units import plural

HEADER = b"MThd"
TRACK = b"MTrk"
MAX_LEADING_BYTES = 1024  # a wrapper or transfer header before MThd
_HEADER_LENGTH = 6
_END_OF_TRACK = b"\xff\x2f\x00"


@frozen()
class Layout:
    """A file taken apart.

    Args:
        format: 0, 1 or 2.
        division: the header's 16 bits, unsigned.
        tracks: the bytes of each track's events.
    """

    format: int
    division: int
    tracks: tuple[bytes, ...]


def header_at(data: bytes) -> int:
    """Where the header chunk begins within the first bytes, or -1: other bytes may come before it."""
    if data.startswith(HEADER):
        return 0
    return data.find(HEADER + b"\0\0\0", 0, MAX_LEADING_BYTES + len(HEADER) + 3)


def read_layout(data: bytes, faults: Notices) -> Layout:
    """Take a MIDI file apart.

    Args:
        data: the file; a RIFF wrapper or other bytes may come before the header.
        faults: counts what was mended.

    Returns:
        The layout, its tracks in file order.

    Raises:
        InputError: no header, no track, too many tracks, or a format of time that does not exist.
    """
    start = header_at(data)
    if start < 0 or len(data) < start + 8 + _HEADER_LENGTH:
        raise InputError(
            f"a MIDI file begins with a header of 14 bytes; {plural(len(data), 'byte')} and no whole header found",
            where=faults.file,
            hint="export the song again; the file is cut short or is not a MIDI file",
        )
    wrapped_bytes = int.from_bytes(data[start - 4 : start], "little") if start >= 8 else 0
    if data.startswith(b"RIFF") and data.startswith(b"data", max(0, start - 8)) and wrapped_bytes > 8 + _HEADER_LENGTH:
        data = data[: start + wrapped_bytes]
    elif start:
        faults.add(MidiFault.LEADING_BYTES, skipped=plural(start, "byte"))
    claimed, form, count, division = unpack_from(">IHHH", data, start + 4)
    body = start + 8 + claimed
    if claimed < _HEADER_LENGTH or not (body == len(data) or _is_chunk(data, body)):
        faults.add(MidiFault.HEADER_LENGTH, claimed=claimed)
        body = start + 8 + _HEADER_LENGTH
    tracks, stray = _track_bodies(data, body)
    misfit = _misfit(form, len(tracks))
    faults.add(MidiFault.FORMAT, bool(misfit), form=form, misfit=misfit)
    faults.add(MidiFault.STRAY_BYTES, stray > 0, stray=plural(stray, "byte"))
    faults.add(MidiFault.TRACK_COUNT, len(tracks) != count, promised=plural(count, "track"), read=len(tracks))
    _check(tracks, division, faults.file)
    return Layout(1 if misfit else form, division, tuple(tracks))


def _misfit(form: int, tracks: int) -> str:
    """Why a file cannot be of a format; empty if it can."""
    if form > 2:
        return "does not exist"
    return f"has one track, not {tracks:,}" if form == 0 and tracks > 1 else ""


def _check(tracks: list[bytes], division: int, where: str) -> None:
    hint = "export the song again as a MIDI file"
    if not any(tracks):
        raise InputError("no track with any event in it; at least 1 is needed", where=where, hint=hint)
    check_limit(len(tracks), MAX_TRACKS, "tracks", where, "join tracks and export again")
    if division == 0:
        raise InputError("0 ticks per quarter note; from 1 to 32,767 are possible", where=where, hint=hint)
    if division & 0x8000 and (256 - (division >> 8) not in (24, 25, 29, 30) or not division & 0xFF):
        raise InputError(
            f"time in {256 - (division >> 8)} frames a second of {division & 0xFF} ticks; "
            "24, 25, 29 or 30 frames of 1 to 255 ticks are possible",
            where=where,
            hint=hint,
        )


def _track_bodies(data: bytes, at: int) -> tuple[list[bytes], int]:
    """Bodies of all track chunks from `at` on, and how many bytes were stray."""
    bodies: list[bytes] = []
    stray, size = 0, len(data)
    while at < size:
        name = data[at : at + 4]
        if name == TRACK and at + 8 <= size:
            (length,) = unpack_from(">I", data, at + 4)
            begin, end = at + 8, at + 8 + length
            if not _ends_well(data, end):
                following = data.find(TRACK, begin)
                end = following if following >= 0 else size
            bodies.append(data[begin:end])
            at = end
        elif name != TRACK and _is_chunk(data, at):
            at = _chunk_end(data, at)
        else:
            following = data.find(TRACK, at + 1)
            skip_to = following if following >= 0 else size
            stray += skip_to - at
            at = skip_to
    return bodies, stray


def _is_chunk(data: bytes, at: int) -> bool:
    """Whether a track begins at `at`, or an unknown chunk that the file holds whole."""
    name = data[at : at + 4]
    return name == TRACK or (len(name) == 4 and name.isalnum() and _chunk_end(data, at) <= len(data))


def _chunk_end(data: bytes, at: int) -> int:
    return at + 8 + int.from_bytes(data[at + 4 : at + 8], "big") if at + 8 <= len(data) else len(data) + 1


def _ends_well(data: bytes, end: int) -> bool:
    """Whether a chunk can end at `end`: the file does, another chunk begins, or an end of track was just before."""
    if end >= len(data):
        return end == len(data)
    return _is_chunk(data, end) or data.endswith(_END_OF_TRACK, 0, end)

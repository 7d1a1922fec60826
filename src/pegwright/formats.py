"""Kinds of files, and bounds on what is read of a score, so that no file can exhaust the machine.

Each bound is given in the error that it causes.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from enum import StrEnum

SCORE_SUFFIXES = (".mid", ".midi", ".kar", ".rmi", ".xml", ".musicxml", ".mxl", ".abc", ".krn", ".mei")
PLATE_CSV, NAME_FOLDER = "this is a plate's CSV", "name its folder"  # where a song or a map is expected
PIN_MAP = "a pin map, not a score: its notes are placed already"
TAKEN_AS_IT_IS = "`hear`, `pin` and `swap` take it as it is, and `pegwright check` checks it"
MAX_FILE_BYTES = 64 * 2**20  # any score file
MAX_MIDI_BYTES = 4 * 2**20  # a MIDI file: at most 1.4 million events of 3 bytes, about 0.5 GB while they are decoded
MAX_TRACKS = 1_000
MAX_NOTES = 500_000  # a wheel holds some thousands of pins
MAX_RESOLUTION = 2**31  # ticks per quarter; with the longest song it stays inside 64 bits
MAX_QUARTERS = 100_000  # 14 hours at 120 a minute
MAX_BARS = 100_000
MAX_NAME_CHARS = 200

_HEAD_BYTES = 4096
_SCORES = (b"<score-partwise", b"<score-timewise", b"<mei", b"score-partwise>", b"score-timewise>")


class Format(StrEnum):
    """A kind of score file; ABC, **kern and MEI by the names that music21 has for them."""

    MIDI = "midi"
    MUSICXML = "musicxml"
    MXL = "mxl"  # MusicXML in a Zip archive
    ABC = "abc"
    KERN = "humdrum"  # Humdrum **kern
    MEI = "mei"


OTHER = frozenset({Format.ABC, Format.KERN, Format.MEI})  # read through a library that is an optional extra


def song_kind(data: bytes) -> str:
    """What kind of song a file is, judged by its beginning; empty if it is none."""
    head = data[:_HEAD_BYTES]
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if head.startswith(b"MThd") or (head.startswith(b"RIFF") and head[8:12] == b"RMID"):
        return "MIDI"
    if head.startswith(b"PK\x03\x04"):
        return "a packed score"
    plain = text.replace(b"\0", b"")  # of UTF-16 as well
    if plain.lstrip(b"\xff\xfe").startswith(b"<"):
        return "MusicXML or MEI" if any(mark in plain for mark in _SCORES) else "XML"
    if text.startswith((b"**kern", b"!!!")) or b"\n**kern" in text:
        return "Humdrum **kern"
    return "ABC" if text.startswith((b"X:", b"%abc")) else ""


def is_plate_csv(data: bytes) -> bool:
    """Whether a file is the CSV of a plate, judged by its header."""
    text = data[:_HEAD_BYTES].replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe")  # of UTF-16 as well
    lines = text.lower().splitlines()
    head = next((line for line in lines if not line.startswith(b"sep=")), b"")
    names = {name.strip(b" '\"") for name in re.split(rb"[,;\t]", head)}
    return b"plate" in names and not {b"channel", b"channel_name"}.isdisjoint(names)


def is_song_set(values: Mapping[str, object]) -> bool:
    """Whether the values of a TOML file are those of a song set."""
    return isinstance(values.get("song"), list)


def is_song_file(values: Mapping[str, object]) -> bool:
    """Whether the values of a TOML file are those of a song file."""
    return isinstance(values.get("score"), str) and not is_song_set(values) and not is_wheel_file(values)


def is_wheel_file(values: Mapping[str, object]) -> bool:
    """Whether the values of a TOML file are those of a wheel."""
    return isinstance(values.get("wheel"), dict) and ("channel" in values or "channels" in values)


def is_plate_file(values: Mapping[str, object]) -> bool:
    """Whether the values of a TOML file are those of plates to be made."""
    return isinstance(values.get("sheet"), dict) and isinstance(values.get("machine", {}), dict)

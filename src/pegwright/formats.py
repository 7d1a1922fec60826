"""Kinds of score files, and bounds on what is read of one, so that no file can exhaust the machine.

Each bound is given in the error that it causes.
"""

from __future__ import annotations

from enum import StrEnum

SCORE_SUFFIXES = (".mid", ".midi", ".kar", ".rmi", ".xml", ".musicxml", ".mxl", ".abc", ".krn", ".mei")
MAX_FILE_BYTES = 64 * 2**20  # any score file
MAX_MIDI_BYTES = 4 * 2**20  # a MIDI file: at most 1.4 million events of 3 bytes, about 0.5 GB while they are decoded
MAX_TRACKS = 1_000
MAX_NOTES = 500_000  # a wheel holds some thousands of pins
MAX_RESOLUTION = 2**31  # ticks per quarter; with the longest song it stays inside 64 bits
MAX_QUARTERS = 100_000  # 14 hours at 120 a minute
MAX_BARS = 100_000
MAX_NAME_CHARS = 200


class Format(StrEnum):
    """A kind of score file; ABC, **kern and MEI by the names that music21 has for them."""

    MIDI = "midi"
    MUSICXML = "musicxml"
    MXL = "mxl"  # MusicXML in a Zip archive
    ABC = "abc"
    KERN = "humdrum"  # Humdrum **kern
    MEI = "mei"


OTHER = frozenset({Format.ABC, Format.KERN, Format.MEI})  # read through a library that is an optional extra

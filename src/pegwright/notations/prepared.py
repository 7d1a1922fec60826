"""A text made ready for the library, and what is put back after it: values that the three notations share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import Enum, auto
from fractions import Fraction

from pegwright.findings import Notices
from pegwright.frozen import frozen

MAX_SONG_CHARACTERS = 2**18  # of ABC and **kern: the library takes a second for every 5,000 to 10,000


class Drums(Enum):
    """What the pitches of a part stand for."""

    NONE = auto()
    KEYS = auto()  # General MIDI percussion keys
    PLACES = auto()  # places on a staff, as if under a treble clef


@dataclass(slots=True)
class PartExtra:
    """What is put back for one part.

    Args:
        name: empty to keep the library's.
        semitones: added to every pitch.
        drums: what its pitches stand for.
    """

    name: str = ""
    semitones: int = 0
    drums: Drums = Drums.NONE


@dataclass(slots=True)
class BarExtra:
    """What is put back for one bar.

    Args:
        label: its number as printed, empty to keep the library's.
        tempi: (quarters into the bar, quarter notes a minute).
        words: printed words that may ask for a jump.
        ending: numbers of the ending that begins here, as text such as `1, 2`; empty for none.
        ending_stops: an ending stops with this bar.
    """

    label: str = ""
    tempi: list[tuple[Fraction, Fraction]] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    ending: str = ""
    ending_stops: bool = False


@frozen()
class Prepared:
    """One song as the library can read it.

    Args:
        text: of the one song.
        note_count: note heads in the text, each of a tied chain counted.
        tie_count: how many of them continue a tie.
        losses: what this route loses, counted; with the name of the file.
        title: empty for none.
        parts: in the order of the library; empty to keep all as it is.
        bars: in the order of the file; empty to keep all as it is.
        tempo: quarter notes a minute from the beginning; None where it is with the bars, the library's or not stated.
    """

    text: str
    note_count: int
    tie_count: int
    losses: Notices
    title: str = ""
    parts: Sequence[PartExtra] = ()
    bars: Sequence[BarExtra] = ()
    tempo: Fraction | None = None

"""The songs' own small notation, and the values it becomes.

A voice is text. Bars are parted by `|`; inside a bar stand tokens:

    C5q        a note: pitch name with middle C as C4, then its length
    C5+E5h.    notes struck together; a dot or two after the length
    SNe        a drum: BD bass drum, SN snare, WB wood block, TB tambourine, TR triangle
    -e         a rest; `_` alone rests a whole bar
    ~q         the note before goes on, tied
    C5q!       an accent
    [mf]       loudness from here on
    3:2(C5e D5 E5)   three in the time of two

Lengths are w h q e s t x: whole, half, quarter, eighth, sixteenth, 32nd, 64th. A token without
one takes the length before it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

LENGTHS = {
    "w": Fraction(4),
    "h": Fraction(2),
    "q": Fraction(1),
    "e": Fraction(1, 2),
    "s": Fraction(1, 4),
    "t": Fraction(1, 8),
    "x": Fraction(1, 16),
}
DRUM_KEYS = {"BD": 36, "SN": 38, "WB": 76, "TB": 54, "TR": 81}  # General MIDI percussion map
LOUDNESS = {"pp": 44, "p": 56, "mp": 68, "mf": 80, "f": 94, "ff": 108}  # MIDI velocities
_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NAME = r"(?:[A-G][#b]?\d|BD|SN|WB|TB|TR)"
_TOKEN = re.compile(
    r"(?P<bar>\|)|\[(?P<loud>\w+)\]|(?P<actual>\d):(?P<normal>\d)\(|(?P<close>\))"
    rf"|(?P<what>_|-|~|{_NAME}(?:\+{_NAME})*)(?:(?P<length>[whqestx])(?P<dots>\.*))?(?P<accent>!?)"
)


@dataclass(frozen=True, slots=True)
class Event:
    """One written note, chord or rest.

    Args:
        names: what is struck, as written; empty for a rest.
        onset: from the start of its bar, in quarters.
        length: how long it lasts, in quarters, tuplet reckoned in.
        letter, dots: its written length; letter is empty for a whole-bar rest.
        tuplet: (notes played, in the time of), or None.
        opens, closes: it begins or ends the tuplet.
        tied: it goes on from the event before; `ties` that the next goes on from it.
        accent: it is accented.
        loudness: a mark that stands here, or empty.
    """

    names: tuple[str, ...]
    onset: Fraction
    length: Fraction
    letter: str
    dots: int = 0
    tuplet: tuple[int, int] | None = None
    opens: bool = False
    closes: bool = False
    tied: bool = False
    ties: bool = False
    accent: bool = False
    loudness: str = ""


@dataclass(frozen=True, slots=True)
class Sound:
    """What a voice is played on: a name and a General MIDI program (0-based), or the drum kit."""

    name: str
    program: int
    drums: bool = False
    softer: int = 0  # taken from every velocity, so that the tune stays in front


CHIMES = Sound("Glockenspiel", 9)
LOW_CHIMES = Sound("Tubular bells", 14, softer=14)
PLUCKED_BASS = Sound("Pizzicato strings", 45, softer=4)
UPRIGHT_BASS = Sound("Acoustic bass", 32, softer=4)
DRUMS = Sound("Percussion", 0, drums=True, softer=10)


@dataclass(frozen=True, slots=True)
class Voice:
    """One part of a piece: its name, what plays it, and its text."""

    name: str
    sound: Sound
    text: str


@dataclass(frozen=True, slots=True)
class Piece:
    """A whole piece as written, repeats not played out.

    Args:
        file: name of the file to write; its ending chooses the format.
        title: for the heading.
        metre: such as (6, 8).
        fifths, mode: key signature as sharps, and the mode in MusicXML's words.
        tempo: quarter notes a minute; `tempo_beat` is the note the score's mark counts.
        voices: the parts, top first.
        bar_lengths: bars, by 0-based index, that are shorter than the metre, in quarters.
        repeats: bars that a sign stands on, by 0-based index: any of `open`, `close`,
            `ending 1`, `ending 2`, `fine`, `da capo`.
        midi_format, division: of a MIDI file; ticks a quarter note.
    """

    file: str
    title: str
    metre: tuple[int, int]
    fifths: int
    mode: str
    tempo: int
    voices: tuple[Voice, ...]
    tempo_beat: str = "q"
    bar_lengths: Mapping[int, Fraction] = field(default_factory=dict)
    repeats: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    midi_format: int = 1
    division: int = 480

    @property
    def bar_quarters(self) -> Fraction:
        """A full bar in quarters."""
        return Fraction(4 * self.metre[0], self.metre[1])

    def bar_length(self, bar: int) -> Fraction:
        """Bar number `bar` (0-based) in quarters."""
        return self.bar_lengths.get(bar, self.bar_quarters)

    def bars(self, voice: Voice) -> tuple[tuple[Event, ...], ...]:
        """The voice's events, bar by bar; ValueError where a bar is not as long as it must be."""
        bars = _with_ties(list(_bars(voice.text, self)))
        for number, bar in enumerate(bars):
            length = sum((event.length for event in bar), Fraction(0))
            if length != self.bar_length(number):
                raise ValueError(
                    f"{self.title}, {voice.name}, bar {number + 1}: {length} quarters, not {self.bar_length(number)}"
                )
        return bars


def lines(*texts: str) -> str:
    """Several stretches of bars as one."""
    return " | ".join(texts)


def times(count: int, text: str) -> str:
    """The same bars `count` times over."""
    return lines(*[text] * count)


def length_of(letter: str, dots: int) -> Fraction:
    """A written length in quarters."""
    return LENGTHS[letter] * (2 - Fraction(1, 2**dots))


def midi_key(name: str) -> int:
    """MIDI pitch of a pitch name, or General MIDI percussion key of a drum."""
    if name in DRUM_KEYS:
        return DRUM_KEYS[name]
    return _SEMITONES[name[0]] + alteration(name) + 12 * (int(name[-1]) + 1)


def alteration(name: str) -> int:
    """Semitones that the sharp or flat in a pitch name adds."""
    return name.count("#") - name.count("b")


def _bars(text: str, piece: Piece) -> Iterator[list[Event]]:
    bar: list[Event] = []
    number, letter, dots, loudness = 0, "q", 0, ""
    tuplet: tuple[int, int] | None = None
    opens = False
    for token in re.findall(r"\||\[\w+\]|\d:\d\(|\)|[^\s|()]+", text):
        match = _TOKEN.fullmatch(token)
        if match is None:
            raise ValueError(f"{piece.title}, bar {number + 1}: cannot read {token!r}")
        if match["bar"]:
            yield bar
            bar, number = [], number + 1
        elif match["loud"]:
            loudness = match["loud"]
        elif match["actual"]:
            tuplet, opens = (int(match["actual"]), int(match["normal"])), True
        elif match["close"]:
            bar[-1], tuplet = replace(bar[-1], closes=True), None
        else:
            if match["length"]:
                letter, dots = match["length"], len(match["dots"])
            onset = sum((event.length for event in bar), Fraction(0))
            event = _event(match, onset, letter, dots, piece.bar_length(number))
            if tuplet:
                event = replace(event, tuplet=tuplet, opens=opens, length=event.length * tuplet[1] / tuplet[0])
            bar.append(replace(event, loudness=loudness))
            loudness, opens = "", False
    yield bar


def _event(match: re.Match[str], onset: Fraction, letter: str, dots: int, bar_length: Fraction) -> Event:
    what = match["what"]
    if what == "_":
        return Event((), onset, bar_length, "")
    names = () if what in "-~" else tuple(what.split("+"))
    return Event(names, onset, length_of(letter, dots), letter, dots, tied=what == "~", accent=bool(match["accent"]))


def _with_ties(bars: list[list[Event]]) -> tuple[tuple[Event, ...], ...]:
    previous: tuple[int, int] | None = None
    for number, bar in enumerate(bars):
        for place, event in enumerate(bar):
            if event.tied:
                if previous is None:
                    raise ValueError("nothing to tie to")
                before = bars[previous[0]][previous[1]]
                bars[previous[0]][previous[1]] = replace(before, ties=True)
                bar[place] = replace(event, names=before.names)
            previous = (number, place)
    return tuple(tuple(bar) for bar in bars)

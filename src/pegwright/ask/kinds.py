"""The kinds of values that options of a song take, with their bounds; `what` ends the hint that asks for one."""

from __future__ import annotations

from fractions import Fraction
from typing import Generic, TypeVar

from pegwright.frozen import frozen

Bound = TypeVar("Bound", int, float, Fraction)


class OptionKind:
    """A kind of value; `cli/kinds.py` and `config/song_checks.py` have what reads each."""


@frozen()
class Bounded(OptionKind, Generic[Bound]):
    """A number within bounds."""

    minimum: Bound
    maximum: Bound
    what: str


class Whole(Bounded[int]):
    """A whole number."""


class Number(Bounded[float]):
    """A decimal number."""


class Exact(Bounded[Fraction]):
    """A fraction, kept exact."""


@frozen()
class TurnStep(OptionKind):
    """A step of the turn, counted from 1; a fraction lies between steps. `maximum` applies where no wheel is known."""

    maximum: int


@frozen()
class NoteValue(OptionKind):
    """A share of a whole note with 1 above the line, between these."""

    coarsest: int
    finest: int


@frozen()
class Ratio(OptionKind):
    """A ratio such as 2:1, its numbers together at most `max_parts`, or one of some words."""

    max_parts: int
    words: tuple[str, ...] = ()


@frozen()
class Ticks(OptionKind):
    """`auto`, or up to `maximum` of the file's ticks either way."""

    maximum: int


class BarRange(OptionKind):
    """A range of bars as played, counted from 1, or a single one."""


class Beats(OptionKind):
    """How the beat of a song played by hand is known."""


class Flag(OptionKind):
    """Given or not given."""


@frozen()
class WordChoice(OptionKind):
    """One of some words, each a `what`."""

    words: tuple[str, ...]
    what: str
    any_case: bool = False


@frozen()
class TextLine(OptionKind):
    """A line of text."""

    what: str


class NamePatterns(OptionKind):
    """Names of parts, or patterns of them such as `String*`; may be given several times."""


class NoteEdits(OptionKind):
    """Edits of single notes, as `note_edits.py` reads them; may be given several times."""


@frozen()
class BeatShifts(OptionKind):
    """Places from which on the beat is read otherwise, as `beat_shifts.py` reads them; may be given several times."""


@frozen()
class OrAuto(OptionKind):
    """A value, or `auto`: the best is searched for, in the range that the field `searched` of a `SearchRange` gives."""

    inner: Whole | TurnStep
    searched: str


@frozen()
class NamedValues(OptionKind):
    """Names with a value each; a name is a part, or a number within `key`. `json` holds the JSON keys of the two."""

    value: Whole | TextLine
    key: Whole | None = None
    json: tuple[str, str] = ("", "")


MOVE = Whole(-127, 127, "in semitones")
PRIORITY = Whole(1, 99, "the weight of a part, others having 1")
DRUM_KEY = Whole(0, 127, "a General MIDI percussion key")
GRAIN = NoteValue(coarsest=8, finest=128)
STRAIGHT = "straight"  # written-out swing is played even
SWING = Ratio(max_parts=100, words=(STRAIGHT,))  # of a quarter; a finer ratio would make steps too small to be heard

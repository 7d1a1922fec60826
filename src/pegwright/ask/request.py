"""The request for one song: changes to the music, options of the fit, and the range of a search.

The command line and the song set file both make a `Request`, so the same words mean the same in both.
"""

from __future__ import annotations

import re
from dataclasses import field
from enum import StrEnum
from fractions import Fraction
from pathlib import Path

from pegwright.ask.beat_shifts import BeatShift
from pegwright.ask.kinds import STRAIGHT
from pegwright.ask.note_edits import NoteEdit
from pegwright.ask.options import FitOptions, SearchRange, check_unique
from pegwright.errors import UsageError
from pegwright.frozen import frozen


class Beat(StrEnum):
    """How far the given beats are to be trusted.

    >>> Played(Beat.FIND).beat.value
    'find'
    """

    KEEP = "keep"  # they are the player's beats
    FOLLOW = "follow"  # they hold at the beginning; then the notes lead
    FIND = "find"  # nothing is known


AUTO = "auto"
SEMITONES = 12  # either way, where a transposition is searched for and no range is given
BEATS_FORMS = (*Beat, "a tempo such as 92", "part:NAME", "FILE.csv")
SLOWEST_START, FASTEST_START = 20, 400  # quarter notes a minute
SUBDIVISIONS = {"eighths": (2,), "sixteenths": (4,), "32nds": (8,), "triplets": (6,), "sixteenths+triplets": (4, 6)}
METRES = ("2/4", "3/4", "4/4", "5/4", "6/4", "2/2", "3/2", "3/8", "6/8", "9/8", "12/8")
MAX_BEAT = 13  # of a bar, below which a song begins
_TAPPED = "part:"
_TEMPO = re.compile(r"[+-]?\d{1,6}(\.\d{1,6})?")
_MARKS_OF_A_FILE = "./\\"


@frozen()
class Played:
    """How the beat of a song played by hand is known.

    Args:
        beat: how far the beats given, or the file's own tempo, are to be trusted.
        beats_file: a CSV file of beats, or None.
        tapped_part: the part in which the beat was tapped, which is then taken out of the song, or None.
        start_tempo: quarter notes a minute at the first note, where the file does not state them, or None.

    >>> played_without_a_click = Request(played=Played(Beat.FIND))
    >>> tapped_along = Request(played=Played(Beat.KEEP, tapped_part="Foot"))
    """

    beat: Beat = Beat.FOLLOW
    beats_file: Path | None = None
    tapped_part: str | None = None
    start_tempo: Fraction | None = None

    @property
    def in_own_quarters(self) -> bool:
        """Whether the file's own quarters are kept, and so its bars."""
        given = self.beats_file, self.tapped_part, self.start_tempo
        return self.beat is not Beat.FIND and all(each is None for each in given)

    def __str__(self) -> str:
        """As a user writes it; a file by its name alone."""
        if self.beats_file is not None:
            return self.beats_file.name
        if self.start_tempo is not None:
            return f"{float(self.start_tempo):.9g}"  # every digit that was given
        return str(self.beat) if self.tapped_part is None else f"{_TAPPED}{self.tapped_part}"


@frozen()
class Request:
    """The options for one song.

    Args:
        bars: first and last bar to take, as played, counted from 1; None takes the whole song.
        offset: `auto` takes out a constant lateness; a number of the file's ticks takes out that
            many; None leaves onsets as they are.
        played: how the beat of a song played by hand is known (see `Played`); None takes onsets as written.
        part_semitones: parts to transpose by themselves, with the semitones.
        swing: ratio of the first eighth of a pair to the second; `straight` plays triplets that are written long and
            short as even eighths; None plays what is written and marked.
        most_at_once: thin the texture to this maximum of notes that begin together; None leaves it.
        options: for the fit itself.
        search: transpositions and starts to search for the best; None takes those of the options.
        report_best: how many of the best transpositions a search reports.
        ornaments: quarters from strike to strike of trills, mordents, turns and tremolos; None leaves them plain.
        turns: maximum of turns of the song; notes after them are left out. None takes all.
        whole_bars: cut a song of several turns at whole bars, as many as a turn holds; else exactly at the turn.
        only: names of the parts to take, or patterns of them such as `String*`; empty takes all.
        without: names of parts to leave out, or patterns of them; of those that `only` takes.
        skip_silence: leave out the bars of silence before the first note.
        note_edits: edits of single notes of the score as it is written.
        subdivisions: what a song played by hand divides quarters into, a key of `SUBDIVISIONS`; None finds it out.
        metre: of a song played by hand whose bars are not the file's, such as `3/4`; None counts them in 4/4.
        first_note: beat of the bar, from 1, on which a song played by hand begins; None leaves it as it was found.
        plate_set: the set of plates, 0-based, whose holes it may use; None takes the holes that every set has.
        beat_shifts: places from which on the beat of a song played by hand is read earlier or later, one after another.

    Raises:
        UsageError: a part is moved twice, or a value is out of its bounds; what the song or the wheel decides is
            checked when they are known.

    >>> from pegwright import FitOptions, SearchRange
    >>> first_half_faster = Request(bars=(1, 8), options=FitOptions(us_per_quarter=400_000))
    >>> best_place = Request(search=SearchRange(semitones=12, every_steps=1), report_best=5)
    """

    bars: tuple[int, int] | None = None
    offset: int | str | None = None
    played: Played | None = None
    part_semitones: tuple[tuple[str, int], ...] = ()
    swing: Fraction | str | None = None
    most_at_once: int | None = None
    options: FitOptions = field(default_factory=FitOptions)
    search: SearchRange | None = None
    report_best: int = 1
    ornaments: Fraction | None = None
    turns: int | None = None
    whole_bars: bool = False
    only: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    skip_silence: bool = False
    note_edits: tuple[NoteEdit, ...] = ()
    subdivisions: str | None = None
    metre: str | None = None
    first_note: Fraction | None = None
    plate_set: int | None = None
    beat_shifts: tuple[BeatShift, ...] = ()

    def __post_init__(self) -> None:
        check_unique("part", [name for name, _ in self.part_semitones], "moved")
        _at_least_1("turns to take", self.turns)
        _at_least_1("transpositions to report", self.report_best)
        if isinstance(self.offset, str) and self.offset != AUTO:
            raise UsageError(f"offset {self.offset!r} is not a number of ticks", hint=f"give a number, or {AUTO!r}")
        if isinstance(self.swing, str) and self.swing != STRAIGHT:
            raise UsageError(f"swing {self.swing!r} is not a ratio", hint=f"give a ratio, or {STRAIGHT!r}")

    @property
    def start_free(self) -> bool:
        """Whether the start on the turn is searched for."""
        return self.search is not None and self.search.every_steps > 0


def _at_least_1(what: str, value: int | None) -> None:
    if value is not None and value < 1:
        raise UsageError(f"{what}: {value} is below 1, the minimum", hint="give 1 or more")


PLAIN = Request()  # the song as it is written, from the first step


def played_by(words: str, folder: Path) -> Played:
    """How a beat is known, from the text of an option: `follow`, `keep`, `find`, a tempo, `part:NAME` or a CSV file.

    Args:
        words: one of those; a file's name has a point or a slash in it, beside digits.
        folder: the path of a file is relative to this.

    Raises:
        UsageError: it is none of those, or a tempo at which nobody plays.
    """
    text = words.strip()
    if text.lower() in tuple(Beat):
        return Played(Beat(text.lower()))
    if _TEMPO.fullmatch(text):
        tempo = Fraction(text)
        if not SLOWEST_START <= tempo <= FASTEST_START:
            fault = f"a beat of {text} quarter notes a minute is outside {SLOWEST_START} to {FASTEST_START}"
            raise UsageError(fault, hint="give the tempo at the first note, in quarter notes a minute")
        return Played(start_tempo=tempo)
    if text.startswith(_TAPPED) and text.removeprefix(_TAPPED).strip():
        return Played(Beat.KEEP, tapped_part=text.removeprefix(_TAPPED).strip())
    if text.isprintable() and any(mark in text for mark in _MARKS_OF_A_FILE):
        return Played(Beat.KEEP, beats_file=folder / text)
    raise UsageError(f"{words[:40]!r} is not a way to know the beat", hint=f"give {', '.join(BEATS_FORMS)}")

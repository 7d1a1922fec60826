"""What a maker asks of one song: changes to the music, how to fit it, and what to search.

The command line and the song set file both make a `Request`, so the same words mean the same in both.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from pegwright.errors import UsageError
from pegwright.fit.best import SearchRange
from pegwright.fit.options import FitOptions
from pegwright.fit.performed import Beat

AUTO = "auto"
SEMITONES = 12  # either way, where a transposition is searched for and no range is given
BEATS_FORMS = (*Beat, "part:NAME", "FILE.csv")
_TAPPED = "part:"
_MARKS_OF_A_FILE = "./\\"


@dataclass(frozen=True, slots=True)
class Played:
    """How the beat of a song played by hand is known.

    Args:
        beat: how far the beats given, or the file's own tempo, are to be trusted.
        beats_file: a CSV file of beats, or None.
        tapped_part: the part in which the beat was tapped, which is then taken out of the song, or None.
    """

    beat: Beat = Beat.FOLLOW
    beats_file: Path | None = None
    tapped_part: str | None = None

    @property
    def words(self) -> str:
        """As a maker writes it; a file by its name alone."""
        if self.beats_file is not None:
            return self.beats_file.name
        return str(self.beat) if self.tapped_part is None else f"{_TAPPED}{self.tapped_part}"


@dataclass(frozen=True, slots=True)
class Request:
    """What the user asked of one song.

    Args:
        bars: first and last bar to take, as played, counted from 1; None takes the whole song.
        offset: `auto` takes out a constant lateness; a number of the file's ticks takes out that
            many; None leaves onsets as they are.
        played: how the beat of a song played by hand is known (see `Played`); None takes onsets as written.
        part_semitones: parts to transpose by themselves, with the semitones.
        swing: ratio of the first eighth of a pair to the second; None plays them even.
        most_at_once: thin the texture to so many notes beginning together; None leaves it.
        options: for the fit itself.
        search: transpositions and starts to search for the best; None takes those of the options.
        report_best: how many of the best transpositions a search reports.
        ornaments: quarters from strike to strike of trills, mordents, turns and tremolos; None leaves them plain.

    Raises:
        UsageError: a part is moved twice.
    """

    bars: tuple[int, int] | None = None
    offset: int | str | None = None
    played: Played | None = None
    part_semitones: tuple[tuple[str, int], ...] = ()
    swing: Fraction | None = None
    most_at_once: int | None = None
    options: FitOptions = field(default_factory=FitOptions)
    search: SearchRange | None = None
    report_best: int = 1
    ornaments: Fraction | None = None

    def __post_init__(self) -> None:
        names = [name for name, _ in self.part_semitones]
        for place, name in enumerate(names):
            if name in names[:place]:
                raise UsageError(f"part {name!r} is moved twice", hint="keep one of the two")

    @property
    def transpose_free(self) -> bool:
        """Whether the best transposition is to be found."""
        return self.search is not None and self.search.semitones > 0

    @property
    def start_free(self) -> bool:
        """Whether the start on the turn is to be found."""
        return self.search is not None and self.search.every_steps > 0


PLAIN = Request()  # the song as it is written, from the first step


def search_of(semitones: int, every_steps: int) -> SearchRange | None:
    """What to search; None where both are 0, which keeps transposition and start as asked for."""
    return SearchRange(semitones, every_steps) if semitones or every_steps else None


def played_by(words: str, folder: Path) -> Played:
    """How a beat is known, from what a maker writes: `follow`, `keep`, `find`, `part:NAME` or a CSV file.

    Args:
        words: one of those; a file's name has a point or a slash in it.
        folder: what the path of a file starts from.

    Raises:
        UsageError: it is none of those.
    """
    text = words.strip()
    if text in tuple(Beat):
        return Played(Beat(text))
    if text.startswith(_TAPPED) and text.removeprefix(_TAPPED).strip():
        return Played(Beat.KEEP, tapped_part=text.removeprefix(_TAPPED).strip())
    if text.isprintable() and any(mark in text for mark in _MARKS_OF_A_FILE):
        return Played(Beat.KEEP, beats_file=folder / text)
    raise UsageError(f"{words[:40]!r} is no way to know the beat", hint=f"give {', '.join(BEATS_FORMS)}")

"""Changes that may help a song on a wheel: what each is, which option makes it, and how it is applied."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from enum import IntEnum, StrEnum
from fractions import Fraction
from shlex import quote
from typing import Protocol

from pegwright.ask.kinds import STRAIGHT
from pegwright.ask.note_edits import NoteEdit
from pegwright.ask.options import FitOptions
from pegwright.ask.request import Played, Request
from pegwright.edit.parts import move_part
from pegwright.frozen import frozen
from pegwright.percussion import drum_key_name
from pegwright.score import Score
from pegwright.units import fraction_text, plural, printed, quarters_per_minute
from pegwright.wheel import Wheel

SEMITONES_PER_OCTAVE = 12


class ChangeKind(IntEnum):
    """Kinds of change, those that alter the music least first. Changes of one kind exclude each other."""

    START = 0
    DRUM = 1
    TEMPO = 2
    TRANSPOSE = 3
    PART = 4
    FOLD = 5
    REACH = 6
    RHYTHM = 7


@frozen()
class Change:
    """One change.

    Args:
        kind: see there.
        words: what is done, for people: `start on step 3 of the turn`.
        typed: the option that does it: `--start 3`.
        size: how far it goes, to rank changes of one kind; 0 and above.
        fields: names and values of `FitOptions` that it sets.
        part: a part and the semitones it is moved by, or None.
        note_edits: of the score as it is written; `apply_changes` does not make them.
    """

    kind: ChangeKind
    words: str
    typed: str
    size: float
    fields: tuple[tuple[str, object], ...] = ()
    part: tuple[str, int] | None = None
    note_edits: tuple[NoteEdit, ...] = ()


class SongEdit(StrEnum):
    """What is tried on the whole song before it is fitted: the option that does it."""

    PERFORMED = "--performed"
    STRAIGHT = f"--swing {STRAIGHT}"

    def added_to(self, request: Request) -> Request:
        """The request with it."""
        return replace(request, played=Played()) if self is SongEdit.PERFORMED else replace(request, swing=STRAIGHT)


class CommandOf(Protocol):
    """The whole command that makes changes, or that takes the remedy of a number and keeps it in a song file."""

    def __call__(self, changes: Sequence[Change], edit: SongEdit | None = None, take: int | None = None) -> str:
        """The command.

        Args:
            changes: that it makes.
            edit: of the whole song, or None.
            take: the number of a remedy, or None.
        """


def apply_changes(
    turns: Sequence[Score], options: FitOptions, changes: Sequence[Change]
) -> tuple[Sequence[Score], FitOptions]:
    """The turns of a song and the options with changes made.

    Args:
        turns: of the song.
        options: as every turn was fitted.
        changes: in the order in which they are made.

    Raises:
        UsageError: a change cannot be made to this song.
    """
    for change in changes:
        if change.part:
            name, semitones = change.part
            turns = [move_part(turn, name, semitones)[0] for turn in turns]
        options = replace(options, **dict(change.fields))  # type: ignore[arg-type]  # each field is set with its own type
    return turns, options


def start_on(step: int, options: FitOptions, wheel: Wheel) -> Change:
    """Begin the song on a step of the turn.

    Args:
        step: 0-based.
        options: with the start as it is.
        wheel: the wheel.
    """
    away = (Fraction(step) - options.start_steps) % wheel.turn_steps
    size = min(away, wheel.turn_steps - away)
    quarters = size * wheel.step_quarters
    way = "later" if size == away else "earlier"
    words = f"start {fraction_text(size)} {'step' if size == 1 else 'steps'} {way}, on step {printed(step)} of the turn"
    if quarters.denominator == 1 and size:
        words += f" ({plural(int(quarters), 'quarter')})"
    typed = f"--start {printed(step)}"
    return Change(ChangeKind.START, words, typed, float(size), (("start_steps", Fraction(step)),))


def transpose(semitones: int) -> Change:
    """Transpose the whole song by a number of semitones from what is written."""
    way = "up" if semitones > 0 else "down"
    words = f"transpose {plural(abs(semitones), 'semitone')} {way}" if semitones else "do not transpose"
    typed = f"--transpose {semitones}"
    return Change(ChangeKind.TRANSPOSE, words, typed, abs(semitones), (("transpose_semitones", semitones),))


def move_octaves(part: str, octaves: int) -> Change:
    """Move one part by whole octaves."""
    way = "raise" if octaves > 0 else "lower"
    much = "an octave" if abs(octaves) == 1 else plural(abs(octaves), "octave")
    semitones = SEMITONES_PER_OCTAVE * octaves
    typed = f"--move-part {quote(f'{part}={semitones}')}"
    return Change(ChangeKind.PART, f"{way} {part!r} {much}", typed, abs(octaves), part=(part, semitones))


def fold() -> Change:
    """Fold pitches without a channel to the nearest octave that has one."""
    return Change(ChangeKind.FOLD, "fold octaves", "--fold-octaves", 1, (("fold_octaves", True),))


def slower(us_per_quarter: int, now_us_per_quarter: int) -> Change:
    """Turn the wheel more slowly, at a tempo in whole tenths of a quarter a minute."""
    tempo = round(quarters_per_minute(us_per_quarter), 1)
    words, size = f"play at {tempo:g} quarter notes a minute", us_per_quarter / now_us_per_quarter - 1
    return Change(ChangeKind.TEMPO, words, f"--tempo {tempo:g}", size, (("us_per_quarter", us_per_quarter),))


def wider_reach(reach_quarters: Fraction) -> Change:
    """Let notes move farther to find a hole."""
    value = reach_quarters / 4  # as a note value, a share of a whole note
    words, fields = f"let notes move by up to {value} of a whole note", (("reach_quarters", reach_quarters),)
    return Change(ChangeKind.REACH, words, f"--reach {value}", float(reach_quarters), fields)


def drum_for(key: int, instead: int, options: FitOptions) -> Change:
    """Sound a percussion key as another.

    Args:
        key: the General MIDI percussion key.
        instead: the key used for it.
        options: with the replacements as they are.
    """
    others = tuple(pair for pair in options.drum_keys if pair[0] != key)
    words, drum_keys = (
        f"sound {drum_key_name(key)} ({key}) as {drum_key_name(instead)} ({instead})",
        (*others, (key, instead)),
    )
    return Change(ChangeKind.DRUM, words, f"--drum {key}={instead}", abs(key - instead), (("drum_keys", drum_keys),))

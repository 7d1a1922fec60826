"""Checks of single values that a song set file needs in addition to those of a wheel file."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

from pegwright.ask import kinds
from pegwright.ask.beat_shifts import FORM as SHIFT_FORM
from pegwright.ask.beat_shifts import beat_shift_of
from pegwright.ask.note_edits import FORM, note_edit_of
from pegwright.ask.request import AUTO, BEATS_FORMS, Played, played_by
from pegwright.config.checks import (
    YES_NO,
    Check,
    RefusedError,
    decimal,
    fraction,
    matched,
    one_of,
    read_line,
    seen,
    whole,
)
from pegwright.errors import PegwrightError

MAX_PATH_CHARS = 1000  # characters


def path_text(what: str, blank: bool = False) -> Check[str]:
    """The path of a file, as text, relative to the folder of the file that holds it; empty only if `blank`."""

    def read(value: object) -> str:
        if not isinstance(value, str):
            raise RefusedError("is not a text")
        if not value.strip() and not blank:
            raise RefusedError("is blank")
        if len(value) > MAX_PATH_CHARS:
            raise RefusedError(f"has {len(value):,} characters, above the maximum, {MAX_PATH_CHARS:,}")
        if not value.isprintable():
            hint = "put a path with \\ in single quotes, or write it with /"
            raise PegwrightError(f"{seen(value)} has line breaks or control characters", hint=hint)
        return value.strip()

    return Check(f"the path of {what} in quotes", read)


def either(one: Check[Any], other: Check[Any]) -> Check[Any]:
    """What one of two checks takes; the message about a value that both refuse is the second's."""
    wanted = f"{one.wanted}; or {other.wanted}"

    def read(value: object) -> object:
        for check in (one, other):
            try:
                return check(value)
            except PegwrightError as fault:
                refused = fault
        raise PegwrightError(refused.message, hint=f"give {wanted}")

    return Check(wanted, read)


def _read_bars(value: object) -> tuple[int, int]:
    text = str(value) if isinstance(value, int) and not isinstance(value, bool) else value
    match = matched(r"\s*([0-9]{1,9})\s*(?:-\s*([0-9]{1,9})\s*)?", text, "is not a range of bars")
    first, last = int(match[1]), int(match[2] or match[1])
    if not 1 <= first <= last:
        raise RefusedError("does not run upwards from bar 1 or later")
    return first, last


_BARS = Check('bars as played, such as "5-16", or 5 for a single one', _read_bars)


def _ratio(max_parts: int, words: tuple[str, ...]) -> Check[Fraction | str]:
    """A ratio such as `"2:1"`, kept exact: first over second; or one of some words."""

    def read(value: object) -> Fraction | str:
        if value in words:
            return str(value)
        match = matched(r"\s*([0-9]{1,4})\s*:\s*([0-9]{1,4})\s*", value, "is not a ratio")
        if not int(match[1]) or not int(match[2]):
            raise RefusedError("has a side of 0")
        ratio = Fraction(int(match[1]), int(match[2]))
        if ratio.numerator + ratio.denominator > max_parts:
            raise RefusedError(f"divides into more than {max_parts} parts")
        return ratio

    others = "".join(f', or "{word}"' for word in words)
    return Check(f'a ratio in quotes such as "2:1", its numbers at most {max_parts} together{others}', read)


def _note_value(coarsest: int, finest: int) -> Check[Fraction]:
    """A share of a whole note with 1 above the line, such as `"1/32"`."""

    def read(value: object) -> Fraction:
        share = int(matched(r"\s*1\s*/\s*([0-9]{1,3})\s*", value, "is not such a note value")[1])
        if not coarsest <= share <= finest:
            raise RefusedError(f"is outside 1/{coarsest} to 1/{finest}")
        return Fraction(1, share)

    span = f'"1/{coarsest}" to "1/{finest}"'
    return Check(f'a note value in quotes from {span} with 1 above the line, such as "1/32"', read)


def _beats(folder: Path) -> Check[Played]:
    """How the beat of a song played by hand is known; paths of files are relative to `folder`."""
    wanted = f"{', '.join(BEATS_FORMS)} in quotes"

    def read(value: object) -> Played:
        try:
            tempo = isinstance(value, int | float) and not isinstance(value, bool)
            return played_by(path_text("a CSV file")(str(value) if tempo else value), folder)
        except PegwrightError as fault:
            raise PegwrightError(fault.message, hint=f"give {wanted}") from None

    return Check(wanted, read)


def _read_patterns(value: object) -> tuple[str, ...]:
    return tuple(read_line(each) for each in (value if isinstance(value, list) else [value]))


_PATTERNS = Check(
    'the name of a part or a pattern of names in quotes, or a list such as ["Bass", "String*"]', _read_patterns
)


def _lines(what: str, form: str, read_one: Callable[[str], Any]) -> Check[tuple[Any, ...]]:
    """One text or a list of them, each read by a function."""

    def read(value: object) -> tuple[Any, ...]:
        lines = value if isinstance(value, list) else [value]
        if not all(isinstance(line, str) for line in lines):
            raise RefusedError("is not a list of texts")
        return tuple(map(read_one, lines))

    return Check(f'{what} in quotes, or a list of them such as ["{form}"]', read)


_NOTE_EDITS = _lines("note edits", FORM, note_edit_of)
_BEAT_SHIFTS = _lines("beat shifts", SHIFT_FORM, beat_shift_of)
_AUTO = one_of((AUTO,), "choice")
_CHECKS: dict[type, Callable[[Any, Path], Check[Any]]] = {
    kinds.Whole: lambda kind, _: whole(kind.minimum, kind.maximum, kind.what),
    kinds.Number: lambda kind, _: decimal(kind.minimum, kind.maximum, kind.what),
    kinds.Exact: lambda kind, _: fraction(kind.minimum, kind.maximum, kind.what),
    kinds.TurnStep: lambda kind, _: fraction(Fraction(1), Fraction(kind.maximum), "a step of the turn"),
    kinds.NoteValue: lambda kind, _: _note_value(kind.coarsest, kind.finest),
    kinds.Ratio: lambda kind, _: _ratio(kind.max_parts, kind.words),
    kinds.Ticks: lambda kind, _: either(_AUTO, whole(-kind.maximum, kind.maximum, "of the file's ticks")),
    kinds.BarRange: lambda *_: _BARS,
    kinds.Beats: lambda _, folder: _beats(folder),
    kinds.Flag: lambda *_: YES_NO,
    kinds.WordChoice: lambda kind, _: one_of(kind.words, kind.what),
    kinds.NamePatterns: lambda *_: _PATTERNS,
    kinds.NoteEdits: lambda *_: _NOTE_EDITS,
    kinds.BeatShifts: lambda *_: _BEAT_SHIFTS,
    kinds.TextLine: lambda kind, _: Check(kind.what, read_line),
    kinds.OrAuto: lambda kind, folder: either(_AUTO, check_of(kind.inner, folder)),
}


def check_of(kind: kinds.OptionKind, folder: Path = Path()) -> Check[Any]:
    """The check of single values of a kind; paths in them are relative to `folder`."""
    return _CHECKS[type(kind)](kind, folder)

"""Checks of single values that a song set file needs in addition to those of a wheel file."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, Generic, TypeVar

from pegwright.ask import kinds
from pegwright.ask.request import AUTO, BEATS_FORMS, Played, played_by
from pegwright.config.checks import Check, FractionCheck, LineCheck, NumberCheck, OneOf, WholeCheck, refuse
from pegwright.errors import PegwrightError

MAX_PATH_CHARS = 1000  # characters

One = TypeVar("One")
Other = TypeVar("Other")


@dataclass(frozen=True, slots=True)
class PathText:
    """The path of a file, as text, relative to the folder of the file that holds it."""

    what: str
    blank: bool = False

    @property
    def wanted(self) -> str:
        """In words."""
        return f"the path of {self.what} in quotes"

    def __call__(self, value: object) -> str:
        """The path; empty only if that is allowed."""
        if not isinstance(value, str):
            raise refuse(value, "is not a text", self)
        if not value.strip() and not self.blank:
            raise refuse(value, "is blank", self)
        if len(value) > MAX_PATH_CHARS:
            raise refuse(value, f"has {len(value):,} characters, above the maximum, {MAX_PATH_CHARS:,}", self)
        if not value.isprintable():
            raise refuse(value, "has line breaks or control characters", self)
        return value.strip()


@dataclass(frozen=True, slots=True)
class Or(Generic[One, Other]):
    """What one of two checks takes; the message about a value that both refuse is the second's."""

    one: Check[One]
    other: Check[Other]

    @property
    def wanted(self) -> str:
        """In words."""
        return f"{self.one.wanted}; or {self.other.wanted}"

    def __call__(self, value: object) -> One | Other:
        """The value of the first check that takes it."""
        for check in (self.one, self.other):
            try:
                return check(value)
            except PegwrightError as fault:
                refused = fault
        raise PegwrightError(refused.message, hint=f"give {self.wanted}")


@dataclass(frozen=True, slots=True)
class Bars:
    """A range of played bars such as `"5-16"`, or a single one."""

    wanted: str = 'bars as played, such as "5-16", or 5 for a single one'

    def __call__(self, value: object) -> tuple[int, int]:
        """First and last bar, counted from 1."""
        text = str(value) if isinstance(value, str) or (isinstance(value, int) and not isinstance(value, bool)) else ""
        match = re.fullmatch(r"\s*([0-9]{1,9})\s*(?:-\s*([0-9]{1,9})\s*)?", text)
        if not match:
            raise refuse(value, "is not a range of bars", self)
        first, last = int(match[1]), int(match[2] or match[1])
        if not 1 <= first <= last:
            raise refuse(value, "does not run upwards from bar 1 or later", self)
        return first, last


@dataclass(frozen=True, slots=True)
class YesNo:
    """`true` or `false`."""

    wanted: str = "true or false"

    def __call__(self, value: object) -> bool:
        """The answer."""
        if not isinstance(value, bool):
            raise refuse(value, "is neither true nor false", self)
        return value


@dataclass(frozen=True, slots=True)
class RatioCheck:
    """A ratio such as `"2:1"`, kept exact."""

    max_parts: int

    @property
    def wanted(self) -> str:
        """In words."""
        return f'a ratio in quotes such as "2:1", its numbers at most {self.max_parts} together'

    def __call__(self, value: object) -> Fraction:
        """First over second."""
        match = re.fullmatch(r"\s*([0-9]{1,4})\s*:\s*([0-9]{1,4})\s*", value) if isinstance(value, str) else None
        if not match:
            raise refuse(value, "is not a ratio", self)
        if not int(match[1]) or not int(match[2]):
            raise refuse(value, "has a side of 0", self)
        ratio = Fraction(int(match[1]), int(match[2]))
        if ratio.numerator + ratio.denominator > self.max_parts:
            raise refuse(value, f"divides into more than {self.max_parts} parts", self)
        return ratio


@dataclass(frozen=True, slots=True)
class NoteValueCheck:
    """A note value with 1 above the line, such as `"1/32"`."""

    coarsest: int
    finest: int

    @property
    def wanted(self) -> str:
        """In words."""
        span = f'"1/{self.coarsest}" to "1/{self.finest}"'
        return f'a note value in quotes from {span} with 1 above the line, such as "1/32"'

    def __call__(self, value: object) -> Fraction:
        """The share of a whole note."""
        match = re.fullmatch(r"\s*1\s*/\s*([0-9]{1,3})\s*", value) if isinstance(value, str) else None
        if not match:
            raise refuse(value, "is not such a note value", self)
        if not self.coarsest <= int(match[1]) <= self.finest:
            raise refuse(value, f"is outside 1/{self.coarsest} to 1/{self.finest}", self)
        return Fraction(1, int(match[1]))


@dataclass(frozen=True, slots=True)
class BeatsCheck:
    """How the beat of a song played by hand is known; paths of files are relative to `folder`."""

    folder: Path

    @property
    def wanted(self) -> str:
        """In words."""
        return f"{', '.join(BEATS_FORMS)} in quotes"

    def __call__(self, value: object) -> Played:
        """How it is known."""
        try:
            return played_by(PathText("a CSV file")(value), self.folder)
        except PegwrightError as fault:
            raise PegwrightError(fault.message, hint=f"give {self.wanted}") from None


_AUTO = OneOf((AUTO,), "choice")
_CHECKS: dict[type, Callable[[Any, Path], Check[Any]]] = {
    kinds.Whole: lambda kind, _: WholeCheck(kind.minimum, kind.maximum, kind.what),
    kinds.Number: lambda kind, _: NumberCheck(kind.minimum, kind.maximum, kind.what),
    kinds.Exact: lambda kind, _: FractionCheck(kind.minimum, kind.maximum, kind.what),
    kinds.TurnStep: lambda kind, _: FractionCheck(Fraction(1), Fraction(kind.maximum), "a step of the turn"),
    kinds.NoteValue: lambda kind, _: NoteValueCheck(kind.coarsest, kind.finest),
    kinds.Ratio: lambda kind, _: RatioCheck(kind.max_parts),
    kinds.Ticks: lambda kind, _: Or(_AUTO, WholeCheck(-kind.maximum, kind.maximum, "of the file's ticks")),
    kinds.BarRange: lambda *_: Bars(),
    kinds.Beats: lambda _, folder: BeatsCheck(folder),
    kinds.Flag: lambda *_: YesNo(),
    kinds.WordChoice: lambda kind, _: OneOf(kind.words, kind.what),
    kinds.TextLine: lambda kind, _: LineCheck(kind.what),
    kinds.OrAuto: lambda kind, folder: Or(_AUTO, check_of(kind.inner, folder)),
}


def check_of(kind: kinds.Kind, folder: Path = Path()) -> Check[Any]:
    """The check of single values of a kind; paths in them are relative to `folder`."""
    return _CHECKS[type(kind)](kind, folder)

"""Checks of single values that a song set file needs beside those of a wheel file."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Generic, TypeVar

from pegwright.config.checks import Check, refuse
from pegwright.errors import PegwrightError
from pegwright.fit.ornaments import COARSEST, FINEST
from pegwright.fit.swing import MOST_PARTS
from pegwright.request import BEATS_FORMS, Played, played_by

PATH_MOST = 1000  # characters

One = TypeVar("One")
Other = TypeVar("Other")


@dataclass(frozen=True, slots=True)
class PathText:
    """The path of a file, as text, from the folder of the file it stands in."""

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
        if len(value) > PATH_MOST:
            raise refuse(value, f"has {len(value):,} characters, above the most, {PATH_MOST:,}", self)
        if not value.isprintable():
            raise refuse(value, "has line breaks or control characters", self)
        return value.strip()


@dataclass(frozen=True, slots=True)
class Or(Generic[One, Other]):
    """What one of two checks takes; a text is told as the first sees it, anything else as the second does."""

    one: Check[One]
    other: Check[Other]

    @property
    def wanted(self) -> str:
        """In words."""
        return f"{self.one.wanted}; or {self.other.wanted}"

    def __call__(self, value: object) -> One | Other:
        """The value that either makes of it."""
        for check in (self.one, self.other):
            try:
                return check(value)
            except PegwrightError as fault:
                told = fault
        raise PegwrightError(told.message, hint=f"give {self.wanted}")


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
class Ratio:
    """A ratio such as `"2:1"`, kept exact."""

    wanted: str = f'a ratio in quotes such as "2:1", its numbers {MOST_PARTS} together at most'

    def __call__(self, value: object) -> Fraction:
        """First over second."""
        match = re.fullmatch(r"\s*([0-9]{1,4})\s*:\s*([0-9]{1,4})\s*", value) if isinstance(value, str) else None
        if not match:
            raise refuse(value, "is not a ratio", self)
        if not int(match[1]) or not int(match[2]):
            raise refuse(value, "has a side of 0", self)
        ratio = Fraction(int(match[1]), int(match[2]))
        if ratio.numerator + ratio.denominator > MOST_PARTS:
            raise refuse(value, f"divides into more than {MOST_PARTS} parts", self)
        return ratio


@dataclass(frozen=True, slots=True)
class NoteValue:
    """A note value with 1 above the line, such as `"1/32"`."""

    wanted: str = f'a note value in quotes from "1/{COARSEST}" to "1/{FINEST}" with 1 above the line, such as "1/32"'

    def __call__(self, value: object) -> Fraction:
        """The share of a whole note."""
        match = re.fullmatch(r"\s*1\s*/\s*([0-9]{1,3})\s*", value) if isinstance(value, str) else None
        if not match:
            raise refuse(value, "is not such a note value", self)
        if not COARSEST <= int(match[1]) <= FINEST:
            raise refuse(value, f"is outside 1/{COARSEST} to 1/{FINEST}", self)
        return Fraction(1, int(match[1]))


@dataclass(frozen=True, slots=True)
class Beats:
    """How the beat of a song played by hand is known; files start from `folder`."""

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

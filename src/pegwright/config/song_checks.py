"""Checks of single values that a song set file needs beside those of a wheel file."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Generic, TypeVar

from pegwright.config.checks import Check, refuse
from pegwright.errors import PegwrightError

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
        match = re.fullmatch(r"\s*([0-9]{1,6})\s*(?:-\s*([0-9]{1,6})\s*)?", text)
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

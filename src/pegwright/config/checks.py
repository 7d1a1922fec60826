"""Checks of single values: each takes a TOML value and returns it typed, or raises with what was wanted."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol, TypeVar

from pegwright.errors import PegwrightError
from pegwright.units import pitch_name

MAX_TEXT_CHARS = 60  # characters in a name, so that it fits a heading
MAX_DENOMINATOR = 960
_MAX_SEEN_CHARS = 40
_CHOICES_SHOWN = 8
_MAX_DIGITS = 30
_LETTER_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SIGN_SEMITONES = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}

T_co = TypeVar("T_co", covariant=True)


class Check(Protocol[T_co]):
    """Turns a TOML value into a checked one; `wanted` completes "give ..."."""

    @property
    def wanted(self) -> str:
        """What a right value is, in words."""
        ...

    def __call__(self, value: object) -> T_co:
        """The checked value; raises PegwrightError without a place."""
        ...


def seen(value: object) -> str:
    """A value as it is written, short enough for one line."""
    if isinstance(value, str):
        short = value if len(value) <= _MAX_SEEN_CHARS else value[: _MAX_SEEN_CHARS - 3] + "..."
        return '"' + "".join(sign if sign.isprintable() else "?" for sign in short) + '"'
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and abs(value) >= 10**_MAX_DIGITS:
        return f"a whole number of more than {_MAX_DIGITS} digits"
    if isinstance(value, dict | list):
        return "a table" if isinstance(value, dict) else "a list"
    return str(value)


def refuse(value: object, fault: str, check: Check[object]) -> PegwrightError:
    """The error for a value.

    Args:
        value: as TOML gave it.
        fault: what is wrong with it, after the value.
        check: its `wanted` becomes the hint.
    """
    return PegwrightError(f"{seen(value)} {fault}", hint=f"give {check.wanted}")


@dataclass(frozen=True, slots=True)
class WholeCheck:
    """A whole number from `minimum` to `maximum`, of `what`."""

    minimum: int
    maximum: int
    what: str = ""

    @property
    def wanted(self) -> str:
        """In words."""
        return f"a whole number from {self.minimum} to {self.maximum:,}{self.what and ', '}{self.what}"

    def __call__(self, value: object) -> int:
        """The number."""
        if isinstance(value, bool) or not isinstance(value, int):
            raise refuse(value, "is not a whole number", self)
        if value < self.minimum:
            raise refuse(value, f"is below the minimum, {self.minimum}", self)
        if value > self.maximum:
            raise refuse(value, f"is above the maximum, {self.maximum:,}", self)
        return value


@dataclass(frozen=True, slots=True)
class NumberCheck:
    """A number from `minimum` (or above it) to `maximum`, of `what`."""

    minimum: float
    maximum: float
    what: str
    above: bool = False

    @property
    def wanted(self) -> str:
        """In words."""
        minimum = f"above {self.minimum:g} and up to" if self.above else f"from {self.minimum:g} to"
        return f"a number {minimum} {self.maximum:g}, {self.what}"

    def __call__(self, value: object) -> float:
        """The number."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise refuse(value, "is not a number", self)
        if isinstance(value, float) and not math.isfinite(value):
            raise refuse(value, "is not a finite number", self)
        if value < self.minimum or (self.above and value == self.minimum):
            raise refuse(value, f"is {'not above' if self.above else 'below the minimum,'} {self.minimum:g}", self)
        if value > self.maximum:
            raise refuse(value, f"is above the maximum, {self.maximum:g}", self)
        return float(value)


@dataclass(frozen=True, slots=True)
class FractionCheck:
    """A fraction from `minimum` (or above it) to `maximum`, kept exact, of `what`.

    Written as `"1/3"`, or as a number that is whole.
    """

    minimum: Fraction
    maximum: Fraction
    what: str
    above: bool = False

    @property
    def wanted(self) -> str:
        """In words."""
        return f"a fraction in quotes {'above' if self.above else 'from'} {self.minimum} to {self.maximum}, {self.what}"

    def __call__(self, value: object) -> Fraction:
        """The fraction."""
        fraction = self._read(value)
        if fraction < self.minimum or (self.above and fraction == self.minimum):
            raise refuse(value, f"is {'not above' if self.above else 'below the minimum,'} {self.minimum}", self)
        if fraction > self.maximum:
            raise refuse(value, f"is above the maximum, {self.maximum}", self)
        return fraction

    def _read(self, value: object) -> Fraction:
        if isinstance(value, float) and math.isfinite(value):
            if not value.is_integer():
                exact = Fraction(value)
                near = exact if exact.denominator <= MAX_DENOMINATOR else exact.limit_denominator(12)
                raise PegwrightError(f"{seen(value)} is not exact", hint=f'write it as a fraction in quotes: "{near}"')
            return Fraction(value)
        if isinstance(value, int) and not isinstance(value, bool):
            return Fraction(value)
        text = value if isinstance(value, str) else ""
        match = re.fullmatch(r"\s*(-?[0-9]{1,9})\s*(?:/\s*([0-9]{1,9})\s*)?", text)
        if not match or int(match[2] or 1) == 0:
            raise refuse(value, "is not a fraction", self)
        fraction = Fraction(int(match[1]), int(match[2] or 1))
        if fraction.denominator > MAX_DENOMINATOR:
            raise refuse(value, f"has a denominator above {MAX_DENOMINATOR}", self)
        return fraction


@dataclass(frozen=True, slots=True)
class LineCheck:
    """A line of text in quotes, not blank."""

    wanted: str = f"a text in quotes of 1 to {MAX_TEXT_CHARS} characters on one line"

    def __call__(self, value: object) -> str:
        """The text without blanks at its ends."""
        if not isinstance(value, str):
            raise refuse(value, "is not a text", self)
        text = value.strip()
        if not text:
            raise refuse(value, "is blank", self)
        if len(text) > MAX_TEXT_CHARS:
            raise refuse(value, f"has {len(text)} characters, above the maximum, {MAX_TEXT_CHARS}", self)
        if not text.isprintable():
            raise refuse(value, "has line breaks or control characters", self)
        return text


@dataclass(frozen=True, slots=True)
class OneOf:
    """One of some texts, each a `what`."""

    choices: Sequence[str]
    what: str

    @property
    def wanted(self) -> str:
        """In words."""
        listed = ", ".join(f'"{choice}"' for choice in self.choices[:_CHOICES_SHOWN])
        return f"a {self.what}: {listed}{', ...' if len(self.choices) > _CHOICES_SHOWN else ''}"

    def __call__(self, value: object) -> str:
        """The text."""
        text = value.strip() if isinstance(value, str) else ""
        if text in self.choices:
            return text
        near = difflib.get_close_matches(text[:MAX_TEXT_CHARS], self.choices, n=1)
        hint = f'did you mean "{near[0]}"?' if near else f"give {self.wanted}"
        raise PegwrightError(f"{seen(value)} is not a {self.what}", hint=hint)


@dataclass(frozen=True, slots=True)
class Pitch:
    """A MIDI pitch, as its number or as a name with middle C (60) as C4."""

    wanted: str = 'a MIDI pitch from 0 to 127, or its name such as "C5" (middle C, 60, is C4)'

    def __call__(self, value: object) -> int:
        """The MIDI number."""
        number = value
        if isinstance(value, str):
            match = re.fullmatch(r"([A-G])([#b♯♭]?)(-?[0-9]{1,2})", value.strip())
            if not match:
                raise refuse(value, "is not the name of a pitch", self)
            number = _LETTER_SEMITONES[match[1]] + _SIGN_SEMITONES[match[2]] + 12 * (int(match[3]) + 1)
        if isinstance(number, bool) or not isinstance(number, int):
            raise refuse(value, "is not a pitch", self)
        if not 0 <= number <= 127:
            raise refuse(value, f"is outside {pitch_name(0)} to {pitch_name(127)}, 0 to 127", self)
        return number

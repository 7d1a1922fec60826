"""Checks of single values: each takes a TOML value and returns it typed, or raises with what was wanted."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Generic, TypeVar

from pegwright.errors import PegwrightError
from pegwright.frozen import frozen
from pegwright.units import few_names, pitch_name

MAX_TEXT_CHARS = 60  # characters in a name, so that it fits a heading
MAX_DENOMINATOR = 960
_MAX_SEEN_CHARS = 40
_MAX_DIGITS = 30
_LETTER_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SIGN_SEMITONES = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}

T = TypeVar("T")
Number = TypeVar("Number", int, float, Fraction)


class RefusedError(Exception):
    """A value is refused; the message is what is wrong with it, in words that follow the value."""


@frozen()
class Check(Generic[T]):
    """Turns a TOML value into a checked one.

    Args:
        wanted: what a right value is, in words; completes "give ...".
        read: the checked value; raises RefusedError, or PegwrightError where another hint is better.
    """

    wanted: str
    read: Callable[[object], T]

    def __call__(self, value: object) -> T:
        """The checked value.

        Raises:
            PegwrightError: it is refused; without a place.
        """
        try:
            return self.read(value)
        except RefusedError as fault:
            raise PegwrightError(f"{seen(value)} {fault}", hint=f"give {self.wanted}") from None


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


def matched(pattern: str, value: object, fault: str) -> re.Match[str]:
    """The match of a whole text with a pattern.

    Args:
        pattern: a regular expression.
        value: as TOML gave it.
        fault: what is wrong with a value that does not match.

    Raises:
        RefusedError: it is not a text, or does not match.
    """
    match = re.fullmatch(pattern, value) if isinstance(value, str) else None
    if not match:
        raise RefusedError(fault)
    return match


def whole(minimum: int, maximum: int, what: str = "") -> Check[int]:
    """A whole number from `minimum` to `maximum`.

    Args:
        minimum: the lowest allowed.
        maximum: the highest allowed.
        what: the unit or meaning, at the end of `wanted`.
    """
    lowest, highest = f"{minimum}", f"{maximum:,}"

    def read(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            refuse_quoted(value)
            raise RefusedError("is not a whole number")
        return _within(value, minimum, maximum, lowest, highest)

    return Check(f"a whole number from {lowest} to {highest}{what and ', '}{what}", read)


def decimal(minimum: float, maximum: float, what: str, above: bool = False) -> Check[float]:
    """A number from `minimum` to `maximum`; arguments as for `fraction`."""
    lowest, highest = f"{minimum:g}", f"{maximum:g}"

    def read(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            refuse_quoted(value)
            raise RefusedError("is not a number")
        if isinstance(value, float) and not math.isfinite(value):
            raise RefusedError("is not a finite number")
        return float(_within(value, minimum, maximum, lowest, highest, above))

    span = f"above {lowest} and up to" if above else f"from {lowest} to"
    return Check(f"a number {span} {highest}, {what}", read)


def fraction(minimum: Fraction, maximum: Fraction, what: str, above: bool = False) -> Check[Fraction]:
    """A fraction from `minimum` to `maximum`, kept exact; written as `"1/3"`, or as a number that is whole.

    Args:
        minimum: the lowest allowed.
        maximum: the highest allowed.
        what: the unit or meaning, at the end of `wanted`.
        above: whether the minimum itself is refused.
    """
    lowest, highest = str(minimum), str(maximum)

    def read(value: object) -> Fraction:
        return _within(_exact(value), minimum, maximum, lowest, highest, above)

    return Check(f"a fraction in quotes {'above' if above else 'from'} {lowest} to {highest}, {what}", read)


def refuse_quoted(value: object) -> None:
    """Refuse a number in quotes.

    Raises:
        PegwrightError: it is one; the hint says how to write it.
    """
    if isinstance(value, str) and (match := re.fullmatch(r"\s*([+-]?[0-9]{1,15}(?:[.,][0-9]{1,15})?)\s*", value)):
        plain = match[1].replace(",", ".")
        raise PegwrightError(f"{seen(value)} is not a number but a text", hint=f"write it without quotes: {plain}")


def _within(value: Number, minimum: Number, maximum: Number, lowest: str, highest: str, above: bool = False) -> Number:
    if value < minimum or (above and value == minimum):
        raise RefusedError(f"is {'not above' if above else 'below the minimum,'} {lowest}")
    if value > maximum:
        raise RefusedError(f"is above the maximum, {highest}")
    return value


def _exact(value: object) -> Fraction:
    if isinstance(value, float) and math.isfinite(value):
        if not value.is_integer():
            exact = Fraction(value)
            near = exact if exact.denominator <= MAX_DENOMINATOR else exact.limit_denominator(12)
            raise PegwrightError(f"{seen(value)} is not exact", hint=f'write it as a fraction in quotes: "{near}"')
        return Fraction(value)
    if isinstance(value, int) and not isinstance(value, bool):
        return Fraction(value)
    match = matched(r"\s*(-?[0-9]{1,9})\s*(?:/\s*([0-9]{1,9})\s*)?", value, "is not a fraction")
    above, below = int(match[1]), int(match[2] or 1)
    if not below:
        raise RefusedError("is not a fraction")
    if Fraction(above, below).denominator > MAX_DENOMINATOR:
        raise RefusedError(f"has a denominator above {MAX_DENOMINATOR}")
    return Fraction(above, below)


def read_line(value: object, max_chars: int = MAX_TEXT_CHARS) -> str:
    """A line of text, not blank, without blanks at its ends.

    Args:
        value: as TOML gave it.
        max_chars: the maximum number of characters.

    Raises:
        RefusedError: it is none.
    """
    if not isinstance(value, str):
        raise RefusedError("is not a text")
    text = value.strip()
    if not text:
        raise RefusedError("is blank")
    if len(text) > max_chars:
        raise RefusedError(f"has {len(text)} characters, above the maximum, {max_chars}")
    if not text.isprintable():
        raise RefusedError("has line breaks or control characters")
    return text


def one_of(choices: Sequence[str], what: str) -> Check[str]:
    """One of some texts, each a `what`."""
    shown = few_names(choices)
    listed = ", ".join(f'"{choice}"' for choice in shown)
    wanted = f"a {what}: {listed}{', ...' if len(choices) > len(shown) else ''}"

    def read(value: object) -> str:
        text = value.strip() if isinstance(value, str) else ""
        if text in choices:
            return text
        from difflib import get_close_matches  # noqa: PLC0415  # loaded for faults

        near = get_close_matches(text[:MAX_TEXT_CHARS], choices, n=1)
        hint = f'did you mean "{near[0]}"?' if near else f"give {wanted}"
        raise PegwrightError(f"{seen(value)} is not a {what}", hint=hint)

    return Check(wanted, read)


def _read_pitch(value: object) -> int:
    number = value
    if isinstance(value, str):
        match = matched(r"([A-G])([#b♯♭]?)(-?[0-9]{1,2})", value.strip(), "is not the name of a pitch")
        number = _LETTER_SEMITONES[match[1]] + _SIGN_SEMITONES[match[2]] + 12 * (int(match[3]) + 1)
    if isinstance(number, bool) or not isinstance(number, int):
        raise RefusedError("is not a pitch")
    if not 0 <= number <= 127:
        raise RefusedError(f"is outside {pitch_name(0)} to {pitch_name(127)}, 0 to 127")
    return number


def _read_yes_no(value: object) -> bool:
    if not isinstance(value, bool):
        raise RefusedError("is neither true nor false")
    return value


NAME = Check(f"a text in quotes of 1 to {MAX_TEXT_CHARS} characters on one line", read_line)
PITCH = Check('a MIDI pitch from 0 to 127, or its name such as "C5" (middle C, 60, is C4)', _read_pitch)
YES_NO = Check("true or false", _read_yes_no)

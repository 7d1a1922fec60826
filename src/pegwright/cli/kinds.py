"""Types of values that options take; each error gives the value, what was wanted and the bounds."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from pegwright.ask import kinds
from pegwright.ask.request import AUTO
from pegwright.cli.outputs import report_stopped

_SHOWN = 40  # characters of a value that a message repeats


class Parsed(click.ParamType[Any]):
    """A value that a function reads from the text, or refuses with `click.BadParameter`."""

    def __init__(self, name: str, read: Callable[[str], Any]) -> None:
        self.name, self._read = name, read

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> Any:  # noqa: ANN401, ARG002  # click's signature
        """What the function reads."""
        return self._read(str(value))


def _bars(text: str) -> tuple[int, int]:
    """First and last bar of `5-16`, or of `5` for a single bar."""
    match = re.fullmatch(r"\s*([0-9]{1,9})\s*(?:-\s*([0-9]{1,9})\s*)?", text)
    if not match:
        raise click.BadParameter(f"{text[:_SHOWN]!r} is not a range of bars such as 5-16")
    first, last = int(match[1]), int(match[2] or match[1])
    if not 1 <= first <= last:
        raise click.BadParameter(f"{text!r} must run upwards from bar 1 or later")
    return first, last


def _fraction(text: str, minimum: Fraction, maximum: Fraction) -> Fraction:
    """A whole number, a decimal or a fraction such as `1/64`, kept exact."""
    if not re.fullmatch(r"[+-]?[0-9]{1,9}(\.[0-9]{1,9}|/0*[1-9][0-9]{0,8})?", text):
        raise click.BadParameter(f"{text[:_SHOWN]!r} is not a number such as 3, 2.5 or 1/64")
    if not minimum <= Fraction(text) <= maximum:
        raise click.BadParameter(f"{text} is outside {minimum} to {maximum}")
    return Fraction(text)


def _ticks(text: str) -> int | str:
    """`auto`, or a whole number of the file's ticks."""
    if text.lower() == AUTO:
        return AUTO
    if not re.fullmatch(r"[+-]?[0-9]{1,9}", text):
        raise click.BadParameter(f"{text[:_SHOWN]!r} is neither auto nor a whole number of ticks")
    return int(text)


def _ratio(text: str, kind: kinds.Ratio) -> Fraction | str:
    """First over second of `2:1`, or one of some words."""
    if text.lower() in kind.words:
        return text.lower()
    match = re.fullmatch(r"0*([1-9][0-9]{0,8}):0*([1-9][0-9]{0,8})", text)
    ratio = Fraction(int(match[1]), int(match[2])) if match else None
    if ratio is None or ratio.numerator + ratio.denominator > kind.max_parts:
        others = "".join(f", nor {word!r}" for word in kind.words)
        bound = f"whole numbers from 1 on that together are at most {kind.max_parts}"
        raise click.BadParameter(f"{text[:_SHOWN]!r} is not a ratio such as 2:1, of {bound}{others}")
    return ratio


def _fraction_type(minimum: Fraction, maximum: Fraction) -> Parsed:
    return Parsed("number", lambda text: _fraction(text, minimum, maximum))


def _or_auto(inner: click.ParamType[Any]) -> Parsed:
    """A value of another type, or `auto`: to be searched for."""
    return Parsed(
        f"{inner.name}|{AUTO}", lambda text: AUTO if text.lower() == AUTO else inner.convert(text, None, None)
    )


class NamedPath(click.Path):
    """A path as typed, not blank: a shell variable that is not set would otherwise mean the current folder."""

    def __init__(self) -> None:
        super().__init__(path_type=Path)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:  # noqa: ANN401  # click's signature
        """The path."""
        if not str(value).strip():
            self.fail("the name is blank; give a file or folder, or . for this one", param, ctx)
        path = Path(str(super().convert(value, param, ctx)))
        report_stopped(path)
        return path


class WholeRange(click.IntRange):
    """A whole number within bounds, which every error gives."""

    min: int
    max: int

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:  # noqa: ANN401  # click's signature
        """The number."""
        text, bounds = str(value).strip(), f"{self.min} to {self.max}"
        if not re.fullmatch(r"[+-]?[0-9]{1,18}", text):
            self.fail(f"{text[:_SHOWN]!r} is not a whole number from {bounds}", param, ctx)
        if not self.min <= int(text) <= self.max:
            self.fail(f"{int(text)} is outside {bounds}", param, ctx)
        return int(text)


class FiniteRange(click.FloatRange):
    """A number within bounds; `nan`, which click accepts, is refused."""

    min: float
    max: float

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:  # noqa: ANN401  # click's signature
        """The number."""
        text, bounds = str(value).strip(), f"{self.min:g} to {self.max:g}"
        try:
            number = float(text)
        except ValueError:
            number = math.nan
        if math.isnan(number):
            self.fail(f"{text[:_SHOWN]!r} is not a number from {bounds}", param, ctx)
        if not self.min <= number <= self.max:
            self.fail(f"{text[:_SHOWN]} is outside {bounds}", param, ctx)
        return number


_TYPES: dict[type, Callable[[Any], click.ParamType[Any]]] = {
    kinds.Whole: lambda kind: WholeRange(kind.minimum, kind.maximum),
    kinds.Number: lambda kind: FiniteRange(kind.minimum, kind.maximum),
    kinds.Exact: lambda kind: _fraction_type(kind.minimum, kind.maximum),
    kinds.TurnStep: lambda _: _fraction_type(Fraction(1), Fraction(999_999_999)),  # the wheel has its own maximum
    kinds.NoteValue: lambda kind: _fraction_type(Fraction(1, kind.finest), Fraction(1, kind.coarsest)),
    kinds.Ratio: lambda kind: Parsed("ratio", lambda text: _ratio(text, kind)),
    kinds.Ticks: lambda _: Parsed("auto|ticks", _ticks),
    kinds.BarRange: lambda _: Parsed("bars", _bars),
    kinds.WordChoice: lambda kind: click.Choice(kind.words, case_sensitive=not kind.any_case),
    kinds.OrAuto: lambda kind: _or_auto(type_of(kind.inner)),
}


def type_of(kind: kinds.OptionKind) -> click.ParamType[Any]:
    """The type of an option whose values are of this kind: text where they are read later."""
    return _TYPES[type(kind)](kind) if type(kind) in _TYPES else click.STRING

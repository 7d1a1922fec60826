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

_SHOWN = 40  # characters of a value that a message repeats


class BarsType(click.ParamType[tuple[int, int]]):
    """`5-16`, or `5` for a single bar."""

    name = "bars"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, int]:
        """First and last bar."""
        text = str(value)
        match = re.fullmatch(r"\s*([0-9]{1,9})\s*(?:-\s*([0-9]{1,9})\s*)?", text)
        if not match:
            self.fail(f"{text[:_SHOWN]!r} is not a range of bars such as 5-16", param, ctx)
        first = int(match[1])
        last = int(match[2] or match[1])
        if not 1 <= first <= last:
            self.fail(f"{text!r} must run upwards from bar 1 or later", param, ctx)
        return first, last


class FractionType(click.ParamType[Fraction]):
    """A whole number, a decimal or a fraction such as `1/64`, kept exact, from `minimum` to `maximum`."""

    name = "number"

    def __init__(self, minimum: Fraction, maximum: Fraction) -> None:
        self.minimum = minimum
        self.maximum = maximum

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> Fraction:
        """The exact value."""
        text = str(value)
        if not re.fullmatch(r"[+-]?[0-9]{1,9}(\.[0-9]{1,9}|/0*[1-9][0-9]{0,8})?", text):
            self.fail(f"{text[:_SHOWN]!r} is not a number such as 3, 2.5 or 1/64", param, ctx)
        value = Fraction(text)
        if not self.minimum <= value <= self.maximum:
            self.fail(f"{text} is outside {self.minimum} to {self.maximum}", param, ctx)
        return value


class AutoType(click.ParamType[Any]):
    """A value of another type, or `auto`: to be searched for."""

    def __init__(self, inner: click.ParamType[Any]) -> None:
        self.inner = inner
        self.name = f"{inner.name}|{AUTO}"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:  # noqa: ANN401  # click's signature
        """The inner type's value, or `auto`."""
        return AUTO if value == AUTO else self.inner.convert(value, param, ctx)


class OffsetType(click.ParamType["int | str"]):
    """`auto`, or a whole number of the file's ticks."""

    name = "auto|ticks"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> int | str:
        """`auto` or the ticks."""
        text = str(value)
        if text == AUTO:
            return text
        if not re.fullmatch(r"[+-]?[0-9]{1,9}", text):
            self.fail(f"{text[:_SHOWN]!r} is neither auto nor a whole number of ticks", param, ctx)
        return int(text)


class RatioType(click.ParamType[Fraction]):
    """`2:1`, two whole numbers."""

    name = "ratio"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> Fraction:
        """First over second."""
        text = str(value)
        match = re.fullmatch(r"0*([1-9][0-9]{0,3}):0*([1-9][0-9]{0,3})", text)
        if not match:
            self.fail(f"{text[:_SHOWN]!r} is not a ratio such as 2:1, of whole numbers from 1 to 9999", param, ctx)
        return Fraction(int(match[1]), int(match[2]))


class NamedPath(click.Path):
    """A path as typed, not blank: a shell variable that is not set would otherwise mean the current folder."""

    def __init__(self) -> None:
        super().__init__(path_type=Path)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:  # noqa: ANN401  # click's signature
        """The path."""
        if not str(value).strip():
            self.fail("the name is blank; give a file or folder, or . for this one", param, ctx)
        return super().convert(value, param, ctx)


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
    kinds.Exact: lambda kind: FractionType(kind.minimum, kind.maximum),
    kinds.TurnStep: lambda _: FractionType(Fraction(1), Fraction(999_999_999)),  # the wheel has its own maximum
    kinds.NoteValue: lambda kind: FractionType(Fraction(1, kind.finest), Fraction(1, kind.coarsest)),
    kinds.Ratio: lambda _: RatioType(),
    kinds.Ticks: lambda _: OffsetType(),
    kinds.BarRange: lambda _: BarsType(),
    kinds.WordChoice: lambda kind: click.Choice(kind.words, case_sensitive=not kind.any_case),
    kinds.OrAuto: lambda kind: AutoType(type_of(kind.inner)),
}


def type_of(kind: kinds.Kind) -> click.ParamType[Any]:
    """The type of an option whose values are of this kind: text where they are read later."""
    return _TYPES[type(kind)](kind) if type(kind) in _TYPES else click.STRING

"""Kinds of values that options take; each tells what was given, what was wanted and the bounds."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

AUTO = "auto"
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
    """A whole number, a decimal or a fraction such as `1/64`, kept exact, from `least` to `most`."""

    name = "number"

    def __init__(self, least: Fraction, most: Fraction) -> None:
        self.least = least
        self.most = most

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> Fraction:
        """The exact value."""
        text = str(value)
        if not re.fullmatch(r"[+-]?[0-9]{1,9}(\.[0-9]{1,9}|/0*[1-9][0-9]{0,8})?", text):
            self.fail(f"{text[:_SHOWN]!r} is not a number such as 3, 2.5 or 1/64", param, ctx)
        value = Fraction(text)
        if not self.least <= value <= self.most:
            self.fail(f"{text} is outside {self.least} to {self.most}", param, ctx)
        return value


class Auto(click.ParamType[Any]):
    """A value of another type, or `auto`, which becomes None: to be searched for."""

    def __init__(self, inner: click.ParamType[Any]) -> None:
        self.inner = inner
        self.name = f"{inner.name}|{AUTO}"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:  # noqa: ANN401  # click's signature
        """The inner type's value, or None for `auto`."""
        return None if value == AUTO else self.inner.convert(value, param, ctx)


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
        match = re.fullmatch(r"0*([1-9][0-9]{0,3}):0*([1-9][0-9]{0,3})", str(value))
        if not match:
            self.fail(
                f"{str(value)[:_SHOWN]!r} is not a ratio such as 2:1, of whole numbers from 1 to 9999", param, ctx
            )
        return Fraction(int(match[1]), int(match[2]))


class NamedPath(click.Path):
    """A path as typed; a blank one, as of a shell variable that is not set, would mean the folder one is in."""

    def __init__(self) -> None:
        super().__init__(path_type=Path)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:  # noqa: ANN401  # click's signature
        """The path."""
        if not str(value).strip():
            self.fail("the name is blank; give a file or folder, or . for this one", param, ctx)
        return super().convert(value, param, ctx)


class WholeRange(click.IntRange):
    """A whole number from `least` to `most`, which whatever is refused is told."""

    def __init__(self, least: int, most: int) -> None:
        super().__init__(least, most)
        self.least = least
        self.most = most

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:  # noqa: ANN401  # click's signature
        """The number."""
        text, bounds = str(value).strip(), f"{self.least} to {self.most}"
        if not re.fullmatch(r"[+-]?[0-9]{1,18}", text):
            self.fail(f"{text[:_SHOWN]!r} is not a whole number from {bounds}", param, ctx)
        if not self.least <= int(text) <= self.most:
            self.fail(f"{int(text)} is outside {bounds}", param, ctx)
        return int(text)


class FiniteRange(click.FloatRange):
    """A number from `least` to `most`; `nan`, which click lets pass, is none."""

    def __init__(self, least: float, most: float) -> None:
        super().__init__(least, most)
        self.least = least
        self.most = most

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:  # noqa: ANN401  # click's signature
        """The number."""
        text, bounds = str(value).strip(), f"{self.least:g} to {self.most:g}"
        try:
            number = float(text)
        except ValueError:
            number = math.nan
        if math.isnan(number):
            self.fail(f"{text[:_SHOWN]!r} is not a number from {bounds}", param, ctx)
        if not self.least <= number <= self.most:
            self.fail(f"{text[:_SHOWN]} is outside {bounds}", param, ctx)
        return number

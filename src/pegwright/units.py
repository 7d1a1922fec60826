"""Conversions between musical time, clock time and lengths; printed indexes and names.

Musical time is exact: whole ticks at a stated resolution (ticks per quarter note), or `Fraction`.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from enum import StrEnum
from fractions import Fraction
from itertools import accumulate
from typing import TypeVar

MICROSECONDS_PER_MINUTE = 60_000_000
MM_PER_IN = 25.4
GRAVITY_MM_PER_S2 = 9806.65
_DECIMALS = {1: ("",), 2: ("", ".5"), 4: ("", ".25", ".5", ".75")}  # fractions written as decimals, by denominator
NAMES_LISTED, NAMES_CHARS = 8, 80  # where a name is not among those there are; characters of those that are listed
_FOUR_FIGURES = 999.5  # the minimum that rounds to four
Number = TypeVar("Number", int, Fraction)
_PITCH_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


class LengthUnit(StrEnum):
    """What lengths are printed in; inside they are always in mm."""

    MM = "mm"
    IN = "in"

    def of(self, length_mm: float) -> float:
        """A length in this unit.

        Source: the international inch is 25.4 mm exactly.
        """
        return length_mm if self is LengthUnit.MM else length_mm / MM_PER_IN


def length_text(length_mm: float, unit: LengthUnit, decimals: int | None = None, sign: str = "") -> str:
    """A length as it is printed, everywhere: `2.5 mm`, `0.0984 in`.

    Args:
        length_mm: the length.
        unit: that of the wheel, `Wheel.unit`.
        decimals: of millimetres; inches have one more. None prints what a wheel file gave, to six figures.
        sign: `+` prints that of lengths above 0 too.
    """
    kind = ".6g" if decimals is None else f",.{decimals + (unit is LengthUnit.IN)}f"
    return f"{unit.of(length_mm):{sign}{kind}} {unit}"


def printed(index: Number) -> Number:
    """The printed number of a 0-based index: everything printed counts from 1."""
    return index + 1


def common_resolution(*resolutions: int) -> int:
    """The lowest resolution, in ticks per quarter, at which all the given ones are whole."""
    return math.lcm(*resolutions)


def us_per_quarter(quarters_per_minute: float | Fraction) -> int:
    """Microseconds per quarter note at a tempo, to the nearest microsecond.

    Source: Standard MIDI Files 1.0, meta event FF 51 (from memory): bpm = 60 000 000 / value.
    """
    return round(MICROSECONDS_PER_MINUTE / Fraction(quarters_per_minute))


def quarters_per_minute(us_per_quarter: int) -> float:
    """Tempo in quarter notes a minute."""
    return MICROSECONDS_PER_MINUTE / us_per_quarter


def ticks_to_ms(ticks: float, resolution: int, us_per_quarter: int) -> float:
    """Duration in ms of a number of ticks.

    Args:
        ticks: the duration.
        resolution: ticks per quarter.
        us_per_quarter: the tempo.
    """
    return ticks * us_per_quarter / (resolution * 1000.0)


def ms_to_ticks_up(duration_ms: float, resolution: int, us_per_quarter: int) -> int:
    """The lowest whole number of ticks that lasts at least a duration.

    The duration is taken to the nearest microsecond and the rest is whole-number arithmetic, so
    the answer is the same on every machine.

    Args:
        duration_ms: the duration.
        resolution: ticks per quarter.
        us_per_quarter: the tempo.
    """
    return -(-round(duration_ms * 1000) * resolution // us_per_quarter)


def fall_ms(fall_mm: float, start_mm_per_s: float = 0.0) -> float:
    """How long a body falls freely, without drag.

    Args:
        fall_mm: how far.
        start_mm_per_s: how fast it is at first, downwards.

    Source: h = v t + g t^2 / 2 with standard gravity, 9.80665 m/s^2 exactly: 3rd CGPM 1901, as the BIPM's SI Brochure
    has it.
    """
    end_mm_per_s = math.sqrt(start_mm_per_s**2 + 2 * GRAVITY_MM_PER_S2 * fall_mm)
    return 1000 * 2 * fall_mm / (start_mm_per_s + end_mm_per_s) if fall_mm else 0.0


def pitch_name(pitch_midi: int) -> str:
    """Name of a MIDI pitch with middle C (60) as C4, for reading only: data holds numbers."""
    return f"{_PITCH_NAMES[pitch_midi % 12]}{pitch_midi // 12 - 1}"


def fraction_of(text: str) -> Fraction:
    """The fraction that is written `3`, `2.5`, `7/3` or `2 1/3`, as `fraction_text` prints it; not below zero.

    Raises:
        ValueError: it is none.
        ZeroDivisionError: it divides by 0.
    """
    whole, _, part = text.rpartition(" ")
    return Fraction(whole.strip() or 0) + Fraction(part)


def fraction_text(value: Fraction) -> str:
    """A fraction as it is printed: `3`, `2.5`, `1 1/3`."""
    parts = value.denominator
    sign, (whole, rest) = "-" * (value < 0), divmod(abs(value.numerator), parts)
    if parts in _DECIMALS:
        return f"{sign}{whole}{_DECIMALS[parts][rest]}"
    return f"{sign}{whole} {rest}/{parts}" if whole else f"{sign}{rest}/{parts}"


def figures(value: float) -> str:
    """A number to three figures, or a whole one if that has more: `7.5`, `2,880`."""
    return f"{value:.3g}" if value < _FOUR_FIGURES else f"{value:,.0f}"


def seconds_text(duration_s: float) -> str:
    """Seconds to three figures, or whole ones if they have more: `7.5 s`, `2,880 s`."""
    return f"{figures(duration_s)} s"


def percent_text(share: float, decimals: int = 0, sign: str = "") -> str:
    """A share in per cent, as a number with its unit: `12 %`, `0.1 %`.

    Source: The International System of Units (SI brochure), 9th edition, 5.4.7 (from memory): a space separates the
    number and the symbol %.

    Args:
        share: 1 is all of it.
        decimals: of the per cent.
        sign: `+` prints that of shares above 0 too.
    """
    return f"{100 * share:{sign}.{decimals}f} %"


def turning_text(turn_s: float) -> str:
    """How fast a wheel turns, both ways: `24 s a turn, 2.5 revolutions a minute`."""
    return f"{seconds_text(turn_s)} a turn, {revolutions_text(60 / turn_s)}"


def revolutions_text(turns_per_minute: float) -> str:
    """The speed of a wheel: `2.5 revolutions a minute`, `1 revolution a minute`."""
    speed = figures(turns_per_minute)
    return f"{speed} revolution{'' if speed == '1' else 's'} a minute"


def ratio_text(ratio: Fraction) -> str:
    """A ratio as a user writes it: `2:1`."""
    return f"{ratio.numerator}:{ratio.denominator}"


def nearest_name(name: str, names: Sequence[str]) -> str | None:
    """The name like one that is not among them and nearest to it, if any; capitals count as small letters."""
    from difflib import get_close_matches  # noqa: PLC0415  # loaded for faults

    folded = {each.casefold(): each for each in names}
    return next((folded[each] for each in get_close_matches(name.casefold(), folded, n=1)), None)


def few_names(names: Sequence[str]) -> Sequence[str]:
    """The first of some names, as many as fit an error line; at least one of them."""
    ends = accumulate(len(name) for name in names[:NAMES_LISTED])
    return names[: max(1, sum(end <= NAMES_CHARS for end in ends))]


def nearest_hint(name: str, names: Sequence[str], none: str) -> str:
    """What names there are, in a sentence, the one nearest to another first.

    Args:
        name: that is not among them.
        names: those there are.
        none: the sentence where there are none.
    """
    near, shown = nearest_name(name, names), few_names(names)
    nearest = [f"the nearest name is {near!r}"] if near is not None else []
    rest = [f"{len(names) - len(shown)} more"] if len(names) > len(shown) else []
    every = [f"the names are {listed([*map(repr, shown), *rest])}"] if len(names) > len(nearest) else []
    return "; ".join([*nearest, *every]) or none


def plural(count: int, noun: str, nouns: str | None = None) -> str:
    """`1 note`, `2 notes`, `1,204 notes`.

    Args:
        count: of things.
        noun: in the singular.
        nouns: in the plural; None adds an `s`.
    """
    return f"{count:,} {noun if count == 1 else nouns or noun + 's'}"


def listed(words: Sequence[str]) -> str:
    """Words as a list in a sentence: `a`, `a and b`, `a, b and c`."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if words[1:] else words)


class UniqueNames:
    """Gives each name once: one that is taken gets the first free number behind it.

    Args:
        taken: names that are not to be given.
    """

    def __init__(self, taken: Iterable[str] = ()) -> None:
        self._taken = set(taken)
        self._numbers: Counter[str] = Counter()

    def take(self, name: str) -> str:
        """The name, or the name with a number: `Bells (2)`."""
        unique = name
        while unique in self._taken:
            self._numbers[name] += 1
            unique = f"{name} ({printed(self._numbers[name])})"
        self._taken.add(unique)
        return unique


def one_line(text: str | None, max_characters: int) -> str:
    """Text fit for one line: white space collapsed, unprintable characters out, not too long."""
    spaced = "".join(letter for letter in text or "" if letter.isprintable() or letter.isspace())
    return " ".join(spaced.split())[:max_characters].rstrip()


def least_doubled(fits: Callable[[int], bool]) -> int:
    """The lowest power of 2 that fits: the distance between numbered steps of a scale."""
    every = 1
    while not fits(every):
        every *= 2
    return every

"""The request for a song, as typed for `pegwright fit`, and as data."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction
from operator import attrgetter
from shlex import quote

from pegwright.ask.convert import written
from pegwright.ask.kinds import (
    BarRange,
    Beats,
    BeatShifts,
    Exact,
    Flag,
    NamedValues,
    NamePatterns,
    NoteEdits,
    NoteValue,
    Number,
    OptionKind,
    Ratio,
    Ticks,
)
from pegwright.ask.request import PLAIN, Request
from pegwright.ask.table import OPTIONS, Option, Value
from pegwright.json_value import Json
from pegwright.units import fraction_text, ratio_text


def typed(request: Request, base: Request = PLAIN) -> str:
    """The options that make this request of another one, in the order of `--help`; empty where it is that.

    Fitting the song again with them gives the same pins.

    Args:
        request: the options.
        base: those that hold without them, as by a song file; by default none.
    """
    return " ".join(typed_options(request, base))


def typed_options(request: Request, base: Request = PLAIN) -> tuple[str, ...]:
    """Each of the options that `typed` joins, with its value."""
    given = [option for option in OPTIONS if _is_given(request, option, base)]
    return tuple(words for option in given for words in _typed(request, option))


def bars_text(bars: tuple[int, int]) -> str:
    """A range of bars as it is typed: `5-16`, or a single bar once."""
    return "-".join(map(str, dict.fromkeys(bars)))


def edits_json(request: Request) -> dict[str, Json]:
    """The changes to the song before it is fitted."""
    edits: dict[str, Json] = {
        option.json: _json(option.kind, attrgetter(option.target)(request))
        for option in OPTIONS
        if option.json and (_is_given(request, option) or not option.json_if_asked)
    }
    return dict.fromkeys(("bars", "offset_ticks")) | edits  # in the order in which they were published


def _is_given(request: Request, option: Option, base: Request = PLAIN) -> bool:
    return written(request, option) not in (written(base, option), None)


def _typed(request: Request, option: Option) -> Iterator[str]:
    value = written(request, option)
    match option.kind:
        case Flag():
            yield option.typed
        case NamedValues():
            yield from (f"{option.typed} {quote(f'{name}={each}')}" for name, each in value)
        case NamePatterns() | NoteEdits() | BeatShifts():
            yield from (f"{option.typed} {quote(str(each))}" for each in value)
        case Number():
            yield f"{option.typed} {shortest_text(value, option)}"
        case _:
            yield f"{option.typed} {quote(_TEXT.get(type(option.kind), str)(value))}"


def shortest_text(value: float, option: Option) -> str:
    """The shortest decimal that an option stores as the same value, without an exponent."""
    stored = option.storage.stored
    texts = (f"{Decimal(f'{value:.{digits}g}'):f}" for digits in range(1, 18))
    return next(text for text in texts if float(text) > 0 and stored(float(text)) == stored(value))


def _json(kind: OptionKind, value: Value) -> Value:
    if isinstance(kind, NamedValues):
        return [dict(zip(kind.json, pair, strict=True)) for pair in value]
    if isinstance(kind, Ticks):
        return value if isinstance(value, int) else 0
    return value if value is None or type(kind) not in _DATA else _DATA[type(kind)](value)


def _swing_text(swing: Fraction | str) -> str:
    return swing if isinstance(swing, str) else ratio_text(swing)


_TEXT: dict[type, Callable[[Value], str]] = {
    BarRange: bars_text,
    Ratio: _swing_text,
}
_DATA: dict[type, Callable[[Value], Json]] = {
    BarRange: list,
    Ratio: _swing_text,
    NoteValue: fraction_text,
    Beats: str,
    Exact: fraction_text,
    NamePatterns: list,
    NoteEdits: lambda edits: [str(edit) for edit in edits],
    BeatShifts: lambda shifts: [str(shift) for shift in shifts],
}

"""Additions to a wheel, in words and in code, and the wheel with them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from enum import StrEnum
from fractions import Fraction

from pegwright.errors import InputError
from pegwright.frozen import frozen
from pegwright.percussion import drum_key_name
from pegwright.remedy.new_rows import laterals_mm, new_rows
from pegwright.units import fraction_text, listed, pitch_name
from pegwright.wheel import Channel, Kind, Row, Wheel

MAX_LATERALS = 6  # places of a new row across the rim that are tried
NAME_CHARS = 60  # of a name in a wheel file


class AdditionKind(StrEnum):
    """A kind of addition, in the order in which additions are listed; a survey counts pitches, drum keys and rows."""

    RETUNED = "retune"
    PITCH = "pitch"
    DRUM_KEY = "drum"
    HAMMER = "hammer"
    ROW = "row"


_ORDER = tuple(AdditionKind)


@frozen()
class Addition:
    """One addition to a wheel.

    Args:
        kind: a channel for a pitch or a percussion key, one more hammer for a channel, a channel retuned in place of
            one added, or a row of holes on every channel that lacks it.
        key: the MIDI pitch or percussion key; of a hammer which one of its channel it is, from 2; 0 for a row.
        phases, period_steps: of a row, as in `Row`; none and 1 otherwise.
        channel: the name of the channel that is retuned or has one more hammer; empty otherwise.
    """

    kind: AdditionKind
    key: int = 0
    phases: tuple[Fraction, ...] = ()
    period_steps: int = 1
    channel: str = ""

    @property
    def code(self) -> str:
        """The addition for programs: `pitch 66`, `drum 49`, `row 1/4 3/4 of 1`, `hammer 2 of bell`."""
        if self.kind is AdditionKind.ROW:
            return f"{self.kind} {' '.join(map(str, self.phases))} of {self.period_steps}"
        return f"{self.kind} {self.key}" + (f" of {self.channel}" if self.channel else "")

    @property
    def adds_channel(self) -> bool:
        """Whether the wheel has one more channel with it, which comes after those that it had."""
        return self.kind in {AdditionKind.PITCH, AdditionKind.DRUM_KEY, AdditionKind.HAMMER}

    def order(self) -> tuple[int, str, int, int, tuple[Fraction, ...]]:
        """For sorting: by kind, channel and key, then rows by their holes."""
        return _ORDER.index(self.kind), self.channel, self.key, self.period_steps, self.phases


def addition_from(code: str) -> Addition:
    """The addition of a `code`.

    Raises:
        InputError: it is not the code of an addition.
    """
    try:
        kind, rest = code.split(" ", 1)
        first, _, last = rest.partition(" of ")
        if kind != AdditionKind.ROW:
            return Addition(AdditionKind(kind), int(first), channel=last)
        return Addition(AdditionKind.ROW, 0, tuple(Fraction(phase) for phase in first.split(" ")), int(last))
    except (ValueError, ZeroDivisionError) as fault:
        raise InputError(f"{code[:40]!r} is not the code of an addition to a wheel") from fault


def addition_words(addition: Addition, wheel: Wheel) -> str:
    """The addition for a maker: `a channel for F#4 (66)`, `row triplet on every channel`."""
    pitch = f"{pitch_name(addition.key)} ({addition.key})"
    match addition.kind:
        case AdditionKind.RETUNED:
            return f"{addition.channel}, which the song does not use, retuned to {pitch}"
        case AdditionKind.PITCH:
            return f"a channel for {pitch}"
        case AdditionKind.DRUM_KEY:
            return f"a channel for drum key {addition.key}, {drum_key_name(addition.key)}"
        case AdditionKind.HAMMER:
            return f"one more channel for {addition.channel}"
    own = own_row(wheel, addition)
    return places_words(addition) if own is None else f"row {own.name} on every channel"


def places_words(addition: Addition) -> str:
    """The holes of a row for a maker: `holes at 0.25 and 0.75 of every step`."""
    places = listed([fraction_text(phase) for phase in addition.phases])
    every = "every step" if addition.period_steps == 1 else f"every {addition.period_steps} steps"
    return f"holes at {places} of {every}"


def row_additions(wheel: Wheel) -> tuple[Addition, ...]:
    """Rows that channels could be given, see `new_rows`."""
    return tuple(Addition(AdditionKind.ROW, 0, *places) for places in new_rows(wheel))


def any_wheel(_wheel: Wheel) -> bool:
    """True: every wheel will do."""
    return True


def with_additions(wheel: Wheel, additions: Iterable[Addition], sound: Callable[[Wheel], bool] = any_wheel) -> Wheel:
    """The wheel with some additions; its hash is marked, as it is no longer that of a file.

    A channel is added last. It is like its neighbour, the channel nearest in pitch (or percussion key; the lower of
    two), in rows, re-strike, lead, kind and the strike limits that count it; on a wheel without any, it strikes and
    is otherwise like the first channel. A hammer is like its channel in all. A row is given to every channel; a new one
    lies in line with the first row, or beside it where its holes would run into others.

    Args:
        wheel: as it is.
        additions: to it.
        sound: whether a wheel could be made; of the places across the rim for a new row the first is taken that is.
    """
    ordered = sorted(set(additions), key=Addition.order)
    changed = replace(wheel, sha256="+".join([wheel.sha256, *(addition.code for addition in ordered)]))
    for addition in ordered:
        if addition.kind is AdditionKind.ROW:
            changed = _with_row(changed, addition, sound)
        else:
            changed = _with_addition(changed, addition, wheel)
    return changed


def _with_addition(wheel: Wheel, addition: Addition, before: Wheel) -> Wheel:
    """The wheel with a channel added or retuned; unchanged where that needs a channel that it does not have."""
    keys = (addition.key,)
    if addition.kind in {AdditionKind.PITCH, AdditionKind.DRUM_KEY}:
        drum = addition.kind is AdditionKind.DRUM_KEY
        like = _neighbour(before, addition.key, drum)
        name = drum_key_name(addition.key) if drum else pitch_name(addition.key)
        return _added(wheel, replace(like, pitches=() if drum else keys, drum_keys=keys if drum else ()), name)
    own = next((channel for channel in wheel.channels if channel.name == addition.channel), None)
    if own is None:
        return wheel
    if addition.kind is AdditionKind.HAMMER:
        return _added(wheel, own, f"{own.name}, {addition.key}")
    retuned = replace(own, pitches=keys)
    return replace(wheel, channels=tuple(retuned if channel is own else channel for channel in wheel.channels))


def _neighbour(wheel: Wheel, key: int, drum: bool) -> Channel:
    near = [
        (abs(other - key), other, number)
        for number, channel in enumerate(wheel.channels)
        for other in (channel.drum_keys if drum else channel.pitches)
    ]
    return wheel.channels[min(near)[2]] if near else replace(wheel.channels[0], kind=Kind.STRIKE, hold_mm=0.0)


def _added(wheel: Wheel, like: Channel, name: str) -> Wheel:
    """The wheel with a channel of another name added, counted by the limits that count the one it is like."""
    added = replace(like, name=_unused(name, wheel))
    limits = tuple(
        replace(limit, channels=(*limit.channels, added.name)) if like.name in limit.channels else limit
        for limit in wheel.strike_limits
    )
    return replace(wheel, channels=(*wheel.channels, added), strike_limits=limits)


def _unused(name: str, wheel: Wheel) -> str:
    names = {*(channel.name for channel in wheel.channels), *(row.name for row in wheel.rows)}
    unused = name = name[:NAME_CHARS].strip()
    while unused in names:
        marks = unused[len(name) :] + "'"
        name = name[: NAME_CHARS - len(marks)].strip()
        unused = name + marks
    return unused


def _with_row(wheel: Wheel, addition: Addition, sound: Callable[[Wheel], bool]) -> Wheel:
    own = own_row(wheel, addition)
    if own is not None:
        return _given(wheel, own)
    name = _unused(addition.code, wheel)
    ways = [
        _given(replace(wheel, rows=(*wheel.rows, row)), row)
        for lateral_mm in laterals_mm(wheel, addition.phases, addition.period_steps)[:MAX_LATERALS]
        for row in [Row(name, addition.phases, addition.period_steps, lateral_mm)]
    ]
    return next((way for way in ways if sound(way)), ways[0])


def _given(wheel: Wheel, row: Row) -> Wheel:
    """The wheel with one of its rows on every channel."""
    names = [known.name for known in wheel.rows]
    channels = tuple(
        replace(channel, rows=tuple(name for name in names if name in channel.rows or name == row.name))
        for channel in wheel.channels
    )
    return replace(wheel, channels=channels)


def own_row(wheel: Wheel, addition: Addition) -> Row | None:
    """The row of a wheel that has the holes of an addition, if there is one."""
    same = (row for row in wheel.rows if (row.phases, row.period_steps) == (addition.phases, addition.period_steps))
    return next(same, None)

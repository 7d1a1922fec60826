"""Additions to a wheel, in words and in code, and the wheel with them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache

from pegwright.errors import InputError
from pegwright.percussion import drum_key_name
from pegwright.units import fraction_text, listed, pitch_name
from pegwright.wheel import Channel, Kind, Row, Wheel

FINER_ROWS = (1, 2, 3, 4, 5, 6, 8)  # parts of a step that a row may be added for, the simplest first


class AdditionKind(StrEnum):
    """A kind of addition, in the order in which additions are listed; a survey counts pitches, drum keys and rows."""

    RETUNED = "retune"
    PITCH = "pitch"
    DRUM_KEY = "drum"
    HAMMER = "hammer"
    ROW = "row"


_ORDER = tuple(AdditionKind)


@dataclass(frozen=True, slots=True)
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
    own = _own_row(wheel, addition)
    if own is not None:
        return f"row {own.name} on every channel"
    places = listed([fraction_text(phase) for phase in addition.phases])
    every = "every step" if addition.period_steps == 1 else f"every {addition.period_steps} steps"
    return f"holes at {places} of {every}"


@lru_cache(maxsize=8)
def row_additions(wheel: Wheel) -> tuple[Addition, ...]:
    """Rows that channels could be given: the wheel's own, then finer parts of a step; no place more than once."""
    longest = math.lcm(*(row.period_steps for row in wheel.rows))
    additions = [Addition(AdditionKind.ROW, 0, row.phases, row.period_steps) for row in wheel.rows]
    taken = {phase for addition in additions for phase in _written_out(addition.phases, addition.period_steps, longest)}
    for parts in FINER_ROWS:
        places = [Fraction(place, parts) for place in range(parts * longest)]
        new = tuple(place for place in places if place not in taken)
        if new:
            additions.append(_shortest(new, longest))
            taken.update(new)
    return tuple(additions)


def with_additions(wheel: Wheel, additions: Iterable[Addition]) -> Wheel:
    """The wheel with some additions; its hash is marked, as it is no longer that of a file.

    A channel is added last. It is like its neighbour, the channel nearest in pitch (or percussion key; the lower of
    two), in rows, re-strike, lead, kind and the strike limits that count it; on a wheel without any, it strikes and
    is otherwise like the first channel. A hammer is like its channel in all. A row is given to every channel.
    """
    ordered = sorted(set(additions), key=Addition.order)
    changed = replace(wheel, sha256="+".join([wheel.sha256, *(addition.code for addition in ordered)]))
    for addition in ordered:
        changed = _with_addition(changed, addition, wheel)
    return changed


def _with_addition(wheel: Wheel, addition: Addition, before: Wheel) -> Wheel:
    """The wheel with an addition; unchanged where that needs a channel that it does not have."""
    if addition.kind is AdditionKind.ROW:
        return _with_row(wheel, addition)
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
    while name in names:
        name += "'"
    return name


def _with_row(wheel: Wheel, addition: Addition) -> Wheel:
    row = _own_row(wheel, addition)
    rows = wheel.rows
    if row is None:
        row = Row(_unused(addition.code, wheel), addition.phases, addition.period_steps, rows[0].lateral_mm)
        rows = (*rows, row)
    names = [known.name for known in rows]
    channels = tuple(
        replace(channel, rows=tuple(name for name in names if name in channel.rows or name == row.name))
        for channel in wheel.channels
    )
    return replace(wheel, rows=rows, channels=channels)


def _own_row(wheel: Wheel, addition: Addition) -> Row | None:
    same = (row for row in wheel.rows if (row.phases, row.period_steps) == (addition.phases, addition.period_steps))
    return next(same, None)


def _written_out(phases: tuple[Fraction, ...], period_steps: int, steps: int) -> tuple[Fraction, ...]:
    return tuple(start + phase for start in range(0, steps, period_steps) for phase in phases)


def _shortest(places: tuple[Fraction, ...], steps: int) -> Addition:
    """A row of these places, with the shortest period that gives them."""
    for period in range(1, steps):
        phases = tuple(place for place in places if place < period)
        if steps % period == 0 and _written_out(phases, period, steps) == places:
            return Addition(AdditionKind.ROW, 0, phases, period)
    return Addition(AdditionKind.ROW, 0, places, steps)

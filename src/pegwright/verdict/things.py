"""What a piece lacks on a wheel: channels and rows, as things that a maker could add."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache

from pegwright.errors import InputError
from pegwright.percussion import drum_key_name
from pegwright.units import fraction_text, pitch_name
from pegwright.wheel import Channel, Row, Wheel

FINER_ROWS = (1, 2, 3, 4, 5, 6, 8)  # parts of a step that a row may be added for, the simplest first


class Lacking(StrEnum):
    """A kind of thing."""

    PITCH = "pitch"
    DRUM_KEY = "drum"
    ROW = "row"


_ORDER = tuple(Lacking)


@dataclass(frozen=True, slots=True)
class Thing:
    """One thing that a wheel could be given.

    Args:
        kind: a channel for a pitch or a percussion key, or a row of holes on every channel that lacks it.
        key: the MIDI pitch or percussion key; 0 for a row.
        phases, period_steps: of a row, as in `Row`; none and 1 otherwise.
    """

    kind: Lacking
    key: int = 0
    phases: tuple[Fraction, ...] = ()
    period_steps: int = 1

    @property
    def code(self) -> str:
        """The thing for programs: `pitch 66`, `drum 49`, `row 1/4 3/4 of 1`."""
        if self.kind is not Lacking.ROW:
            return f"{self.kind} {self.key}"
        return f"{self.kind} {' '.join(map(str, self.phases))} of {self.period_steps}"

    def order(self) -> tuple[int, int, int, tuple[Fraction, ...]]:
        """For sorting: pitches, percussion keys, then rows."""
        return _ORDER.index(self.kind), self.key, self.period_steps, self.phases


def thing_from(code: str) -> Thing:
    """The thing of a `code`.

    Raises:
        InputError: it is none.
    """
    try:
        kind, rest = code.split(" ", 1)
        if kind != Lacking.ROW:
            return Thing(Lacking(kind), int(rest))
        phases, period = rest.split(" of ")
        return Thing(Lacking.ROW, 0, tuple(Fraction(phase) for phase in phases.split(" ")), int(period))
    except (ValueError, ZeroDivisionError) as fault:
        raise InputError(f"{code[:40]!r} is no thing that a wheel could be given") from fault


def thing_words(thing: Thing, wheel: Wheel) -> str:
    """The thing for a maker: `a channel for F#4 (66)`, `row triplet on every channel`."""
    if thing.kind is Lacking.PITCH:
        return f"a channel for {pitch_name(thing.key)} ({thing.key})"
    if thing.kind is Lacking.DRUM_KEY:
        return f"a channel for drum key {thing.key}, {drum_key_name(thing.key)}"
    own = _own_row(wheel, thing)
    if own is not None:
        return f"row {own.name} on every channel"
    places = [fraction_text(phase) for phase in thing.phases]
    every = "every step" if thing.period_steps == 1 else f"every {thing.period_steps} steps"
    return f"holes at {' and '.join([', '.join(places[:-1]), places[-1]] if places[1:] else places)} of {every}"


@lru_cache(maxsize=8)
def row_things(wheel: Wheel) -> tuple[Thing, ...]:
    """Rows that channels could be given: the wheel's own, then finer parts of a step; no place comes twice."""
    longest = math.lcm(*(row.period_steps for row in wheel.rows))
    things = [Thing(Lacking.ROW, 0, row.phases, row.period_steps) for row in wheel.rows]
    taken = {phase for thing in things for phase in _written_out(thing.phases, thing.period_steps, longest)}
    for parts in FINER_ROWS:
        places = [Fraction(place, parts) for place in range(parts * longest)]
        new = tuple(place for place in places if place not in taken)
        if new:
            things.append(_shortest(new, longest))
            taken.update(new)
    return tuple(things)


def with_things(wheel: Wheel, things: Iterable[Thing]) -> Wheel:
    """The wheel with some things added.

    A channel is added last. It is like its neighbour, the channel nearest in pitch (or percussion key; the lower of
    two), in rows, re-strike and kind; on a wheel without any, like the first channel. A row is given to every channel.
    """
    made = wheel
    ordered = sorted(things, key=Thing.order)
    for thing in ordered:
        if thing.kind is not Lacking.ROW:
            made = replace(made, channels=(*made.channels, _channel(wheel, thing)))
    for thing in ordered:
        if thing.kind is Lacking.ROW:
            made = _with_row(made, thing)
    return made


def _channel(wheel: Wheel, thing: Thing) -> Channel:
    drum = thing.kind is Lacking.DRUM_KEY
    near = [
        (abs(key - thing.key), key, number)
        for number, channel in enumerate(wheel.channels)
        for key in (channel.drum_keys if drum else channel.pitches)
    ]
    neighbour = wheel.channels[min(near)[2] if near else 0]
    keys = (thing.key,)
    return replace(
        neighbour, name=_unused(thing.code, wheel), pitches=() if drum else keys, drum_keys=keys if drum else ()
    )


def _unused(name: str, wheel: Wheel) -> str:
    names = {*(channel.name for channel in wheel.channels), *(row.name for row in wheel.rows)}
    while name in names:
        name += "'"
    return name


def _with_row(wheel: Wheel, thing: Thing) -> Wheel:
    row = _own_row(wheel, thing)
    rows = wheel.rows
    if row is None:
        row = Row(_unused(thing.code, wheel), thing.phases, thing.period_steps)
        rows = (*rows, row)
    names = [known.name for known in rows]
    channels = tuple(
        replace(channel, rows=tuple(name for name in names if name in channel.rows or name == row.name))
        for channel in wheel.channels
    )
    return replace(wheel, rows=rows, channels=channels)


def _own_row(wheel: Wheel, thing: Thing) -> Row | None:
    same = (row for row in wheel.rows if (row.phases, row.period_steps) == (thing.phases, thing.period_steps))
    return next(same, None)


def _written_out(phases: tuple[Fraction, ...], period_steps: int, steps: int) -> tuple[Fraction, ...]:
    return tuple(start + phase for start in range(0, steps, period_steps) for phase in phases)


def _shortest(places: tuple[Fraction, ...], steps: int) -> Thing:
    """A row of these places, told with the shortest period that gives them."""
    for period in range(1, steps):
        phases = tuple(place for place in places if place < period)
        if steps % period == 0 and _written_out(phases, period, steps) == places:
            return Thing(Lacking.ROW, 0, phases, period)
    return Thing(Lacking.ROW, 0, places, steps)

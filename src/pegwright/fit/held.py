"""Held notes: the further pins that keep a holding channel sounding until its note ends.

A pin holds its channel for the channel's `hold_mm` of rim from where it trips, a bridge pin for its `bridge_mm` more. A
pin that comes before the channel lets go keeps it on, so that a run of pins is one note. Of all runs that begin with
the note's own pin, keep to the rules and end in time for the next note, one is chosen that ends nearest to the note's
written end, all within `END_MS` of it being alike; then that of the fewest pins; then of the fewest that are not plain;
then with the earliest holes.

The rules of a run: it uses holes that exist and have no other pin, stays within the turn and lets go a re-strike
before the channel's next note; its pins are at least a pin and its clearance apart along the rim, whatever their rows,
and none reaches over an edge of its plate. Onsets come first: no note is lost or moved so that another can last.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.fit.turn import pin_types_of
from pegwright.frozen import frozen
from pegwright.grid import LENGTH_SLACK_MM, Loss, meant_grid, overhangs
from pegwright.placement import Outcome, Placement
from pegwright.score import Score
from pegwright.units import ms_to_ticks_up, ticks_to_ms
from pegwright.wheel import Kind, Wheel

END_MS = 10.0  # ends no farther from the written one count as equal to it; common practice, no source


@frozen(eq=False)
class HeldNotes:
    """The placed notes of holding channels and the pins that hold them.

    Args:
        note: shape (h,), the notes, by channel, then place in the turn.
        first_pin_type: shape (h,), the type of each one's first pin, which can be a bridge.
        late_ms: shape (h,), how much later than written each ends; 0 within the score's own rounding.
        pin_note, pin_plate, pin_row, pin_index, pin_type: shape (p,), the further pins, as in `Placement`.
    """

    note: Ints
    first_pin_type: Ints
    late_ms: Floats
    pin_note: Ints
    pin_plate: Ints
    pin_row: Ints
    pin_index: Ints
    pin_type: Ints

    @property
    def pin_count(self) -> int:
        """Further pins in all."""
        return len(self.pin_note)


_NO_INTS = frozen_ints([])
NONE_HELD = HeldNotes(_NO_INTS, _NO_INTS, frozen_floats([]), *[_NO_INTS] * 5)


class _Pin(NamedTuple):
    """A pin that a run can have: where it trips and ends, in ticks from the song's start, and what it is.

    Its collar begins and ends `early` ticks before that.
    """

    trips: int
    row: int
    pin_type: int
    ends: float
    early: float
    odd: bool
    place: int


class _Way(NamedTuple):
    """The run of minimum cost to a pin: pins and odd pins so far, and the pin before, or -1."""

    pins: int
    odd: int
    before: int


@frozen()
class _Lever:
    """One channel's lengths in ticks: how long a pin holds, what lies between two pins and before the next note.

    Pins of one hole trip no more than `spread` apart.
    """

    hold: float
    clear: float
    restrike: int
    exact: float
    alike: float
    slack: float
    spread: int


@frozen()
class _Note:
    """A note to be held: its own pin in every type that trips there, when it should and when it must have ended."""

    note: int
    own: tuple[_Pin, ...]
    wanted: float
    next_trips: int
    next_early: float
    turn_ends: int


def held_notes(score: Score, wheel: Wheel, placement: Placement) -> HeldNotes:
    """Find the pins that hold every placed note of a channel of kind hold.

    Args:
        score: what was fitted.
        wheel: what it was fitted to.
        placement: the outcome of every note.
    """
    holding = [number for number, channel in enumerate(wheel.channels) if channel.kind is Kind.HOLD]
    if not holding:
        return NONE_HELD
    ends: list[tuple[int, int, float]] = []
    further: list[tuple[int, int, int, int, int]] = []
    song_wheel = _SongWheel(score, wheel, placement)
    for number in holding:
        notes = np.flatnonzero((placement.outcome == Outcome.PLACED) & (placement.channel == number))
        if not len(notes):
            continue
        line, lever, pins = meant_grid(wheel).lines[number], song_wheel.lever(number), song_wheel.pins(number)
        trips = [pin.trips for pin in pins]
        all_held = list(song_wheel.notes(notes))
        taken = {held.own[0].place for held in all_held}
        for held in all_held:
            low, past = bisect_right(trips, held.own[0].trips), bisect_left(trips, held.next_trips)
            run = _best_run(held, [pin for pin in pins[low:past] if pin.place not in taken], lever)
            taken.update(pin.place for pin in run)
            late = run[-1].ends + lever.hold - held.wanted
            ends.append((held.note, run[0].pin_type, 0.0 if abs(late) <= lever.exact else late * song_wheel.tick_ms))
            further += [
                (held.note, int(line.plate[pin.place]), pin.row, int(line.index[pin.place]), pin.pin_type)
                for pin in run[1:]
            ]
    columns = np.array(further, dtype=np.int64).reshape(-1, 5).T
    return HeldNotes(
        note=frozen_ints([note for note, _, _ in ends]),
        first_pin_type=frozen_ints([pin_type for _, pin_type, _ in ends]),
        late_ms=frozen_floats([late_ms for _, _, late_ms in ends]),
        pin_note=frozen_ints(columns[0]),
        pin_plate=frozen_ints(columns[1]),
        pin_row=frozen_ints(columns[2]),
        pin_index=frozen_ints(columns[3]),
        pin_type=frozen_ints(columns[4]),
    )


class _SongWheel:
    """A wheel in ticks from the start of the song that was fitted to it."""

    def __init__(self, score: Score, wheel: Wheel, placement: Placement) -> None:
        self.score, self.wheel, self.placement = score, wheel, placement
        self.scale = placement.resolution // score.resolution
        self.turn = int(wheel.turn_quarters * placement.resolution)
        self.per_mm = self.turn / wheel.geometry.circumference_mm
        self.tick_ms = ticks_to_ms(1, placement.resolution, placement.us_per_quarter)
        self.types = tuple(_types(wheel))

    def offset(self, kind: int) -> int:
        """How far after its hole's middle a pin of a type trips, in whole ticks as its place is."""
        return round(self.wheel.pin_types[kind].offset_mm * self.per_mm)

    def lever(self, channel: int) -> _Lever:
        """The lengths of one channel."""
        geometry, own, placement = self.wheel.geometry, self.wheel.channels[channel], self.placement
        slack = LENGTH_SLACK_MM * self.per_mm
        offsets = [self.offset(kind) for kind in self.types]
        return _Lever(
            hold=own.hold_mm * self.per_mm,
            clear=geometry.apart_mm * self.per_mm,
            restrike=ms_to_ticks_up(own.restrike_ms, placement.resolution, placement.us_per_quarter),
            exact=self.score.tolerance_ticks * self.scale + slack,
            alike=END_MS / self.tick_ms + slack,
            slack=slack,
            spread=max(offsets) - min(offsets),
        )

    def pins(self, channel: int) -> list[_Pin]:
        """Every pin that the holes of a channel can take, by where it trips, then row and pin type."""
        grid = meant_grid(self.wheel)
        line, scale = grid.lines[channel], self.placement.resolution // grid.resolution
        pins: list[_Pin] = []
        for place in np.flatnonzero(line.loss == Loss.NONE).tolist():
            position = int(line.position[place]) * scale - self.placement.start_ticks
            row, index = int(line.row[place]), int(line.index[place])
            pins += [
                self._pin((position + self.offset(kind)) % self.turn, row, kind, place)
                for kind in self.types
                if not overhangs(self.wheel, row, index, self.wheel.pin_types[kind])
            ]
        return sorted(pins)

    def notes(self, notes: Ints) -> Iterator[_Note]:
        """Notes of one channel in the order of their pins."""
        score, placement = self.score, self.placement
        ends = (score.onset_ticks + score.duration_ticks) * self.scale
        wanted = ends.copy()
        shared = np.flatnonzero(placement.unison >= 0)
        np.maximum.at(wanted, placement.unison[shared], ends[shared])  # one strike lasts as long as its longest note
        trips = score.onset_ticks[notes] * self.scale + placement.deviation_ticks[notes]
        order = np.argsort(trips, kind="stable")
        following = np.append(trips[order][1:], trips[order][0] + self.turn)
        own = [
            tuple(self._own_pins(note, at))
            for note, at in zip(notes[order].tolist(), trips[order].tolist(), strict=True)
        ]
        next_early = [pins[0].early for pins in (*own[1:], own[0])]
        for pins, note, next_trips, early in zip(
            own, notes[order].tolist(), following.tolist(), next_early, strict=True
        ):
            yield _Note(note, pins, float(wanted[note]), next_trips, early, self.turn)

    def _own_pins(self, note: int, trips: int) -> Iterator[_Pin]:
        """The first pin of a note: as it was placed, then the bridges that trip in its place."""
        placement = self.placement
        line = meant_grid(self.wheel).lines[int(placement.channel[note])]
        plate, row, index = (int(column[note]) for column in (placement.plate, placement.row, placement.index))
        place = int(np.flatnonzero((line.plate == plate) & (line.row == row) & (line.index == index))[0])
        placed = int(placement.pin_type[note])
        yield self._pin(trips, row, placed, place)
        for kind in self.types:
            bridge = self.wheel.pin_types[kind]
            alike = bridge.bridge_mm and bridge.offset_mm == self.wheel.pin_types[placed].offset_mm
            if alike and not overhangs(self.wheel, row, index, bridge):
                yield self._pin(trips, row, kind, place)

    def _pin(self, trips: int, row: int, kind: int, place: int) -> _Pin:
        pin_type = self.wheel.pin_types[kind]
        ends, early = trips + pin_type.bridge_mm * self.per_mm, (pin_type.offset_mm - pin_type.collar_mm) * self.per_mm
        return _Pin(trips, row, kind, ends, early, kind != self.types[0], place)


def _types(wheel: Wheel) -> Iterator[int]:
    """Pin types to choose from, the plain one first; of bridges the first of its offset and length."""
    yield from pin_types_of(wheel)
    seen = set()
    for number, pin_type in enumerate(wheel.pin_types):
        if pin_type.bridge_mm and (pin_type.offset_mm, pin_type.bridge_mm) not in seen:
            seen.add((pin_type.offset_mm, pin_type.bridge_mm))
            yield number


def _best_run(held: _Note, pins: list[_Pin], lever: _Lever) -> list[_Pin]:
    """The run of a note: its own pin, and those of `pins`, which trip after it, that follow."""
    ended = min(held.next_trips - lever.restrike, held.turn_ends)
    latest = ended - lever.hold + lever.slack  # where the last pin may end
    collar_latest = held.next_trips - held.next_early - lever.clear + lever.slack
    possible = _Runs(lever)
    for pin in (held.own[0], *(bridge for bridge in held.own[1:] if bridge.ends <= min(latest, collar_latest))):
        possible.append(pin, -1)
    for pin in pins:
        if pin.ends <= latest and pin.ends - pin.early <= collar_latest:
            before = possible.best_before(pin)
            if before >= 0:
                possible.append(pin, before)
    run, ways = possible.run, possible.ways
    miss = [max(0.0, abs(pin.ends + lever.hold - held.wanted) - lever.alike) for pin in run]
    near = [number for number in range(len(run)) if miss[number] <= min(miss) + lever.slack]
    best = min(near, key=lambda number: (ways[number].pins, ways[number].odd, number))
    chosen = []
    while best >= 0:
        chosen.append(run[best])
        best = ways[best].before
    return chosen[::-1]


class _Runs:
    """Pins that a run can reach, by where they trip, each with the best run to it.

    The pins of one type after which a pin of another can come are a window that only moves on along the rim, so that
    its best one is kept up to date at no more than one step a pin (a queue of those that a later one does not better).
    """

    def __init__(self, lever: _Lever) -> None:
        self.lever = lever
        self.run: list[_Pin] = []
        self.ways: list[_Way] = []
        self._of_type: dict[int, list[int]] = {}
        self._windows: dict[tuple[int, int], _InReach] = {}

    def append(self, pin: _Pin, before: int) -> None:
        """Add a pin that follows another, or begins where that is -1; pins come in the order in which they trip."""
        pins, odd = self.ways[before][:2] if before >= 0 else (0, 0)
        self._of_type.setdefault(pin.pin_type, []).append(len(self.run))
        self.run.append(pin)
        self.ways.append(_Way(pins + 1, odd + pin.odd, before))

    def best_before(self, pin: _Pin) -> int:
        """The pin after which another is best put, or -1 where all have let go before it or leave no room."""
        fronts = [self._front(pin, before_type) for before_type in self._of_type]
        best = min((front for front in fronts if front >= 0), key=self._rank, default=-1)
        if best >= 0 and self._has_place(pin, best):
            return min(self._all_before(pin), key=self._rank, default=-1)
        return best

    def _rank(self, number: int) -> tuple[int, int, int]:
        """The fewest pins first, then the fewest odd ones, then the earliest."""
        return (*self.ways[number][:2], number)

    def _front(self, pin: _Pin, before_type: int) -> int:
        """The best of one type before a pin, whatever their holes, or -1."""
        window = self._windows.setdefault((before_type, pin.pin_type), _InReach())
        numbers, queue = self._of_type[before_type], window.queue
        while window.entered < len(numbers) and self._has_room(pin, numbers[window.entered]):
            number = numbers[window.entered]
            window.entered += 1
            while queue and self.ways[queue[-1]][:2] > self.ways[number][:2]:
                queue.pop()
            queue.append(number)
        while queue and not self._holds(pin, queue[0]):
            queue.popleft()
        return queue[0] if queue else -1

    def _all_before(self, pin: _Pin) -> Iterator[int]:
        """Every pin that another can follow: looked at one by one where the best is in the very same hole."""
        for numbers in self._of_type.values():
            for number in reversed(numbers):
                if not self._holds(pin, number):
                    break
                if self._has_room(pin, number) and not self._has_place(pin, number):
                    yield number

    def _has_room(self, pin: _Pin, number: int) -> bool:
        before, lever = self.run[number], self.lever
        return before.ends - before.early + lever.clear <= pin.trips - pin.early + lever.slack

    def _holds(self, pin: _Pin, number: int) -> bool:
        return pin.trips <= self.run[number].ends + self.lever.hold + self.lever.slack

    def _has_place(self, pin: _Pin, number: int) -> bool:
        """Whether another pin on the way to one is in the hole of `pin`."""
        while number >= 0 and pin.trips - self.run[number].trips <= self.lever.spread:
            if self.run[number].place == pin.place:
                return True
            number = self.ways[number].before
        return False


@dataclass(slots=True)
class _InReach:
    """How many pins of a type have come into reach, and those among them that can still be the best."""

    entered: int = 0
    queue: deque[int] = field(default_factory=deque)

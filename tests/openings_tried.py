"""What would sound a note left out, by trying: a pin is put into every hole in turn, all others staying as they are.

Made from the rules and the verifier's tables, and from nothing of the fitting.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.check import notes, pins
from pegwright.check.subject import pins_of, subject_of
from pegwright.check.wheel import held_ticks, over_the_edge, sounding_kinds
from pegwright.columns import frozen_ints
from pegwright.placement import Outcome, Placement
from pegwright.score import Score
from pegwright.wheel import Wheel

RULES = (pins.one_pin_a_hole, pins.order, pins.restrike, pins.touching, pins.within_plate, pins.limits)


@dataclass(frozen=True)
class Pin:
    """A pin: where it trips and where its collar and its hole are, in ticks of the song; its hole as in the wheel."""

    channel: int
    onset: int
    at: int
    collar: int
    middle: int
    row: int
    plate: int
    index: int
    kind: int

    @property
    def away(self) -> int:
        return self.at - self.onset


class Tried:
    """A placement in which a note left out is tried in other places."""

    def __init__(self, score: Score, wheel: Wheel, options: FitOptions, placement: Placement) -> None:
        self.score, self.wheel, self.options, self.placement = score, wheel, options, placement
        self.subject = subject_of([(score, placement)], wheel)
        self.turn, self.resolution = self.subject.turn_ticks, placement.resolution
        self.onset = self.subject.onset_ticks.tolist()
        self.held = held_ticks(wheel, self.turn).tolist()
        self.us = placement.us_per_quarter
        table = self.subject.holes
        self.place = {
            int(number): (int(plate), int(index))
            for (row, plate, index), number in np.ndenumerate(table.numbers)
            if index < table.row_holes[row]
        }
        self.pins = [self._pin(note) for note in self.subject.placed.tolist()]

    def _pin(self, note: int) -> Pin:
        one = self.placement
        row, kind, at = int(one.row[note]), int(one.pin_type[note]), self.onset[note] + int(one.deviation_ticks[note])
        middle = at - int(self.subject.offsets.whole_ticks[kind])
        collar = middle + int(self.subject.offsets.collar_ticks[kind])
        return Pin(
            int(one.channel[note]), self.onset[note], at, collar, middle, row, int(one.plate[note]),
            int(one.index[note]), kind,
        )  # fmt: skip  # as many fields as that

    def silent(self) -> list[int]:
        """Notes that no pin sounds."""
        return np.flatnonzero(~self.placement.sounding).tolist()

    def channels(self, note: int, fold: bool = False) -> tuple[int, ...]:
        """Those that sound a note, with octaves folded or not."""
        if not fold:
            return tuple(np.flatnonzero(self.subject.sounds[:, note]).tolist())
        part = self.score.parts[int(self.score.part[note])]
        pattern = dict(self.options.part_channels).get(part.name, "*")
        table, _ = sounding_kinds(self.wheel, replace(self.placement, fold_octaves=True), (pattern,))
        return tuple(np.flatnonzero(table[:, int(self.score.pitch_midi[note]) + 128 * part.percussion]).tolist())

    def places(self, note: int, channels: tuple[int, ...], reach: int, later_ticks: int = 0) -> Iterator[Pin]:
        """Every pin for a note in a hole that exists, within reach, with the song starting so much later."""
        table, offsets, onset = self.subject.holes, self.subject.offsets, self.onset[note]
        if onset >= self.turn:
            return
        kinds = sorted({kind for kind in offsets.first.tolist() if kind >= 0})
        for kind in kinds:
            over = over_the_edge(self.wheel, table, np.arange(len(table.row)), np.full(len(table.row), kind))
            trips = table.position + offsets.whole_ticks[kind] - self.placement.start_ticks - later_ticks - onset
            away = (trips + self.turn // 2) % self.turn - self.turn // 2
            for channel in channels:
                for hole in np.flatnonzero(table.present[channel] & ~over & (np.abs(away) <= reach)).tolist():
                    at = onset + int(away[hole])
                    middle = at - int(offsets.whole_ticks[kind])
                    collar = middle + int(offsets.collar_ticks[kind])
                    yield Pin(channel, onset, at, collar, middle, int(table.row[hole]), *self.place[hole], kind)

    def stands(self, pin: Pin, us: int | None = None) -> bool:
        """Whether a pin may stand among those there are, at a tempo."""
        us = us or self.us
        own = [other for other in self.pins if other.channel == pin.channel]
        return (
            all(self._apart(pin, other, us) for other in own)
            and self._in_order([*own, pin])
            and all(self._within(number, pin, us) for number in range(len(self.wheel.strike_limits)))
        )

    def _round(self, ticks: int) -> int:
        return min(ticks % self.turn, -ticks % self.turn)

    def _apart(self, pin: Pin, other: Pin, us: int) -> bool:
        gap, channel, geometry = self._round(pin.at - other.at), self.wheel.channels[pin.channel], self.wheel.geometry
        if not gap or (gap - self.held[pin.channel]) * us < round(channel.restrike_ms * 1000) * self.resolution:
            return False
        if pin.row == other.row and (pin.middle - other.middle) % self.turn == 0:
            return False
        along_mm = self._round(pin.collar - other.collar) * geometry.circumference_mm / self.turn
        across_mm = self.wheel.rows[pin.row].lateral_mm - self.wheel.rows[other.row].lateral_mm
        return math.hypot(along_mm, across_mm) >= geometry.pin_diameter_mm + geometry.pin_clearance_mm - 1e-9

    def _in_order(self, of_channel: list[Pin]) -> bool:
        places = [pin.at for pin in sorted(of_channel, key=lambda pin: (pin.onset, pin.at))]
        rising = all(one < following for one, following in pairwise(places))
        return rising and places[-1] - places[0] < self.turn

    def _within(self, number: int, pin: Pin, us: int) -> bool:
        limit = self.wheel.strike_limits[number]
        counted = {place for place, channel in enumerate(self.wheel.channels) if channel.name in limit.channels}
        if pin.channel not in counted:
            return True
        at = sorted(other.at % self.turn for other in [*self.pins, pin] if other.channel in counted)
        laps = [*at, *(place + self.turn for place in at)]
        if len(at) <= limit.strikes:
            return True
        spans = [laps[place + limit.strikes] - laps[place] for place in range(len(at))]
        return all(span and span * us >= round(limit.window_ms * 1000) * self.resolution for span in spans)

    def by_hand(self, note: int, pin: Pin, us: int | None = None) -> tuple[str, ...]:
        """What the verifier has against the pins with a note placed by hand, at a tempo."""
        changed = {
            "outcome": int(Outcome.PLACED), "channel": pin.channel, "plate": pin.plate, "row": pin.row,
            "index": pin.index, "pin_type": pin.kind, "deviation_ticks": pin.away,
        }  # fmt: skip  # a column and its value
        columns = {}
        for name, value in changed.items():
            column = np.array(getattr(self.placement, name))
            column[note] = value
            columns[name] = frozen_ints(column)
        placed = replace(self.placement, **columns, us_per_quarter=us or self.us)  # type: ignore[arg-type]  # columns
        subject = subject_of([(self.score, placed)], self.wheel)
        standing = pins_of(subject)
        return (*notes.holes(subject), *(sentence for rule in RULES for sentence in rule(subject, standing)))

    def nearest_beyond(self, note: int) -> Pin | None:
        """The nearest place beyond the reach, as far as a reach can be chosen: a quarter note, below half a turn."""
        widest = min(self.resolution, (self.turn - 1) // 2)
        places = [
            pin
            for pin in self.places(note, self.channels(note), widest)
            if abs(pin.away) > self.placement.reach_ticks and self.stands(pin)
        ]
        return min(places, key=lambda pin: abs(pin.away), default=None)

    def stands_within_reach(
        self, note: int, us: int | None = None, later_ticks: int = 0, fold: bool = False
    ) -> list[Pin]:
        """Every place within reach where a note's pin may stand."""
        places = self.places(note, self.channels(note, fold), self.placement.reach_ticks, later_ticks)
        return [pin for pin in places if self.stands(pin, us)]

    def start_steps(self, note: int) -> int:
        """The smallest move of the start, the later of two, that gives a note a hole; 0 if none does."""
        step_ticks = int(self.wheel.step_quarters * self.resolution)
        for steps in range(1, self.wheel.turn_steps // 2 + 1):
            for move in (steps, -steps):
                if self.stands_within_reach(note, later_ticks=move * step_ticks):
                    return move
        return 0

    def folded_channels(self, note: int) -> set[int]:
        """The channels that may sound a note without a channel once octaves are folded: by a pin that it shares too."""
        if self.options.fold_octaves or self.placement.outcome[note] != Outcome.NO_CHANNEL:
            return set()
        channels = self.channels(note, fold=True)
        shared = {
            int(self.placement.channel[other])
            for other in self.subject.placed.tolist()
            if self.onset[other] == self.onset[note] and self.channels(other) == channels
        }
        return shared or {pin.channel for pin in self.stands_within_reach(note, fold=True)}

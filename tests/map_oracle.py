"""A third checker of pin maps, written from the wheel file's text alone: every pair of pins compared by plain sums.

It knows what docs/wheel-file.md says of the keys, and nothing of the program: no module of it is imported. Channels
that hold are not for it. Times are in microseconds, lengths in mm; holes, plates and channels count from 1, as in maps.
"""

from __future__ import annotations

import math
import tomllib
from collections import Counter
from fractions import Fraction
from typing import Any

Pin = tuple[int, int, int, int, int]  # channel, plate, row, hole, pin type
Fault = tuple[str, frozenset[Pin]]
ROUNDED_MM = 0.02  # places of pins with an offset may be rounded


class Oracle:
    """The rules of a wheel for pins.

    Args:
        text: of the wheel file.
    """

    def __init__(self, text: str) -> None:
        wheel: dict[str, Any] = tomllib.loads(text)
        self.plates, self.steps = wheel["wheel"]["plates"], wheel["wheel"]["steps_per_plate"]
        self.step_quarters = 4 * Fraction(wheel["wheel"]["step"])
        self.geometry, self.rows, self.types = wheel["geometry"], wheel["row"], wheel["pin_type"]
        self.channels = [{**wheel.get("channel_defaults", {}), **channel} for channel in wheel["channel"]]
        self.lost, self.limits = wheel.get("lost", []), wheel.get("limit", [])
        self.along: dict[tuple[int, ...], Fraction] = {}  # by row and hole
        self.trips: dict[Pin, float] = {}
        self.step_mm = 2 * math.pi * self.geometry["radius_mm"] / (self.plates * self.steps)

    def faults(self, pins: list[Pin], us_per_quarter: int) -> set[Fault]:
        """The rules that some pins break; of a limit all that are in a crowd."""
        bad = {("number", frozenset([pin])) for pin in pins if not self._is_numbered(pin)}
        if bad:
            return bad | self._stock(pins)
        broken: set[Fault] = {(rule, frozenset([pin])) for pin in pins if (rule := self._hole_fault(pin))}
        standing = [pin for pin in pins if not self._hole_fault(pin)]
        holes = Counter(pin[:4] for pin in standing)
        for hole, count in holes.items():
            if count > 1:
                broken.add(("shared", frozenset(pin for pin in standing if pin[:4] == hole)))
        broken |= {("edge", frozenset([pin])) for pin in standing if self._overhangs(pin)}
        collars_mm = {pin: self._collar_mm(pin) for pin in standing}
        broken |= {
            ("touch", frozenset([one, other]))
            for place, one in enumerate(standing)
            for other in standing[:place]
            if one[:4] != other[:4] and self._touch(one, other, abs(collars_mm[one] - collars_mm[other]))
        }
        us_per_step = self.step_quarters * us_per_quarter
        return broken | self._again(standing, us_per_step) | self._crowds(standing, us_per_step) | self._stock(pins)

    def _is_numbered(self, pin: Pin) -> bool:
        counts = (len(self.channels), self.plates, len(self.rows), 10**9, len(self.types))
        return all(1 <= number <= count for number, count in zip(pin, counts, strict=True))

    def _along(self, pin: Pin) -> Fraction:
        """Steps from the first step of the plate."""
        if pin[2:4] not in self.along:
            row = self.rows[pin[2] - 1]
            turn, phase = divmod(pin[3] - 1, len(row["phases"]))
            self.along[pin[2:4]] = turn * Fraction(row.get("period_steps", 1)) + Fraction(row["phases"][phase])
        return self.along[pin[2:4]]

    def _hole_fault(self, pin: Pin) -> str:
        channel, row = self.channels[pin[0] - 1], self.rows[pin[2] - 1]
        along = self._along(pin)
        if row["name"] not in channel["rows"] or along >= self.steps:
            return "hole"
        needed_mm = self.geometry["hole_diameter_mm"] / 2 + self.geometry["min_wall_mm"] - 1e-9
        lead_mm = float(along) * self.step_mm + self.geometry["lead_edge_mm"]
        trail_mm = float(self.steps - along) * self.step_mm - self.geometry["trail_edge_mm"]
        declared = any(
            (lost["row"], lost["hole"]) == (row["name"], pin[3])
            and lost.get("plate", pin[1]) == pin[1]
            and lost.get("channel", channel["name"]) == channel["name"]
            for lost in self.lost
        )
        return "lost" if declared or min(lead_mm, trail_mm) < needed_mm else ""

    def _collar_mm(self, pin: Pin) -> float:
        kind = self.types[pin[4] - 1]
        moved = kind.get("offset_mm", 0.0) if kind.get("collar", "moves") == "moves" else 0.0
        return float(float((pin[1] - 1) * self.steps + self._along(pin)) * self.step_mm + moved)

    def _overhangs(self, pin: Pin) -> bool:
        on_plate_mm = self._collar_mm(pin) - (pin[1] - 1) * self.steps * self.step_mm
        half_mm = self.geometry["pin_diameter_mm"] / 2 - 1e-9
        end_mm = self.steps * self.step_mm - self.geometry["trail_edge_mm"]
        return bool(on_plate_mm - half_mm < -self.geometry["lead_edge_mm"] or on_plate_mm + half_mm > end_mm)

    def _touch(self, one: Pin, other: Pin, along_mm: float) -> bool:
        turn_mm = self.plates * self.steps * self.step_mm
        needed_mm = self.geometry["pin_diameter_mm"] + self.geometry["pin_clearance_mm"] - 1e-9
        if min(along_mm, turn_mm - along_mm) >= needed_mm:
            return False
        laterals = [self.rows[pin[2] - 1].get("lateral_mm", 0.0) for pin in (one, other)]
        across_mm = (one[0] - other[0]) * self.geometry["channel_pitch_mm"] + laterals[0] - laterals[1]
        return bool(math.hypot(min(along_mm, turn_mm - along_mm), across_mm) < needed_mm)

    def _trips(self, pin: Pin) -> float:
        """Steps round the turn to where it trips."""
        if pin not in self.trips:
            late = self.types[pin[4] - 1].get("offset_mm", 0.0) / self.step_mm
            steps = (pin[1] - 1) * self.steps + self._along(pin)
            self.trips[pin] = (float(steps) + late) % (self.plates * self.steps)
        return self.trips[pin]

    def _slack_us(self, one: Pin, other: Pin, us_per_step: float) -> float:
        offsets = [self.types[pin[4] - 1].get("offset_mm", 0.0) for pin in (one, other)]
        return 1e-6 if offsets[0] == offsets[1] else ROUNDED_MM / self.step_mm * us_per_step

    def _again(self, pins: list[Pin], us_per_step: Fraction) -> set[Fault]:
        """Strikes of a channel that follow one another too soon, the last also by the first of the next turn."""
        broken: set[Fault] = set()
        turn, step_us = self.plates * self.steps, float(us_per_step)
        for number, channel in enumerate(self.channels, 1):
            own = sorted((pin for pin in pins if pin[0] == number), key=lambda pin: (self._trips(pin), pin))
            for place, one in enumerate(own):
                other = own[(place + 1) % len(own)]
                apart = (self._trips(other) - self._trips(one)) % turn if len(own) > 1 else turn
                needed_us = channel["restrike_ms"] * 1000
                if one[:4] == other[:4] and len(own) > 1:
                    continue
                if apart * step_us < needed_us - self._slack_us(one, other, step_us):
                    broken.add(("restrike", frozenset([one, other])))
        return broken

    def _crowds(self, pins: list[Pin], us_per_step: Fraction) -> set[Fault]:
        broken: set[Fault] = set()
        turn, step_us = self.plates * self.steps, float(us_per_step)
        for limit in self.limits:
            own = [pin for pin in pins if self.channels[pin[0] - 1]["name"] in limit["channels"]]
            crowded: set[Pin] = set()
            for first in own:
                window_us = limit["window_ms"] * 1000
                within = [
                    pin
                    for pin in own
                    if ((self._trips(pin) - self._trips(first) + 1e-9) % turn) * step_us
                    < window_us - self._slack_us(first, pin, step_us)
                ]
                crowded |= set(within) if len(within) > limit["strikes"] else set()
            if crowded:
                broken.add((f"limit {limit['name']}", frozenset(crowded)))
        return broken

    def _stock(self, pins: list[Pin]) -> set[Fault]:
        used = Counter(pin[4] for pin in pins)
        lacking = [number for number, kind in enumerate(self.types, 1) if used[number] > kind["stock"]]
        return {(f"stock {self.types[number - 1]['name']}", frozenset()) for number in lacking}

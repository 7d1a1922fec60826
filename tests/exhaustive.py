"""An exhaustive solver for tiny songs, made straight from the rules and from nothing of the fitting."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from pegwright.score import Score
from pegwright.wheel import Channel, Wheel


@dataclass(frozen=True)
class Hole:
    """A hole that exists, with a pin: where it trips in ticks from the song's start, 0 to below the turn."""

    at: int
    lateral_mm: float
    plate: int
    row: int
    index: int
    pin_type: int = 0
    odd: bool = False
    collar_late: int = 0  # how much later than the middle of its collar the pin trips


@dataclass(frozen=True)
class Problem:
    """The strikes of one channel as (note, onset, weight) in order of onset, and its holes."""

    strikes: list[tuple[int, int, int]]
    holes: list[Hole]
    turn: int
    reach: int
    tolerance: int
    us_per_tick: Fraction
    restrike_us: int
    needed_mm: float
    mm_per_tick: float

    def apart(self, one: Hole, other: Hole) -> bool:
        """Whether both pins may stand in their holes."""
        if (one.plate, one.row, one.index) == (other.plate, other.row, other.index):
            return False
        gap = abs(one.at - other.at)
        gap = min(gap, self.turn - gap)
        if gap == 0 or gap * self.us_per_tick < self.restrike_us:
            return False
        collars = (one.at - one.collar_late - other.at + other.collar_late) % self.turn
        gap = min(collars, self.turn - collars)
        return math.hypot(gap * self.mm_per_tick, one.lateral_mm - other.lateral_mm) >= self.needed_mm - 1e-9

    def choices(self, onset: int) -> list[tuple[int, Hole]]:
        """Unwrapped places and holes within reach of an onset, the earliest first."""
        found = [
            (at, hole.row, hole.odd, hole.pin_type, hole)
            for hole in self.holes
            for at in (hole.at - self.turn, hole.at, hole.at + self.turn)
            if abs(at - onset) <= self.reach
        ]
        return [(item[0], item[-1]) for item in sorted(found, key=lambda item: item[:4])]


def problem(score: Score, wheel: Wheel, number: int, resolution: int, start: Fraction, us_per_quarter: int) -> Problem:
    """The problem of one channel; each channel of the wheel must sound pitches of its own."""
    channel: Channel = wheel.channels[number]
    turn = int(wheel.turn_quarters * resolution)
    scale = resolution // score.resolution
    best: dict[int, tuple[int, int]] = {}
    for note in range(score.note_count):
        onset = int(score.onset_ticks[note]) * scale
        if int(score.pitch_midi[note]) in channel.pitches and onset < turn:
            weight = 128 + int(score.velocity[note])
            best[onset] = max(best.get(onset, (0, 0)), (weight, -note))
    holes = []
    for row_number, row in enumerate(wheel.rows):
        if row.name not in channel.rows:
            continue
        for plate in range(wheel.plate_count):
            for index in range(row.hole_count(wheel.steps_per_plate)):
                steps = row.position_steps(index)
                if _lost(wheel, channel, row.name, plate, index, steps):
                    continue
                at = int((plate * wheel.steps_per_plate + steps - start) * wheel.step_quarters * resolution)
                for kind, ticks, odd in _pins(wheel, turn):
                    stays = wheel.pin_types[kind].collar == "stays"
                    if _has_room(wheel, steps, 0.0 if stays else wheel.pin_types[kind].offset_mm):
                        place = (plate, row_number, index)
                        hole = Hole((at + ticks) % turn, row.lateral_mm, *place, kind, odd, ticks if stays else 0)
                        holes.append(hole)
    geometry = wheel.geometry
    tolerance = score.tolerance_ticks * scale
    return Problem(
        strikes=[(-best[onset][1], onset, best[onset][0]) for onset in sorted(best)],
        holes=holes,
        turn=turn,
        reach=max(int(wheel.reach_quarters * resolution), tolerance),
        tolerance=tolerance,
        us_per_tick=Fraction(us_per_quarter, resolution),
        restrike_us=round(channel.restrike_ms * 1000),
        needed_mm=geometry.pin_diameter_mm + geometry.pin_clearance_mm,
        mm_per_tick=2 * math.pi * geometry.radius_mm / turn,
    )


def _pins(wheel: Wheel, turn: int) -> list[tuple[int, int, bool]]:
    """Pin types that trip at a place of their own, the ticks to there, and whether they are not the plain one."""
    types = wheel.pin_types
    plain = min(range(len(types)), key=lambda kind: (abs(types[kind].offset_mm), kind))
    found: dict[tuple[float, bool], tuple[int, int, bool]] = {}
    for kind in (plain, *range(len(types))):
        mm = types[kind].offset_mm
        ticks = round(mm / (2 * math.pi * wheel.geometry.radius_mm) * turn)
        found.setdefault((mm, bool(mm) and types[kind].collar == "stays"), (kind, ticks, kind != plain))
    return list(found.values())


def _has_room(wheel: Wheel, steps: Fraction, collar_mm: float) -> bool:
    """Whether a collar so far from its hole's middle is within the edges of the plate."""
    geometry = wheel.geometry
    step_mm = 2 * math.pi * geometry.radius_mm / (wheel.plate_count * wheel.steps_per_plate)
    from_edge_mm = geometry.lead_edge_mm + float(steps) * step_mm + collar_mm
    to_edge_mm = (wheel.steps_per_plate - float(steps)) * step_mm - geometry.trail_edge_mm - collar_mm
    return min(from_edge_mm, to_edge_mm) >= geometry.pin_diameter_mm / 2 - 1e-9


def _lost(wheel: Wheel, channel: Channel, row: str, plate: int, index: int, steps: Fraction) -> bool:
    geometry = wheel.geometry
    plate_mm = 2 * math.pi * geometry.radius_mm / wheel.plate_count
    along_mm = float(steps) / wheel.steps_per_plate * plate_mm
    wall_mm = geometry.hole_diameter_mm / 2 + geometry.min_wall_mm - 1e-9
    if along_mm + geometry.lead_edge_mm < wall_mm or plate_mm - geometry.trail_edge_mm - along_mm < wall_mm:
        return True
    return any(
        lost.row == row and lost.index == index and lost.plate in {None, plate} and lost.channel in {None, channel.name}
        for lost in wheel.lost
    )


Assignment = Sequence[tuple[int, Hole] | None]


def assignments(problem: Problem) -> Iterator[Assignment]:
    """Every way to pin a channel that breaks no rule, those with earlier holes for earlier notes first."""
    chosen: list[tuple[int, Hole] | None] = []

    def extend(number: int) -> Iterator[Assignment]:
        if number == len(problem.strikes):
            yield tuple(chosen)
            return
        for choice in (*problem.choices(problem.strikes[number][1]), None):
            if choice is None or all(problem.apart(choice[1], other[1]) for other in chosen if other is not None):
                chosen.append(choice)
                yield from extend(number + 1)
                chosen.pop()

    return extend(0)


def value(problem: Problem, assignment: Assignment) -> tuple[int, int, int, int]:
    """Weight placed, minus cost, minus odd pins, minus distance: the greater the better."""
    weight = cost = odd = distance = 0
    for (_, onset, of_note), choice in zip(problem.strikes, assignment, strict=True):
        if choice is not None:
            weight += of_note
            away = abs(choice[0] - onset)
            cost += max(0, away - problem.tolerance)
            odd += choice[1].odd
            distance += away
    return weight, -cost, -odd, -distance


def keeps_order(problem: Problem, assignment: Assignment) -> bool:
    """Whether pins come in the order of their notes, once round."""
    places = [choice[0] for choice in assignment if choice is not None]
    rising = all(one < other for one, other in pairwise(places))
    return rising and (not places or places[-1] < places[0] + problem.turn)


def best(problem: Problem) -> tuple[tuple[int, int, int, int], Assignment]:
    """The greatest value of all, and the first assignment in order of notes and holes that has it."""
    greatest, first = (0, 0, 0, 0), None
    of_all = (0, 0, 0, 0)
    for assignment in assignments(problem):
        worth = value(problem, assignment)
        of_all = max(of_all, worth)
        if keeps_order(problem, assignment) and (first is None or worth > greatest):
            greatest, first = worth, assignment
    assert first is not None
    assert greatest == of_all, "crossing pins did better than pins in order"
    return greatest, first

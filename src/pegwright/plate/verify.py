"""The independent check of drilling programs: it reads their text and knows nothing of how they were made.

It shares no code with the rooms that order, compute or write them: a rule is stated there from the pattern, and here
from what a controller will do.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np

from pegwright.frozen import frozen
from pegwright.making import DwellUnit, Pattern, PlateFile, Tool

_PLACE_MM = 0.0006  # programs give places to a thousandth of a millimetre
_CLEAR_MM = 0.254  # Source: RS-274/NGC, G83: 0.010 inch above the depth reached, the drill feeds again (from memory)
_WORD = re.compile(r"([FGMPQRSXYZ])(-?\d*\.?\d+)")
_REQUIRED = ("G21", "G90", "G94", "G17", "G40", "G49", "G80")  # before anything moves
_CYCLES = ("G81", "G82", "G83")
_MAX_SENTENCES = 20


@frozen()
class _Move:
    """One straight move: to where, at which feed (0 in the air), spindle speed, and the line that says so."""

    line: int
    x: float | None
    y: float | None
    z: float | None
    feed: float
    speed: float


def verify_programs(pattern: Pattern, plate: PlateFile, programs: Sequence[tuple[int, str]]) -> tuple[str, ...]:
    """What is wrong with the programs that together drill a pattern; nothing if they may be run.

    Args:
        pattern: what is to be drilled.
        plate: its tools and its machine.
        programs: number of the tool and text of each, of one form, in the order in which they are run.
    """
    tools = {tool.number: tool for tool in plate.tools}
    drilled: Counter[int] = Counter()
    sentences: list[str] = []
    for number, (tool, text) in enumerate(programs, 1):
        check = _Check(pattern, plate, tools[tool], f"program {number}")
        check.run(text)
        sentences += check.sentences
        drilled.update(check.drilled)
    inside = _inside(pattern)
    for hole in range(pattern.holes.count):
        place = f"the hole at X{pattern.holes.x_mm[hole]:.3f} Y{pattern.holes.y_mm[hole]:.3f}"
        if drilled[hole] != 1:
            sentences.append(f"{place} is drilled {drilled[hole]} times, not once")
        if not inside[hole]:
            sentences.append(f"{place} is outside the sheet")
    return tuple(sentences[:_MAX_SENTENCES])


def _inside(pattern: Pattern) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Which holes are whole within the sheet: middles within its edge, and at least a radius from it."""
    x, y = pattern.holes.x_mm, pattern.holes.y_mm
    within = np.zeros(len(x), dtype=bool)
    far = np.ones(len(x), dtype=bool)
    ends = np.array(pattern.outline)
    for (ax, ay), (bx, by) in zip(ends, np.roll(ends, -1, axis=0), strict=True):
        if ay != by:
            within ^= ((ay > y) != (by > y)) & (x < ax + (y - ay) / (by - ay) * (bx - ax))
        length = (bx - ax) ** 2 + (by - ay) ** 2
        share = np.clip(((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length, 0, 1) if length else 0.0 * x
        away = np.hypot(x - ax - share * (bx - ax), y - ay - share * (by - ay))
        far &= away >= pattern.holes.diameter_mm / 2 - _PLACE_MM
    return within & far


def _cell(x: float, y: float) -> tuple[int, int]:
    """A place in whole thousandths of a millimetre."""
    return round(x * 1000), round(y * 1000)


class _Check:
    """Follows one program, keeps where the drill is and what it broke."""

    def __init__(self, pattern: Pattern, plate: PlateFile, tool: Tool, name: str) -> None:
        self.machine, self.tool, self.name = plate.machine, tool, name
        self.sentences: list[str] = []
        self.drilled: Counter[int] = Counter()
        holes, layer = pattern.holes, pattern.layer
        places = zip(holes.x_mm.tolist(), holes.y_mm.tolist(), holes.tool.tolist(), strict=True)
        self.hole_at = {
            _cell(x, y): (hole, x, y) for hole, (x, y, number) in enumerate(places) if number == tool.number
        }
        self.bottom = -(layer.thickness_mm + self.machine.through_mm)
        self.at: tuple[float | None, float | None, float | None] = (None, None, None)
        self.deepest = self.machine.retract_z_mm  # reached in the hole in which the drill is
        self.fed = 0.0  # since the drill was last lifted

    def say(self, line: int, words: str) -> None:
        self.sentences.append(f"{self.name}, line {line}: {words}")

    def run(self, text: str) -> None:
        reader = _Reader(self.machine.safe_z_mm)
        low_x, high_x, low_y, high_y = np.inf, -np.inf, np.inf, -np.inf
        for event in reader.moves(text):
            if isinstance(event, str):
                self.sentences.append(f"{self.name}, {event}")
                return
            self.move(event)
            if self.at[0] is not None and self.at[1] is not None:
                low_x, high_x = min(low_x, self.at[0]), max(high_x, self.at[0])
                low_y, high_y = min(low_y, self.at[1]), max(high_y, self.at[1])
        if (
            high_x - low_x > self.machine.travel_x_mm + _PLACE_MM
            or high_y - low_y > self.machine.travel_y_mm + _PLACE_MM
        ):
            self.say(reader.line, "it goes farther than the machine can travel")
        if self.at[2] is None or self.at[2] < self.machine.safe_z_mm - _PLACE_MM:
            self.say(reader.line, "it ends below the safe height")
        self.ending(reader)

    def ending(self, reader: _Reader) -> None:
        if reader.turning:
            self.say(reader.line, "it ends with the spindle on")
        if not reader.ended:
            self.say(reader.line, "it has no M30")
        seconds = 1.0 if self.machine.dwell_unit is DwellUnit.SECONDS else 1000.0
        for line, value in reader.dwells:
            if abs(value / seconds - self.tool.dwell_s) > 0.001:
                self.say(line, f"it dwells for P{value:g}, not {self.tool.dwell_s:g} s")

    def move(self, move: _Move) -> None:
        x, y, z = self.at
        new = (move.x, move.y, move.z)
        over = (x, y) != (move.x, move.y) and (move.x, move.y) != (None, None)
        safe = self.machine.safe_z_mm - _PLACE_MM
        if move.z is None or (over and (z is None or min(z, move.z) < safe)):
            self.say(move.line, "it moves over the sheet below the safe height")
            return
        if move.z < safe:
            self.down(move, move.z)
        if move.feed and not self.allowed(move):
            self.say(
                move.line, f"feed {move.feed:g} at {move.speed:g} a minute are not those of tool {self.tool.number}"
            )
        if move.z >= safe:
            self.deepest, self.fed = self.machine.retract_z_mm, 0.0
        self.at = new

    def hole(self, x: float | None, y: float | None) -> int | None:
        """The hole of this tool at a place; one half-way between two thousandths of a mm is at both."""
        if x is None or y is None:
            return None
        along, across = _cell(x, y)
        for cell in product((along - 1, along, along + 1), (across - 1, across, across + 1)):
            hole, hole_x, hole_y = self.hole_at.get(cell, (None, 0.0, 0.0))
            if hole is not None and max(abs(hole_x - x), abs(hole_y - y)) <= _PLACE_MM:
                return hole
        return None

    def allowed(self, move: _Move) -> bool:
        return move.feed == round(self.tool.feed_mm_per_min, 3) and move.speed == round(self.tool.spindle_per_min, 3)

    def down(self, move: _Move, z: float) -> None:
        """A move straight up or down, to a height below the safe one."""
        before = self.at[2]
        hole = self.hole(move.x, move.y)
        if hole is None or before is None:
            self.say(move.line, "it goes down where the pattern has no hole for this tool")
            return
        if not move.feed:
            if z < self.deepest - _PLACE_MM:
                self.say(move.line, "it goes down at rapid rate below the retract height and the depth reached")
            self.fed = 0.0 if z >= self.machine.retract_z_mm - _PLACE_MM else self.fed
            return
        if z > before:
            self.say(move.line, "it feeds upwards")
        self.fed += before - z
        if self.tool.peck_mm > 0 and self.fed > self.tool.peck_mm + _CLEAR_MM + 4 * _PLACE_MM:
            self.say(
                move.line, f"it feeds {self.fed:.3f} mm without being lifted, more than a peck of {self.tool.peck_mm:g}"
            )
        if z < self.bottom - _PLACE_MM or z < self.lowest():
            self.say(move.line, f"it goes to {z:.3f}, below the bottom at {self.bottom:.3f}")
        elif z <= self.bottom + _PLACE_MM and not z < self.deepest <= self.bottom + _PLACE_MM:
            self.drilled[hole] += 1  # once where the last peck but one ends within the tolerance of the bottom
        self.deepest = min(self.deepest, z)

    def lowest(self) -> float:
        return self.bottom + self.machine.through_mm - self.machine.spoilboard_mm - _PLACE_MM


class _Reader:
    """Turns the lines of a program into moves; knows the codes that programs for drilling have, and refuses others."""

    def __init__(self, safe_z: float) -> None:
        self.safe_z, self.line = safe_z, 0
        self.seen: set[str] = set()
        self.motion, self.feed, self.speed = "", 0.0, 0.0
        self.turning = self.ended = False
        self.place: dict[str, float] = {}
        self.cycle: dict[str, float] = {}
        self.dwells: list[tuple[int, float]] = []

    def moves(self, text: str) -> Iterator[_Move | str]:
        for self.line, line in enumerate(text.splitlines(), 1):
            if len(line) > 70 or not line.isascii() or (line.startswith("(") != line.endswith(")")):
                yield f"line {self.line}: it is too long or not plain ASCII, or its comment does not end"
                return
            if line.startswith("(") and not re.search(r"[()%;!~?$]", line[1:-1]):
                continue
            bare = line.replace(" ", "")
            if _WORD.sub("", bare) or self.ended:
                yield f"line {self.line}: {line!r} is not a line of a drilling program"
                return
            words = _WORD.findall(bare)
            codes = [letter + number for letter, number in words if letter in "GM"]
            values = {letter: float(number) for letter, number in words if letter not in "GM"}
            fault = self.codes(codes, values)
            if fault:
                yield f"line {self.line}: {fault}"
                return
            if values.keys() & {"X", "Y", "Z"}:
                yield from self.moved(values)

    def codes(self, codes: Sequence[str], values: dict[str, float]) -> str:
        self.feed, self.speed = values.get("F", self.feed), values.get("S", self.speed)
        for code in codes:
            self.seen.add(code)
            if code == "M3":
                self.turning = True
                if self.speed <= 0:
                    return "the spindle is started without a speed"
            elif code in {"M5", "M30"}:
                self.turning, self.ended = False, code == "M30"
            elif code == "G4":
                self.dwells.append((self.line, values["P"]))
            elif code in {"G0", "G1", "G80", *_CYCLES}:
                self.cycle = {} if code not in _CYCLES or self.motion not in _CYCLES else self.cycle
                self.motion = code
            elif code not in {*_REQUIRED, "G61", "G98"}:
                return f"{code} has no place in a drilling program"
        return ""

    def moved(self, values: dict[str, float]) -> Iterator[_Move | str]:
        missing = [code for code in _REQUIRED if code not in self.seen]
        if missing:
            yield f"line {self.line}: it moves before {' '.join(missing)}"
            return
        if self.motion in _CYCLES:
            yield from self.cycled(values)
            return
        if self.motion not in {"G0", "G1"}:
            yield f"line {self.line}: a place without a motion"
            return
        self.place |= {letter: values[letter] for letter in "XYZ" if letter in values}
        feed = self.feed if self.motion == "G1" else 0.0
        if self.motion == "G1" and not (self.turning and self.feed > 0):
            yield f"line {self.line}: it feeds with the spindle off, or without a feed"
            return
        yield self.to(self.place.get("Z"), feed)

    def to(self, z: float | None, feed: float) -> _Move:
        return _Move(self.line, self.place.get("X"), self.place.get("Y"), z, feed, self.speed if self.turning else 0.0)

    def cycled(self, values: dict[str, float]) -> Iterator[_Move | str]:
        self.cycle |= {letter: values[letter] for letter in "ZRQP" if letter in values}
        height = self.place.get("Z", -np.inf)
        if (
            "G98" not in self.seen
            or not self.turning
            or not {"Z", "R"} <= self.cycle.keys()
            or height < self.cycle["R"]
        ):
            yield f"line {self.line}: a cycle without G98, spindle, Z or R, or from below R"
            return
        self.place |= {letter: values[letter] for letter in "XY" if letter in values}
        retract, bottom = self.cycle["R"], self.cycle["Z"]
        yield self.to(height, 0.0)
        yield self.to(retract, 0.0)
        if self.motion == "G83":
            stop = retract - self.cycle["Q"]
            while stop > bottom + _PLACE_MM / 10:
                yield self.to(stop, self.feed)
                yield self.to(retract, 0.0)
                yield self.to(stop + _CLEAR_MM, 0.0)
                stop -= self.cycle["Q"]
        yield self.to(bottom, self.feed)
        if self.motion == "G82":
            self.dwells.append((self.line, self.cycle["P"]))
        yield self.to(height, 0.0)

"""An interpreter of drilling programs, written from the rules of RS-274/NGC and from nothing of ours.

Source: T. Kramer, F. Proctor and E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556, 2000 (from
memory), and its text as kept up in the g-code reference of LinuxCNC: words and comments of a line, modal groups, order
of execution within a line, canned cycles G81, G82 and G83 with G98 and G99, 0.254 mm (0.010 inch) of clearance between
pecks.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

MAX_LINE = 256  # characters of a line that the standard's interpreter reads
PECK_CLEARANCE_MM = 0.254
_GROUPS = (
    ("motion", "0 1 2 3 38.2 80 81 82 83 84 85 86 87 88 89"),
    ("plane", "17 18 19"),
    ("distance", "90 91"),
    ("feed mode", "93 94"),
    ("units", "20 21"),
    ("cutter compensation", "40 41 42"),
    ("tool length", "43 49"),
    ("return", "98 99"),
    ("path", "61 61.1 64"),
    ("no mode", "4 10 28 30 53 92"),
)
GROUP_OF_G = {float(code): name for name, codes in _GROUPS for code in codes.split()}
GROUP_OF_M = {code: name for name, codes in (("stop", (0, 1, 2, 30, 60)), ("spindle", (3, 4, 5))) for code in codes}
_WORD = re.compile(r"([A-Z])([+-]?(?:\d+\.?\d*|\.\d+))")
CYCLES = (81.0, 82.0, 83.0)
_READ_BY_US = {0.0, 1.0, 4.0, 17.0, 20.0, 21.0, 40.0, 49.0, 61.0, 64.0, 80.0, *CYCLES, 90.0, 91.0, 94.0, 98.0, 99.0}


class ProgramError(Exception):
    """A line that the standard's interpreter would refuse."""


@dataclass(frozen=True)
class Move:
    """A straight move in mm: `feed` is None for a traverse, else mm a minute; the spindle as it turns during it."""

    start: tuple[float, float, float]
    end: tuple[float, float, float]
    feed: float | None
    spindle: float
    line: int


@dataclass
class Run:
    """The moves of a program, its dwells as (line, seconds), the modes at its end."""

    moves: list[Move] = field(default_factory=list)
    dwells: list[tuple[int, float]] = field(default_factory=list)
    modes: dict[str, float] = field(default_factory=dict)
    ended: int | None = None


class _Machine:
    def __init__(self, at: tuple[float, float, float]) -> None:
        self.run = Run(modes={"units": 21.0, "distance": 90.0, "return": 98.0})
        self.at, self.speed, self.turning = at, 0.0, 0.0
        self.feed: float | None = None
        self.cycle: dict[str, float] = {}
        self.old_z = at[2]
        self.line = 0

    def go(self, end: tuple[float, float, float], feed: float | None) -> None:
        if end != self.at:
            self.run.moves.append(Move(self.at, end, feed, self.turning, self.line))
        self.at = end

    def straight(self, words: dict[str, float], motion: float) -> None:
        scale = 25.4 if self.run.modes["units"] == 20.0 else 1.0
        end = list(self.at)
        for place, letter in enumerate("XYZ"):
            if letter in words:
                end[place] = words[letter] * scale + (self.at[place] if self.run.modes["distance"] == 91.0 else 0.0)
        if motion == 1.0 and not self.feed:
            raise ProgramError(f"line {self.line}: G1 without a feed")
        self.go((end[0], end[1], end[2]), self.feed if motion == 1.0 else None)

    def canned(self, words: dict[str, float], motion: float, first: bool) -> None:
        if first:
            self.cycle, self.old_z = {}, self.at[2]
        scale = 25.4 if self.run.modes["units"] == 20.0 else 1.0
        self.cycle |= {letter: words[letter] * scale for letter in "RZQ" if letter in words}
        self.cycle |= {"P": words["P"]} if "P" in words else {}
        if not self.feed:
            raise ProgramError(f"line {self.line}: a cycle without a feed")
        if not {"R", "Z"} <= self.cycle.keys():
            raise ProgramError(f"line {self.line}: a cycle without R or Z")
        relative = self.run.modes["distance"] == 91.0
        repeats = int(words.get("L", 1))
        for _ in range(repeats):
            x, y, z = self.at
            retract = self.cycle["R"] + (self.old_z if relative else 0.0)
            bottom = self.cycle["Z"] + (retract if relative else 0.0)
            if bottom > retract:
                raise ProgramError(f"line {self.line}: R is below Z")
            x = words["X"] * scale + (x if relative else 0.0) if "X" in words else x
            y = words["Y"] * scale + (y if relative else 0.0) if "Y" in words else y
            if z < retract:
                z = retract
                self.go((*self.at[:2], z), None)
            self.go((x, y, z), None)
            self.go((x, y, retract), None)
            self.bore(motion, retract, bottom)
            clear = max(self.old_z, retract) if self.run.modes["return"] == 98.0 else retract
            self.go((x, y, clear), None)

    def bore(self, motion: float, retract: float, bottom: float) -> None:
        x, y, _ = self.at
        if motion == 83.0:
            peck = self.cycle.get("Q", 0.0)
            if peck <= 0:
                raise ProgramError(f"line {self.line}: G83 needs Q above 0")
            depth = retract
            while (depth := depth - peck) > bottom:
                self.go((x, y, depth), self.feed)
                self.go((x, y, retract), None)
                self.go((x, y, depth + PECK_CLEARANCE_MM), None)
        self.go((x, y, bottom), self.feed)
        if motion == 82.0:
            if "P" not in self.cycle:
                raise ProgramError(f"line {self.line}: G82 needs P")
            self.run.dwells.append((self.line, self.cycle["P"]))


def words_of(text: str, line: int) -> tuple[list[tuple[str, float]], list[str]]:
    """The words of a line and its comments."""
    comments = re.findall(r"\(([^()]*)\)", text)
    bare = re.sub(r"\([^()]*\)", "", text)
    if "(" in bare or ")" in bare:
        raise ProgramError(f"line {line}: a comment within a comment, or one that does not end")
    bare = re.sub(r"\s", "", bare).upper()
    if _WORD.sub("", bare):
        raise ProgramError(f"line {line}: {_WORD.sub('', bare)!r} is not a word")
    return [(letter, float(number)) for letter, number in _WORD.findall(bare)], comments


def interpret(program: str, at: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Run:
    """Every move of a program.

    Raises:
        ProgramError: a line breaks a rule.
    """
    machine = _Machine(at)
    for number, text in enumerate(program.split("\n"), 1):
        if machine.run.ended is not None and text.strip():
            raise ProgramError(f"line {number}: something after the end of the program")
        machine.line = number
        if not text.isascii() or len(text) > MAX_LINE:
            raise ProgramError(f"line {number}: not ASCII, or too long")
        words, _ = words_of(text, number)
        _line(machine, words)
    if machine.run.ended is None:
        raise ProgramError("the program has no end")
    return machine.run


def _line(machine: _Machine, words: list[tuple[str, float]]) -> None:
    chosen: dict[str, float] = {}
    stops: dict[str, int] = {}
    values: dict[str, float] = {}
    for letter, number in words:
        if letter == "G":
            _choose(chosen, GROUP_OF_G, number, machine.line)
            if number not in _READ_BY_US:
                raise ProgramError(f"line {machine.line}: G{number:g} is not for drilling")
        elif letter == "M":
            _choose(stops, GROUP_OF_M, int(number), machine.line)
        elif letter in values:
            raise ProgramError(f"line {machine.line}: {letter} twice")
        elif letter in "FLNPQRSXYZ":
            values[letter] = number
        else:
            raise ProgramError(f"line {machine.line}: {letter} is not for drilling")
    machine.feed = values.get("F", machine.feed)
    machine.speed = values.get("S", machine.speed)
    _spindle(machine, stops)
    if chosen.get("no mode") == 4.0:
        machine.run.dwells.append((machine.line, values["P"]))
    before = machine.run.modes.get("motion")
    machine.run.modes |= {group: code for group, code in chosen.items() if group != "no mode"}
    motion = machine.run.modes.get("motion")
    axes = {"X", "Y", "Z"} & values.keys()
    if axes:
        if motion is None or motion == 80.0:
            raise ProgramError(f"line {machine.line}: a place without a motion")
        if motion in CYCLES:
            machine.canned(values, motion, before not in CYCLES)
        else:
            machine.straight(values, motion)
    elif chosen.get("motion") in {1.0, *CYCLES}:
        raise ProgramError(f"line {machine.line}: a motion without a place")
    if stops.get("stop") in {2, 30}:
        machine.run.ended, machine.turning = machine.line, 0.0


def _choose(chosen: dict[str, Any], groups: dict[Any, str], number: float, line: int) -> None:
    if number not in groups:
        raise ProgramError(f"line {line}: code {number:g} is not known")
    if groups[number] in chosen:
        raise ProgramError(f"line {line}: two of the group {groups[number]}")
    chosen[groups[number]] = number


def _spindle(machine: _Machine, stops: dict[str, int]) -> None:
    if stops.get("spindle") in {3, 4}:
        if machine.speed <= 0:
            raise ProgramError(f"line {machine.line}: the spindle starts without a speed")
        machine.turning = machine.speed
    elif stops.get("spindle") == 5:
        machine.turning = 0.0
    elif machine.turning:
        machine.turning = machine.speed

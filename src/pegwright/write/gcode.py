"""Drilling programs in the form of RS-274, with canned cycles and with plain moves."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Iterator, Sequence
from enum import StrEnum

from pegwright.cautions import MAKE
from pegwright.draw.plate_drawing import zero_words
from pegwright.making import DwellUnit, HoleKind, Machine, Pattern, PlateFile
from pegwright.plate.path import PECK_CLEARANCE_MM, PathTime, ToolPath, path_time, pecks_mm, places_mm
from pegwright.plate.tools import tool_word
from pegwright.units import plural

MAX_LINE = 70
_KEPT = frozenset(" .,:-+/=_'")  # beside letters and digits: marks that no controller acts upon


class Form(StrEnum):
    """How holes are drilled: by a cycle of the controller (G81, G82, G83), or by plain moves (G0, G1)."""

    CANNED = "canned"
    PLAIN = "plain"


def forms(machine: Machine) -> tuple[Form, ...]:
    """The forms that a machine's controller can run."""
    return (Form.CANNED, Form.PLAIN) if machine.canned else (Form.PLAIN,)


def program_text(pattern: Pattern, plate: PlateFile, path: ToolPath, form: Form, part: str = "1 of 1") -> str:
    """A program for one tool, in ASCII, no line longer than 70 characters.

    Args:
        pattern: what is drilled.
        plate: its machine.
        path: of the tool.
        form: in which holes are drilled.
        part: which of the programs of the pattern it is.

    Source: T. Kramer, F. Proctor and E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556, 2000 (from
        memory): the codes.
    """
    machine, tool = plate.machine, path.tool
    body = _canned(pattern, machine, path) if form is Form.CANNED else _plain(pattern, machine, path)
    exact = ["G61"] if machine.exact_path else []
    lines = [
        *_header(pattern, plate, path, form, part),
        " ".join(["G21 G90 G94 G17 G40 G49 G80", *exact]),
        f"G0 Z{_number(machine.safe_z_mm)}",
        f"S{_number(tool.spindle_per_min)}",
        "M3",
        *body,
        f"G0 Z{_number(machine.safe_z_mm)}",
        "M5",
        "M30",
    ]
    return "\n".join([*lines, ""])


def comment_lines(text: str) -> list[str]:
    """Any text as comments in ASCII that no controller acts upon.

    Accents are dropped, other marks become underscores; lines after the first begin with a hyphen, since a comment that
    begins with certain words is a message to the operator or to a file on some controllers.
    """
    plain = unicodedata.normalize("NFKD", " ".join(text.replace(";", ",").split()))
    marks = (mark for mark in plain if not unicodedata.combining(mark))
    kept = "".join(mark if mark in _KEPT or (mark.isascii() and mark.isalnum()) else "_" for mark in marks)
    return [f"({line})" for line in textwrap.wrap(kept, MAX_LINE - 2, subsequent_indent="- ")]


def _header(pattern: Pattern, plate: PlateFile, path: ToolPath, form: Form, part: str) -> Iterator[str]:
    tool, machine, layer = path.tool, plate.machine, pattern.layer
    left, low = (min(point[axis] for point in pattern.outline) for axis in (0, 1))
    right, high = (max(point[axis] for point in pattern.outline) for axis in (0, 1))
    way = "canned cycles" if form is Form.CANNED else "plain moves"
    size = f"{right - left:.1f} x {high - low:.1f} mm"
    speeds = f"{tool.spindle_per_min:g} a minute, feed {tool.feed_mm_per_min:g} mm a minute"
    sentences = [
        f"pegwright drilling program {part}: {path_words(pattern, path)}, {way}",
        f"Pattern: {pattern.title}",
        f"Stock: {layer.material.name}, {layer.thickness_mm:g} mm thick, at least {size}",
        f"Face up: {pattern.face}, as this plate is mounted",
        f"Zero: {zero_words(pattern)}",
        f"Lower left corner of the cut sheet: X{left:.3f} Y{low:.3f}; upper right: X{right:.3f} Y{high:.3f}",
        f"Tool {tool.number}: {tool_word(tool)} of {tool.diameter_mm:g} mm, {speeds}{_peck_and_dwell(path, form)}",
        f"Depth: Z{path.bottom_z_mm:.3f}, through the sheet into a board of {machine.spoilboard_mm:g} mm",
        f"Clamps and heads stay below Z{machine.safe_z_mm:g}",
        f"Time: {time_words(path_time(pattern, machine, path))}",
    ]
    for sentence in (*sentences, *(f"Caution: {caution}" for caution in MAKE)):
        yield from comment_lines(sentence)


def path_words(pattern: Pattern, path: ToolPath) -> str:
    """How many holes a program drills, and what for."""
    holes = plural(len(path.holes), "hole")
    if path.fixing:
        return f"{holes} for fixings and marks"
    return f"{holes} for {'pins' if HoleKind.PIN in pattern.holes.kind[path.holes] else 'trial'}"


def time_words(time: PathTime) -> str:
    """How long a path takes, with its parts."""
    total = (time.drilling_s + time.moving_s) / 60
    return (
        f"takes at least {total:.1f} min: drilling {time.drilling_s / 60:.1f}, moving {time.moving_s / 60:.1f};"
        f" {time.travel_mm / 1000:.2f} m over the sheet"
    )


def _peck_and_dwell(path: ToolPath, form: Form) -> str:
    tool = path.tool
    words = f", pecks of {tool.peck_mm:g} mm" if tool.peck_mm > 0 else ""
    if tool.dwell_s > 0 and tool.peck_mm > 0 and form is Form.CANNED:
        return f"{words}; its dwell of {tool.dwell_s:g} s is in the plain form alone, since G83 has none"
    return f"{words}, dwell of {tool.dwell_s:g} s" if tool.dwell_s > 0 else words


def _canned(pattern: Pattern, machine: Machine, path: ToolPath) -> Iterator[str]:
    """Cycles; before each line of holes, one-way, a move to its side."""
    x_mm, y_mm = places_mm(pattern, machine, path)
    tool, place = path.tool, 0
    cycle = f"Z{_number(path.bottom_z_mm)} R{_number(machine.retract_z_mm)}"
    if tool.peck_mm > 0:
        cycle = f"G98 G83 {{}} {cycle} Q{_number(tool.peck_mm)}"
    else:
        cycle = f"G98 G82 {{}} {cycle} P{_dwell(path, machine)}" if tool.dwell_s > 0 else f"G98 G81 {{}} {cycle}"
    cycle += f" F{_number(tool.feed_mm_per_min)}"
    for number, approached in enumerate(path.approached.tolist()):
        if approached:
            yield f"G0 {_place(x_mm[place], y_mm[place])}"
            place += 1
        where = _place(x_mm[place], y_mm[place])
        yield cycle.format(where) if approached or not number else where
        place += 1
    yield "G80"


def _plain(pattern: Pattern, machine: Machine, path: ToolPath) -> Iterator[str]:
    x_mm, y_mm = places_mm(pattern, machine, path)
    hole, place = list(_hole(machine, path)), 0
    for approached in path.approached.tolist():
        for _ in range(1 + approached):
            yield f"G0 {_place(x_mm[place], y_mm[place])}"
            place += 1
        yield from hole


def _hole(machine: Machine, path: ToolPath) -> Iterator[str]:
    """One hole from the safe height and back."""
    retract, feed = _number(machine.retract_z_mm), f" F{_number(path.tool.feed_mm_per_min)}"
    stops: Sequence[float] = pecks_mm(path.tool, machine, path.bottom_z_mm)
    yield f"G0 Z{retract}"
    for stop in stops[:-1]:
        yield f"G1 Z{_number(stop)}{feed}"
        yield f"G0 Z{retract}"
        yield f"G0 Z{_number(stop + PECK_CLEARANCE_MM)}"
    yield f"G1 Z{_number(stops[-1])}{feed}"
    if path.tool.dwell_s > 0:
        yield f"G4 P{_dwell(path, machine)}"
    yield f"G0 Z{_number(machine.safe_z_mm)}"


def _dwell(path: ToolPath, machine: Machine) -> str:
    milliseconds = machine.dwell_unit is DwellUnit.MILLISECONDS
    return _number(path.tool.dwell_s * (1000 if milliseconds else 1))


def _place(x_mm: float, y_mm: float) -> str:
    return f"X{_number(x_mm)} Y{_number(y_mm)}"


def _number(value: float) -> str:
    """To a thousandth of a millimetre, without needless zeros."""
    return f"{round(value, 3) + 0.0:.3f}".rstrip("0").rstrip(".")  # + 0.0 turns -0.0 into 0.0

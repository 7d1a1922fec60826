"""The CSV of a plate as a spreadsheet may have left it: read where it is unambiguous, refused where it is not."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import product
from pathlib import Path

from pegwright.correct.values import NOTE_KEYS, Cells, HandPin, Hole
from pegwright.errors import InputError
from pegwright.frozen import frozen
from pegwright.read.bounded import bounded_bytes
from pegwright.units import listed, nearest_hint, printed
from pegwright.wheel import Wheel, step_name

MAX_BYTES = 16 * 2**20
PAIRS = (("channel", "channel_name"), ("row", "row_name"), ("hole", "step"), ("pin_type", "pin_type_name"))
NEAR_STEPS = Fraction(1, 80)  # a third that a spreadsheet has rounded to two decimals is no farther from its hole
_DELIMITERS = (",", ";", "\t")
_PLATE_FILE = re.compile(r"plate-0*([1-9][0-9]{0,5})\.csv", re.IGNORECASE)
_STEP = re.compile(
    r"(?P<whole>[0-9]{1,6})(?:\s+(?P<part>[0-9]{1,6}/[1-9][0-9]{0,5}))?|(?P<decimal>[0-9]{1,6}\.[0-9]{1,12})"
)
_WHOLE = re.compile(r"([0-9]{1,9})(?:\.0*)?")
_SHOWN = 40
_NOTES, _PITCHES = (1, 1_000_000), (0, 127)  # first and last number of each, as in a map
_NEAREST = 2  # holes that a message names: those on either side of a step
_SAVE = "save it as CSV in UTF-8, with the header line that `pin` wrote"


@frozen()
class CsvLine:
    """A line of the file.

    Args:
        where: file and line, for errors.
        choices: the holes and pin types that it can mean: one, or several where its numbers and names differ.
        cells: of its note, as `NOTE_KEYS`.
    """

    where: str
    choices: tuple[tuple[Hole, int], ...]
    cells: Cells


def plate_of(path: Path) -> int | None:
    """The plate, from 0, of a file that is called as `pin` calls it."""
    match = _PLATE_FILE.fullmatch(path.name)
    return int(match[1]) - 1 if match else None


def plate_files(folder: Path) -> tuple[Path, ...]:
    """The CSV files of plates in a folder, in the order of their plates."""
    paths = [path for path in folder.glob("*.csv") if plate_of(path) is not None]
    return tuple(sorted(paths, key=lambda path: (plate_of(path) or 0, path.name)))


def read_plate(path: Path, wheel: Wheel) -> tuple[CsvLine, ...]:
    """The lines of a plate's CSV.

    Args:
        path: the file.
        wheel: for the names of channels, rows and pin types.

    Raises:
        InputError: it cannot be read, or a line does not say which pin it means.
    """
    header, rows = _table(path)
    lines = []
    for number, row in rows:
        where = f"{path} line {number}"
        if len(row) != len(header):
            hint = "a line was cut, or a decimal comma split a cell: write the file again"
            raise InputError(f"has {len(row)} cells and the header {len(header)}", where=where, hint=hint)
        cells = {name: cell.strip() for name, cell in zip(header, row, strict=True)}
        lines.append(_line(cells, wheel, plate_of(path), where))
    return tuple(lines)


def _table(path: Path) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """The names of the columns, and the lines that are not empty with their numbers."""
    text = _text(path)
    skipped = 0
    if re.match(r"sep=.\r?\n", text):  # a line by which a spreadsheet is given the delimiter
        text, skipped = text.split("\n", 1)[1], 1
    head = text.split("\n", 1)[0]
    delimiters = [mark for mark in _DELIMITERS if _is_header(_names(head, mark))]
    if len(delimiters) != 1:
        message = "has no header line with plate, channel, row, hole and pin_type" if text.strip() else "is empty"
        raise InputError(message, where=str(path), hint=_SAVE)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiters[0], strict=True)
    try:
        rows = [(reader.line_num + skipped, row) for row in reader]
    except csv.Error as error:
        message = f"is not CSV: {error}"
        raise InputError(message, where=f"{path} line {reader.line_num + skipped}", hint=_SAVE) from error
    header = [name.strip().lower() for name in rows[0][1]]
    if twice := sorted({name for name in header if name and header.count(name) > 1}):
        raise InputError(f"has two columns {listed(twice)}", where=str(path), hint="leave one of them")
    comma = delimiters[0] != ","
    lines = [(number, _points(row, header) if comma else row) for number, row in rows[1:] if any(map(str.strip, row))]
    return header, lines


def _points(row: Sequence[str], header: Sequence[str]) -> list[str]:
    """A line in which numbers have points for decimal commas."""
    texts = {"channel_name", "row_name", "pin_type_name", "source", "written_pitch", "channel_pitch"}
    row = [*row, *[""] * (len(header) - len(row))] if len(row) < len(header) and not row[-1:] else list(row)
    return [
        cell if name in texts else re.sub(r"^(\s*-?[0-9]+),([0-9]+\s*)$", r"\1.\2", cell)
        for cell, name in zip(row, [*header, *[""] * len(row)], strict=False)
    ]


def _names(head: str, delimiter: str) -> set[str]:
    return {name.strip().strip('"').lower() for name in head.split(delimiter)}


def _is_header(names: set[str]) -> bool:
    return "plate" in names and all(names & set(pair) for pair in PAIRS)


def _text(path: Path) -> str:
    data = bounded_bytes(path, MAX_BYTES, "name a plate-N.csv that `pin` wrote", "name a plate-N.csv")
    encoding = "utf-16" if data.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        message = f"byte {printed(error.start)} is not text in {encoding.removesuffix('-sig').upper()}"
        raise InputError(message, where=str(path), hint=_SAVE) from error
    if "\0" in text:
        raise InputError("is not text: it holds a NUL", where=str(path), hint=_SAVE)
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _line(cells: Mapping[str, str], wheel: Wheel, plate: int | None, where: str) -> CsvLine:
    number = _whole(cells, "plate", where)
    if number is None or not 1 <= number <= wheel.plate_count:
        there = cells.get("plate", "")[:_SHOWN]
        raise InputError(f"there is no plate {there!r} among {wheel.plate_count}", where=where)
    if plate is not None and plate != number - 1:
        message = f"is of plate {number}, in the file of plate {printed(plate)}"
        raise InputError(message, where=where, hint=f"put it into the file of plate {number}")
    channels = _by_name(cells, "channel", [channel.name for channel in wheel.channels], where)
    rows = _by_name(cells, "row", [row.name for row in wheel.rows], where)
    types = _by_name(cells, "pin_type", [kind.name for kind in wheel.pin_types], where)
    holes = [(row, hole) for row in rows for hole in _holes(cells, wheel, row, len(rows) > 1, where)]
    if not holes:
        raise InputError("has neither hole nor step of its row", where=where)
    choices = tuple(
        (Hole(channel, number - 1, row, hole), kind) for channel, (row, hole), kind in product(channels, holes, types)
    )
    return CsvLine(where, choices, _note(cells))


def _whole(cells: Mapping[str, str], key: str, where: str) -> int | None:
    text = cells.get(key, "")
    if not text:
        return None
    match = _WHOLE.fullmatch(text)
    if not match:
        raise InputError(f"{key} is {text[:_SHOWN]!r}, not a whole number", where=where)
    return int(match[1])


def _by_name(cells: Mapping[str, str], key: str, names: Sequence[str], where: str) -> tuple[int, ...]:
    """What a line names by number and by name: one, or two that differ."""
    number, name = _whole(cells, key, where), cells.get(f"{key}_name", "")
    thing, meant = key.replace("_", " "), []
    if number is not None:
        if not 1 <= number <= len(names):
            raise InputError(f"there is no {thing} {number} among {len(names)}", where=where)
        meant.append(number - 1)
    if name:
        plain = name.removeprefix("'")  # which keeps spreadsheets from taking it for a formula
        numbers = [other for other, each in enumerate(names) if each in {name, plain}]
        if not numbers:
            hint = nearest_hint(name, names, "the wheel has none")
            raise InputError(f"there is no {thing} {name[:_SHOWN]!r}", where=where, hint=hint)
        meant.append(numbers[0])
    if not meant:
        raise InputError(f"has no {thing}", where=where)
    return tuple(dict.fromkeys(meant))


def _holes(cells: Mapping[str, str], wheel: Wheel, row: int, row_unclear: bool, where: str) -> tuple[int, ...]:
    """The holes of a row that a line names by number and by step: one, or two that differ.

    Args:
        cells: of the line.
        wheel: with the row.
        row: of the hole.
        row_unclear: whether the line names two rows, so that its step may be one of the other.
        where: for errors.
    """
    count, of_row = wheel.rows[row].hole_count(wheel.steps_per_plate), wheel.rows[row]
    number, text, meant = _whole(cells, "hole", where), cells.get("step", ""), []
    if number is not None and 1 <= number <= count:
        meant.append(number - 1)
    elif number is not None and not row_unclear:
        raise InputError(f"row {of_row.name} has no hole {number} among {count}", where=where)
    if text:
        at_step = _hole_at(wheel, row, text, where)
        if at_step is None and not row_unclear:
            near = sorted(_by_distance(wheel, row, _step(text, where))[:_NEAREST])
            hint = f"its nearest holes are at steps {listed([step_name(of_row, index) for index in near])}"
            raise InputError(f"row {of_row.name} has no hole at step {text[:_SHOWN]}", where=where, hint=hint)
        meant += [] if at_step is None else [at_step]
    return tuple(dict.fromkeys(meant))


def _hole_at(wheel: Wheel, row: int, text: str, where: str) -> int | None:
    """The hole of a row at a step, also one that a spreadsheet has rounded; None where there is none."""
    named = _named_steps(wheel, row)
    if text in named:
        return named[text]
    step = _step(text, where)
    nearest = _by_distance(wheel, row, step)[0]
    return nearest if abs(printed(wheel.rows[row].position_steps(nearest)) - step) <= NEAR_STEPS else None


def _by_distance(wheel: Wheel, row: int, step: Fraction) -> list[int]:
    """The holes of a row, the nearest to a step first."""
    places = [printed(wheel.rows[row].position_steps(index)) for index in range(len(_named_steps(wheel, row)))]
    return sorted(range(len(places)), key=lambda index: abs(places[index] - step))


@lru_cache(maxsize=64)
def _named_steps(wheel: Wheel, row: int) -> dict[str, int]:
    """The holes of a row by their steps, as they are printed."""
    of_row = wheel.rows[row]
    return {step_name(of_row, index): index for index in range(of_row.hole_count(wheel.steps_per_plate))}


def _step(text: str, where: str) -> Fraction:
    match = _STEP.fullmatch(text)
    if not match:
        raise InputError(f"step is {text[:_SHOWN]!r}, not such as 12, 12.5 or 4 2/3", where=where)
    return Fraction(match["decimal"] or match["whole"]) + Fraction(match["part"] or 0)


def _note(cells: Mapping[str, str]) -> Cells:
    """What a line says of its note; what is not such a number as a map can have is taken as not known."""
    note: list[int | float | str | None] = []
    for key in NOTE_KEYS:
        text = cells.get(key, "")
        if key == "deviation_ms":
            note.append(float(text) if re.fullmatch(r"-?[0-9]{1,9}(\.[0-9]{1,9})?", text) else None)
        elif key == "note" or key.endswith("_midi"):
            match = _WHOLE.fullmatch(text)
            first, last = _NOTES if key == "note" else _PITCHES
            note.append(int(match[1]) if match and first <= int(match[1]) <= last else None)
        else:
            note.append(text.removeprefix("'") or None)
    return tuple(note)


def settled_pins(lines: Iterable[CsvLine], known: set[tuple[Hole, int]]) -> list[tuple[HandPin, str]]:
    """The pins of some lines with their places in the file; of two values that differ the changed one counts.

    Args:
        lines: of the files.
        known: the pins of the map that the files were written with; empty where there is none.

    Raises:
        InputError: a line means several pins, or a hole is named twice.
    """
    lines = list(lines)
    sure = {line.choices[0] for line in lines if len(line.choices) == 1}
    pins: dict[Hole, tuple[HandPin, str]] = {}
    for line in lines:
        hole, pin_type = line.choices[0] if len(line.choices) == 1 else _changed(line, known - sure)
        if hole in pins:
            message = f"is a second pin in the hole of {pins[hole][1]}"
            raise InputError(message, where=line.where, hint="leave one of the two lines out")
        pins[hole] = HandPin(hole, pin_type, line.cells), line.where
    return list(pins.values())


def _changed(line: CsvLine, missing: set[tuple[Hole, int]]) -> tuple[Hole, int]:
    """The pin of a line whose numbers and names differ: what was changed, where the other is as it was."""
    before = [choice for choice in line.choices if choice in missing]
    if len(before) == 1:
        (old_hole, old_type) = before[0]
        pairs = [
            (choice, sum(a == b for a, b in zip((*choice[0], choice[1]), (*old_hole, old_type), strict=True)))
            for choice in line.choices
        ]
        least = min(same for _, same in pairs)
        changed = [choice for choice, same in pairs if same == least]
        if len(changed) == 1:
            return changed[0]
    differ = [
        f"{one} and {other}" for (one, other), values in zip(PAIRS, _fields(line), strict=True) if len(values) > 1
    ]
    message = f"{listed(differ)} do not go together"
    raise InputError(message, where=line.where, hint="change both, or leave one of them empty")


def _fields(line: CsvLine) -> list[set[object]]:
    holes = [hole for hole, _ in line.choices]
    rows = {hole.row for hole in holes}
    numbers: set[object] = {hole.number for hole in holes} if len(rows) == 1 else set()
    return [{hole.channel for hole in holes}, set(rows), numbers, {kind for _, kind in line.choices}]

"""Beat tracks as text: one beat a line, its time in seconds, and optionally its place in quarters after a comma."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

from pegwright.columns import frozen_floats
from pegwright.errors import InputError, UsageError
from pegwright.plain_file import plain_bytes
from pegwright.played.beats import TAP_SPREAD_S, BeatTrack

MAX_COLUMNS = 2
MAX_BYTES = 4_000_000


def parse_beats(text: str, where: str, beat_quarters: Fraction = Fraction(1)) -> BeatTrack:
    """Read a beat track from CSV text: columns `seconds` and, if given, `quarters`; a heading line may come first.

    Args:
        text: the file's text.
        where: the file's name, for errors.
        beat_quarters: how long a beat is where the text does not say.

    Raises:
        InputError: a line is not one or two numbers.
        UsageError: too few beats, or a beat that does not come after the one before it.
    """
    rows: dict[int, list[float]] = {}  # by the number of the line
    for number, row in enumerate(_rows(text, where), start=1):
        cells = [cell.strip() for cell in row]
        if not any(cells):
            continue
        if not rows and any(cell and cell[0].isalpha() and cell.lower() not in {"nan", "inf"} for cell in cells):
            continue  # a heading
        rows[number] = [_number(cell, f"{where}:line {number}") for cell in cells]
        columns = min(MAX_COLUMNS, len(next(iter(rows.values()))))
        if len(cells) != columns:
            raise InputError(
                f"{len(cells)} columns where {columns} were expected",
                where=f"{where}:line {number}",
                hint="give seconds, or seconds and quarters, on every line",
            )
    seconds = [row[0] for row in rows.values()]
    quarters = [row[-1] if len(row) > 1 else float(beat * beat_quarters) for beat, row in enumerate(rows.values())]
    try:
        return BeatTrack(frozen_floats(seconds), frozen_floats(quarters), TAP_SPREAD_S)
    except UsageError as error:
        beat = error.where.removeprefix("beat ")
        place = f"{where}:line {list(rows)[int(beat) - 1]}" if beat.isdigit() else where
        raise UsageError(error.message, where=place, hint=error.hint) from None


def read_beats(path: Path, beat_quarters: Fraction = Fraction(1)) -> BeatTrack:
    """Read a beat track from a CSV file.

    Args:
        path: of the file.
        beat_quarters: how long a beat is where the file does not say.

    Raises:
        InputError: the file cannot be read, or a line is not one or two numbers.
        UsageError: too few beats, or a beat that does not come after the one before it.
    """
    try:
        data = plain_bytes(path, MAX_BYTES + 1)
        text = data.decode("utf-8-sig")
    except (OSError, UnicodeDecodeError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or "it is not UTF-8 text"
        raise InputError(f"the beats cannot be read: {reason}", where=str(path), hint="give a CSV file") from fault
    if len(data) > MAX_BYTES:
        raise InputError(f"the file is larger than {MAX_BYTES:,} bytes", where=str(path), hint="give one beat a line")
    return parse_beats(text, str(path), beat_quarters)


def _rows(text: str, where: str) -> Iterator[list[str]]:
    try:
        yield from csv.reader(io.StringIO(text, newline=""))
    except csv.Error as fault:
        raise InputError(f"this is not a CSV file: {fault}", where=where, hint="give one beat a line") from fault


def _number(cell: str, where: str) -> float:
    try:
        if "_" not in cell:  # which Python reads between digits
            return float(cell)
    except ValueError:
        pass
    raise InputError(f"{cell!r} is not a number", where=where, hint="give times in seconds such as 12.5")

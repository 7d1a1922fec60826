"""Maps that are corrected by hand: read, edited, checked, and turned into the files of a folder or one map."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from pegwright.correct.apply import edit_maps
from pegwright.correct.checked import Correction
from pegwright.correct.differences import differences
from pegwright.correct.faults import map_faults, new_faults
from pegwright.correct.lines import read_edit
from pegwright.correct.names import inverse
from pegwright.correct.values import Edit, WorkingMap
from pegwright.errors import InputError, UsageError
from pegwright.read.edit_lines import read_edit_lines
from pegwright.read.map_folder import MAP_NAME, maps_in
from pegwright.read.plate_csv import plate_files, plate_of, read_plate, settled_pins
from pegwright.read.working_map import map_paths
from pegwright.units import listed, plural, printed
from pegwright.wheel import Wheel
from pegwright.write.pin_map.edited import edited_map_csv, edited_map_json

_IS_LINE = re.compile(r"(?:[A-Za-z][0-9]*\s*:)?\s*(?:remove|set|move)\s", re.IGNORECASE)
PlacedEdit = tuple[Edit, str]


def correct(
    maps: Sequence[WorkingMap], edits: Sequence[PlacedEdit], wheel: Wheel, keep_faults: bool = False
) -> Correction:
    """Make edits and check what they lead to.

    Args:
        maps: of a song.
        edits: each with the place where it was given.
        wheel: of the maps.
        keep_faults: whether rules that the edits break are kept as findings of the map.

    Raises:
        UsageError: an edit cannot be made, or breaks a rule that is not to be kept.
    """
    edited = edit_maps(maps, edits, wheel)
    broken = new_faults(maps, edited.maps, wheel)
    if broken and not keep_faults:
        several = f"the edits lead to {plural(len(broken), 'fault')}, the first of them"
        hint = "nothing was changed; --force makes the edits all the same and keeps the fault in the map"
        where = several if len(broken) > 1 else "the edits break a rule"
        raise UsageError(broken[0].line, where=where, hint=hint)
    after = tuple(_with_findings(working, wheel) for working in edited.maps)
    return Correction(tuple(maps), after, edited.edits, broken)


def _with_findings(working: WorkingMap, wheel: Wheel) -> WorkingMap:
    """A map with the rules that it breaks, where edits were made to it."""
    if not working.edits:
        return working
    return replace(working, findings=tuple(fault.words for fault in map_faults([working], wheel)))


def given_edits(given: Iterable[str], maps: Sequence[WorkingMap], wheel: Wheel) -> list[PlacedEdit]:
    """The edits of a command line: lines, files of lines, edited maps, and CSV files of plates.

    Args:
        given: as typed.
        maps: to be edited.
        wheel: of the maps.

    Raises:
        InputError: a file cannot be read.
        UsageError: a line is not an edit.
    """
    edits: list[PlacedEdit] = []
    tables: list[Path] = []
    for number, text in enumerate(given):
        path = Path(text)
        if _IS_LINE.match(text.strip()) or _is_misspelt(text):
            edits.append((read_edit(text, wheel, f"edit {printed(number)}"), f"edit {printed(number)} {text[:80]!r}"))
        elif path.suffix.lower() == ".csv":
            tables.append(path)
        elif path.is_dir():
            tables += _tables_of(path)
        else:
            edits += file_edits(path, wheel)
    return [*edits, *csv_edits(tables, maps, wheel)]


def _is_misspelt(text: str) -> bool:
    """Whether an argument is a line with another verb: it has spaces, no such file exists, and it ends as none does."""
    return " " in text.strip() and not os.path.lexists(text) and not Path(text).suffix[1:].isalpha()


def _tables_of(folder: Path) -> tuple[Path, ...]:
    """The CSV files of plates in a folder, or in those of the sets of plates in it.

    Raises:
        InputError: it has none.
    """
    tables = plate_files(folder) or tuple(table for path in maps_in(folder) for table in plate_files(path.parent))
    if not tables:
        hint = "name a folder that has files such as plate-1.csv"
        raise InputError("this folder holds no CSV files of plates", where=str(folder), hint=hint)
    return tables


def undoing(maps: Sequence[WorkingMap], wheel: Wheel) -> list[PlacedEdit]:
    """The edits that undo all that maps list.

    Args:
        maps: of a song.
        wheel: of the maps.

    Raises:
        UsageError: a listed edit is not one of this wheel.
    """
    edits: list[PlacedEdit] = []
    for working in maps:
        where = f"the edits of {working.where}"
        listed_edits = [read_edit(edit.words, wheel, where) for edit in working.edits]
        edits += [(replace(edit, letter=working.letter), where) for edit in inverse(listed_edits)]
    return edits


def file_edits(path: Path, wheel: Wheel) -> list[PlacedEdit]:
    """The edits of a file of lines, or those that a map lists.

    Raises:
        InputError: it cannot be read.
        UsageError: a line is not an edit.
    """
    return [(read_edit(line, wheel, where), f"{where} {line[:80]!r}") for line, where in read_edit_lines(path)]


def csv_edits(paths: Sequence[Path], maps: Sequence[WorkingMap], wheel: Wheel) -> list[PlacedEdit]:
    """What differs in CSV files of plates from the maps that they were written with, as edits.

    Args:
        paths: the files; where the song has several sets of plates, each in the folder of its set.
        maps: of the song.
        wheel: of the maps.

    Raises:
        InputError: a file cannot be read, or its lines contradict each other.
        UsageError: it does not show to which set of plates a file belongs.
    """
    by_letter: dict[str, list[Path]] = {}
    for path in paths:
        by_letter.setdefault(_letter_of(path, maps), []).append(path)
    edits: list[PlacedEdit] = []
    for working in maps:
        own = by_letter.get(working.letter, [])
        if not own:
            continue
        plates = [plate_of(path) for path in own]
        tables = [read_plate(path, wheel) for path in own]
        pins = settled_pins(
            [line for table in tables for line in table], {(pin.hole, pin.pin_type) for pin in working.pins}
        )
        unnamed = [number for number, plate in enumerate(plates) if plate is None]
        if not all(tables[number] for number in unnamed):
            where = str(own[unnamed[0]])
            raise InputError("has no pins, and its name does not say of which plate it is", where=where)
        compared = {plate for plate in plates if plate is not None} | {pin.hole.plate for pin, _ in pins}
        edits += differences(working, pins, compared)
    return edits


def _letter_of(path: Path, maps: Sequence[WorkingMap]) -> str:
    letters = [working.letter for working in maps]
    if len(maps) == 1:
        return letters[0]
    folder = path.resolve().parent.name
    if folder in letters:
        return folder
    hint = f"put it into a folder {listed(letters)}, or name the map of one set of plates"
    raise UsageError("it does not show of which set of plates it is", where=str(path), hint=hint)


def folder_tables(path: Path) -> tuple[Path, ...]:
    """The CSV files of plates beside the maps of a folder."""
    return tuple(table for each in map_paths(path) for table in plate_files(each.parent))


def map_beside(table: Path) -> Path:
    """The map that is in one folder with the CSV of a plate.

    Raises:
        InputError: there is none.
    """
    path = table.parent / MAP_NAME
    if not path.is_file():
        hint = f"name the map that it was written with: --of {MAP_NAME}"
        raise InputError(f"there is no {MAP_NAME} beside it", where=str(table), hint=hint)
    return path


def map_files(maps: Sequence[WorkingMap], wheel: Wheel) -> dict[str, bytes]:
    """The files of a folder of maps, those of a song of several turns in a folder for each set of plates.

    Args:
        maps: of the song.
        wheel: of the maps.
    """
    files = {}
    for working in maps:
        folder = f"{working.letter}/" if len(maps) > 1 else ""
        files[f"{folder}{MAP_NAME}"] = edited_map_json(working, wheel)
        files |= {f"{folder}{name}": data for name, data in edited_map_csv(working, wheel).items()}
    return files

"""A pin map that was corrected by hand, as JSON and as the CSV files of its plates."""

from __future__ import annotations

from collections.abc import Mapping

from pegwright.correct.values import NO_NOTE, NOTE_KEYS, ListedEdit, WorkingMap
from pegwright.json_value import Json
from pegwright.units import printed
from pegwright.wheel import Wheel
from pegwright.write.csv_text import Cell, csv_bytes
from pegwright.write.json_text import json_file, objects
from pegwright.write.pin_map.columns import PIN_COLUMNS, hole_cells, plate_file

FORMAT, VERSION = "pegwright pin map", 3  # as maps of a fit have them, which a test compares


def edited_map_json(working: WorkingMap, wheel: Wheel) -> bytes:
    """The map as JSON: what its file said, with the pins as they are now and the edits that were made.

    Args:
        working: the map.
        wheel: of the map.
    """
    kept = {
        key: value
        for key, value in working.document.items()
        if key not in {"format", "version", "map_sha256", "pin_count"}
    }
    document: dict[str, Json] = {
        "map_sha256": working.sha256,
        **kept,
        **({"hand_edits": _hand_edits(working)} if working.edits else {}),
        "pin_count": len(working.pins),
        "plates": [_plate(plate, rows) for plate, rows in edited_rows(working, wheel).items()],
    }
    return json_file(FORMAT, VERSION, document)


def edited_map_csv(working: WorkingMap, wheel: Wheel) -> dict[str, bytes]:
    """The CSV files of the plates: name -> contents.

    Args:
        working: the map.
        wheel: of the map.
    """
    return {
        plate_file(plate, wheel.plate_count): csv_bytes(PIN_COLUMNS, rows)
        for plate, rows in edited_rows(working, wheel).items()
    }


def edited_rows(working: WorkingMap, wheel: Wheel) -> dict[int, list[tuple[Cell, ...]]]:
    """For each plate by its printed number a row for each of its pins, as `PIN_COLUMNS`, in the order of pin maps."""
    rows: dict[int, list[tuple[Cell, ...]]] = {plate: [] for plate in range(1, wheel.plate_count + 1)}
    for (channel, plate, row, number), pin_type, cells in working.pins:
        note = [cell if isinstance(cell, str | int | float) else None for cell in cells]
        rows[printed(plate)].append((printed(plate), *hole_cells(wheel, channel, row, number, pin_type), *note))
    return rows


def _plate(plate: int, rows: list[tuple[Cell, ...]]) -> dict[str, Json]:
    pins = objects(PIN_COLUMNS[1:], [row[1:] for row in rows])
    return {"plate": plate, "pin_count": len(pins), "pins": pins}


def _hand_edits(working: WorkingMap) -> dict[str, Json]:
    return {
        "parent_sha256": working.parent_sha256,
        "fitted_sha256": working.fitted_sha256,
        "notes_removed": len(working.notes_removed),
        "edits": [_listed(edit) for edit in working.edits],
        "findings": list(working.findings),
    }


def _listed(edit: ListedEdit) -> Mapping[str, Json]:
    note: dict[str, Json] = {} if edit.cells == NO_NOTE else dict(zip(NOTE_KEYS, edit.cells, strict=True))
    return {"edit": edit.words, **({"note": note} if note else {})}

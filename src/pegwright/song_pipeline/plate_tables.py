"""The CSV files of plates beside their maps: which are missing, and which are not as their map is."""

from __future__ import annotations

from pathlib import Path
from shlex import quote

from pegwright.correct.faults import FILE, MapFault
from pegwright.correct.values import WorkingMap
from pegwright.errors import InputError
from pegwright.plain_file import plain_bytes
from pegwright.read.map_folder import MAP_NAME, maps_in
from pegwright.read.pinmap import map_document
from pegwright.read.plate_csv import MAX_BYTES, plate_files, plate_of
from pegwright.read.working_map import working_map
from pegwright.song_pipeline.corrected import csv_edits
from pegwright.units import listed
from pegwright.wheel import Wheel
from pegwright.write.pin_map.columns import plate_file
from pegwright.write.pin_map.edited import edited_map_csv


def table_notices(folder: Path, wheel: Wheel) -> tuple[str, ...]:
    """Sentences on CSV files in the folder of a song that are not as its maps are.

    Args:
        folder: that `pin` wrote, whose maps were read; of anything else there is nothing to say.
        wheel: of the maps.

    Raises:
        InputError: a map cannot be read.
    """
    if not folder.is_dir():
        return ()
    changed: list[str] = []
    missing: list[str] = []
    for path in maps_in(folder):
        working = working_map(map_document(path, str(path)), str(path), wheel)
        changed += [str(table.relative_to(folder)) for table in _changed(path.parent, working, wheel)]
        missing += [str((path.parent / name).relative_to(folder)) for name in _missing(path.parent, wheel)]
    notices, named = [], quote(str(folder))
    if changed:
        verb = "differs" if len(changed) == 1 else "differ"
        notices.append(f"{listed(changed)} {verb} from the map: `pegwright edit {named} -o NEW` makes it so")
    if missing:
        verb, them = ("is", "it") if len(missing) == 1 else ("are", "them")
        notices.append(f"{listed(missing)} {verb} missing: `pegwright pin {named} -o NEW` writes {them} again")
    return tuple(notices)


def missing_tables(folder: Path, maps: tuple[WorkingMap, ...], wheel: Wheel) -> tuple[MapFault, ...]:
    """A fault for each CSV file that a folder lacks where it has others.

    Args:
        folder: that `pin` wrote.
        maps: of the folder, in the order of their letters.
        wheel: of the maps.
    """
    return tuple(
        MapFault(working.letter, FILE, (), f"{name} is missing beside {MAP_NAME}")
        for path, working in zip(maps_in(folder), maps, strict=True)
        for name in _missing(path.parent, wheel)
    )


def _missing(folder: Path, wheel: Wheel) -> list[str]:
    """Names of the CSV files that a folder lacks; none of a folder that has a map alone."""
    plates = {plate_of(path) for path in plate_files(folder)}
    count = wheel.plate_count
    return [plate_file(plate + 1, count) for plate in range(count) if plates and plate not in plates]


def _changed(folder: Path, working: WorkingMap, wheel: Wheel) -> list[Path]:
    """The CSV files of a folder that have other pins than its map, or that cannot be read."""
    written = set(edited_map_csv(working, wheel).items())
    return [
        path
        for path in plate_files(folder)
        if (path.name, _bytes(path)) not in written and _differs(path, working, wheel)
    ]


def _differs(table: Path, working: WorkingMap, wheel: Wheel) -> bool:
    try:
        return bool(csv_edits([table], [working], wheel))
    except InputError:  # which `edit` words
        return True


def _bytes(table: Path) -> bytes | None:
    try:
        return plain_bytes(table, MAX_BYTES)
    except (OSError, ValueError):
        return None

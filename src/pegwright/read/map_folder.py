"""Folders of pin maps: which maps they hold, and what to name in place of one that holds several songs."""

from __future__ import annotations

import re
from pathlib import Path
from shlex import quote

from pegwright.read.plate_csv import plate_files

MAP_NAME = "pin-map.json"
_LETTER = re.compile(r"([A-Z])([0-9]*)")
_SONGS_NAMED = 3  # in a hint


def maps_in(path: Path) -> list[Path]:
    """The pin maps of a folder: its own, or those of the sets of plates in it, in the order of their letters."""
    if (path / MAP_NAME).is_file():
        return [path / MAP_NAME]
    return sorted(path.glob(f"*/{MAP_NAME}"), key=_by_letter)


def _by_letter(path: Path) -> tuple[int, str]:
    match = _LETTER.fullmatch(path.parent.name)
    return (int(match[2] or 1), match[1]) if match else (10**6, path.parent.name)


def folder_hint(path: Path) -> str:
    """Which pin map to name in place of a folder that has some, in itself or in one for each set of plates."""
    maps = maps_in(path)
    return f"name its pin map: {' or '.join(map(str, maps))}" if maps else ""


def is_tables_alone(path: Path) -> bool:
    """Whether a path is a folder that has CSV files of plates and no map."""
    return path.is_dir() and not maps_in(path) and bool(plate_files(path))


def is_of_one_song(path: Path) -> bool:
    """Whether a folder is that of one pin map, or of a song with a folder for each of its sets of plates."""
    maps = maps_in(path)
    return is_tables_alone(path) or (
        bool(maps) and (maps[0].parent == path or all(_LETTER.fullmatch(each.parent.name) for each in maps))
    )


def songs_hint(path: Path) -> str:
    """What to name in place of a folder without a map of its own; empty where nothing in it says that.

    It may hold the folders of several songs, as `set` writes, or CSV files of plates whose map is not there, also
    those of several sets of plates.
    """
    if is_tables_alone(path):
        return f"`pegwright pin {quote(str(path))} --tempo QUARTERS_A_MINUTE -o NEW` makes a map of its CSV files"
    maps = sorted(path.glob(f"*/{MAP_NAME}")) or sorted(path.glob(f"*/*/{MAP_NAME}"))
    if not maps:
        folders = sorted(each.name for each in path.glob("*") if is_tables_alone(each))[:_SONGS_NAMED]
        return f"name the folder of one set of plates in it: {' or '.join(folders)}" if folders else ""
    more = f" or {len(maps) - _SONGS_NAMED:,} more" if len(maps) > _SONGS_NAMED else ""
    folders = [str(each.parent.relative_to(path)) for each in maps[:_SONGS_NAMED]]
    return f"name the folder of one song in it: {' or '.join(folders)}{more}"

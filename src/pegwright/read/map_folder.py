"""Folders of pin maps: which maps they hold, and what to name in place of one that holds several songs."""

from __future__ import annotations

import re
from pathlib import Path

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


def songs_hint(path: Path) -> str:
    """Which folders to name in place of one that holds those of several songs, as `set` writes; empty without such."""
    maps = sorted(path.glob(f"*/{MAP_NAME}")) or sorted(path.glob(f"*/*/{MAP_NAME}"))
    if not maps:
        return ""
    more = f" or {len(maps) - _SONGS_NAMED:,} more" if len(maps) > _SONGS_NAMED else ""
    folders = [str(each.parent.relative_to(path)) for each in maps[:_SONGS_NAMED]]
    return f"name the folder of one song in it: {' or '.join(folders)}{more}"

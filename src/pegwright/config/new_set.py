"""A song set to begin with: the starter, with the songs that lie in its folder."""

from __future__ import annotations

import json
from pathlib import Path

from pegwright.config.song_set import MAX_SONGS
from pegwright.package_data import data_bytes

_SUFFIXES = {".mid", ".midi", ".musicxml", ".mxl"}
_EXAMPLES = ("first-song.mid", "second-song.mxl")


def new_song_set(folder: Path) -> tuple[bytes, int]:
    """The bytes of a song set with the songs of a folder, and how many there are.

    Where there is no song, two are named as examples.
    """
    songs = _songs_in(folder)[:MAX_SONGS]
    tables = [f"[[song]]\nscore = {json.dumps(name, ensure_ascii=False)}\n" for name in songs or _EXAMPLES]
    return data_bytes("starter/evening.toml") + "\n".join(tables).encode(), len(songs)


def _songs_in(folder: Path) -> list[str]:
    """Names of the songs in a folder, in order; none where it cannot be read."""
    try:
        files = [path for path in folder.iterdir() if path.suffix.lower() in _SUFFIXES and path.is_file()]
    except OSError:
        return []
    return sorted(path.name for path in files if path.name.isprintable())

"""The song of a pin map: one set of plates, or every set of a folder in playing order."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pegwright.errors import InputError
from pegwright.findings import Finding
from pegwright.frozen import frozen
from pegwright.read.map_folder import maps_in
from pegwright.read.pinmap import MapFile, read_map_file
from pegwright.running import running_order
from pegwright.song import PinnedSong
from pegwright.units import listed
from pegwright.wheel import Wheel


@frozen(eq=False)
class MapSong:
    """A song read from pin maps.

    Args:
        song: by its pins.
        maps: of its pinnings, in the order of their letters.
        findings: of reading.
    """

    song: PinnedSong
    maps: tuple[MapFile, ...]
    findings: tuple[Finding, ...]


def read_map_song(path: Path, wheel: Wheel) -> MapSong:
    """The song of a pin map or of a folder of them.

    Args:
        path: of a JSON pin map, of a folder that has one, or of one with a folder for each set of plates of a song.
        wheel: that the maps are for.

    Raises:
        InputError: a map cannot be read or is not for the wheel; the maps are not those of one song.
    """
    paths = maps_in(path) or [path]
    if len(paths) == 1:
        return song_of_map(read_map_file(paths[0], wheel=wheel), wheel)
    files = {str(each): read_map_file(each, wheel=wheel) for each in paths}
    by_letter = {file.letter: file for file in files.values()}
    _check_one_song(files, by_letter, path)
    first = next(iter(files.values()))
    title = first.pins.title.removesuffix(f" ({first.letter})")
    turns = tuple(by_letter[letter].turn for letter in first.running)
    own = wheel.of_set(first.pins.plate_set)
    song = PinnedSong(title, first.score_file, own, turns, running_order(first.running))
    maps = tuple(by_letter[letter] for letter in dict.fromkeys(first.running))
    return MapSong(song, maps, tuple(finding for file in maps for finding in file.findings))


def song_of_map(file: MapFile, wheel: Wheel) -> MapSong:
    """The song of one map, by itself.

    Args:
        file: the map.
        wheel: that it is for.
    """
    song = PinnedSong(file.pins.title, file.score_file, wheel.of_set(file.pins.plate_set), (file.turn,), (0,))
    return MapSong(song, (file,), file.findings)


def _check_one_song(files: Mapping[str, MapFile], by_letter: Mapping[str, MapFile], path: Path) -> None:
    """Check that the maps of a folder are every set of plates of one song."""
    (name, first), *others = files.items()
    for other, file in others:
        if _song_of(file) != _song_of(first) or not file.letter:
            message = f"{name} and {other} are not sets of plates of one song"
            raise InputError(message, where=str(path), hint="name one of the two")
    if len(by_letter) < len(files):
        raise InputError("two of its pin maps are the same set of plates", where=str(path), hint="name one map")
    missing = [letter for letter in dict.fromkeys(first.running) if letter not in by_letter]
    if missing:
        message = f"the song plays {' '.join(first.running)}, and the pin map of {listed(missing)} is not there"
        raise InputError(message, where=str(path), hint="name one map, or pin the song again")


def _song_of(file: MapFile) -> tuple[object, ...]:
    """What the maps of one song have in common."""
    return file.running, file.pins.score_sha256, file.pins.plate_set

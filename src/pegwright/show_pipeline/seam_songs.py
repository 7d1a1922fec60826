"""The pins of the songs of a show on the plates of one set, for what cutting those plates costs."""

from __future__ import annotations

from pathlib import Path

from pegwright.config.song_set import load_song_set
from pegwright.plate.cutting import SongPins
from pegwright.show_pipeline.plan import plan_song_set
from pegwright.wheel import Wheel


def songs_on_set(path: Path, wheel: Wheel, plate_set: int) -> tuple[SongPins, ...]:
    """The songs that the plan of a song set puts on a set of plates, with the plates at the places of the rim.

    Args:
        path: of the song set.
        wheel: that it is planned for, in place of the wheel that it names.
        plate_set: 0-based.

    Raises:
        InputError: no song of it can be planned.
        ConfigError: it has faults; all of them.
    """
    show = plan_song_set(load_song_set(path), wheel.of_set(None)).show
    songs = []
    for number, song in enumerate(show.songs):
        own = [show.pinned[each] for each in song.pinned]
        maps = tuple((each.pins, each.plates) for each in own if each.plate_set == plate_set)
        if maps:
            title = (
                song.title
                if [each.title for each in show.songs].count(song.title) == 1
                else f"{number + 1} {song.title}"
            )
            songs.append(SongPins(title, maps))
    return tuple(songs)

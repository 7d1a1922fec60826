"""One song of a song set: all options of `pegwright fit`, under the same names, and its place in the show."""

from __future__ import annotations

from dataclasses import field
from pathlib import Path

from pegwright.ask.options import SearchRange
from pegwright.ask.request import Request
from pegwright.ask.song_file import SongFile, request_of_values
from pegwright.ask.table import OPTIONS
from pegwright.config.checks import decimal, one_of, whole
from pegwright.config.fields import Table
from pegwright.config.given import read_given
from pegwright.config.song_checks import path_text
from pegwright.config.song_file import read_hash, read_taken, song_file_at
from pegwright.errors import ConfigError, PegwrightError
from pegwright.frozen import frozen

TIMES = whole(1, 1000, "times through")
SECONDS = decimal(0, 86_400, "in seconds")
FIRST, LAST = "first", "last"
UNSAID = Request(search=SearchRange(every_steps=1))  # for a song with a file and no options
IN_SET = {option.name: option.in_set for option in OPTIONS if option.in_set is not None}


@frozen()
class SetSong:
    """One song of a show.

    Args:
        score: the file.
        request: how it is to be fitted; where its start is free, it may begin on any step at which it loses nothing.
        times: how often it is played through.
        talk_s: seconds of talk and applause after it.
        place: `first` or `last` if it must open or close the show, else None.
        file: the same as a song file; None where there is only a request.
    """

    score: Path
    request: Request = UNSAID
    times: int = 1
    talk_s: float = 0.0
    place: str | None = None
    file: SongFile | None = field(default=None, compare=False)


def read_song(table: Table, folder: Path, times: int, talk_s: float) -> SetSong:
    """The song of a table; faults are noted in the table.

    Args:
        table: one of the tables headed `[[song]]`.
        folder: paths in it are relative to this.
        times: how often it is played by default.
        talk_s: seconds of talk after it by default.
    """
    path = folder / table.value("score", path_text("a MIDI or MusicXML file, or of a song file"), "song.mid")
    named = _named(table, path)
    file = SongFile(
        path=path,
        score=named.score,
        sha256=read_hash(table) or named.sha256,
        given=read_given(table, folder, IN_SET | dict(named.given)),
        taken=(*named.taken, *read_taken(table)),
    )
    song = SetSong(
        score=file.score,
        request=request_of_values(file.given),
        times=table.value("times", TIMES, 1, default=times),
        talk_s=table.value("talk_s", SECONDS, 0.0, default=talk_s),
        place=table.value("place", one_of((FIRST, LAST), "place"), FIRST) if table.has("place") else None,
        file=file,
    )
    table.close()
    return song


def _named(table: Table, path: Path) -> SongFile:
    """The song file that `score` names, or one without options where it names a score."""
    try:
        return song_file_at(path) or SongFile(path, path)
    except ConfigError as error:
        for fault in error.faults:
            table.fault("score", f"{path}: {PegwrightError(fault.message, where=fault.where)}", fault.hint)
    return SongFile(path, path)

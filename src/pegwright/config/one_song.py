"""One song of a song set: all options of `pegwright fit`, under the same names, and its place in the show."""

from __future__ import annotations

import re
from pathlib import Path

from pegwright.ask.convert import request_of
from pegwright.ask.kinds import NamedValues, OrAuto
from pegwright.ask.options import SearchRange
from pegwright.ask.request import AUTO, Request
from pegwright.ask.table import BY_NAME, OPTIONS, Option, Value, opens
from pegwright.config.checks import decimal, one_of, whole
from pegwright.config.fields import Table
from pegwright.config.song_checks import check_of, path_text
from pegwright.frozen import frozen

TIMES = whole(1, 1000, "times through")
SECONDS = decimal(0, 86_400, "in seconds")
FIRST, LAST = "first", "last"
UNSAID = Request(search=SearchRange(every_steps=1))  # for a song with a file and no options


@frozen()
class SetSong:
    """One song of a show.

    Args:
        score: the file.
        request: how it is to be fitted; where its start is free, it may begin on any step at which it loses nothing.
        times: how often it is played through.
        talk_s: seconds of talk and applause after it.
        place: `first` or `last` if it must open or close the show, else None.
    """

    score: Path
    request: Request = UNSAID
    times: int = 1
    talk_s: float = 0.0
    place: str | None = None


def read_song(table: Table, folder: Path, times: int, talk_s: float) -> SetSong:
    """The song of a table; faults are noted in the table.

    Args:
        table: one of the tables headed `[[song]]`.
        folder: paths in it are relative to this.
        times: how often it is played by default.
        talk_s: seconds of talk after it by default.
    """
    song = SetSong(
        score=folder / table.value("score", path_text("a MIDI or MusicXML file"), "song.mid"),
        request=_read_request(table, folder),
        times=table.value("times", TIMES, 1, default=times),
        talk_s=table.value("talk_s", SECONDS, 0.0, default=talk_s),
        place=table.value("place", one_of((FIRST, LAST), "place"), FIRST) if table.has("place") else None,
    )
    table.close()
    return song


def _read_request(table: Table, folder: Path) -> Request:
    """The options of a song, in the order of `pegwright fit --help`."""
    values: dict[str, Value] = {}
    for option in OPTIONS:
        values[option.name] = _read(table, option, folder)
        if option.goes_with and table.has(option.key) and not opens(values[option.goes_with]):
            _refuse_alone(table, option)
    return request_of(lambda option: values[option.name])


def _read(table: Table, option: Option, folder: Path) -> Value:
    """The value of an option in the table; None where it is missing or faulty."""
    if isinstance(option.kind, NamedValues):
        return _read_pairs(table.table(option.key, needed=False), option.kind, folder)
    if not table.has(option.key):
        return option.in_set
    return table.value(option.key, check_of(option.kind, folder), None)


def _read_pairs(table: Table, kind: NamedValues, folder: Path) -> tuple[tuple[Value, Value], ...]:
    pairs: dict[Value, Value] = {}
    for text in table.values:
        value = table.value(text, check_of(kind.value, folder), None)
        key = int(text) if re.fullmatch("[0-9]{1,999}", text) else text  # a key of a table is always a text
        name = table.checked(text, key, check_of(kind.key), None) if kind.key else text
        if name is None:
            continue
        if name in pairs:
            table.fault(text, f"percussion key {name} is given twice", "keep one of the two")
        pairs[name] = value
    return tuple((name, value) for name, value in pairs.items() if value is not None)


def _refuse_alone(table: Table, option: Option) -> None:
    other = BY_NAME[option.goes_with]
    if not table.faults.none_in(table.at(other.key)):
        return
    if isinstance(other.kind, OrAuto):
        table.fault(option.key, f'goes with {other.key} = "{AUTO}"', "take it out, or leave the choice open")
    else:
        table.fault(option.key, f"goes with {other.key} = true", "add that, or take it out")

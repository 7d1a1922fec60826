"""The argument SONG of every command: a score, a song file, or a song of a song set; and the options over it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from pegwright.ask.request import PLAIN, Request
from pegwright.ask.song_file import SongFile, in_effect, request_of_values
from pegwright.ask.table import OPTIONS, Topic
from pegwright.ask.text import typed
from pegwright.cli.grouped import option
from pegwright.cli.options import DEFAULT_WHEEL, value_of
from pegwright.cli.say import say_line
from pegwright.errors import UsageError
from pegwright.frozen import frozen

if TYPE_CHECKING:
    from pegwright.config.one_song import SetSong

_NAMES_SHOWN = 5  # an error is one line, in which no name is to be cut out
_WHEEL = "wheel_path"
song_option = option("--song", "name", topic=Topic.SONG, metavar="NAME", help="Which song, where SONG is a song set.")


@frozen()
class ChosenSong:
    """A song and its options, as the command line gives them.

    Args:
        file: what holds for it: that of the song file, with the options on the command line over it.
        request: how it is to be fitted.
        named: the file that was named on the command line.
        name: of the song in a song set, or nothing.
        base: the request without the options on the command line.
    """

    file: SongFile
    request: Request
    named: Path
    name: str = ""
    base: Request = PLAIN

    @property
    def score(self) -> Path:
        """The score file."""
        return self.file.score

    @property
    def wheel(self) -> Path:
        """The wheel file."""
        return self.file.wheel or Path(DEFAULT_WHEEL)

    @property
    def stem(self) -> str:
        """The name for what is written: that of the song file, or of the score."""
        return self.score.stem if self.name else self.named.stem

    @property
    def is_song_file(self) -> bool:
        """Whether a song file was named."""
        return not self.name and self.named != self.score

    @property
    def inputs(self) -> dict[str, Path | None]:
        """What is read: what it is, and its path."""
        beats = self.request.played.beats_file if self.request.played else None
        kind = "song set" if self.name else "song file"
        file = {} if self.named == self.score else {kind: self.named}
        return {"song": self.score, "wheel file": self.wheel, "file of beats": beats, **file}

    def command(self, verb: str, request: Request) -> str:
        """The whole command that asks a request of this song.

        Args:
            verb: the name of the command.
            request: the options, those of the song file included.
        """
        words = ["pegwright", verb, quote(str(self.named)), *(["--song", quote(self.name)] if self.name else [])]
        wheel = ["--wheel", quote(str(self.wheel))] if _given_by_user(_WHEEL) else []
        return " ".join([*words, *wheel, *filter(None, [typed(request, self.base)])])


def chosen_song(song: Path, wheel: Path | None, name: str | None, options: Mapping[str, Any]) -> ChosenSong:
    """The song that the command line names, and its options.

    A score that has changed since its song file was written is reported on standard error.

    Args:
        song: the argument of the command.
        wheel: its option `--wheel`.
        name: its option `--song`.
        options: those of a song, as click passes them, or with others in their places by the command.

    Raises:
        UsageError: an option cannot be used, the file has no such song, or its score is not there.
        ConfigError: a song file or song set has faults.
    """
    held, name = _held(song, name)
    own_wheel = wheel is not None and (held.wheel is None or _given_by_user(_WHEEL))
    parsed = click.get_current_context().params
    over = {each for each in options if _given_by_user(each) or options[each] != parsed[each]}
    values = dict(held.given)
    for each in OPTIONS:
        if each.name in options and (each.name not in values or each.name in over):
            values[each.name] = value_of(each, {**options, **values, each.name: options[each.name]})
    base = request_of_values(held.given) if held.given else PLAIN
    wished = {each: values[each] for each in values if each in held.given or each in over}
    file = replace(held, wheel=wheel if own_wheel else held.wheel, given=in_effect(wished))
    return ChosenSong(file, request_of_values(values), song, name, base)


def _given_by_user(parameter: str) -> bool:
    """Whether an option is on the command line, and not at its default."""
    return click.get_current_context().get_parameter_source(parameter) is ParameterSource.COMMANDLINE


def _held(song: Path, name: str | None) -> tuple[SongFile, str]:
    """What the file that was named holds of the song, and the song's name in a song set."""
    from pegwright.config.song_file import load_song_file, refuse_moved, toml_values  # noqa: PLC0415
    from pegwright.formats import is_song_set, is_wheel_file  # noqa: PLC0415  # keeps start-up light

    held: SongFile | None
    values = toml_values(song)
    if values is not None and is_song_set(values):
        held, name = _of_set(song, name)
    elif name is not None:
        raise UsageError("goes with a song set", where="--song", hint=f"{song} is none; leave it out")
    elif values is not None and is_wheel_file(values):
        hint = f"name a song, and this as --wheel {quote(str(song))}"
        raise UsageError("this is a wheel file, not a song", where=str(song), hint=hint)
    else:
        held = load_song_file(song) if values is not None else None
    if held is None:
        return SongFile(song, song), ""
    refuse_moved(held)
    report_changed([held])
    return held, name or ""


def report_changed(files: Iterable[SongFile | None]) -> None:
    """Print a line on standard error for each song file whose score has changed since it was written."""
    from pegwright.config.song_file import changed_words  # noqa: PLC0415  # keeps start-up light

    for changed in [changed_words(file) for file in files if file]:
        if changed:
            say_line(f"pegwright: {changed}")


def _of_set(path: Path, name: str | None) -> tuple[SongFile, str]:
    """A song of a song set by its name, or by its number where no song has that for its name."""
    from pegwright.config.song_set import load_song_set  # noqa: PLC0415  # only for song sets

    song_set = load_song_set(path)
    songs = song_set.songs
    names = [song.score.stem for song in songs]
    if name is None:
        hint = f"choose one with --song NAME: {_listed(songs)}; or plan them all: pegwright set {quote(str(path))}"
        raise UsageError(f"this is a song set of {len(songs)} songs", where=str(path), hint=hint)
    alike = [number for number, song in enumerate(songs) if name in _names(song)]
    if not alike and name.isdecimal() and len(name) < 4 and 1 <= int(name) <= len(songs):  # a set has 200 at most
        alike = [int(name) - 1]
    if len(alike) != 1:
        what = f"has {len(alike)} songs of this name" if alike else "has no song of this name"
        numbers = ", ".join(str(number + 1) for number in alike)
        hint = f"choose one by its number: {numbers}" if alike else _nearest(name, names, songs)
        raise UsageError(f"{path} {what}: {name[:40]!r}", where="--song", hint=hint)
    file = songs[alike[0]].file
    assert file is not None  # noqa: S101  # those of a file have one
    return replace(file, path=path, wheel=song_set.wheel), name


def _names(song: SetSong) -> set[str]:
    paths = [song.score, *([song.file.path] if song.file else [])]
    return {text for path in paths for text in (path.name, path.stem)}


def _listed(songs: tuple[SetSong, ...]) -> str:
    names = list(dict.fromkeys(song.score.stem for song in songs))
    more = len(names) - _NAMES_SHOWN
    return ", ".join(names[:_NAMES_SHOWN]) + (f" and {more:,} more" if more > 0 else "")


def _nearest(name: str, names: list[str], songs: tuple[SetSong, ...]) -> str:
    from pegwright.units import nearest_name  # noqa: PLC0415  # loaded for faults

    near = nearest_name(name, names)
    return f"{f'the nearest name is {near!r}; ' if near else ''}its songs are {_listed(songs)}"

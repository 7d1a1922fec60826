"""What `fit --keep` and `fit --take` do: a song file is written, and a remedy is taken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING

from pegwright.ask.convert import written
from pegwright.ask.song_file import SongFile, in_effect
from pegwright.ask.table import OPTIONS, Value
from pegwright.cli.outputs import refuse_inputs, toml_path
from pegwright.cli.song_argument import ChosenSong
from pegwright.cli.width import say_wrapped
from pegwright.errors import ConfigError, UsageError
from pegwright.units import listed, plural

if TYPE_CHECKING:
    from pegwright.ask.request import Request
    from pegwright.remedy.changes import Change, SongEdit
    from pegwright.remedy.song_remedies import Remedies
    from pegwright.song import FittedSong


def place_to_keep(wanted: ChosenSong, keep: Path | None, take: int | None, overwrite: bool) -> Path | None:
    """The song file to write: that of `--keep`, or the one that was named where a remedy is taken.

    Args:
        wanted: the song and its options.
        keep: the file of `--keep`.
        take: the number of a remedy.
        overwrite: whether files may be replaced; that of which a remedy is taken may be.

    Raises:
        UsageError: a remedy is to be taken and there is no song file to write it in, or the file cannot be written.
    """
    if keep is None and take is None:
        return None
    from pegwright.write.folder import check_file  # noqa: PLC0415  # loaded where a file is written

    if keep is None and not wanted.is_song_file:
        hint = f"add --keep {quote(wanted.stem)}.toml"
        raise UsageError("there is no song file in which to write the remedy", where="--take", hint=hint)
    path = wanted.named if keep is None else toml_path(keep)
    refuse_inputs([path], {what: file for what, file in wanted.inputs.items() if what != "song file"})
    check_file(path, overwrite or keep is None)
    return path


def keep_song(path: Path, data: bytes, err: bool) -> None:
    """Write the song file, which may be replaced, and print what to do with it.

    Args:
        path: where it is written.
        data: of the file.
        err: print on stderr, as stdout has JSON.
    """
    from pegwright.write.folder import write_file  # noqa: PLC0415  # loaded where a file is written

    write_file(path, data, overwrite=True)
    say_wrapped(f"\nKept in {path}: `pegwright pin {quote(str(path))}` pins the song like this.", err=err)


def with_remedy(wanted: ChosenSong, fitted: FittedSong, remedies: Remedies, take: int) -> ChosenSong:
    """The choice with a remedy taken.

    Args:
        wanted: the song and its options.
        fitted: the song.
        remedies: for it.
        take: the number of one, counted from 1.

    Raises:
        UsageError: there is no such remedy.
    """
    count = len(remedies.to_take)
    if take > count:
        there = f"there {'is' if count == 1 else 'are'} {plural(count, 'remedy', 'remedies')} with a number"
        hint = "--remedies lists them" if count else "nothing that was tried makes it better"
        raise UsageError(f"{take} is not the number of a remedy: {there}", where="--take", hint=hint)
    changes = remedies.to_take[take - 1]
    request = _with_changes(wanted, fitted, changes)
    words = listed([change.words for change in changes])
    file = replace(wanted.file, given=_given(wanted, request), taken=(*wanted.file.taken, words))
    return replace(wanted, file=file, request=request)


def command_with(
    wanted: ChosenSong,
    fitted: FittedSong,
    changes: Sequence[Change],
    edit: SongEdit | None = None,
    take: int | None = None,
) -> str:
    """The whole command that makes changes or takes a remedy, with the options given before.

    Args:
        wanted: the song and its options.
        fitted: the song.
        changes: of a remedy.
        edit: of the whole song, or None.
        take: the number of a remedy, or None.
    """
    if take is not None:
        from pegwright.remedy.taking import by_number  # noqa: PLC0415  # loaded where remedies are tried

        return by_number(wanted.command("fit", wanted.request), take, None if wanted.is_song_file else wanted.stem)
    request = _with_changes(wanted, fitted, changes)
    return wanted.command("fit", edit.added_to(request) if edit else request)


def _with_changes(wanted: ChosenSong, fitted: FittedSong, changes: Sequence[Change]) -> Request:
    from pegwright.remedy.taking import taken  # noqa: PLC0415  # loaded where remedies are tried

    return taken(wanted.request, fitted.options, changes)


def _given(wanted: ChosenSong, request: Request) -> dict[str, Value]:
    """The values of options that make another request, with those that were given."""
    values = dict(wanted.file.given)
    for each in OPTIONS:
        value = written(request, each)
        if value != written(wanted.request, each):
            values[each.name] = value
    return in_effect(values)


def kept_bytes(wanted: ChosenSong, path: Path) -> bytes:
    """The song file of a choice, which is read again to be sure that it can be.

    Args:
        wanted: the song and its options.
        path: where it will be.

    Raises:
        UsageError: a value of it cannot be written in such a file.
    """
    from pegwright.config.song_file import hash_of, parse_song_file, remarks_in  # noqa: PLC0415  # loaded where needed
    from pegwright.write.song_file import song_file_bytes  # noqa: PLC0415

    file = wanted.file
    kept = SongFile(path, file.score, hash_of(file.score), wanted.wheel, file.given, file.taken)
    data = song_file_bytes(kept, remarks_in(wanted.named) if wanted.is_song_file else ())
    try:
        read = parse_song_file(data, path)
    except ConfigError as error:
        fault = error.faults[0]
        message = f"cannot be kept in a song file: {fault.where}: {fault.message}"
        raise UsageError(message, where="--keep", hint=fault.hint) from error
    for option in OPTIONS:
        before, after = (one.given.get(option.name) for one in (kept, read))
        stored = option.storage.stored
        same = before == after or str(before) == str(after)  # a path in it may be written in another way
        if not same and (None in (before, after) or stored(before) != stored(after)):
            message = f"{option.typed} would be read from a song file as {after}, not {before}"
            raise UsageError(message, where="--keep", hint="leave that option out, and give it on the command line")
    return data

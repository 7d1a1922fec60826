"""The song file: TOML to `SongFile`. The format is described in full in docs/song-file.md."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from pegwright.ask.song_file import SongFile, in_effect, request_of_values
from pegwright.config.checks import Check, matched, read_line
from pegwright.config.fields import MAX_BYTES, Table, read_bytes, toml_table
from pegwright.config.file_kinds import FileKind
from pegwright.config.given import read_given
from pegwright.config.lines import without_remark
from pegwright.config.song_checks import path_text
from pegwright.errors import UsageError
from pegwright.formats import MAX_FILE_BYTES, is_song_file, is_song_set, is_wheel_file, song_kind
from pegwright.plain_file import plain_bytes

MAX_TAKEN = 100
_HASH_SHOWN = 12  # digits
_MAX_WORDS = 1000  # characters


def _read_sha256(value: object) -> str:
    return matched(r"\s*([0-9a-fA-F]{64})\s*", value, "is not a SHA-256")[1].lower()


def _read_words(value: object) -> str:
    return read_line(value, _MAX_WORDS)


_SHA256 = Check("the SHA-256 of the score as 64 hex digits in quotes", _read_sha256)
_WORDS = Check("what a remedy does, in quotes", _read_words)


def load_song_file(path: Path) -> SongFile:
    """The song file of a file.

    Raises:
        UsageError: the file cannot be read.
        ConfigError: it has faults; all of them.
    """
    hint = "name a song file, or write one with `pegwright fit SONG --keep FILE`"
    return parse_song_file(read_bytes(path, hint), path)


def parse_song_file(data: bytes, path: Path) -> SongFile:
    """The song file of a file's bytes.

    Args:
        data: TOML in UTF-8.
        path: the file, for faults; paths in it are relative to its folder.

    Raises:
        ConfigError: the file has faults; all of them.
        UsageError: an option is out of its bounds.
    """
    folder = path.parent
    with toml_table(data, str(path), FileKind.SONG) as top:
        score = folder / top.value("score", path_text("a MIDI or MusicXML file"), "song.mid")
        sha256 = read_hash(top)
        wheel = top.value("wheel", path_text("a wheel file"), "wheel.toml") if top.has("wheel") else None
        given = read_given(top, folder, {})
        taken = read_taken(top)
        top.close()
    request_of_values(given)
    return SongFile(path, score, sha256, folder / wheel if wheel else None, in_effect(given), taken)


def song_file_at(path: Path) -> SongFile | None:
    """The song file at a path; None where there is none, but a score or nothing.

    Raises:
        ConfigError: it has faults; all of them.
    """
    values = toml_values(path)
    return load_song_file(path) if values is not None and (is_song_file(values) or _is_toml(path)) else None


def toml_values(path: Path) -> Mapping[str, object] | None:
    """The values of a TOML file, empty where it has faults; None for what is none: a score, a pin map, no file."""
    try:
        data = plain_bytes(path, MAX_BYTES + 1)
    except (OSError, ValueError):
        return None
    if song_kind(data) or data.lstrip().startswith(b"{"):
        return None
    with suppress(ValueError, RecursionError):
        values = tomllib.loads(data.decode("utf-8-sig"))
        if _is_toml(path) or any(is_kind(values) for is_kind in (is_song_file, is_song_set, is_wheel_file)):
            return values
    return {} if _is_toml(path) else None


def _is_toml(path: Path) -> bool:
    return path.suffix.lower() == ".toml"


def read_hash(table: Table) -> str:
    """The hash of the score that a table gives, or nothing."""
    return table.value("sha256", _SHA256, "") if table.has("sha256") else ""


def read_taken(table: Table) -> tuple[str, ...]:
    """The remedies that a table says were taken."""
    return table.items("taken", _WORDS, "", MAX_TAKEN)


def remarks_in(path: Path) -> tuple[str, ...]:
    """The remarks in a song file, those at the ends of lines too, so that they outlast its being written anew."""
    try:
        lines = plain_bytes(path, MAX_BYTES).decode("utf-8-sig").splitlines()
    except (OSError, ValueError):
        return ()
    return tuple(remark for line in lines if (remark := line[len(without_remark(line)) :].strip()))


def refuse_moved(file: SongFile) -> None:
    """Refuse a song file whose score is not there.

    Raises:
        UsageError: it is not; the hint names a file of its name and hash in the song file's own folder.
    """
    if file.score.exists():
        return
    hint = "correct `score`, which is relative to the folder of this file"
    beside = file.path.parent / file.score.name
    if beside != file.score and hash_of(beside) == file.sha256 != "":
        hint = f'the score with this hash is beside it: write score = "{file.score.name}"'
    raise UsageError(f"its score {file.score} is not there", where=str(file.path), hint=hint)


def changed_words(file: SongFile) -> str:
    """What to report where the score is another than when the song file was written; empty where it is the same."""
    seen = hash_of(file.score)
    if not file.sha256 or seen in ("", file.sha256):
        return ""
    return (
        f"{file.score} has changed since {file.path} was written: its SHA-256 is {seen[:_HASH_SHOWN]}..., "
        f"not {file.sha256[:_HASH_SHOWN]}... (see that every note is meant as it is, then keep the file again)"
    )


def hash_of(path: Path) -> str:
    """The SHA-256 of a file in hex; empty where it cannot be read."""
    try:
        return hashlib.sha256(plain_bytes(path, MAX_FILE_BYTES + 1)).hexdigest()
    except (OSError, ValueError):
        return ""

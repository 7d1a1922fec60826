"""Files of another kind than was asked for: a song in place of a wheel file, a song set in place of a wheel."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from shlex import quote

from pegwright.errors import PegwrightError
from pegwright.formats import is_plate_file, is_song_file, is_song_set, is_wheel_file, song_kind


class FileKind(StrEnum):
    """What a TOML file can be."""

    WHEEL = "wheel file"
    SET = "song set"
    SEAMS = "seam file"
    SONG = "song file"
    PLATE = "plate file"
    MEASURED = "file of measured plates"


def refuse_other(data: bytes, kind: FileKind, where: str) -> None:
    """Refuse what begins like a file of another kind.

    Args:
        data: of the file.
        kind: what it should be.
        where: the file.

    Raises:
        PegwrightError: it does.
    """
    if song := song_kind(data):
        hint = f"to see whether it fits a wheel: pegwright fit {quote(where)}"
        if kind is FileKind.SET:
            hint = f'a song set names its songs, such as score = "{where.replace(chr(92), "/")}"; pegwright set --new'
            hint += " writes one"
        raise PegwrightError(f"this is a song ({song}), not a {kind}", hint=hint)
    if data.lstrip().startswith(b"{"):
        raise PegwrightError(f"this is JSON, not a {kind}", hint=f"name a {kind}, which usually ends in .toml")


def refuse_other_kind(values: Mapping[str, object], kind: FileKind, where: str) -> None:
    """Refuse a wheel file, a song set, a song file or a plate file in place of another of them.

    Args:
        values: of the whole file, as TOML gave them.
        kind: what it should be.
        where: the file.

    Raises:
        PegwrightError: it is another one.
    """
    of_set, of_wheel = is_song_set(values), is_wheel_file(values)
    if kind is not FileKind.SONG and is_song_file(values):
        hint = f"to fit it: pegwright fit {quote(where)}"
        if kind is FileKind.SET:
            hint = f'a song set names it: score = "{where.replace(chr(92), "/")}"; pegwright set --new writes one'
        raise PegwrightError(f"this is a song file, not a {kind}", hint=hint)
    if kind is not FileKind.SET and of_set and not of_wheel:
        raise PegwrightError(f"this is a song set, not a {kind}", hint=f"to plan it: pegwright set {quote(where)}")
    if kind is not FileKind.WHEEL and of_wheel and not of_set:
        hint = f"for a summary of it: pegwright wheel {quote(where)}"
        if kind is FileKind.SET:
            hint = f'a song set names it: wheel = "{where.replace(chr(92), "/")}"; pegwright set --new writes one'
        if kind is FileKind.PLATE:
            hint = f'a plate file names it: wheel = "{where.replace(chr(92), "/")}"; pegwright plate --new writes one'
        raise PegwrightError(f"this is a wheel file, not a {kind}", hint=hint)
    if kind is not FileKind.PLATE and is_plate_file(values) and not of_set and not of_wheel:
        raise PegwrightError(
            f"this is a plate file, not a {kind}", hint=f"for a summary: pegwright plate {quote(where)}"
        )

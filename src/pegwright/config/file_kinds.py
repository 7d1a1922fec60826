"""Files of another kind than was asked for: a song in place of a wheel file, a song set in place of a wheel."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from shlex import quote

from pegwright.errors import PegwrightError

_HEAD_BYTES = 4096
_SCORES = (b"<score-partwise", b"<score-timewise", b"<mei", b"score-partwise>", b"score-timewise>")


class FileKind(StrEnum):
    """What a TOML file can be."""

    WHEEL = "wheel file"
    SET = "song set"
    SEAMS = "seam file"


def refuse_other(data: bytes, kind: FileKind, where: str) -> None:
    """Refuse what begins like a file of another kind.

    Args:
        data: of the file.
        kind: what it should be.
        where: the file.

    Raises:
        PegwrightError: it does.
    """
    head = data[:_HEAD_BYTES]
    if song := _song(head):
        hint = f"to see whether it fits a wheel: pegwright fit {quote(where)}"
        if kind is FileKind.SET:
            hint = f'a song set names its songs, such as score = "{where.replace(chr(92), "/")}"; pegwright set --new'
            hint += " writes one"
        raise PegwrightError(f"this is a song ({song}), not a {kind}", hint=hint)
    if head.lstrip().startswith(b"{"):
        raise PegwrightError(f"this is JSON, not a {kind}", hint=f"name a {kind}, which usually ends in .toml")


def refuse_other_kind(values: Mapping[str, object], kind: FileKind, where: str) -> None:
    """Refuse a song set in place of a wheel file, and the other way round.

    Args:
        values: of the whole file, as TOML gave them.
        kind: what it should be.
        where: the file.

    Raises:
        PegwrightError: it is the other one.
    """
    of_set = isinstance(values.get("song"), list)
    of_wheel = isinstance(values.get("wheel"), dict) and ("channel" in values or "channels" in values)
    if kind is not FileKind.SET and of_set and not of_wheel:
        raise PegwrightError(f"this is a song set, not a {kind}", hint=f"to plan it: pegwright set {quote(where)}")
    if kind is not FileKind.WHEEL and of_wheel and not of_set:
        hint = f"for a summary of it: pegwright wheel {quote(where)}"
        if kind is FileKind.SET:
            hint = f'a song set names it: wheel = "{where.replace(chr(92), "/")}"; pegwright set --new writes one'
        raise PegwrightError(f"this is a wheel file, not a {kind}", hint=hint)


def _song(head: bytes) -> str:
    """What kind of song a file is that begins like this; nothing if it is none."""
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if head.startswith(b"MThd") or (head.startswith(b"RIFF") and head[8:12] == b"RMID"):
        return "MIDI"
    if head.startswith(b"PK\x03\x04"):
        return "a packed score"
    plain = text.replace(b"\0", b"")  # of UTF-16 as well
    if plain.lstrip(b"\xff\xfe").startswith(b"<"):
        return "MusicXML or MEI" if any(mark in plain for mark in _SCORES) else "XML"
    if text.startswith((b"**kern", b"!!!")) or b"\n**kern" in text:
        return "Humdrum **kern"
    return "ABC" if text.startswith((b"X:", b"%abc")) else ""

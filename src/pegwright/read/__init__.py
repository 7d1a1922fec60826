"""Readers: a score file becomes a `Score`."""

from __future__ import annotations

import hashlib
from pathlib import Path

from pegwright.errors import InputError
from pegwright.findings import Finding
from pegwright.read.detect import Format, sniff
from pegwright.read.limits import MAX_FILE_BYTES
from pegwright.score import Score, WrittenMusic

__all__ = ["read_score", "written_music"]


def read_score(path: Path) -> tuple[Score, tuple[Finding, ...]]:
    """Read a song, whatever its format.

    Args:
        path: a MIDI or MusicXML file; its content tells which.

    Returns:
        The score; what was mended, assumed or passed over.

    Raises:
        InputError: the file cannot be opened, is too large, or is no score.
    """
    data = _bytes_of(path)
    if sniff(data, str(path)) is Format.MIDI:
        from pegwright.read.midi import read_midi  # noqa: PLC0415  # each reader brings a library

        return read_midi(data, path.name)
    from pegwright.read.musicxml import read_musicxml  # noqa: PLC0415  # as above

    return read_musicxml(data, path.name)


def written_music(path: Path, sha256: str) -> WrittenMusic:
    """The bars of a MusicXML song as they are written.

    Args:
        path: the file that a score was read from.
        sha256: the score's.

    Raises:
        InputError: the file cannot be opened, or is not what the score was read from.
    """
    data = _bytes_of(path)
    if hashlib.sha256(data).hexdigest() != sha256:
        raise InputError("the file has changed since it was read", where=str(path), hint="run this again")
    from pegwright.read.musicxml import read_written  # noqa: PLC0415  # as above

    return read_written(data, path.name)


def _bytes_of(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            data = file.read(MAX_FILE_BYTES + 1)
    except FileNotFoundError as fault:
        raise InputError("no such file", where=str(path), hint="check the name and the folder") from fault
    except IsADirectoryError as fault:
        raise InputError("this is a folder, not a score", where=str(path), hint="give one file in it") from fault
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        raise InputError(f"the file cannot be read: {reason}", where=str(path), hint="check its permissions") from fault
    if len(data) > MAX_FILE_BYTES:
        raise InputError(
            f"the file is larger than {MAX_FILE_BYTES:,} bytes, the most that is read",
            where=str(path),
            hint="give one song, cut shorter if need be",
        )
    return data

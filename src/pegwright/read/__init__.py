"""Readers: a score file becomes a `Score`."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

from pegwright.errors import InputError
from pegwright.findings import Finding
from pegwright.formats import MAX_FILE_BYTES, OTHER, PIN_MAP, TAKEN_AS_IT_IS, Format
from pegwright.plain_file import plain_bytes, reason_of
from pegwright.read.detect import sniff
from pegwright.score import Score, WrittenMusic

UNNAMED = "score"  # a file of which only the bytes are known

__all__ = ["read_score", "score_bytes", "score_of", "written_music"]


def read_score(source: Path | str | bytes, name: str = "") -> tuple[Score, tuple[Finding, ...]]:
    """Read a song, whatever its format.

    Args:
        source: the path of a MIDI, MusicXML, ABC, Humdrum **kern or MEI file, or its bytes; the content decides which
            it is.
        name: of the file where its bytes are given, for messages and the name of the song.

    Returns:
        The score; findings: what was repaired, assumed or skipped.

    Raises:
        InputError: the file cannot be opened, is too large, or is not a score.

    >>> from pegwright import bundled_songs
    >>> score, findings = read_score(bundled_songs()[0])
    >>> score.title, score.note_count
    ('Bathing-Machine Minuet', 161)
    """
    if isinstance(source, bytes):
        return score_of(source, Path(name or UNNAMED))
    return score_of(score_bytes(Path(source)), Path(source))


def score_of(data: bytes, path: Path) -> tuple[Score, tuple[Finding, ...]]:
    """The song in the bytes of a file.

    Args:
        data: of a MIDI, MusicXML, ABC, Humdrum **kern or MEI file; the content decides which.
        path: for messages and the name of the song.

    Returns:
        The score; what was repaired, assumed or skipped.

    Raises:
        InputError: it is not a score.
    """
    form = sniff(data, str(path))
    if form is Format.MIDI:
        from pegwright.read.midi.reader import read_midi  # noqa: PLC0415  # each reader brings a library

        return read_midi(data, path.name)
    from pegwright.musicxml.reader import read_musicxml  # noqa: PLC0415  # as above

    musicxml, losses = _musicxml(data, path.name, form)
    score, findings = read_musicxml(musicxml, path.name)
    if form in OTHER:
        score = replace(score, sha256=hashlib.sha256(data).hexdigest())
    return score, (*losses, *findings)


def written_music(data: bytes, name: str) -> WrittenMusic:
    """The bars of a song as they are written, for any format but MIDI.

    Args:
        data: the bytes of the file that a score was read from.
        name: of the file.
    """
    from pegwright.musicxml.reader import read_written  # noqa: PLC0415  # as above

    return read_written(_musicxml(data, name, sniff(data, name))[0], name)


def _musicxml(data: bytes, name: str, form: Format) -> tuple[bytes, tuple[Finding, ...]]:
    """A song as MusicXML, and what was lost on the way there."""
    if form not in OTHER:
        return data, ()
    from pegwright.notations.to_musicxml import to_musicxml  # noqa: PLC0415  # as above

    return to_musicxml(data, name, form)


def score_bytes(path: Path) -> bytes:
    """The bytes of a score file.

    Raises:
        InputError: the file cannot be opened or is too large.
    """
    try:
        data = plain_bytes(path, MAX_FILE_BYTES + 1)
    except FileNotFoundError as fault:
        raise InputError("no such file", where=str(path), hint="check the name and the folder") from fault
    except IsADirectoryError as fault:
        from pegwright.read.map_folder import is_of_one_song, songs_hint  # noqa: PLC0415  # for this fault alone

        if is_of_one_song(path):
            raise InputError(f"the folder is that of {PIN_MAP}", where=str(path), hint=TAKEN_AS_IT_IS) from fault
        hint = songs_hint(path) or "give one file in it"
        raise InputError("this is a folder, not a score", where=str(path), hint=hint) from fault
    except (OSError, ValueError) as fault:
        message = f"the file cannot be read: {reason_of(fault)}"
        raise InputError(message, where=str(path), hint="check its permissions") from fault
    if len(data) > MAX_FILE_BYTES:
        raise InputError(
            f"the file is larger than {MAX_FILE_BYTES:,} bytes, the maximum",
            where=str(path),
            hint="give one song, cut shorter if need be",
        )
    return data

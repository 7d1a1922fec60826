"""ABC, Humdrum **kern and MEI to a score: music21 turns the notation into MusicXML, our own reader does the rest."""

from __future__ import annotations

import codecs
import hashlib
import re
from dataclasses import replace
from pathlib import PurePath

from pegwright.errors import InputError
from pegwright.findings import Finding
from pegwright.read.detect import Format
from pegwright.read.musicxml.reader import read_musicxml, read_written
from pegwright.read.other.abc import prepare_abc
from pegwright.read.other.convert import NAMES, convert, require_library
from pegwright.read.other.kern import prepare_kern
from pegwright.read.other.losses import loss_findings
from pegwright.read.other.mei import prepare_mei
from pegwright.read.other.prepared import MAX_SONG_CHARACTERS, Prepared
from pegwright.read.other.restore import restore
from pegwright.score import Score, WrittenMusic

MAX_BOOK_BYTES = 4 * 2**20  # of ABC and **kern, with all tunes and pieces of the file
MAX_MEI_BYTES = 8 * 2**20  # of MEI, where the same music takes some 10 times the room
_CONTROLS = re.compile(r"[\0-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")  # what XML has no room for
_BOMS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))


def read_other(data: bytes, file_name: str, form: Format) -> tuple[Score, tuple[Finding, ...]]:
    """Read a song in ABC, **kern or MEI as it sounds.

    The rules, and what is lost on this way, are in docs/reading-other-notations.md.

    Args:
        data: the whole file.
        file_name: the file's name, for `SourceRef`, messages and a missing title.
        form: its notation.

    Returns:
        The score, with tolerance 0, and what was noticed: one finding for each kind of thing.

    Raises:
        InputError: the library is not installed or cannot read the file, or the song is beyond a limit.
    """
    file = PurePath(file_name).name or file_name
    musicxml, losses = _musicxml(data, file, form)
    score, findings = read_musicxml(musicxml, file)
    return replace(score, sha256=hashlib.sha256(data).hexdigest()), (*losses, *findings)


def read_other_written(data: bytes, file_name: str, form: Format) -> WrittenMusic:
    """The bars of a song in ABC, **kern or MEI as they are written.

    Args:
        data: the whole file.
        file_name: for messages.
        form: its notation.

    Raises:
        InputError: as `read_other` does.
    """
    file = PurePath(file_name).name or file_name
    return read_written(_musicxml(data, file, form)[0], file)


def _musicxml(data: bytes, file: str, form: Format) -> tuple[bytes, tuple[Finding, ...]]:
    """The song as MusicXML, and what was lost on the way there."""
    limit = MAX_MEI_BYTES if form is Format.MEI else MAX_BOOK_BYTES
    _check_size(len(data), limit, "bytes", file, form)
    require_library(form, file)
    prepared = _prepare(data, file, form)
    if form is not Format.MEI:
        _check_size(len(prepared.text), MAX_SONG_CHARACTERS, "characters as played", file, form)
    musicxml, losses = restore(convert(prepared.text, form, file), prepared, file)
    losses += prepared.losses
    return musicxml, loss_findings(losses, file)


def _check_size(size: int, limit: int, unit: str, file: str, form: Format) -> None:
    if size > limit:
        raise InputError(
            f"{size:,} {unit} of {NAMES[form]}; at most {limit:,} are read",
            where=file,
            hint="cut the song into shorter files, or export it as MusicXML",
        )


def _prepare(data: bytes, file: str, form: Format) -> Prepared:
    if form is Format.MEI:
        return prepare_mei(data, file)
    text = _text(data)
    return prepare_abc(text, file) if form is Format.ABC else prepare_kern(text, file)


def _text(data: bytes) -> str:
    """The text of a file: as its byte order mark says, else UTF-8, else Latin-1; lines end in a line feed."""
    for mark, encoding in _BOMS:
        if data.startswith(mark):
            text = data.removeprefix(mark).decode(encoding, errors="replace")
            break
    else:
        try:
            text = data.decode()
        except UnicodeDecodeError:
            text = data.decode("latin-1")
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return _CONTROLS.sub("", text)

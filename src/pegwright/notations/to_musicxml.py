"""ABC, Humdrum **kern and MEI to MusicXML: music21 turns one into the other, with what it leaves out put back."""

from __future__ import annotations

import codecs
import re
from pathlib import PurePath

from pegwright.errors import check_limit
from pegwright.findings import Finding
from pegwright.formats import Format
from pegwright.notations.abc import prepare_abc
from pegwright.notations.convert import NAMES, SHORTER, convert, require_library
from pegwright.notations.kern import prepare_kern
from pegwright.notations.mei import prepare_mei
from pegwright.notations.prepared import MAX_SONG_CHARACTERS, Prepared
from pegwright.notations.restore import restore

MAX_BOOK_BYTES = 4 * 2**20  # of ABC and **kern, with all tunes and pieces of the file
MAX_MEI_BYTES = 8 * 2**20  # of MEI, where the same music takes some 10 times the room
_CONTROLS = re.compile(r"[\0-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")  # what XML has no room for
_BOMS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))


def to_musicxml(data: bytes, file_name: str, form: Format) -> tuple[bytes, tuple[Finding, ...]]:
    """Turn a song in ABC, **kern or MEI into MusicXML.

    The rules, and what is lost on this way, are in docs/reading-other-notations.md.

    Args:
        data: the whole file.
        file_name: for messages.
        form: its notation.

    Returns:
        The MusicXML document, and what was lost: one finding for each kind of thing.

    Raises:
        InputError: the library is not installed or cannot read the file, or the song is beyond a limit.
    """
    file = PurePath(file_name).name or file_name
    max_bytes = MAX_MEI_BYTES if form is Format.MEI else MAX_BOOK_BYTES
    check_limit(len(data), max_bytes, f"bytes of {NAMES[form]}", file, SHORTER)
    require_library(form, file)
    prepared = _prepare(data, file, form)
    if form is not Format.MEI:
        check_limit(len(prepared.text), MAX_SONG_CHARACTERS, f"characters as played of {NAMES[form]}", file, SHORTER)
    musicxml = restore(convert(prepared.text, form, file), prepared)
    return musicxml, prepared.losses.findings()


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

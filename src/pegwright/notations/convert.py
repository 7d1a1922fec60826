"""Conversion in a process of its own, so that no file, however broken, can stop or exhaust the program."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

from pegwright.errors import InputError
from pegwright.formats import Format
from pegwright.musicxml.parts import clean
from pegwright.own_process import answer_of

LIMIT_S = 60.0
NAMES = {Format.ABC: "ABC", Format.KERN: "Humdrum **kern", Format.MEI: "MEI"}
SHORTER = "cut the song into shorter files, or export it as MusicXML"
_INSTALL = "pip install 'pegwright[other-scores]'"
_PROGRAM = Path(__file__).with_name("converter.py")
_LOOK = "check the file in a program that reads this notation, or export the song as MusicXML"


def require_library(form: Format, file: str) -> None:
    """Check that the library is installed, without loading it.

    Raises:
        InputError: it is not, with what to install.
    """
    if find_spec("music21") is None:
        raise InputError(
            f"{NAMES[form]} is read by means of the library music21, which is not installed",
            where=file,
            hint=f"{_INSTALL}, or export the song as MusicXML",
        )


def convert(text: str, form: Format, file: str) -> bytes:
    """Turn a text into MusicXML.

    Args:
        text: of one song.
        form: its notation.
        file: its name, for messages.

    Returns:
        The MusicXML document as the library writes it.

    Raises:
        InputError: the library cannot read it, broke down over it or took too long.
    """
    try:
        answer = answer_of(_PROGRAM, {"form": form.value, "text": text}, LIMIT_S)
    except TimeoutError as fault:
        raise InputError(
            f"music21 takes longer than {LIMIT_S:g} s to read this {NAMES[form]}",
            where=file,
            hint=SHORTER,
        ) from fault
    except OSError as fault:
        raise InputError(f"music21 cannot be started: {fault.strerror}", where=file) from fault
    except ValueError as fault:
        raise InputError(f"music21 breaks down over this {NAMES[form]}", where=file, hint=_LOOK) from fault
    if "fault" in answer:
        words = clean(answer["fault"])[:120]
        raise InputError(f"music21 cannot read this {NAMES[form]}: {words}", where=file, hint=_LOOK)
    musicxml: str = answer["musicxml"]
    return musicxml.encode()

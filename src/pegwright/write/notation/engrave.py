"""Engraving in a process of its own, so that no score, even a broken one, can stop or crash the program."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path

from pegwright.own_process import answer_of

LIMIT_S = 30.0
_PROGRAM = Path(__file__).with_name("engraver.py")


class NotEngravedError(Exception):
    """The engraver drew nothing; the message says why, in a clause."""


def can_engrave() -> bool:
    """Whether the engraving library is installed; it is not loaded."""
    return find_spec("verovio") is not None


def engrave(documents: Sequence[bytes]) -> list[list[str]]:
    """Draw MusicXML documents.

    Args:
        documents: the music.

    Returns:
        For every document its pages as SVG.

    Raises:
        NotEngravedError: the library cannot read a document, broke down over it or took too long.
    """
    try:
        drawn: list[list[str]] = answer_of(_PROGRAM, [document.decode() for document in documents], LIMIT_S)
    except TimeoutError as fault:
        raise NotEngravedError(f"the notation library took longer than {LIMIT_S:g} s over them") from fault
    except OSError as fault:
        raise NotEngravedError(f"the notation library could not be started: {fault.strerror}") from fault
    except ValueError as fault:  # it broke down, or found no music
        raise NotEngravedError("the notation library could not read them") from fault
    return drawn

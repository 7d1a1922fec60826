"""Engraving in a process of its own, so that no score, even a broken one, can stop or crash the program."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path

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
        process = subprocess.run(  # noqa: S603  # our own program, by this Python
            # -P: nothing of the current folder is imported
            [sys.executable, "-P", str(_PROGRAM)],
            input=json.dumps([document.decode() for document in documents]).encode(),
            capture_output=True,
            timeout=LIMIT_S,
            check=False,
        )
    except subprocess.TimeoutExpired as fault:
        raise NotEngravedError(f"the notation library took longer than {LIMIT_S:g} s over them") from fault
    except OSError as fault:
        raise NotEngravedError(f"the notation library could not be started: {fault.strerror}") from fault
    try:
        drawn: list[list[str]] = json.loads(process.stdout)
    except ValueError as fault:  # it broke down, or found no music
        raise NotEngravedError("the notation library could not read them") from fault
    return drawn

"""What `--strict` does: it fails where a note is left out, and only there."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from pegwright.cli.width import say_wrapped
from pegwright.errors import EXIT_LEFT_OUT

if TYPE_CHECKING:
    from pegwright.note_count import NoteCount

STRICT = f"Exit with {EXIT_LEFT_OUT} if a note is left out; notes dropped on request do not count"


def stop_if_left_out(counts: Sequence[NoteCount], outcome: str = "") -> None:
    """End the command where a song has notes left out, and report on standard error what --strict found.

    Args:
        counts: of each song.
        outcome: what follows from it for the command; may be empty.
    """
    from pegwright.units import plural  # noqa: PLC0415  # keeps --help light

    left_out, dropped = (sum(each) for each in zip(*((one.left_out, one.dropped) for one in counts), strict=True))
    allowed = [f"{plural(dropped, 'note')} dropped on request, which --strict allows"] if dropped else []
    if left_out:
        words = [f"{plural(left_out, 'note')} left out", *([outcome] if outcome else []), *allowed]
        say_wrapped(f"--strict: {'; '.join(words)}.", err=True)
        sys.exit(EXIT_LEFT_OUT)
    if allowed:
        say_wrapped(f"--strict: no note left out; {allowed[0]}.", err=True)

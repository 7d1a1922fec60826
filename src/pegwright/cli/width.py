"""The width that text is written to on a terminal, and words and commands brought to it."""

from __future__ import annotations

import os
import re
import sys

from pegwright.cli.say import say

NARROWEST_CELLS, WIDEST_CELLS = 60, 100  # a test compares the second with write/tables.py, which --help must not load
WIDTH_VARIABLE = "COLUMNS"


def text_width(*, err: bool = False) -> int:
    """Cells of a line: those that COLUMNS gives, or the terminal has, from 60 to 100; 100 for a pipe or a file.

    Args:
        err: for stderr.
    """
    given = os.environ.get(WIDTH_VARIABLE, "")
    cells = int(given) if re.fullmatch("[0-9]{1,6}", given) else 0
    return min(max(cells or _terminal_cells(err=err), NARROWEST_CELLS), WIDEST_CELLS)


def _terminal_cells(*, err: bool) -> int:
    stream = sys.stderr if err else sys.stdout
    try:
        return os.get_terminal_size(stream.fileno()).columns or WIDEST_CELLS
    except (OSError, ValueError, AttributeError):  # a pipe, a file, or no stream at all
        return WIDEST_CELLS


def say_wrapped(text: str, *, err: bool = False) -> None:
    """Print paragraphs, broken at words; a path or another single word that is wider than a line stays whole.

    Args:
        text: a paragraph a line.
        err: on stderr.
    """
    from pegwright.write.tables import UncutLine, fitted_lines  # noqa: PLC0415  # not for --help

    width = text_width(err=err)
    say("\n".join(line for each in text.split("\n") for line in fitted_lines(UncutLine(each), width)), err=err)


def say_command(words: str, command: str) -> None:
    """Print what a command is for, and the command as it can be copied, on lines of their own if they need them.

    Args:
        words: without the colon.
        command: as it is typed.
    """
    from pegwright.write.tables import cells_of, command_lines  # noqa: PLC0415  # as above

    line = f"{words}: {command}"
    if cells_of(line) <= text_width():
        say(line)
    else:
        say_wrapped(f"{words}:")
        say("\n".join(command_lines(command, text_width())))

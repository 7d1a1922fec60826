"""Words and commands brought to the width of the terminal."""

from __future__ import annotations

from pegwright.cli.say import say
from pegwright.cli.terminal import text_width


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

"""What is printed, so that no name of a file and no title can do anything to a terminal."""

from __future__ import annotations

import re
import sys
import textwrap

import click

from pegwright.cli.terminal import text_width

MAX_LINE_CHARS = 300  # of an error
_HEAD_CHARS, _TAIL_CHARS = 199, 98  # of one that is cut: where and what, and what to do
_INDENT = 4 * " "  # of what follows the first line on a terminal
# Controls but for tab and line feed, line separators, and changes of direction.
_ACTS = re.compile("[\0-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069]")


def say(text: str = "", *, err: bool = False, nl: bool = True) -> None:
    """Print text.

    Args:
        text: lines, or a JSON document, which stays one.
        err: on stderr.
        nl: whether a line feed ends it.
    """
    click.echo(harmless(text), err=err, nl=nl)


def say_line(text: str) -> None:
    """Print an error or a remark on stderr: one line, cut where it is too long, and wrapped on a terminal."""
    line = harmless(text).replace("\n", "\\n")
    if len(line) > MAX_LINE_CHARS:
        line = f"{_begun(line)} … {_ended(line)}"
    click.echo(_wrapped(line) if sys.stderr.isatty() else line, err=True)


def _wrapped(line: str) -> str:
    """A line broken at words to the width of the terminal; a path that is wider than that stays whole."""
    width = text_width(err=True)
    return textwrap.fill(line, width, subsequent_indent=_INDENT, break_long_words=False, break_on_hyphens=False)


def _begun(line: str) -> str:
    """The beginning of a line, up to a whole word where one ends in its second half."""
    head, word, _ = line[: _HEAD_CHARS + 1].rpartition(" ")
    return head.rstrip(" ,;") if word and 2 * len(head) >= _HEAD_CHARS else line[:_HEAD_CHARS]


def _ended(line: str) -> str:
    """The end of a line, from a whole word where one begins in its first half."""
    _, word, tail = line[-_TAIL_CHARS - 1 :].partition(" ")
    return tail if word and 2 * len(tail) >= _TAIL_CHARS else line[-_TAIL_CHARS:]


def harmless(text: str) -> str:
    r"""The text with characters that a terminal acts on as `\u001b`, which is what JSON has for them too."""
    return _ACTS.sub(lambda mark: f"\\u{ord(mark[0]):04x}", text)

"""What a command reports of its work: a progress mark on a terminal, and what was written."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from pegwright.cli.say import harmless
from pegwright.cli.width import say_wrapped
from pegwright.write.record import RECORD


@contextmanager
def working(message: str) -> Iterator[None]:
    """Show `message` with a moving mark on stderr until the block ends; nothing when piped."""
    if not sys.stderr.isatty():
        yield
        return
    from rich.console import Console  # noqa: PLC0415  # rich is loaded only where it is seen
    from rich.markup import escape  # noqa: PLC0415

    with Console(stderr=True).status(escape(harmless(message).replace("\n", "\\n")), spinner="line"):
        yield


def written(folder: Path, names: str, others: Sequence[str], err: bool = False) -> None:
    """Print what was written to a folder, and what was in it already and was left.

    Args:
        folder: the folder.
        names: of what was written, beside the record of it.
        others: names of what was left.
        err: print on stderr, as stdout has JSON.
    """
    say_wrapped(f"Written to {folder}: {names}, {RECORD}", err=err)
    if others:
        say_wrapped(f"Left as they were in {folder}: {', '.join(others)}", err=err)


def next_step(sheets: str, work: str, err: bool = False) -> None:
    """Print what to print next, how to check the print, and what to do with it.

    Args:
        sheets: the files, as a person types them.
        work: at the plates, once the wheel is locked.
        err: print on stderr, as stdout has JSON.
    """
    say_wrapped(
        f"\nNext: print {sheets} at 100 %, not fitted to the page, and measure the 100 mm bars in the margin. "
        f"Then stop and lock the wheel, and {work}.",
        err=err,
    )

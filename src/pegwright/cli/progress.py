"""A progress mark on a terminal during long work."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def working(message: str) -> Iterator[None]:
    """Show `message` with a moving mark on stderr until the block ends; nothing when piped."""
    if not sys.stderr.isatty():
        yield
        return
    from rich.console import Console  # noqa: PLC0415  # rich is loaded only where it is seen

    with Console(stderr=True).status(message, spinner="line"):
        yield

"""Functions compiled to machine code, for a search that weighs a thousand ways on at every onset, one by one.

They are plain Python over numpy arrays, and each still runs as such: `function.py_func`.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar, cast

from numba import njit

F = TypeVar("F", bound=Callable[..., Any])


def compiled(function: F) -> F:
    """The same function, compiled when it is first called; the result is kept on disk where there is a place for it.

    Args:
        function: of numbers, arrays and named tuples of these; what it calls is compiled as well.
    """
    try:
        return cast(F, njit(cache=True)(function))
    except RuntimeError:  # neither beside the source nor in the user's folders may anything be written
        return cast(F, njit(function))


def _forget_changed(folder: Path) -> None:
    """Remove what was kept before a source changed: a function is kept together with those it calls elsewhere."""
    changed_s = max(source.stat().st_mtime for source in folder.glob("*.py"))
    for kept in (folder / "__pycache__").glob("*.nb[ic]"):  # their index, and the code
        with suppress(OSError):  # where another process removes it too
            if kept.stat().st_mtime < changed_s:
                kept.unlink()


_forget_changed(Path(__file__).parent)

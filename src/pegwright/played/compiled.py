"""Functions compiled to machine code, for a search that weighs a thousand ways on at every onset, one by one.

They are plain Python over numpy arrays, and each still runs as such: `function.py_func`.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar, cast

from numba import njit
from numba.core.options import DefaultOptions

# Numba counts references to arrays: of a named tuple of thirty, each time that one of them is read in a loop, and that
# took more time than the search itself. Without its run-time library, which is there to make arrays, it counts none.
NO_COUNTS: dict[str, Any] = {"_nrt": False} if hasattr(DefaultOptions, "_nrt") else {}

F = TypeVar("F", bound=Callable[..., Any])


def compiled(function: F) -> F:
    """The same function, compiled when it is first called; the result is kept on disk where there is a place for it.

    Args:
        function: of numbers, arrays and named tuples of these; what it calls is compiled as well.
    """
    return _compiled(function, {})


def compiled_in_place(function: F) -> F:
    """The same for a function that makes no arrays, nor calls one that does, which is then twice as fast.

    Args:
        function: as in `compiled`.
    """
    return _compiled(function, NO_COUNTS)


def _compiled(function: F, options: dict[str, Any]) -> F:
    try:
        return cast(F, njit(cache=True, **options)(function))
    except RuntimeError:  # neither beside the source nor in the user's folders may anything be written
        return cast(F, njit(**options)(function))


def _forget_changed(folder: Path) -> None:
    """Remove what was kept before a source changed: a function is kept together with those it calls elsewhere."""
    changed_s = max(source.stat().st_mtime for source in folder.glob("*.py"))
    for kept in (folder / "__pycache__").glob("*.nb[ic]"):  # their index, and the code
        with suppress(OSError):  # where another process removes it too
            if kept.stat().st_mtime < changed_s:
                kept.unlink()


_forget_changed(Path(__file__).parent)

"""A program of ours in a process of its own, with bounds on time and memory, so that no input can stop this one.

The process begins with this module, which sets the bound on memory and then runs the program.
"""

from __future__ import annotations

import json
import runpy
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from typing import Any

MEMORY_BYTES = 2 * 2**30


def answer_of(program: Path, request: object, limit_s: float) -> Any:  # noqa: ANN401  # whatever JSON holds
    """What a program answers to a request.

    Args:
        program: a file of Python that reads one JSON document from standard input and writes another.
        request: the first document.
        limit_s: how long the program may take, in seconds.

    Returns:
        The second document.

    Raises:
        TimeoutError: it takes longer.
        OSError: it cannot be started.
        ValueError: it broke down, or answers anything but JSON.
    """
    try:
        process = subprocess.run(  # noqa: S603  # our own program, by this Python
            [sys.executable, "-P", __file__, str(program)],  # -P: nothing of the current folder is imported
            input=json.dumps(request).encode(),
            capture_output=True,
            timeout=limit_s,
            check=False,
        )
    except subprocess.TimeoutExpired as fault:
        raise TimeoutError(f"more than {limit_s:g} s") from fault
    return json.loads(process.stdout)


def limit_memory(limit_bytes: int = MEMORY_BYTES) -> None:
    """Hold the address space of this process to a limit, or to the system's own where that is lower."""
    with suppress(ImportError, ValueError, OSError):  # not on every system
        import resource  # noqa: PLC0415  # as above

        _, hard_limit = resource.getrlimit(resource.RLIMIT_AS)
        limit = limit_bytes if hard_limit == resource.RLIM_INFINITY else min(limit_bytes, hard_limit)
        resource.setrlimit(resource.RLIMIT_AS, (limit, hard_limit))


def address_space_bytes() -> int:
    """What this process has by now, libraries included; 0 on systems that do not show it.

    Source: Linux, proc(5): the first number of statm is the size of the program in pages.
    """
    with suppress(ImportError, ValueError, OSError):
        import resource  # noqa: PLC0415  # not on every system

        return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * resource.getpagesize()
    return 0


if __name__ == "__main__":
    limit_memory()
    runpy.run_path(sys.argv[1], run_name="__main__")

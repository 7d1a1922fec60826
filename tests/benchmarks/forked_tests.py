"""Runs tests repeatedly, each time in a fork of a process that has loaded the large libraries but nothing of ours.

`mutation.py` starts it in a copy of the tree and talks to it by lines of JSON: a list of arguments for pytest and a
limit in seconds come in; the exit code goes out, or null where the limit was reached.
"""

from __future__ import annotations

import gc
import json
import os
import resource
import signal
import sys
from contextlib import suppress

import hypothesis  # noqa: F401  # loaded here, so that no fork has to
import numpy  # noqa: F401
import pytest
import scipy.optimize
import scipy.sparse  # noqa: F401

MAX_BYTES = 4 << 30


def run(arguments: list[str], limit_s: int) -> int | None:
    """The exit code of pytest in a process of its own, or None where it was ended by its limit."""
    child = os.fork()
    if child == 0:
        os.setsid()  # so that the processes which the tests start can be ended with it
        signal.alarm(limit_s)
        resource.setrlimit(resource.RLIMIT_DATA, (MAX_BYTES, MAX_BYTES))  # a mutant may ask for all there is
        nothing = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nothing, stream)
        os._exit(pytest.main(arguments))
    _, status = os.waitpid(child, 0)
    with suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    if os.WIFSIGNALED(status):
        return None if os.WTERMSIG(status) == signal.SIGALRM else -os.WTERMSIG(status)
    return os.WEXITSTATUS(status)


if __name__ == "__main__":
    gc.freeze()  # what is loaded stays: no fork has to look through it
    for line in sys.stdin:
        print(json.dumps(run(*json.loads(line))), flush=True)

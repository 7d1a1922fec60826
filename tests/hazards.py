"""Jobs for worker processes, good and bad; in a module of their own, so that a new process can import them."""

from __future__ import annotations

import os
import signal
import sys
import time


def hazard(job: str) -> str:
    """`crash`, `leave`, `sleep SECONDS`, `take BYTES`, or else the job comes back with the number of the process."""
    if job == "crash":
        os.kill(os.getpid(), signal.SIGKILL)
    if job == "leave":
        sys.exit(7)
    if job.startswith("take "):
        return f"took {len(bytearray(int(job.removeprefix('take '))))}"
    if job.startswith("sleep "):
        time.sleep(float(job.removeprefix("sleep ")))
    return f"{job} {os.getpid()}"


class Unready:
    """A job that cannot even be received."""

    def __reduce__(self) -> tuple[object, tuple[int]]:
        return os._exit, (9,)

    def __call__(self, job: str) -> str:
        return job

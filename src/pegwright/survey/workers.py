"""Jobs over several processes, where neither a crash nor an endless job stops the others.

The standard pools cannot continue without one worker: when a process of theirs dies or has to be killed, all jobs
under way are lost. So every worker here has a pipe of its own and one job at a time. A worker ends by itself when the
other end of its pipe is gone, so none outlives a program that is killed.
"""

from __future__ import annotations

import math
import multiprocessing
import os
import signal
import threading
import warnings
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection, wait
from time import monotonic
from typing import Generic, TypeVar

from pegwright.errors import InternalError
from pegwright.frozen import frozen
from pegwright.own_process import MEMORY_BYTES, address_space_bytes, limit_memory

Job = TypeVar("Job")
Result = TypeVar("Result")

OUT_OF_MEMORY = 77  # exit code of a process whose job met a MemoryError; of no meaning elsewhere
_READY = "ready"
_SAFE_PATH = "PYTHONSAFEPATH"  # Python's own: as its option -P


@frozen()
class Failed:
    """A job that gave no result.

    Args:
        exit_code: of its process, which died, minus the signal's number where one killed it; None where it ran out
            of time; `OUT_OF_MEMORY` where it met a MemoryError.
    """

    exit_code: int | None


def cores() -> int:
    """How many processes this program may run on."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def results(
    work: Callable[[Job], Result],
    jobs: Sequence[Job],
    workers: int,
    limit_s: float,
    memory_bytes: int = MEMORY_BYTES,
) -> Iterator[tuple[int, Result | Failed]]:
    """Do all jobs and yield each one's number and result when it is finished.

    Args:
        work: a function that a new process can import; its argument and result are sent between processes.
        jobs: any number.
        workers: how many processes, at least 1.
        limit_s: seconds that a job may take.
        memory_bytes: of memory that each process may take for its jobs, where the system can hold it to that; a job
            that needs more meets a MemoryError, with which the process ends.

    Raises:
        InternalError: a new process dies before it is ready for a job.
    """
    team = [_Worker[Job, Result](work, memory_bytes) for _ in range(min(workers, len(jobs)))]
    waiting = deque(enumerate(jobs))
    try:
        while team:
            for worker in _ready_or_overdue(team):
                outcome = worker.receive()
                if outcome is not None:
                    yield outcome
                if waiting and not (outcome and isinstance(outcome[1], Failed)):
                    worker.take(*waiting.popleft(), limit_s)
                    continue
                team.remove(worker)
                worker.end()
                if waiting:
                    team.append(_Worker(work, memory_bytes))
    finally:
        for worker in team:
            worker.end()


class _Worker(Generic[Job, Result]):
    """One process and the job it has; `deadline` is when the job must be done, never where it has none."""

    def __init__(self, work: Callable[[Job], Result], memory_bytes: int) -> None:
        context = multiprocessing.get_context("spawn")
        self.pipe, theirs = context.Pipe()
        self.process = context.Process(target=_serve, args=(theirs, work, memory_bytes), daemon=True)
        self.number = -1
        self.deadline = math.inf
        with _ctrl_c_ignored(), _safe_path():  # a child keeps both: only the parent reports a Ctrl-C
            self.process.start()
        theirs.close()

    def receive(self) -> tuple[int, Result | Failed] | None:
        """The number of the job and its outcome; None of a process that is ready for its first."""
        if not self.pipe.poll():
            return self.number, Failed(None)
        try:
            sent: Result = self.pipe.recv()
        except (EOFError, OSError):
            self.process.join()
            code = self.process.exitcode
            if self.number < 0:
                raise InternalError(f"a process to work in ended with exit code {code} before it began") from None
            return self.number, Failed(code)
        return None if self.number < 0 else (self.number, sent)

    def take(self, number: int, job: Job, limit_s: float) -> None:
        """Begin a job.

        Args:
            number: of the job.
            job: what to send to the process.
            limit_s: seconds that it may take.
        """
        self.number = number
        self.deadline = monotonic() + limit_s
        with suppress(OSError):  # the process has died since; the end of the pipe shows that
            self.pipe.send(job)

    def end(self) -> None:
        """Stop the process in any state."""
        self.process.kill()
        self.process.join()
        self.pipe.close()


def _ready_or_overdue(team: Sequence[_Worker[Job, Result]]) -> list[_Worker[Job, Result]]:
    """Wait until some workers have sent something or are out of time."""
    left_s = min(worker.deadline for worker in team) - monotonic()
    ready = set(wait([worker.pipe for worker in team], None if left_s == math.inf else max(0.0, left_s)))
    now = monotonic()
    return [worker for worker in team if worker.pipe in ready or worker.deadline <= now]


@contextmanager
def _ctrl_c_ignored() -> Iterator[None]:
    """Ctrl-C is ignored inside; only the main thread can set that."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def _safe_path() -> Iterator[None]:
    """A Python started inside imports nothing from the current folder, which may hold any files."""
    before = os.environ.get(_SAFE_PATH)
    os.environ[_SAFE_PATH] = "1"
    try:
        yield
    finally:
        if before is None:
            del os.environ[_SAFE_PATH]
        else:
            os.environ[_SAFE_PATH] = before


def _serve(pipe: Connection, work: Callable[[Job], Result], memory_bytes: int) -> None:
    """Do jobs until the other end of the pipe is gone.

    Args:
        pipe: to the program.
        work: see `results`.
        memory_bytes: beyond what the process has taken by now: libraries reserve more the more cores there are.
    """
    limit_memory(address_space_bytes() + memory_bytes)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    warnings.simplefilter("ignore")  # a library's warnings about a file would disturb the progress bar
    with suppress(EOFError, OSError):
        pipe.send(_READY)
        while True:
            pipe.send(_outcome(work, pipe.recv()))


def _outcome(work: Callable[[Job], Result], job: Job) -> Result:
    """What a job comes to; without memory this process ends at once, since what is left of the job may fill it."""
    try:
        return work(job)
    except MemoryError:
        os._exit(OUT_OF_MEMORY)

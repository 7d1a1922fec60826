"""Jobs over processes: a crash or an endless job is told and costs nothing else."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from hazards import Unready, hazard
from pegwright.errors import InternalError
from pegwright.survey.workers import OUT_OF_MEMORY, Failed, cores, results

PATIENCE_S = 120.0  # far beyond what any of these take, also on a busy machine


def test_every_job_is_done_once_whatever_happens_to_others() -> None:
    jobs = ["one", "crash", "two", "leave", "three", "sleep 600", "four", "five"]
    done = dict(results(hazard, jobs, 2, 2.0))
    assert sorted(done) == list(range(len(jobs)))
    assert done[1] == Failed(-signal.SIGKILL)
    assert done[3] == Failed(7)
    assert done[5] == Failed(None)
    for number in (0, 2, 4, 6, 7):
        told = done[number]
        assert isinstance(told, str)
        assert told.split()[0] == jobs[number]
        assert int(told.split()[1]) != os.getpid()
    assert multiprocessing.active_children() == []


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux holds a process to a limit of its address space")
def test_a_process_is_held_to_its_memory_and_goes_on_with_other_jobs() -> None:
    limit = 64 * 2**20
    jobs = [f"take {limit // 2}", f"take {2 * limit}", "one", f"take {limit // 2}"]
    done = dict(results(hazard, jobs, 1, PATIENCE_S, limit))
    assert [done[number] for number in (0, 1, 3)] == [
        f"took {limit // 2}",
        Failed(OUT_OF_MEMORY),
        f"took {limit // 2}",
    ]
    assert str(done[2]).startswith("one ")


def test_no_jobs_need_no_process() -> None:
    assert list(results(hazard, [], 4, 1.0)) == []


def test_whoever_stops_listening_leaves_no_process_behind() -> None:
    for _, _ in results(hazard, ["one", "sleep 600", "sleep 600"], 2, 600.0):
        assert len(multiprocessing.active_children()) == 2
        break
    assert multiprocessing.active_children() == []


def test_a_process_that_cannot_begin_is_told() -> None:
    with pytest.raises(InternalError, match="ended with exit code 9 before it began"):
        list(results(Unready(), ["one"], 1, 1.0))


def test_workers_end_when_the_program_is_killed(tmp_path: Path) -> None:
    program = (
        f"import sys; sys.path.insert(0, {str(Path(__file__).parents[1])!r})\n"
        "from hazards import hazard\n"
        "from pegwright.survey.workers import results\n"
        "for _, told in results(hazard, ['one', 'sleep 2'], 1, 600.0):\n"
        "    print(told, flush=True)\n"
    )
    script = tmp_path / "program.py"
    body = "".join(f"    {line}\n" for line in program.splitlines())
    script.write_text(f"if __name__ == '__main__':\n{body}", encoding="utf-8")
    with subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True) as running:
        assert running.stdout is not None
        worker = int(running.stdout.readline().split()[1])
        running.kill()
    give_up = time.monotonic() + PATIENCE_S
    while is_running(worker):
        assert time.monotonic() < give_up, "the worker outlived the program"
        time.sleep(0.05)


def is_running(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0]
    except OSError:
        if Path("/proc/self").exists():
            return False
        pytest.skip("no /proc to see processes in")
    return state != "Z"


def test_there_is_a_core_to_run_on() -> None:
    assert cores() >= 1

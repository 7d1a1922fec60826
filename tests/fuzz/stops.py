"""Commands stopped at chosen system calls: `python -m tests.fuzz.stops --kills 150 --interrupts 150`.

Each command is run once to its end, and its calls that change the disk are counted. Then it is run again in a child
process, in which those calls are wrapped, and is stopped just before or just after one of them, by SIGKILL or by
SIGINT. After that what it writes must be whole, as before or as it should be, or absent, and the same command must
bring it to its end with the same bytes, with nothing left of the run that was stopped. No tracer is needed.

What the commands compute is remembered from the first run, so that a stop costs only the writing.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

from pegwright.bundled import songs_folder
from pegwright.cli.main import main as command_line

RENAMES = ("rename", "replace")
CALLS = ("rename", "replace", "fsync", "mkdir", "link", "unlink", "rmdir")
HEAVY = (  # module and function whose results are remembered
    ("song_pipeline.fitting", "fit_file"),
    ("song_pipeline.fitting", "remedies_for"),
    ("song_pipeline.files", "song_files"),
    ("song_pipeline.files", "report_page"),
    ("show_pipeline.plan", "plan_song_set"),
    ("show_pipeline.files", "show_files"),
    ("preview.mix", "record"),
    ("survey.run", "results"),
)
SONG, OTHER = (songs_folder() / name for name in ("shrimpers-jig.mid", "turnstile-tango.mid"))
WHEEL = songs_folder() / "merrow-sands.toml"
BARS = ("--bars", "1-2", "--wheel", str(WHEEL))
MINE = {"mine.txt": b"mine", "kept/mine.csv": b"mine too"}  # files of the user
PART = ".pegwright-"
JOURNAL = "journal.jsonl"
INTERRUPTED = 130

Tree = dict[str, bytes]


@dataclass(frozen=True)
class Scenario:
    """A command and where it is run.

    Args:
        name: of the scenario.
        command: what is typed after `pegwright`.
        before: commands that are run first.
        target: what the command writes, from the folder that it is run in: a folder or a file.
        mine: files of the user in it, which must stay.
        whole: whether the target is whole at every moment; else only after the next command.
        here: the folder in which the command is run.
    """

    name: str
    command: tuple[str, ...]
    before: tuple[tuple[str, ...], ...] = ()
    target: str = "out"
    mine: bool = False
    whole: bool = True
    here: str = "."


@dataclass(frozen=True)
class Stop:
    """Where a command is stopped: at a call by its number, before or after it, by a signal."""

    scenario: Scenario
    call: int
    after: bool
    signal: signal.Signals

    def __str__(self) -> str:
        return f"{self.scenario.name}:{self.call}:{'after' if self.after else 'before'}:{self.signal.name}"


PINNED = ("pin", str(SONG), *BARS, "-o", "out")
SURVEY = ("survey", "scores", "--wheel", str(WHEEL), "--semitones", "0", "--workers", "1", "-o", "out")
SET = ("set", "set.toml", "-o", "out")
PLATE = ("plate", str(SONG.parent / "merrow-sands-plate.toml"), "-o", "out")
HEARD = ("hear", str(SONG), *BARS, "-o", "out")
PAGE = ("pin", str(SONG), *BARS, "--page", "out.html")
A3 = ("--paper", "a3")
SCENARIOS = (
    Scenario("pin", PINNED),
    Scenario("pin-again", (*PINNED, "--overwrite"), before=((*PINNED, *A3),), mine=True),
    Scenario(
        "pin-here", (*PINNED[:-1], ".", "--overwrite"), ((*PINNED, *A3),), ".", mine=True, whole=False, here="out"
    ),
    Scenario("set", SET),
    Scenario("set-again", (*SET, "--overwrite"), before=((*SET, *A3),), mine=True),
    Scenario("hear", HEARD),
    Scenario("hear-again", (*HEARD, "--overwrite"), before=((*HEARD, "--even"),), mine=True, whole=False),
    Scenario("page", (*PAGE, "--overwrite"), before=((*PAGE, "--start", "2"),), target="out.html"),
    Scenario("plate", PLATE),
    Scenario("wheel", ("wheel", "--new", "out.toml"), target="out.toml"),
    Scenario("survey", SURVEY),
    Scenario("survey-again", (*SURVEY, "--again"), before=(SURVEY,), mine=True),
)


class Remembered:
    """Results of functions by the command, the function and how often it was called in that command."""

    def __init__(self) -> None:
        self._results: dict[tuple[Any, ...], Any] = {}
        self._command: tuple[str, ...] = ()
        self._calls: Counter[str] = Counter()
        for module_name, name in HEAVY:
            module = import_module(f"pegwright.{module_name}")
            setattr(module, name, self._of(name, getattr(module, name)))

    def begin(self, command: tuple[str, ...]) -> None:
        """A command begins; whether files may be replaced makes no difference to what it computes."""
        self._command = tuple(word for word in command if word != "--overwrite")
        self._calls.clear()

    def _of(self, name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*arguments: Any, **named: Any) -> Any:  # noqa: ANN401  # stands in for any function
            self._calls[name] += 1
            key = (self._command, name, self._calls[name])
            if name == "results":  # those of the jobs that are left, by the file
                return self._rows(real, *arguments)
            if key not in self._results:
                self._results[key] = real(*arguments, **named)
            return self._results[key]

        return call

    def _rows(self, real: Callable[..., Any], work: object, jobs: Sequence[Any], *rest: Any) -> Iterator[Any]:  # noqa: ANN401
        missing = [job for job in jobs if ("row", job.name) not in self._results]
        for number, row in real(work, missing, *rest):
            self._results["row", missing[number].name] = row
        yield from ((number, self._results["row", job.name]) for number, job in enumerate(jobs))


def run(remembered: Remembered, command: tuple[str, ...], said: Path) -> int:
    """The exit code of a command, run in this process; what it prints goes to a file."""
    remembered.begin(command)
    with said.open("w", encoding="utf-8", errors="replace") as stream, redirect_stdout(stream), redirect_stderr(stream):
        try:
            command_line(command)
        except SystemExit as leaving:
            return leaving.code if isinstance(leaving.code, int) else 1


def in_child(
    remembered: Remembered, command: tuple[str, ...], folder: Path, said: Path, stop: Stop | None = None
) -> tuple[int, tuple[str, ...]]:
    """Run a command in a child process.

    Args:
        remembered: what was computed before.
        command: what is typed after `pegwright`.
        folder: to run it in.
        said: for what it prints.
        stop: where to stop it.

    Returns:
        Its exit code, minus the signal that ended it, and the calls that it made, none where it was killed.
    """
    reading, writing = os.pipe()
    child = os.fork()
    if child:
        os.close(writing)
        with open(reading, encoding="ascii") as pipe:  # noqa: PTH123  # by its number
            calls = tuple(pipe.read().split())
        _, status = os.waitpid(child, 0)
        return os.waitstatus_to_exitcode(status), calls
    signal.signal(signal.SIGINT, signal.default_int_handler)
    os.chdir(folder)
    made: list[str] = []
    for name in CALLS:
        setattr(os, name, wrapped(name, made, stop))
    code = run(remembered, command, said)
    os.write(writing, " ".join(made).encode())
    os._exit(code)


def wrapped(name: str, made: list[str], stop: Stop | None) -> Callable[..., Any]:
    """A system call that is noted, and at which the process is stopped.

    Args:
        name: of the function in `os`.
        made: the calls made so far.
        stop: where to stop.
    """
    real = getattr(os, name)

    def call(*arguments: Any, **named: Any) -> Any:  # noqa: ANN401  # stands in for any call
        here = stop if stop and len(made) == stop.call else None
        made.append(name)
        if here and not here.after:
            os.kill(os.getpid(), here.signal)
        try:
            return real(*arguments, **named)
        finally:  # a call may fail, such as one to make a folder that is there
            if here and here.after:
                os.kill(os.getpid(), here.signal)

    return call


def tree(path: Path) -> Tree | None:
    """Files by name, unfinished ones and the journal of a survey left out; None where there is nothing."""
    if path.is_file():
        return {"": path.read_bytes()}
    if not path.exists():
        return None
    files = (file for file in path.rglob("*") if file.is_file() and file.name != JOURNAL)
    names = {file.relative_to(path).as_posix(): file for file in files}
    return {name: file.read_bytes() for name, file in names.items() if PART not in name and name != "journal.new"}


def left(folder: Path) -> list[str]:
    """What is left of unfinished files."""
    return [path.name for path in folder.rglob("*") if path.name.startswith(PART) or path.name == "journal.new"]


@dataclass(frozen=True)
class Ready:
    """A scenario with the folder that it begins in, what is there before and after it, and the calls it makes."""

    scenario: Scenario
    template: Path
    before: Tree | None
    after: Tree
    calls: tuple[str, ...]


def made_ready(remembered: Remembered, scenario: Scenario, folder: Path) -> Ready:
    """Run a scenario to its end, in a copy."""
    template = folder / f"{scenario.name}-template"
    (template / "scores").mkdir(parents=True)
    for song in (SONG, OTHER):
        shutil.copy2(song, template / "scores" / song.name)
    work = "[work]\npull_s = 1\nset_s = 2\nfind_s = 0.5\npeople = 2\n"
    listed = "".join(f'[[song]]\nscore = "{song}"\nstart = 1\nbars = "1-2"\n' for song in (SONG, OTHER))
    (template / "set.toml").write_text(f'title = "Evening"\nwheel = "{WHEEL}"\n{work}{listed}', encoding="utf-8")
    began = Path.cwd()
    os.chdir(template)
    for command in scenario.before:
        assert run(remembered, command, folder / "said.txt") == 0, (folder / "said.txt").read_text("utf-8")
    for name, data in (MINE if scenario.mine else {}).items():
        (template / "out" / name).parent.mkdir(exist_ok=True)
        (template / "out" / name).write_bytes(data)
    whole = folder / f"{scenario.name}-whole"
    shutil.copytree(template, whole)
    os.chdir(whole / scenario.here)
    assert run(remembered, scenario.command, folder / "said.txt") == 0, (folder / "said.txt").read_text("utf-8")
    os.chdir(began)
    counting = folder / f"{scenario.name}-counting"
    shutil.copytree(template, counting)
    code, calls = in_child(remembered, scenario.command, counting / scenario.here, folder / "said.txt", None)
    after = tree(whole / scenario.here / scenario.target)
    assert code == 0
    assert after is not None
    assert after == tree(counting / scenario.here / scenario.target)
    return Ready(scenario, template, tree(template / scenario.here / scenario.target), after, calls)


def faults_of(remembered: Remembered, ready: Ready, stop: Stop, folder: Path) -> list[str]:
    """What is not as it should be after a command was stopped, after another command, and after it was run again.

    Args:
        remembered: what was computed before.
        ready: the scenario.
        stop: where to stop it.
        folder: to run it in; must not exist.
    """
    scenario, said = ready.scenario, folder.with_suffix(".txt")
    shutil.copytree(ready.template, folder)
    here, killed = folder / scenario.here, stop.signal is signal.SIGKILL
    target = here / scenario.target
    code, _ = in_child(remembered, scenario.command, here, said, stop)
    sides = [ready.before, ready.after, *([{}] if ready.before is None else [])]
    aside = [None] if killed else []  # between two renames; an interrupt puts the earlier folder back at once
    parts = left(folder)
    checks = {
        f"left with {code}": code == (-signal.SIGKILL if killed else INTERRUPTED),
        "did not say that it was stopped": killed or said.read_text("utf-8").endswith("pegwright: error: stopped\n"),
        "was neither as before nor complete": not scenario.whole or tree(target) in [*sides, *aside],
    }
    in_child(remembered, ("fit", f"{scenario.target}/none.mid", "--wheel", str(WHEEL)), here, said, None)
    reported = said.read_text("utf-8").count("pegwright: ") - 1  # the last is that there is no such song
    checks |= {
        "left something that was not reported": reported == sum(part.startswith(PART) for part in parts),
        "was not put right by another command": tree(target) in sides,
    }
    again = scenario.command if scenario.command[0] == "survey" else (*scenario.command, "--overwrite")
    code, _ = in_child(remembered, again, here, said, None)
    checks |= {
        f"could not be run again: {said.read_text('utf-8')}": code == 0,
        "did not end with the same bytes": tree(target) == ready.after,
        f"left {left(folder)}": not left(folder),
    }
    return [fault for fault, sound in checks.items() if not sound]


def stops(ready: Sequence[Ready], counts: dict[signal.Signals, int], seed: int) -> Iterator[tuple[Ready, Stop]]:
    """Stops by turns over the scenarios, each at a call drawn by a seeded generator, every other one at a rename.

    Args:
        ready: the scenarios.
        counts: how many stops by each signal.
        seed: of the generator.
    """
    chosen = random.Random(seed)  # noqa: S311  # no secret
    for by, count in counts.items():
        for number in range(count):
            one = ready[number % len(ready)]
            renames = [call for call, name in enumerate(one.calls) if name in RENAMES]
            at = renames if number // len(ready) % 2 == 0 else range(len(one.calls))
            yield one, Stop(one.scenario, chosen.choice(at), chosen.random() < 0.5, by)


def main(arguments: Sequence[str] | None = None) -> int:
    """Stop commands and print what came of it; 1 where anything was not as it should be."""
    parser = argparse.ArgumentParser(description="Stop commands at system calls that change the disk.")
    parser.add_argument("--kills", type=int, default=len(SCENARIOS), help="how many stops by SIGKILL")
    parser.add_argument("--interrupts", type=int, default=len(SCENARIOS), help="how many stops by SIGINT")
    parser.add_argument("--seed", type=int, default=1, help="of the generator that draws the calls")
    parser.add_argument("--only", help="a single stop, as printed for a fault: SCENARIO:CALL:after:SIGKILL")
    options = parser.parse_args(arguments)
    counts = {signal.SIGKILL: options.kills, signal.SIGINT: options.interrupts}
    remembered, bad, tried = Remembered(), 0, Counter[str]()
    with tempfile.TemporaryDirectory(prefix="pegwright-stops-") as made:
        folder = Path(made)
        names = [options.only.partition(":")[0]] if options.only else [scenario.name for scenario in SCENARIOS]
        ready = [made_ready(remembered, scenario, folder) for scenario in SCENARIOS if scenario.name in names]
        drawn = [(ready[0], stop_of(options.only))] if options.only else stops(ready, counts, options.seed)
        for number, (one, stop) in enumerate(drawn):
            faults = faults_of(remembered, one, stop, folder / str(number))
            tried[f"{one.scenario.name} of {len(one.calls)} calls, {stop.signal.name}"] += 1
            bad += bool(faults)
            for fault in faults:
                sys.stdout.write(f"{stop}: {fault}\n")
            shutil.rmtree(folder / str(number))
    lines = [f"{count:5} {what}" for what, count in sorted(tried.items())]
    sys.stdout.write("\n".join([*lines, f"{tried.total()} stops, {bad} not as they should be", ""]))
    return 1 if bad else 0


def stop_of(text: str) -> Stop:
    """The stop that a line of a fault names."""
    name, call, moment, by = text.split(":")
    (scenario,) = (one for one in SCENARIOS if one.name == name)
    return Stop(scenario, int(call), moment == "after", signal.Signals[by])


if __name__ == "__main__":
    sys.exit(main())

"""One input tried: a command run in a forked child of this process under bounds of memory and time, then judged."""

from __future__ import annotations

import hashlib
import json
import os
import pkgutil
import random
import resource
import signal
import sys
import tempfile
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any

import pegwright
from commands import SONGS, WHEEL
from fuzz import scores, tables
from pegwright.cli.main import main

MEMORY_BYTES = 1_000_000_000
SECONDS = 60
CODES = {0, 1, 2, 3}  # the exit codes that the commands document
LONGEST_LINE = 300  # characters of an error
KEPT = Path(__file__).with_name("kept")
_PLACES = {"SONGS": SONGS, "MAP": tables.MAP}  # wherever the checkout is

Arguments = list[str]


@dataclass(frozen=True)
class Kind:
    """A kind of input.

    Args:
        make: writes the input's bytes.
        file: its name; the inputs of a case stand in a folder of their own.
        commands: of which one is chosen for every case; FILE stands for the input, WHEEL and SONG for bundled ones, MAP
            for a map of the tests.
    """

    make: Callable[[random.Random], bytes]
    file: str
    commands: tuple[str, ...]


OPTIONS = (
    "--fold-octaves", "--transpose auto", "--start auto", "--thin 1", "--turns 1", "--whole-bars", "--bars 1-2",
    "--performed", "--performed --beats find", "--ornaments 1/32", "--swing 2:1", "--tempo 1000", "--reach 1/4",
    "--offset auto", "--priority *=5", "--drum 38=40", "--channel-rule alternate", "--search", "--load", "--tempo nan",
    "--reach 1/0", "--bars 9-1", "--start 0", "--turns 0", "--every 0", "--offset 1e9", "--swing 9:0", "--semitones 3",
    "--move-part *=99", "--part-channels *=*5", "--remedies", "--bars 0-", "--tempo 1_000", "--transpose 127",
)  # fmt: skip
FIT = "fit FILE -w WHEEL --json"
KINDS = {
    "midi": Kind(scores.midi_file, "song.mid", (FIT, FIT, FIT, f"{FIT} --performed")),
    "musicxml": Kind(scores.musicxml, "song.musicxml", (FIT,)),
    "packed": Kind(scores.packed, "song.mxl", (FIT,)),
    "wheel": Kind(
        tables.wheel,
        "wheel.toml",
        ("wheel FILE", *["fit SONG -w FILE --json"] * 4, "pin SONG -w FILE -o OUT --no-remedies"),
    ),
    "set": Kind(tables.song_set, "set.toml", ("set FILE --json", "set FILE")),
    "seams": Kind(tables.seams, "seams.toml", ("hear SONG -w WHEEL --bars 1-1 --seams FILE -o OUT.mid",)),
    "beats": Kind(tables.beats, "beats.csv", ("fit SONG -w WHEEL --json --performed --beats FILE",)),
    "map": Kind(
        tables.pin_map,
        "map.json",
        (
            *("swap FILE FILE -w WHEEL", "swap FILE SONG -w WHEEL --bars 1-4", "check FILE -w WHEEL --json"),
            *("find FILE -w WHEEL --bar 2", "edit FILE -w WHEEL --undo -o OUT", "hear FILE -w WHEEL -o OUT.mid"),
            "pin FILE -w WHEEL -o OUT",
        ),
    ),
    "plate": Kind(
        tables.plate,
        "plate-1.csv",
        ("check FILE --of MAP -w WHEEL", "check FILE --of MAP -w WHEEL --json", "edit MAP FILE -w WHEEL -o OUT"),
    ),
    "songfile": Kind(
        tables.song_file,
        "song.toml",
        (
            *("fit FILE --json", "fit FILE", "fit FILE --keep OUT.toml", "song FILE", "hear FILE -o OUT.mid"),
            "pin FILE -o OUT --no-remedies",
        ),
    ),
    "options": Kind(lambda _: b"", "none", ("fit SONG -w WHEEL --json OPTIONS", "fit SONG -w WHEEL OPTIONS")),
}


@dataclass(frozen=True)
class Tried:
    """What a command did with an input."""

    code: int
    out: str
    err: str
    written: tuple[str, ...]


def case_of(kind: str, number: int, seed: int) -> tuple[bytes, Arguments]:
    """The input of a case and the arguments of its command."""
    chance = random.Random(f"{kind} {seed} {number}")  # noqa: S311  # the same cases on every machine
    data = KINDS[kind].make(chance)
    song = str(chance.choice(sorted((*SONGS.glob("*.mid"), *SONGS.glob("*.musicxml")))))
    names = {"WHEEL": str(WHEEL), "SONG": song, "FILE": KINDS[kind].file, "MAP": str(tables.MAP)}
    names |= {"OUT": "out", "OUT.mid": "out.mid", "OUT.toml": "out.toml"}
    arguments: Arguments = []
    for word in chance.choice(KINDS[kind].commands).split():
        if word == "OPTIONS":
            chosen = chance.sample(OPTIONS, chance.randint(1, 3))
            arguments += [part for option in chosen for part in option.split()]
        else:
            arguments.append(names.get(word, word))
    return data, arguments


def tried(data: bytes, arguments: Arguments, kind: str) -> Tried:
    """Run a command over an input, in a child with bounds of memory and time."""
    with tempfile.TemporaryDirectory(prefix="pegwright-fuzz-") as name:
        folder = Path(name)
        (folder / KINDS[kind].file).write_bytes(data)
        _load()
        child = os.fork()
        if child == 0:
            _run(folder, arguments)
        _, status = os.waitpid(child, 0)
        code = os.waitstatus_to_exitcode(status)
        out, err = ((folder / stream).read_text("utf-8", "replace") for stream in ("stdout", "stderr"))
        (folder / "stdout").unlink()
        (folder / "stderr").unlink()
        (folder / KINDS[kind].file).unlink()
        written = tuple(sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()))
    return Tried(code, out, err, written)


@cache
def _load() -> None:
    """Import everything once, so that the children need not."""
    for module in pkgutil.walk_packages(pegwright.__path__, "pegwright."):
        if not module.name.endswith("__main__"):
            import_module(module.name)


def _run(folder: Path, arguments: Arguments) -> None:
    """In the child: never returns."""
    try:
        os.chdir(folder)
        for number, stream in ((1, "stdout"), (2, "stderr")):
            os.dup2(os.open(stream, os.O_WRONLY | os.O_CREAT, 0o600), number)
        sys.stdout, sys.stderr = (os.fdopen(number, "w", encoding="utf-8") for number in (1, 2))
        used = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize() if _LINUX else 0
        resource.setrlimit(resource.RLIMIT_AS, (used + MEMORY_BYTES, used + MEMORY_BYTES))
        resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
        signal.alarm(10 * SECONDS)
        main(arguments)
    except SystemExit as leaving:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(leaving.code if isinstance(leaving.code, int) else 0)
    except BaseException:
        traceback.print_exc()
        sys.stderr.flush()
        os._exit(99)


_LINUX = sys.platform == "linux"


def faults(result: Tried, arguments: Arguments) -> list[str]:
    """What is wrong with what a command did; nothing where all is well."""
    wrong = []
    if result.code not in CODES:
        wrong.append(f"exit code {result.code}" + (" (time or memory)" if result.code < 0 else ""))
    if "Traceback" in result.out + result.err:
        wrong.append("a traceback")
    if "\x1b" in result.out + result.err:
        wrong.append("an escape sequence reaches the terminal")
    if result.code in {1, 2} and not result.err.startswith(("pegwright: error: ", "pegwright: not in the plan: ")):
        wrong.append("no error line")
    if any(len(line) > LONGEST_LINE + len("pegwright: error: ") for line in result.err.splitlines()):
        wrong.append("an error line of more than 300 characters")
    if result.code and result.written:
        wrong.append(f"left behind: {', '.join(result.written[:3])}")
    if any(".part" in name or ".pegwright" in name for name in result.written):
        wrong.append("a half-written folder")
    if result.code == 0 and arguments[0] == "fit" and "--json" in arguments:
        wrong += _wrong_counts(json.loads(result.out))
    return wrong


def _wrong_counts(report: dict[str, Any]) -> list[str]:
    """Counts of a report that do not add up."""
    count = report["count"]
    dropped, by_reason = count["dropped_by_option"], count["left_out_by_reason"]
    sums = {
        "read": count["sounding"] + count["left_out"] + count["dropped"],
        "sounding": sum(report["placed_by_audibility"].values()) + len(report["shared"]),
        "left_out": sum(by_reason.values()),
        "dropped": sum(dropped.values()),
    }
    listed = len(report["left_out"])
    wrong = [f"{name} is {count[name]} and adds up to {total}" for name, total in sums.items() if count[name] != total]
    return wrong + ([f"{count['left_out']} left out and {listed} listed"] if listed != count["left_out"] else [])


def keep(kind: str, data: bytes, arguments: Arguments) -> Path:
    """Keep the input of a failure as a case, which the tests try from then on."""
    name = hashlib.sha256(data + "\0".join(arguments).encode()).hexdigest()[:12]
    folder = KEPT / f"{kind}-{name}"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / KINDS[kind].file).write_bytes(data)
    words = arguments
    for name, place in _PLACES.items():
        words = [word.replace(str(place), name) for word in words]
    (folder / "command.json").write_text(json.dumps(words) + "\n", encoding="utf-8")
    return folder


def kept_cases() -> list[tuple[str, Path]]:
    """The kinds and folders of cases that were kept."""
    return (
        [(path.name.split("-")[0], path) for path in sorted(KEPT.iterdir()) if path.is_dir()] if KEPT.exists() else []
    )


def kept_case(kind: str, folder: Path) -> tuple[bytes, Arguments]:
    """The input and the arguments of a case that was kept."""
    words = json.loads((folder / "command.json").read_text(encoding="utf-8"))
    for name, place in _PLACES.items():
        words = [word.replace(name, str(place)) for word in words]
    return (folder / KINDS[kind].file).read_bytes(), words

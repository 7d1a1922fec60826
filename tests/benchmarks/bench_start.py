"""How much work each command is on a small song, beside the import of numpy and click, which none can do without.

Run: python tests/benchmarks/bench_start.py [rounds [src of another checkout]]
Work is processor time, user and system, the least of some rounds: each round runs every command once, so that what
else the machine does falls on all alike. Compiled modules are kept, as an installation has them. With the `src` folder
of another checkout the same is printed for that, run by run in turn.
Figure to reach: `fit` at most 1.6 times numpy and click.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path

ROUNDS = 9
LONG_ROUNDS = 3  # of the command that takes seconds
LONG = "pegwright demo -o"
ROOT = Path(__file__).parents[2]
SONGS = ROOT / "songs"
YARDSTICK = "numpy and click"
PYTHON = {"nothing": "pass", "click": "import click", "numpy": "import numpy", YARDSTICK: "import numpy, click"}


def commands(folder: Path) -> dict[str, list[str]]:
    """What is run, by a name that is printed.

    Args:
        folder: for what the commands write.
    """
    wheel = ["--wheel", str(SONGS / "merrow-sands.toml")]
    jig, minuet = str(SONGS / "shrimpers-jig.mid"), str(SONGS / "bathing-machine-minuet.musicxml")
    out = ["--overwrite", "-o"]
    ours = {
        "--help": ["--help"],
        "fit --help": ["fit", "--help"],
        "wheel": ["wheel", wheel[1]],
        "fit": ["fit", jig, *wheel],
        "fit, MusicXML": ["fit", minuet, *wheel],
        "fit --json": ["fit", jig, *wheel, "--json"],
        "fit --search": ["fit", jig, *wheel, "--search"],
        "pin": ["pin", jig, *wheel, *out, str(folder / "pins")],
        "pin, MusicXML": ["pin", minuet, *wheel, *out, str(folder / "minuet")],
        "hear": ["hear", jig, *wheel, *out, str(folder / "jig.wav")],
        "swap": ["swap", str(folder / "pins" / "pin-map.json"), minuet, *wheel],
        "set": ["set", str(SONGS / "pavilion-evening.toml")],
        "demo -o": ["demo", *out, str(folder / "demo")],
    }
    made = {f"python, {name}": [sys.executable, "-c", code] for name, code in PYTHON.items()}
    return made | {f"pegwright {name}": [sys.executable, "-m", "pegwright", *rest] for name, rest in ours.items()}


def work_s(command: list[str], variables: Mapping[str, str]) -> float:
    """Processor time of a command and of all that it starts.

    Args:
        command: that ends well.
        variables: of its environment.
    """
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, stdout=subprocess.DEVNULL, check=True, env=variables, cwd=ROOT)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main(rounds: int, sources: list[str]) -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as made:
        kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        kept |= {"PYTHONPYCACHEPREFIX": f"{made}/compiled"}
        runs = {source: kept | {"PYTHONPATH": source} for source in sources}
        least: dict[tuple[str, str], float] = {}
        for turn in range(rounds + 1):  # the first only compiles
            for name, command in commands(Path(made)).items():
                for source, variables in runs.items() if name != LONG or turn <= LONG_ROUNDS else ():
                    spent = work_s(command, variables)
                    if turn:
                        least[source, name] = min(spent, least.get((source, name), spent))
        for source in sources:
            yardstick_s = least[source, f"python, {YARDSTICK}"]
            print(source)
            for name in commands(Path(made)):
                spent = least[source, name]
                print(f"    {name:24} {spent * 1000:7.0f} ms  {spent / yardstick_s:6.2f} x {YARDSTICK}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS, [str(ROOT / "src"), *sys.argv[2:]])

"""How long `pegwright --help` takes, beside a bare Python and beside click alone.

Run: python tests/benchmarks/bench_help.py. Every round measures each command once, so that what
else the machine does falls on all of them alike.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from pathlib import Path

ROUNDS = 15
DEMO = Path(__file__).parents[2] / "songs" / "merrow-sands.toml"
PYTHON = [sys.executable]
COMMANDS = {
    "python, nothing": [*PYTHON, "-c", "pass"],
    "python, import click": [*PYTHON, "-c", "import click"],
    "pegwright --help": [*PYTHON, "-m", "pegwright", "--help"],
    "pegwright wheel --help": [*PYTHON, "-m", "pegwright", "wheel", "--help"],
    "python, import numpy": [*PYTHON, "-c", "import numpy"],
    "pegwright wheel FILE": [*PYTHON, "-m", "pegwright", "wheel", str(DEMO)],
}
YARDSTICK = "python, import click"


def main() -> None:
    """Measure and print medians, and each as a multiple of importing click."""
    times: dict[str, list[float]] = {name: [] for name in COMMANDS}
    for _ in range(ROUNDS):
        for name, command in COMMANDS.items():
            start = time.perf_counter()
            subprocess.run(command, stdout=subprocess.DEVNULL, check=True)
            times[name].append(time.perf_counter() - start)
    yardstick_s = statistics.median(times[YARDSTICK])
    for name, measured in times.items():
        median_s = statistics.median(measured)
        print(f"{name:24} {median_s * 1000:7.1f} ms  {median_s / yardstick_s:5.2f} x {YARDSTICK}")  # a script


if __name__ == "__main__":
    main()

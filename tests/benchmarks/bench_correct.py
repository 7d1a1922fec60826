"""How much work `find`, `check` and `edit` are on a map of more than 5,000 pins, beside numpy and click.

Run: python tests/benchmarks/bench_correct.py [rounds]
Work is processor time, user and system, start of Python included, the least of some rounds. Compiled modules are kept,
as an installation has them. Figure to reach: each at most 0.5 s where numpy and click take 0.12 s.
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
from pathlib import Path

import mido
from bench_start import PYTHON, ROOT, SONGS, YARDSTICK, work_s

ROUNDS = 5
PLATES, STEPS, TOGETHER = 60, 32, 3
PITCHES = (67, 69, 71, 72, 74, 76, 77, 78, 79, 81, 83, 84, 86, 43, 45, 48, 50, 52, 53)


def write_inputs(folder: Path) -> None:
    """A wheel of 60 plates, and a song that fills it, the same on every run."""
    text = (SONGS / "merrow-sands.toml").read_text(encoding="utf-8")
    for old, new in (("plates = 6", f"plates = {PLATES}"), ("radius_mm = 477.5", "radius_mm = 4775.0")):
        text = text.replace(old, new)
    (folder / "wheel.toml").write_text(text.replace("stock = 640", "stock = 9000"), encoding="utf-8")
    chance, file, track = random.Random(1), mido.MidiFile(ticks_per_beat=480), mido.MidiTrack()  # noqa: S311  # seeded
    file.tracks.append(track)
    events = [
        (step * 120 + 100 * (not on), on, pitch)
        for step in range(PLATES * STEPS)
        for pitch in chance.sample(PITCHES, TOGETHER)
        for on in (True, False)
    ]
    last = 0
    for at, on, pitch in sorted(events):
        track.append(mido.Message("note_on", note=pitch, velocity=80 * on, time=at - last))
        last = at
    file.save(folder / "song.mid")


def main(rounds: int) -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        write_inputs(folder)
        variables = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        variables |= {"PYTHONPYCACHEPREFIX": f"{made}/compiled", "PYTHONPATH": str(ROOT / "src")}
        pegwright, wheel = [sys.executable, "-m", "pegwright"], ["--wheel", str(folder / "wheel.toml")]
        work_s([*pegwright, "pin", str(folder / "song.mid"), *wheel, "--no-remedies", "-o", f"{made}/pins"], variables)
        pins = f"{made}/pins/pin-map.json"
        text = (folder / "pins" / "plate-03.csv").read_text(encoding="utf-8").splitlines()[1].split(",")
        edit = f"remove plate 3, channel {text[1]}, step {text[6]} {text[4]}"
        commands = {
            f"python, {YARDSTICK}": [sys.executable, "-c", PYTHON[YARDSTICK]],
            "find": [*pegwright, "find", pins, *wheel, "--bar", "7", "--beat", "3"],
            "check": [*pegwright, "check", pins, *wheel],
            "edit": [*pegwright, "edit", pins, *wheel, edit],
            "edit -o": [*pegwright, "edit", pins, *wheel, edit, "--overwrite", "-o", f"{made}/new.json"],
            "check, 60 CSV files": [*pegwright, "check", f"{made}/pins", *wheel],
        }
        least: dict[str, float] = {}
        for turn in range(rounds + 1):  # the first only compiles
            for name, command in commands.items():
                spent = work_s(command, variables)
                if turn:
                    least[name] = min(spent, least.get(name, spent))
        yardstick_s = least[f"python, {YARDSTICK}"]
        for name, spent in least.items():
            print(f"{name:24} {spent * 1000:7.0f} ms  {spent / yardstick_s:6.2f} x {YARDSTICK}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS)

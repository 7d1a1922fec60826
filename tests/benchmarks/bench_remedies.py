"""How long remedies take beside the fit itself, for a report page and where they are asked for.

Run: python tests/benchmarks/bench_remedies.py [name of a case ...]
Each line, from a process of its own: notes and turns; the first fit in ms; then for both amounts of work the time, its
ratio to the fit, the fits tried and units of work a ms (100 where a unit is the 10 microseconds it is meant to be);
and the peak of memory. All times are those of the processor.

Before the work was counted, on two busy cores (page and request alike; times of the processor):
demo, 300 notes: 2.6 s. 64 x 64 steps, 68 notes: 2.5 s, 480 MB. 2 x 64 steps, a hole lost and a limit, 55 notes: 4.1 s,
870 MB. 4 x 64 steps, the same: 13.3 s, 1,890 MB. 16 x 64 steps, the same: stopped after 200 s.
Since (page, request, peak): 1.1 s, 2.4 s, 140 MB; 1.2 s, 1.6 s, 280 MB; 1.0 s, 1.0 s, 250 MB; for 16 x 64 steps 0.7 s,
0.7 s, 240 MB. About 0.4 s of the first figure is the import of the general solver for the smallest set of changes.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from pegwright.ask.options import FitOptions
from pegwright.bundled import bundled_wheel
from pegwright.config import load_wheel
from pegwright.config.wheel_file import could_be_loaded
from pegwright.edit.turns import cut_turns
from pegwright.fit.placing import place_song
from pegwright.remedy.budget import FULL_WORK, PAGE_WORK, WHEEL_SHARE, Budget
from pegwright.remedy.song_remedies import find_remedies
from pegwright.remedy.wheel_changes import fewest_changes
from pegwright.score import Score
from pegwright.wheel import LostHole, StrikeLimit, Wheel
from samples import GEOMETRY, channel, score, wheel

RESOLUTION = 480
T = TypeVar("T")
CHANNELS = 24


def song(notes: int, steps: int, low: int, high: int) -> Score:
    """Notes over so many sixteenths, at multiples of a 64th, on some pitches."""
    chance = np.random.default_rng(1)
    onset = chance.integers(0, steps * RESOLUTION // 4 // 30, notes) * 30
    rows = np.stack([onset, chance.integers(low, high, notes), chance.integers(1, 128, notes)], axis=1).tolist()
    return score([tuple(row) for row in rows], resolution=RESOLUTION)


def long_wheel(plates: int, uneven: bool = False, limited: bool = False) -> Wheel:
    """Plates of 64 steps; uneven ones have lost one hole of the turn, so that no two starts are alike."""
    geometry = replace(GEOMETRY, radius_mm=plates * 64 * 15.625 / (2 * np.pi), hole_diameter_mm=2.5)
    names = tuple(f"c{number}" for number in range(CHANNELS))
    return wheel(
        [channel(name, [50 + number]) for number, name in enumerate(names)],
        plate_count=plates,
        steps_per_plate=64,
        geometry=geometry,
        lost=(LostHole("on", 3, 1),) if uneven else (),
        strike_limits=(StrikeLimit("drive", names, 2, 100.0),) if limited else (),
    )


def cases() -> dict[str, tuple[Score, Wheel]]:
    """What is timed."""
    demo = load_wheel(bundled_wheel())
    return {
        "demo, 300 notes": (song(300, 192, 43, 87), demo),
        "demo, 2,000 notes": (song(2000, 192, 43, 87), demo),
        "64 x 64 steps": (song(68, 4096, 48, 76), long_wheel(64)),
        "64 x 64 steps, a hole lost": (song(68, 4096, 48, 76), long_wheel(64, uneven=True)),
        **{
            f"{plates} x 64 steps, lost, limit": (song(55, plates * 64, 48, 76), long_wheel(plates, True, True))
            for plates in (2, 4, 16)
        },
    }


def line(name: str) -> str:
    """One case."""
    piece, on = cases()[name]
    turns, options = cut_turns(piece, on), FitOptions()
    fit_s, placements = timed(lambda: [place_song(turn, on, options) for turn in turns])
    text = f"{name:28} {piece.note_count:5} {len(turns):3} {1000 * fit_s:7.1f}"
    for work in (PAGE_WORK, FULL_WORK):
        of_wheel, of_song = Budget(work // WHEEL_SHARE), Budget(work - work // WHEEL_SHARE)
        wheel_s, _ = timed(lambda: fewest_changes(turns, on, options, placements, could_be_loaded, of_wheel))  # noqa: B023
        song_s, remedies = timed(lambda: find_remedies(turns, on, options, placements, of_song))  # noqa: B023
        seconds, spent = wheel_s + song_s, of_wheel.spent + of_song.spent
        text += f" | {seconds:6.2f} {seconds / fit_s:6.0f} {remedies.tried:5} {spent / seconds / 1000:5.0f}"
    return f"{text} | {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024:5}"


def timed(run: Callable[[], T]) -> tuple[float, T]:
    """The time of the processor in seconds, and what came out."""
    begin = time.process_time()
    result = run()
    return time.process_time() - begin, result


def main() -> None:
    """Print the table, or one line of it."""
    if sys.argv[1:2] == ["--line"]:
        print(line(sys.argv[2]))
        return
    half = "| {:>6} {:>6} {:>5} {:>5}".format("s", "x fit", "fits", "u/ms")
    print(f"{'':28} {'notes':>5} {'':3} {'fit ms':>7} {half} {half} |    MB")
    for name in sys.argv[1:] or cases():
        command = [sys.executable, __file__, "--line", name]
        print(subprocess.run(command, check=True, capture_output=True, text=True).stdout, end="")  # ours


if __name__ == "__main__":
    main()

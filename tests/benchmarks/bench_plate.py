"""Time and memory of every file of a plate: the demo plate, and one of 50,000 holes, each in a process of its own.

    python tests/benchmarks/bench_plate.py

Figures to reach: the demo plate in 4 s and 250 MB, 50,000 holes in 60 s and 1 GB. The yardstick is the same program's
summary without files, in the same run.
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path
from time import perf_counter

sys.path.insert(0, str(Path(__file__).parents[1]))

from places import SONGS

CHANNELS, STEPS, PLATES, STEP_MM = 100, 250, 6, 8.0
WHEEL = f"""
name = "large"
[wheel]
plates = {PLATES}
steps_per_plate = {STEPS}
step = "1/16"
[geometry]
radius_mm = {PLATES * STEPS * STEP_MM / 6.283185:.3f}
thickness_mm = 6.0
hole_diameter_mm = 2.5
pin_diameter_mm = 3.0
min_wall_mm = 1.0
pin_clearance_mm = 0.5
channel_pitch_mm = 14.0
lead_edge_mm = 3.0
trail_edge_mm = 3.0
[[row]]
name = "on"
phases = [0]
[[row]]
name = "half"
phases = ["1/2"]
lateral_mm = 3.0
[channel_defaults]
rows = ["on", "half"]
kind = "strike"
restrike_ms = 110
lead_ms = 18
[[pin_type]]
name = "plain"
stock = 640
""" + "".join(f'[[channel]]\nname = "channel {number}"\npitches = [{number}]\n' for number in range(CHANNELS))


def large(folder: Path) -> Path:
    """The plate file of a wheel with 50,000 pin holes a plate, the demo plate's tools, and a large machine."""
    (folder / "wheel.toml").write_text(WHEEL, encoding="utf-8")
    text = (SONGS / "merrow-sands-plate.toml").read_text(encoding="utf-8")
    head, _, tools = text.partition("[[tool]]")
    sheet = head.partition("[[fixing]]")[0].replace("merrow-sands.toml", "wheel.toml").replace("1.2", "0.5")
    mark = f'[[fixing]]\nkind = "mark"\nalong_mm = 40\nacross_mm = {14 * (CHANNELS - 1) + 14}\ndiameter_mm = 3.4\n'
    dowel = f'[[fixing]]\nkind = "dowel"\nalong_mm = {STEPS * STEP_MM / 2}\nacross_mm = -14\ndiameter_mm = 5\n'
    tools = tools.replace("travel_x_mm = 600", "travel_x_mm = 3000").replace("travel_y_mm = 400", "travel_y_mm = 3000")
    path = folder / "plate.toml"
    path.write_text(f"{sheet}{dowel}{mark}[[tool]]{tools}", encoding="utf-8")
    return path


def run(*arguments: str) -> tuple[float, float, float]:
    """Seconds by the clock, seconds of the processor and megabytes at the peak of one command."""
    begin = perf_counter()
    child = os.posix_spawn(
        sys.executable,
        [sys.executable, "-m", "pegwright", *arguments],
        os.environ,
        file_actions=[(os.POSIX_SPAWN_OPEN, 1, os.devnull, os.O_WRONLY, 0)],
    )
    _, status, used = os.wait4(child, 0)
    assert status == 0, arguments
    return perf_counter() - begin, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def main() -> None:
    """Print a line for each plate."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        plates = {"demo plate": SONGS / "merrow-sands-plate.toml", "50,000 holes": large(folder)}
        for words, path in plates.items():
            _, summary_s, _ = run("plate", str(path))
            clock_s, work_s, peak_mb = run("plate", str(path), "-o", str(folder / words), "--jig")
            size_mb = sum(file.stat().st_size for file in (folder / words).rglob("*") if file.is_file()) / 1e6
            print(
                f"{words:12} all files {clock_s:5.1f} s by the clock, {work_s:5.1f} s of the processor,"
                f" {peak_mb:4.0f} MB, {size_mb:5.1f} MB written; {work_s / summary_s:.1f} times the summary alone"
            )


if __name__ == "__main__":
    main()

"""How long a report takes and how much memory, beside reading and fitting alone.

Run: python tests/benchmarks/bench_report.py [repeats]
Each line: notes of a song at random on the bundled wheel, how many notes are left out, the floor (imports, reading,
fitting, checking), then `fit` as text and as JSON: processor time in s, ratio to the floor, peak memory in MB. Each
measurement is a process of its own; the least time of the repeats and the largest memory count.
"""

from __future__ import annotations

import io
import subprocess
import sys
import tempfile
from pathlib import Path

import mido
import numpy as np

SIZES = (1_000, 20_000, 200_000)
RESOLUTION = 480
NOTES_PER_QUARTER = 20

FLOOR = """
from pathlib import Path
from pegwright.ask.request import PLAIN
from pegwright.bundled import bundled_wheel
from pegwright.check.verify import verify
from pegwright.config import load_wheel
from pegwright.fit.pins import pins_of
from pegwright.song_pipeline.editing import edit_song
from pegwright.song_pipeline.fitting import song_fits
wheel = load_wheel(bundled_wheel())
edited = edit_song(Path(song), wheel, PLAIN)
fits = song_fits(edited, wheel)
chosen = fits.at(0, PLAIN.options.start_steps)
for score, fit in zip(fits.turns, chosen):
    pins_of(score, wheel, fit.placement)
    assert verify(score, wheel, fit.placement) == ()
print(sum(fit.placement.left_out_count for fit in chosen))
"""
COMMAND = """
from pegwright.bundled import bundled_wheel
from pegwright.cli.main import main
sys.argv = ["pegwright", "fit", song, "--wheel", str(bundled_wheel()), *sys.argv[2:]]
try:
    main()
except SystemExit as ended:
    assert not ended.code, ended.code
"""
MEASURED = """
import re, time
from pathlib import Path
peak_kb = re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1]  # of this program alone, on Linux
print(time.process_time(), int(peak_kb) / 1024, file=sys.stderr)
"""


def midi_bytes(notes: int) -> bytes:
    """Notes at random on a grain of a 192nd, over five octaves."""
    chance = np.random.default_rng(1)
    onset = chance.integers(0, notes * RESOLUTION // NOTES_PER_QUARTER // 10, notes) * 10
    pitch, velocity = chance.integers(36, 96, notes), chance.integers(1, 128, notes)
    begun = zip(onset.tolist(), pitch.tolist(), velocity.tolist(), strict=True)
    ended = zip((onset + 60).tolist(), pitch.tolist(), [0] * notes, strict=True)
    track, now = mido.MidiTrack(), 0
    for at, key, loud in sorted([*begun, *ended]):
        track.append(mido.Message("note_on", note=key, velocity=loud, time=at - now))
        now = at
    buffer = io.BytesIO()
    mido.MidiFile(ticks_per_beat=RESOLUTION, tracks=[track]).save(file=buffer)
    return buffer.getvalue()


def measure(code: str, song: Path, repeats: int, *options: str) -> tuple[float, float, str]:
    """Processor time in s, peak memory in MB and the last line printed, of some code in processes of its own."""
    program = f"import sys\nsong = sys.argv[1]\n{code}\n{MEASURED}"
    times, sizes, last = [], [], ""
    for _ in range(repeats):
        run = subprocess.run(
            [sys.executable, "-c", program, str(song), *options], capture_output=True, text=True, check=True
        )
        used_s, peak_mb = run.stderr.splitlines()[-1].split()
        times.append(float(used_s))
        sizes.append(float(peak_mb))
        last = run.stdout.rstrip().splitlines()[-1]
    return min(times), max(sizes), last


def main(repeats: int) -> None:
    """Measure every size."""
    print(f"{'notes':>9} {'left out':>9} {'floor':>16} {'fit':>24} {'fit --json':>24}")
    with tempfile.TemporaryDirectory() as folder:
        for notes in SIZES:
            song = Path(folder) / f"{notes}.mid"
            song.write_bytes(midi_bytes(notes))
            floor_s, floor_mb, left_out = measure(FLOOR, song, repeats)
            line = f"{notes:9,} {int(left_out):9,} {floor_s:6.2f} s {floor_mb:4.0f} MB"
            for options in ((), ("--json",)):
                used_s, peak_mb, _ = measure(COMMAND, song, repeats, *options)
                line += f" {used_s:6.2f} s ({used_s / floor_s:4.2f}) {peak_mb:5.0f} MB"
            print(line)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1)

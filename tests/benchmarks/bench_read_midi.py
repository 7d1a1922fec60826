"""Reading MIDI against mido's parsing alone, in one run: real scores, then a generated file of 200,000 notes.

Run: python tests/benchmarks/bench_read_midi.py [folder of scores]
Figure to reach: reading takes at most 1.3 times as long as mido.MidiFile on the same bytes.
"""

from __future__ import annotations

import gc
import sys
import tracemalloc
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from statistics import median
from time import perf_counter

import mido

from pegwright.read.midi import read_midi

FIGURE = 1.3
NOTE_COUNT = 200_000


def many_notes(count: int) -> bytes:
    """A file of `count` notes in four tracks, sixteenths with a triplet now and then."""
    file = mido.MidiFile(type=1, ticks_per_beat=480)
    for channel in range(4):
        track = mido.MidiTrack()
        track.append(mido.MetaMessage("track_name", name=f"Voice {channel + 1}"))
        for number in range(count // 4):
            note = 48 + (number * 7 + channel * 5) % 36
            length = 80 if number % 16 < 3 else 120
            track.append(mido.Message("note_on", channel=channel, note=note, velocity=64 + number % 60, time=0))
            track.append(mido.Message("note_off", channel=channel, note=note, velocity=0, time=length))
        file.tracks.append(track)
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


def best_of(runs: int, *tasks: Callable[[], object]) -> list[float]:
    """Median seconds of each task, run in turn so that a busy machine slows all alike."""
    times: list[list[float]] = [[] for _ in tasks]
    for _ in range(runs):
        for task, spent in zip(tasks, times, strict=True):
            gc.collect()
            begin = perf_counter()
            task()
            spent.append(perf_counter() - begin)
    return [median(spent) for spent in times]


def peak_mb(task: Callable[[], object]) -> float:
    """Peak memory that Python allocated during the task, in MB."""
    gc.collect()
    tracemalloc.start()
    try:
        task()
        return tracemalloc.get_traced_memory()[1] / 1e6
    finally:
        tracemalloc.stop()


def report(name: str, data: bytes, runs: int) -> tuple[float, float]:
    """Print one line and return the two times."""
    note_count = read_midi(data, name)[0].note_count
    alone, whole = best_of(runs, lambda: mido.MidiFile(file=BytesIO(data)), lambda: read_midi(data, name))
    line = (
        f"{name:36} {note_count:8,} notes  mido {alone * 1e3:9.2f} ms  read {whole * 1e3:9.2f} ms  {whole / alone:5.2f}"
    )
    sys.stdout.write(line + "\n")
    return alone, whole


def main() -> None:
    """Measure and print."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[3] / "shared" / "scores"
    totals = [report(path.name, path.read_bytes(), 7) for path in sorted(folder.glob("*.mid"))]
    if totals:
        alone, whole = (sum(times) for times in zip(*totals, strict=True))
        sys.stdout.write(f"all real scores together: ratio {whole / alone:.2f} (figure {FIGURE})\n")
    data = many_notes(NOTE_COUNT)
    alone, whole = report("generated", data, 3)
    peaks = peak_mb(lambda: mido.MidiFile(file=BytesIO(data))), peak_mb(lambda: read_midi(data, "generated"))
    sys.stdout.write(f"generated: ratio {whole / alone:.2f} (figure {FIGURE}); {whole:.2f} s; ")
    sys.stdout.write(f"peak memory mido {peaks[0]:.0f} MB, read {peaks[1]:.0f} MB\n")


if __name__ == "__main__":
    main()

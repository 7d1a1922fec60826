"""Reading MIDI against a bare scan of the same bytes and against mido, in one run: real scores, then 200,000 notes.

Run: python tests/benchmarks/bench_read_midi.py [folder of scores]
Figures to reach: from bytes to events in at most 2 times the bare scan, and at least 8 times as fast as mido.MidiFile.
The last column is the whole way from bytes to a score, for comparison.
"""

from __future__ import annotations

import gc
import sys
import tracemalloc
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from time import process_time

import mido

from pegwright.findings import Notices
from pegwright.read.midi.chunks import read_layout
from pegwright.read.midi.events import read_events
from pegwright.read.midi.notices import MidiFault
from pegwright.read.midi.reader import read_midi

SCAN_FIGURE = 2
MIDO_FIGURE = 8
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


def bare_scan(body: bytes) -> int:
    """Step through the events of a sound track: delta and status decoded, all else skipped, nothing kept."""
    at = status = 0
    size = len(body)
    while at < size:
        delta = body[at]
        at += 1
        if delta > 127:
            delta, at = bare_quantity(body, at - 1)
        byte = body[at]
        if byte >= 0xF0:
            length, at = bare_quantity(body, at + (2 if byte == 0xFF else 1))
            at += length
            continue
        if byte > 127:
            status = byte
            at += 1
        at += 1 if 0xC0 <= status < 0xE0 else 2
    return at


def bare_quantity(body: bytes, at: int) -> tuple[int, int]:
    """A variable-length quantity and the offset after it."""
    value = 0
    while True:
        byte = body[at]
        at += 1
        value = value << 7 | byte & 127
        if byte < 128:
            return value, at


def best_of(runs: int, repeats: int, *tasks: Callable[[], object]) -> list[float]:
    """Least seconds of processor time of each task, run in turn so that a busy machine slows all alike.

    Args:
        runs: of each task.
        repeats: of a task in a run, so that a short one is not measured with cold caches alone.
        tasks: what to measure.
    """
    times: list[list[float]] = [[] for _ in tasks]
    for _ in range(runs):
        for task, spent in zip(tasks, times, strict=True):
            gc.collect()
            begin = process_time()
            for _ in range(repeats):
                task()
            spent.append((process_time() - begin) / repeats)
    return [min(spent) for spent in times]


def peak_mb(task: Callable[[], object]) -> float:
    """Peak memory that Python allocated during the task, in MB."""
    gc.collect()
    tracemalloc.start()
    try:
        task()
        return tracemalloc.get_traced_memory()[1] / 1e6
    finally:
        tracemalloc.stop()


def report(name: str, data: bytes, runs: int) -> list[float]:
    """Print one line and return the times of scan, events, mido and score."""
    note_count = read_midi(data, name)[0].note_count
    faults = Notices(MidiFault, name)
    bodies = read_layout(data, faults).tracks
    times = best_of(
        runs,
        max(1, 50_000 // len(data)),
        lambda: [bare_scan(body) for body in bodies],
        lambda: read_events(read_layout(data, faults).tracks, faults),
        lambda: mido.MidiFile(file=BytesIO(data)),
        lambda: read_midi(data, name),
    )
    report_times(f"{name:32} {note_count:8,} notes", times)
    return times


def report_times(title: str, times: list[float]) -> None:
    """Print the times of scan, events, mido and score, and their ratios."""
    scan, events, other, score = times
    sys.stdout.write(
        f"{title:47}  scan {scan * 1e3:7.2f}  events {events * 1e3:7.2f}  mido {other * 1e3:8.2f}  "
        f"score {score * 1e3:7.2f} ms  events/scan {events / scan:5.2f}  mido/events {other / events:5.1f}  "
        f"mido/score {other / score:5.1f}\n"
    )


def main() -> None:
    """Measure and print."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[3] / "shared" / "scores"
    totals = [report(path.name, path.read_bytes(), 7) for path in sorted(folder.glob("*.mid"))]
    if totals:
        report_times("all real scores together", [sum(times) for times in zip(*totals, strict=True)])
    data = many_notes(NOTE_COUNT)
    report("generated", data, 5)
    peaks = peak_mb(lambda: mido.MidiFile(file=BytesIO(data))), peak_mb(lambda: read_midi(data, "generated"))
    sys.stdout.write(
        f"figures: events/scan at most {SCAN_FIGURE}, mido/events at least {MIDO_FIGURE}; "
        f"peak memory of the generated file: mido {peaks[0]:.0f} MB, score {peaks[1]:.0f} MB\n"
    )


if __name__ == "__main__":
    main()

"""How quick a fit is, beside reading the same notes with mido and beside a plain sort of them.

Run: python tests/benchmarks/bench_fit.py [repeats]
Each line: notes, what became of them, then the best times of the repeats in ms and their ratio to mido's.
"""

from __future__ import annotations

import io
import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

import mido

from pegwright.ask.options import FitOptions
from pegwright.check.verify import verify
from pegwright.placement import Outcome
from pegwright.score import Score
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import Wheel
from samples import GEOMETRY, HALF, ON, TRIPLET, channel, score, wheel

RESOLUTION = 480


def big_wheel(steps: int, channels: int, restrike_ms: float, step_mm: float = 15.625) -> Wheel:
    """A wheel of 8 plates with on, half and triplet rows."""
    made = [channel(f"c{number}", [40 + number], restrike_ms=restrike_ms) for number in range(channels)]
    plates = 8
    geometry = replace(GEOMETRY, radius_mm=steps * step_mm / (2 * np.pi))
    rows = (ON, HALF, replace(TRIPLET, lateral_mm=3.2))
    return wheel(made, plate_count=plates, steps_per_plate=steps // plates, rows=rows, geometry=geometry)


def song(notes: int, steps: int, channels: int, grain: int, seed: int = 1) -> Score:
    """Notes spread over a turn of so many sixteenths, at multiples of a grain in ticks."""
    chance = np.random.default_rng(seed)
    onset = chance.integers(0, steps * RESOLUTION // 4 // grain, notes) * grain
    pitch, velocity = chance.integers(40, 40 + channels, notes), chance.integers(1, 128, notes)
    rows = np.stack([onset, pitch, velocity], axis=1).tolist()
    return score([tuple(row) for row in rows], resolution=RESOLUTION, tolerance_ticks=1)


def midi_bytes(made: Score) -> bytes:
    """The same notes as a MIDI file."""
    track = mido.MidiTrack()
    rows = np.stack([made.onset_ticks, made.pitch_midi, made.velocity], axis=1)
    events: list[tuple[int, int, int]] = [tuple(row) for row in rows.tolist()]
    events += [(onset + 60, pitch, 0) for onset, pitch, _ in events]
    now = 0
    for at, pitch, loud in sorted(events):
        track.append(mido.Message("note_on", note=pitch, velocity=loud, time=at - now))
        now = at
    buffer = io.BytesIO()
    mido.MidiFile(ticks_per_beat=RESOLUTION, tracks=[track]).save(file=buffer)
    return buffer.getvalue()


def best_ms(repeats: int, work: Callable[[], object]) -> float:
    """The quickest of some repeats."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return 1000 * min(times)


def shapes() -> dict[str, tuple[Score, Wheel, FitOptions]]:
    """What is timed."""
    plain = FitOptions()
    wide = FitOptions(reach_quarters=Fraction(1, 2))
    return {
        "sparse: 500 on the grid, 38 channels": (song(500, 1536, 38, 120), big_wheel(1536, 38, 90.0), plain),
        "dense: 5,000 on the grid, 38 channels": (song(5000, 1536, 38, 40), big_wheel(1536, 38, 90.0), plain),
        "dense, off the grid": (song(5000, 1536, 38, 1), big_wheel(1536, 38, 90.0), plain),
        "all in conflict: 5,000 on 8 channels": (song(5000, 1536, 8, 10), big_wheel(1536, 8, 150.0), plain),
        "one channel, re-strike of 150 ms": (song(5000, 6144, 1, 10), big_wheel(6144, 1, 150.0), plain),
        "one channel, 2 s, no break in the turn": (song(5000, 6144, 1, 10), big_wheel(6144, 1, 2000.0), plain),
        "one channel, reach of two steps": (song(5000, 6144, 1, 10), big_wheel(6144, 1, 150.0), wide),
        "pins touch: 5,000 on 8 channels": (song(5000, 1536, 8, 10), big_wheel(1536, 8, 1.0, 4.6), plain),
        "pins touch, one channel": (song(5000, 6144, 1, 10), big_wheel(6144, 1, 1.0, 4.6), plain),
        "pins touch, one channel, two steps": (song(5000, 6144, 1, 10), big_wheel(6144, 1, 1.0, 4.6), wide),
        "200,000 on 38 channels": (song(200_000, 12288, 38, 10), big_wheel(12288, 38, 90.0), plain),
    }


def line(name: str, made: Score, on: Wheel, options: FitOptions, repeats: int) -> str:
    """Two lines on one shape."""
    placement, _ = fit_with_findings(made, on, options)
    broken = verify(made, on, placement)
    assert broken == (), broken[:3]
    fit = best_ms(repeats, lambda: fit_with_findings(made, on, options))
    check = best_ms(repeats, lambda: verify(made, on, placement))
    data = midi_bytes(made)
    read = best_ms(repeats, lambda: mido.MidiFile(file=io.BytesIO(data)))
    sort = best_ms(repeats, lambda: np.lexsort([made.pitch_midi, made.onset_ticks]))
    told = Counter(Outcome(value).name for value in placement.outcome.tolist())
    return (
        f"{name:40} {fit:8.1f} {check:8.1f} {read:8.1f} {sort:7.2f} {(fit + check) / read:9.2f}\n"
        f"    {', '.join(f'{reason} {count}' for reason, count in sorted(told.items()))}\n"
    )


def main(repeats: int) -> None:
    """Time every shape."""
    sys.stdout.write(f"{'best times in ms':40} {'fit':>8} {'verify':>8} {'mido':>8} {'sort':>7} {'to mido':>9}\n")
    for name, (made, on, options) in shapes().items():
        sys.stdout.write(line(name, made, on, options, 1 if made.note_count > 10_000 else repeats))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)

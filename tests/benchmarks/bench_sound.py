"""Seconds of work for a minute of music, beside the plain way: every mode of every strike as a sine of its own.

Run: python tests/benchmarks/bench_sound.py
Figure to reach: a minute of music in less than a second of one processor's time.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from time import process_time

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # before numpy: waiting threads would be counted as work

import numpy as np

from pegwright.ask.request import Request
from pegwright.bundled import bundled_wheel, songs_folder
from pegwright.columns import Floats
from pegwright.config import load_wheel
from pegwright.preview.drums import drum
from pegwright.preview.midi_out import midi_bytes
from pegwright.preview.mix import record
from pegwright.preview.modal import RATE_HZ, Voice
from pegwright.preview.perform import Wish, perform
from pegwright.preview.performance import Performance
from pegwright.preview.pitched import LOWEST_BAR_MIDI, bar, string
from pegwright.preview.wav import wav_bytes
from pegwright.song_pipeline.fitting import fit_file

SONGS = ("the-sands-at-evening.musicxml", "turnstile-tango.mid", "donkey-ride-polka.mxl", "low-water-slowly.mid")
FIGURE_S = 1.0
REPEATS = 3


def least_s(work: Callable[[], object]) -> float:
    """The least processor time of several runs: what the work takes when nothing disturbs it."""
    times = []
    for _ in range(REPEATS):
        begin = process_time()
        work()
        times.append(process_time() - begin)
    return min(times)


def plainly(performance: Performance) -> Floats:
    """The pitched part of every blow, one sine and one decay for each of its modes, without room and noise."""
    last_s = float(performance.seconds.max())
    out = np.zeros(int((last_s + 5) * RATE_HZ))
    for sound, seconds, velocity in zip(performance.sound, performance.seconds, performance.velocity, strict=True):
        struck = performance.sounds[sound]
        made: Voice = drum(struck.pitch_midi)
        if not struck.percussion:
            made = (bar if struck.pitch_midi >= LOWEST_BAR_MIDI else string)(struck.pitch_midi, int(velocity))
        begin = int(seconds * RATE_HZ)
        for hz, level, t60_s in zip(made.modes.hz, made.modes.level, made.modes.t60_s, strict=True):
            time_s = np.arange(int(RATE_HZ * min(1.2 * t60_s, 4.5))) / RATE_HZ
            out[begin : begin + len(time_s)] += level * 10 ** (-3 * time_s / t60_s) * np.sin(2 * np.pi * hz * time_s)
    return out


def main() -> None:
    """Measure and print."""
    wheel = load_wheel(bundled_wheel())
    for name in SONGS:
        fitted = fit_file(songs_folder() / name, wheel, Request())
        made, _ = perform(fitted, Wish(turn_count=1))
        minutes = record(made).seconds / 60
        whole_s = least_s(lambda made=made: wav_bytes(record(made))) / minutes  # type: ignore[misc]  # bound early
        plain_s = least_s(lambda made=made: plainly(made)) / minutes  # type: ignore[misc]
        midi_s = least_s(lambda made=made: midi_bytes(made)) / minutes  # type: ignore[misc]
        sys.stdout.write(
            f"{name:32} {made.strike_count / minutes:4.0f} strikes a minute: WAV {whole_s:5.2f} s for each minute "
            f"(figure {FIGURE_S:g}), plain {plain_s:5.2f} s, plain / ours {plain_s / whole_s:.1f}; "
            f"MIDI {midi_s:.3f} s\n"
        )


if __name__ == "__main__":
    main()

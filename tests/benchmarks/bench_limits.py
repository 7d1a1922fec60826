"""How good and how quick a fit is where a limit joins all channels of a crowded turn.

Run: python tests/benchmarks/bench_limits.py [notes ...]
Each line: notes, pins of the wheel, the limit; processor time in s, strikes placed, their weight, how much more there
could be at most, and what share of the weight that is.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from pegwright.ask.options import FitOptions
from pegwright.bundled import bundled_wheel
from pegwright.check.verify import verify
from pegwright.config import load_wheel
from pegwright.fit.placing import place_song
from pegwright.placement import Status
from pegwright.score import Score
from pegwright.wheel import PinType, StrikeLimit, Wheel
from samples import score

RESOLUTION = 480
LIMITS = ((3, 50.0), (5, 500.0), (8, 1000.0))
PLAIN = (PinType("plain", 2000),)
NOTES = (500, 1000, 2000, 4000)
GRAINS = {"grid": 60, "played": 1}  # 32nds, or any tick


def song(notes: int, grain: int, seed: int = 1) -> Score:
    """Notes over the 192 sixteenths of a turn, at multiples of a grain in ticks, on the demo wheel's pitches."""
    chance = np.random.default_rng(seed)
    onset = chance.integers(0, 192 * RESOLUTION // 4 // grain, notes) * grain
    pitch, velocity = chance.integers(43, 87, notes), chance.integers(1, 128, notes)
    rows = np.stack([onset, pitch, velocity], axis=1).tolist()
    return score([tuple(row) for row in rows], resolution=RESOLUTION, tolerance_ticks=1)


def limited(wheel: Wheel, strikes: int, window_ms: float) -> Wheel:
    """No more than so many strikes of all channels within a time."""
    names = tuple(made.name for made in wheel.channels)
    return replace(wheel, strike_limits=(StrikeLimit("all", names, strikes, window_ms),))


def line(made: Score, on: Wheel) -> str:
    """Time and quality of one fit."""
    begin = time.process_time()
    placement = place_song(made, on, FitOptions())
    took_s = time.process_time() - begin
    broken = verify(made, on, placement)
    assert broken == (), broken[:3]
    gap = placement.weight_bound - placement.weight
    proof = "proved" if placement.status == Status.OPTIMAL else "bounded"
    share = 100 * gap / placement.weight
    return f"{took_s:8.2f} {placement.placed_count:6} {placement.weight:8} {gap:8} {share:7.2f} % {proof}\n"


def main(sizes: tuple[int, ...]) -> None:
    """Fit every shape."""
    offsets = load_wheel(bundled_wheel())
    wheels = {"plain": replace(offsets, pin_types=PLAIN), "offsets": offsets}
    sys.stdout.write(
        f"{'notes':>5} {'onsets':7} {'pins':8} {'limit':13}{'s':>8} {'placed':>6} {'weight':>8} {'gap':>8}\n"
    )
    for notes in sizes:
        for grain, ticks in GRAINS.items():
            for pins, on in wheels.items():
                for strikes, window_ms in LIMITS:
                    of = f"{strikes} in {window_ms:.0f} ms"
                    sys.stdout.write(f"{notes:5} {grain:7} {pins:8} {of:13}")
                    sys.stdout.flush()
                    sys.stdout.write(line(song(notes, ticks), limited(on, strikes, window_ms)))
                    sys.stdout.flush()


if __name__ == "__main__":
    main(tuple(int(size) for size in sys.argv[1:]) or NOTES)

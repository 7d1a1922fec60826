"""Held notes on fine wheels: how long their pins take as holes become more.

    python tests/benchmarks/bench_held.py

One holding channel on a rim of 4 m with more and more holes, three rows of them, and 40 notes of random lengths.
"""

from __future__ import annotations

import random
import sys
import time
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from pegwright.ask.options import FitOptions
from pegwright.columns import frozen_ints
from pegwright.fit.held import held_notes
from pegwright.score import Score
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import Kind, PinType, Wheel
from samples import GEOMETRY, channel, score, wheel

RIM_MM = 4_000.0
STEPS_A_PLATE = 64
PINS = (PinType("peg", 9_000), PinType("early", 900, offset_mm=-2.0), PinType("bridge", 900, bridge_mm=20.0))


def horn(plates: int) -> Wheel:
    """A wheel with one holding channel and the number of plates."""
    thin = replace(
        GEOMETRY, radius_mm=RIM_MM / 6.283185307, hole_diameter_mm=0.2, pin_diameter_mm=0.3, pin_clearance_mm=0.1
    )
    holding = channel("horn", [60], kind=Kind.HOLD, hold_mm=100.0, restrike_ms=60.0, rows=("on", "half"))
    return wheel([holding], plate_count=plates, steps_per_plate=STEPS_A_PLATE, geometry=thin, pin_types=PINS)


def song(on: Wheel, notes: int = 40) -> Score:
    """Notes of one pitch at random, each held for a part of the time to the next."""
    chance = random.Random(1)  # noqa: S311  # test data
    steps = sorted(chance.sample(range(on.plate_count * STEPS_A_PLATE), notes))
    made = score([(6 * step, 60) for step in steps], resolution=24)
    lengths = [6 * max(1, int((later - step) * 0.9)) for step, later in pairwise([*steps, steps[-1] + 2])]
    return replace(made, duration_ticks=frozen_ints(lengths))


def main() -> None:
    """Fit once without the pins that hold, then time those."""
    for plates in (8, 16, 32, 64):
        on = horn(plates)
        notes = song(on)
        placement, _ = fit_with_findings(notes, on, FitOptions())
        began = time.process_time()
        held = held_notes(notes, on, placement)
        taken_s = time.process_time() - began
        steps = plates * STEPS_A_PLATE
        print(f"{steps:5} steps: {len(held.note)} notes, {held.pin_count} further pins, {taken_s:.2f} s")


if __name__ == "__main__":
    main()

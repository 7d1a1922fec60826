"""How quick a search is beside fitting every transposition and start one by one.

Run: python tests/benchmarks/bench_search.py [transpositions] [fits]
Each line: the search's time by the processor, what it proved, how many choices it had to solve, the time of a few of
the fits it replaces, and how many times longer all of them would take.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from pegwright.ask.options import FitOptions
from pegwright.bundled import bundled_wheel
from pegwright.config import load_wheel
from pegwright.fit.placing import place_song
from pegwright.placement import Placement
from pegwright.score import Score
from pegwright.search.choices import Choice
from pegwright.search.table import search_turns
from pegwright.wheel import PinType, StrikeLimit, Wheel
from samples import channel, score

RESOLUTION = 480
PLAIN = (PinType("plain", 2000),)


def song(notes: int, low: int, high: int, grain: int) -> Score:
    """Notes over the 192 sixteenths of a turn, at multiples of a grain in ticks, on some pitches."""
    chance = np.random.default_rng(1)
    onset = chance.integers(0, 192 * RESOLUTION // 4 // grain, notes) * grain
    pitch, velocity = chance.integers(low, high, notes), chance.integers(1, 128, notes)
    rows = np.stack([onset, pitch, velocity], axis=1).tolist()
    return score([tuple(row) for row in rows], resolution=RESOLUTION, tolerance_ticks=1)


def chain(wheel: Wheel) -> Wheel:
    """24 channels, each of which shares a pitch with the one before and the one after it."""
    made = [channel(f"c{number}", [48 + number, 49 + number], restrike_ms=110.0) for number in range(24)]
    return replace(wheel, channels=tuple(made), strike_limits=())


def limited(wheel: Wheel, strikes: int, window_ms: float) -> Wheel:
    """No more than so many strikes of all channels within a time."""
    names = tuple(made.name for made in wheel.channels)
    return replace(wheel, strike_limits=(StrikeLimit("all", names, strikes, window_ms),))


def shapes() -> dict[str, tuple[Score, Wheel]]:
    """What is timed."""
    offsets = load_wheel(bundled_wheel())
    plain = replace(offsets, pin_types=PLAIN)
    wide, narrow = song(2000, 48, 73, 60), song(2000, 54, 66, 60)
    on_demo, sparse, played = song(2000, 43, 87, 60), song(600, 43, 87, 60), song(2000, 48, 73, 1)
    return {
        "demo wheel, plain pins": (on_demo, plain),
        "demo wheel, pins with offsets": (on_demo, offsets),
        "2 strikes in 50 ms, plain pins": (on_demo, limited(plain, 2, 50.0)),
        "2 strikes in 50 ms, offsets": (on_demo, limited(offsets, 2, 50.0)),
        "5 strikes in 500 ms, 600 notes": (sparse, limited(plain, 5, 500.0)),
        "5 strikes in 500 ms, plain pins": (on_demo, limited(plain, 5, 500.0)),
        "5 strikes in 500 ms, offsets": (on_demo, limited(offsets, 5, 500.0)),
        "chain, plain pins": (wide, chain(plain)),
        "chain, offsets": (wide, chain(offsets)),
        "chain, off the grid": (played, chain(plain)),
        "chain, 12 pitches only": (narrow, chain(plain)),
        "chain, 12 pitches only, offsets": (narrow, chain(offsets)),
    }


def line(name: str, made: Score, on: Wheel, transpositions: range, fits: int) -> str:
    """One shape; every fit tried must be worth what the search says, or no more than its bound."""
    begin = time.process_time()
    found = search_turns((made,), on, FitOptions(), transpositions, range(on.turn_steps), best_few=1)
    search_s = time.process_time() - begin
    best, gap = found.best(), found.gap()
    chance = np.random.default_rng(2)
    rows, columns = chance.integers(0, len(transpositions), fits), chance.integers(0, on.turn_steps, fits)
    begin = time.process_time()
    for row, column in zip(rows.tolist(), columns.tolist(), strict=True):
        placement = fitted(made, on, transpositions[row], column)
        assert (placement.weight, -placement.cost_ticks) <= (found.weight[row, column], -found.cost_ticks[row, column])
    fit_s = (time.process_time() - begin) / fits
    placement = fitted(made, on, best.transpose_semitones, best.start_steps)
    assert Choice(best.transpose_semitones, best.start_steps, placement.weight, placement.cost_ticks) == best
    every_s = fit_s * found.weight.size
    proof = "proved" if gap is None else f"gap {gap}"
    return (
        f"{name:33} {search_s:8.2f} {proof:>10} {np.count_nonzero(found.settled):8} {1000 * fit_s:8.1f}"
        f" {every_s / search_s:9.0f}\n"
    )


def fitted(made: Score, on: Wheel, semitones: int, start: int) -> Placement:
    """The whole fit of one choice."""
    return place_song(made, on, FitOptions(transpose_semitones=semitones, start_steps=Fraction(start)))


def main(transpositions: int, fits: int) -> None:
    """Time every shape."""
    reach = range(-(transpositions // 2), transpositions // 2 + 1)
    sys.stdout.write(f"{len(reach)} transpositions x 192 starts; times in s, of a fit in ms\n")
    sys.stdout.write(f"{'':33} {'search':>8} {'':>10} {'solved':>8} {'fit':>8} {'all fits':>9}\n")
    for name, (made, on) in shapes().items():
        sys.stdout.write(line(name, made, on, reach, fits))
        sys.stdout.flush()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 49, int(sys.argv[2]) if len(sys.argv) > 2 else 10)

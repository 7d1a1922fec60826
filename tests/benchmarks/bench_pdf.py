"""Time and size of pin sheets as PDF, beside the same shapes drawn plainly, all in one run.

Run: python tests/benchmarks/bench_pdf.py
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from time import perf_counter

sys.path.insert(0, str(Path(__file__).parents[1]))

from drawn import expanded
from pegwright.draw.paper import A3, A4, Paper
from pegwright.draw.pin_sheet import BarMark, SheetNotes, pin_sheets
from pegwright.grid import hole_grid
from pegwright.placement import PinMap
from pegwright.wheel import Wheel
from pegwright.write.pdf import pdf_bytes
from pegwright.write.svg import svg_text
from placed import pin_map
from samples import channel, wheel

REPEATS = 5


def song(on: Wheel, pins_a_plate: int) -> PinMap:
    """Pins spread evenly over the holes there are."""
    pins = []
    every = len(on.channels) * 3 * on.steps_per_plate / pins_a_plate
    seen = due = 0.0
    for number, line in enumerate(hole_grid(on).lines):
        for hole in range(len(line.position)):
            seen += 1
            if seen > due and not line.loss[hole]:
                due += every
                pins.append((number, int(line.plate[hole]), int(line.row[hole]), int(line.index[hole]), 0, -1))
    return pin_map(on, pins)


def best_s(work: Callable[[], object]) -> float:
    """The least of several times: what the work takes when nothing disturbs it."""
    times = []
    for _ in range(REPEATS):
        begin = perf_counter()
        work()
        times.append(perf_counter() - begin)
    return min(times)


def race(name: str, on: Wheel, pins: PinMap, paper: Paper) -> None:
    """Print one line for the sheets of a song."""
    bars = [BarMark(Fraction(16 * number), str(number + 1)) for number in range(on.turn_steps // 16)]
    pages = pin_sheets(on, pins, bars, paper, SheetNotes("A"))
    plain = [replace(page, items=tuple(expanded(page.items))) for page in pages]
    draw_s = best_s(lambda: pin_sheets(on, pins, bars, paper, SheetNotes("A")))
    ours_s, plain_s = best_s(lambda: pdf_bytes(pages, "bench")), best_s(lambda: pdf_bytes(plain, "bench"))
    ours, others = len(pdf_bytes(pages, "bench")), len(pdf_bytes(plain, "bench"))
    svg_s = best_s(lambda: [svg_text(page) for page in pages])
    sys.stdout.write(
        f"{name}: {len(pages)} pages, {pins.pin_count} pins; drawing {draw_s:.2f} s; "
        f"PDF {ours_s:.2f} s, {ours / 1e6:.2f} MB; plain {plain_s:.2f} s, {others / 1e6:.2f} MB; "
        f"plain / ours: time {plain_s / ours_s:.1f}, size {others / ours:.1f}; SVG {svg_s:.2f} s\n"
    )


def rim(channels: int, steps: int, plates: int) -> Wheel:
    return wheel(
        [channel(f"bar {number + 1}", [30 + number]) for number in range(channels)],
        steps_per_plate=steps,
        plate_count=plates,
    )


def main() -> None:
    usual, large = rim(24, 32, 6), rim(38, 64, 8)
    race("6 plates, 24 channels x 96 holes, A4", usual, song(usual, 100), A4)
    race("8 plates, 38 channels x 192 holes, A3", large, song(large, 1200), A3)


if __name__ == "__main__":
    main()

"""How many notes of a simulated performance come back to the hole that was meant: ours beside simpler ways.

    python tests/benchmarks/bench_performed.py [--quick]

Fixed seeds, one run, one core. Every method sees the same onsets. In the steady task all know tempo and beat exactly;
in the wandering task the tempo at the start is known to 1 % and each quarter then differs from the one before by 1 %
(standard deviation), without bound; "nothing known" gives onsets alone. The test pieces (`performed_data.TEST_PIECES`
and drum patterns from seeds of their own, by the generators that taught the prior) were not used for the prior, but
their results were known while constants were chosen. `bench_played.py` has other pieces, other drums and real
performances.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from performed_data import (
    PLACES,
    TEST_PIECES,
    UNITS,
    Performance,
    Piece,
    corpus_piece,
    free_drums,
    groove,
    looped_drums,
    perform,
    rubato,
    score_of,
)

from pegwright.ask.request import Beat
from pegwright.played.quantise import quantise_performed
from pegwright.played.result import PerformedResult
from pegwright.score import LOW_CONFIDENCE, Score

MOST_NOTES = 800
JITTERS_MS = (10, 15, 20, 30)
TARGETS = {
    "steady": (99.8, 99.3, 97.0, 92.0),
    "steady, drums": (None, None, 95.0, None),
    "wandering": (98.0, None, 90.0, None),
}
MOST_MERGED, MOST_US = 0.3, 100  # % of notes; microseconds a note on one core
FOUND = 0.8  # of a piece's notes right: then the beat was had
Holes = NDArray[np.int64]


@dataclass
class Tally:
    """Notes right, notes in all, merges, seconds and low confidences of one method on one set."""

    right: int = 0
    notes: int = 0
    merged: int = 0
    seconds: float = 0.0
    low: int = 0
    low_wrong: int = 0
    each: list[tuple[float, str]] = field(default_factory=list)

    def add(self, name: str, holes: Holes, true: Holes, score: Score, seconds: float) -> None:
        """Count one piece."""
        right = holes == true
        self.right += int(right.sum())
        self.notes += len(true)
        self.merged += merges(holes, true, score.part, score.pitch_midi)
        self.seconds += seconds
        self.each.append((float(right.mean()), name))

    def cell(self) -> str:
        """Exact share, merged share, microseconds a note."""
        merged, speed = 100 * self.merged / self.notes, 1e6 * self.seconds / self.notes
        return f"{100 * self.right / self.notes:10.2f}{merged:7.3f}{speed:7.0f}"

    def told(self) -> str:
        """How the notes told as unsure fared, and the pieces that fared worst."""
        wrong = self.notes - self.right
        unsure = (
            f"{100 * self.low / self.notes:.2f} % of notes unsure, {100 * self.low_wrong / max(1, self.low):.0f} % of "
        )
        unsure += f"them wrong, {100 * self.low_wrong / max(1, wrong):.0f} % of the errors among them"
        worst = ", ".join(f"{name} {100 * share:.1f}" for share, name in sorted(self.each)[:3])
        return f"{unsure}; lowest {worst}"


def nearest(quarters: NDArray[np.float64]) -> Holes:
    """The nearest place to each onset."""
    grid = np.array([*PLACES, UNITS])
    beat = np.floor(quarters).astype(int)
    found: Holes = beat * UNITS + grid[np.abs((quarters - beat)[:, None] * UNITS - grid).argmin(axis=1)]
    return found


def least_squares(quarters: NDArray[np.float64], quarter_s: float, jitter_s: float) -> Holes:
    """For each beat the grid of even parts that fits best, finer grids paying for their freedom."""
    beat = np.floor(quarters + 0.5 / 8).astype(int)
    result = np.zeros(len(quarters), dtype=int)
    for number in np.unique(beat):
        mine = np.flatnonzero(beat == number)
        best = np.inf
        for parts in (1, 2, 3, 4, 6, 8):
            snapped = np.round((quarters[mine] - number) * parts) / parts
            away = (quarters[mine] - number - snapped) * quarter_s / jitter_s
            cost = float((away**2).sum()) + 2 * len(mine) * np.log(parts)
            if cost < best:
                best, result[mine] = cost, np.round((number + snapped) * UNITS).astype(int)
    return result


def music21_quantise(quarters: NDArray[np.float64], divisors: tuple[int, ...]) -> Holes:
    """`Stream.quantize` of music21, offsets only."""
    from music21 import note, stream

    line = stream.Stream()
    elements = []
    for offset in quarters:
        element = note.Note(60, quarterLength=0.125)
        elements.append(element)
        line.insert(float(offset), element)
    line.quantize(divisors, processOffsets=True, processDurations=False, inPlace=True)
    return np.array([round(float(element.offset) * UNITS) for element in elements])


def ours(played: Performance, beat: Beat, tempo_error: float = 0.0) -> tuple[Score, PerformedResult, Holes, float]:
    """The score as recorded, our result, the true holes and the seconds taken."""
    score, true = score_of(played, played.quarters_per_minute / (1 + tempo_error))
    start = time.process_time()
    result, _ = quantise_performed(score, None, beat)
    taken = time.process_time() - start
    assert result.resolution == UNITS
    return score, result, true, taken


def merges(holes: Holes, true: Holes, part: Holes, pitch: Holes) -> int:
    """Notes of one part and pitch that share a hole though they were meant for two."""
    order = np.lexsort([true, holes, pitch, part])
    same = np.ones(len(order) - 1, dtype=bool)
    for column in (part, pitch, holes):
        same &= np.diff(column[order]) == 0
    return int(np.count_nonzero(same & (np.diff(true[order]) != 0)))


def run(pieces: Sequence[Piece], jitter_ms: float, seed: int, wander: float) -> dict[str, Tally]:
    """Every method on every piece."""
    rng = np.random.default_rng(seed)
    tallies: dict[str, Tally] = {}
    for piece in pieces:
        played = perform(piece, rng, jitter_ms / 1000, wander)
        error = float(rng.normal(0, 0.01)) if wander else 0.0
        beat = Beat.FOLLOW if wander else Beat.KEEP
        score, result, true, taken = ours(played, beat, error)
        tally = tallies.setdefault("ours", Tally())
        tally.add(piece.name, result.onset_units, true, score, taken)
        low, wrong = result.confidence < LOW_CONFIDENCE, result.onset_units != true
        tally.low += int(low.sum())
        tally.low_wrong += int((low & wrong).sum())
        for name, method in others(score, result, played, jitter_ms / 1000, wander).items():
            start = time.process_time()
            found = method()
            taken = time.process_time() - start
            tallies.setdefault(name, Tally()).add(piece.name, found, true, score, taken)
    return tallies


def others(
    score: Score, result: PerformedResult, played: Performance, jitter_s: float, wander: float
) -> dict[str, Callable[[], Holes]]:
    """The simpler ways that the task allows."""
    clock = score.onset_ticks / score.resolution
    if wander:
        onset_s = result.beats.seconds_at(result.onset_units / UNITS) + result.deviation_ms / 1000
        tracked = result.beats.quarters_at(onset_s)
        return {"nearest, by the clock": lambda: nearest(clock), "nearest, by our beat": lambda: nearest(tracked)}
    return {
        "nearest hole": lambda: nearest(clock),
        "least squares a beat": lambda: least_squares(clock, 60 / played.quarters_per_minute, jitter_s),
        "music21 (8, 6)": lambda: music21_quantise(clock, (8, 6)),
        "music21 (4, 3)": lambda: music21_quantise(clock, (4, 3)),
    }


def table(task: str, pieces: Sequence[Piece], seed: int, wander: float) -> None:
    """Run a task and print its rows."""
    notes = sum(len(piece.notes) for piece in pieces)
    print(f"\n{task}: {len(pieces)} pieces, {notes} notes; each: exact %, merged %, us a note")
    results = {jitter: run(pieces, jitter, seed + jitter, wander) for jitter in JITTERS_MS}
    print(f"  {'jitter':22s}" + "".join(f"{jitter:>21d} ms" for jitter in JITTERS_MS))
    for name in results[JITTERS_MS[0]]:
        cells = "".join(results[jitter][name].cell() for jitter in JITTERS_MS)
        print(f"  {name:22s}{cells}")
    if task in TARGETS:
        cells = "".join(f"{target or '-':>10}{MOST_MERGED:7.3f}{MOST_US:7d}" for target in TARGETS[task])
        print(f"  {'to reach':22s}{cells}")
    for jitter in JITTERS_MS:
        print(f"  {jitter} ms: {results[jitter]['ours'].told()}")


def nothing_known(pieces: Sequence[Piece], jitter_ms: float, seed: int) -> None:
    """Tempo and beat from the notes alone."""
    rng = np.random.default_rng(seed)
    found = on_beat = right = notes = 0
    missed = []
    for piece in pieces:
        played = perform(piece, rng, jitter_ms / 1000, 0.01)
        score, true = score_of(played, 120.0)
        result, _ = quantise_performed(score, None, Beat.FIND)
        apart = true - result.onset_units
        shift = int(np.bincount(apart - apart.min()).argmax() + apart.min())
        exact = float(np.mean(apart == shift))
        found += exact > FOUND
        on_beat += exact > FOUND and shift % UNITS == 0
        right += int(np.sum(apart == shift))
        notes += len(true)
        if exact <= FOUND:
            tempo = 60 * np.median(np.diff(result.beats.quarters) / np.diff(result.beats.seconds))
            missed.append(f"{piece.name} ({played.quarters_per_minute:.0f} a minute heard as {tempo:.0f})")
    print(
        f"\nnothing known, {jitter_ms:.0f} ms, wandering 1 % a quarter (no target): "
        f"tempo found in {found} of {len(pieces)} pieces,"
    )
    print(f"  on the beat in {on_beat}; {100 * right / notes:.1f} % of notes right but for one shift a piece; missed:")
    for text in missed:
        print(f"    {text}")


def free_playing(pieces: Sequence[Piece], seed: int) -> None:
    """Phrases that swell and slow down, chords spread by up to 60 ms."""
    rng = np.random.default_rng(seed)
    right, notes, tempos, shares = 0, 0, [], []
    for piece in pieces:
        played = rubato(piece, rng)
        tempos.append(60 / np.diff(played.line_s))
        _, result, true, _ = ours(played, Beat.FOLLOW)
        right += int((result.onset_units == true).sum())
        notes += len(true)
        shares.append((float((result.onset_units == true).mean()), piece.name))
    tempo = np.concatenate(tempos)
    followed = sum(share > FOUND for share, _ in shares)
    print(
        f"\nfree playing (no target): {tempo.min():.0f} to {tempo.max():.0f} quarters a minute within phrases, "
        "chords spread to 60 ms:"
    )
    print(
        f"  {100 * right / notes:.1f} % of {notes} notes; "
        f"followed throughout in {followed} of {len(pieces)} pieces; not in:"
    )
    for share, name in sorted(shares):
        if share <= FOUND:
            print(f"    {name} {100 * share:.0f} %")


def main() -> None:
    """Print every table."""
    quick = "--quick" in sys.argv
    pieces = [corpus_piece(name, MOST_NOTES) for name in (TEST_PIECES[::4] if quick else TEST_PIECES)]
    left_out = sum(piece.off_grid for piece in pieces)
    print(f"{len(pieces)} pieces of music21's corpus; {left_out} notes of theirs lie on no place and are left out")
    rng = np.random.default_rng(4242)
    drums = [groove(rng) for _ in range(12)] + [looped_drums(rng) for _ in range(4)]
    free = [free_drums(rng) for _ in range(6)]
    if quick:
        drums, free = drums[::4], free[:2]
    table("steady", [*pieces, *drums], 100, 0.0)
    table("steady, pieces alone", pieces, 200, 0.0)
    table("steady, drums", drums, 300, 0.0)
    table("steady, free drums (nothing repeats)", free, 400, 0.0)
    table("wandering", [*pieces, *drums], 500, 0.01)
    table("wandering, drums", drums, 600, 0.01)
    nothing_known([*pieces, *drums], 10, 700)
    free_playing(pieces, 800)


if __name__ == "__main__":
    main()

"""How well a song played by hand is understood: simulated players and real ones, ours beside simpler ways in one run.

    python tests/benchmarks/bench_played.py [--quick] [--judge] [--only WORD]

By default the pieces for building are played, once; `--judge` takes those that nobody looked at while building, over
five seeds. `--quick` takes one piece in six, which is 70 s. Real performances are read from the folder of the data
set that PEGWRIGHT_PERFORMANCES names (`played_real.py`), and from that which PEGWRIGHT_MATCHED names
(`played_matched.py`); without them the script says so and measures the rest. `--only` measures the tasks that hold a
word.

Figures are per cent of notes on their hole, the mean over pieces; over several seeds the range of their means is
printed too. "shift" allows one shift of the whole piece, "ratio" also a simple ratio of tempo, and "steps" counts
onsets that lie as far after the one before as they should. "told" is the share of wrong notes that are reported as
unsure, "alarm" that of right ones; "answered" is what is left once a maker who knows the song has said how it goes on
wherever the report asks (`played_answers.py`).
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import itertools
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np
from bench_performed import least_squares, merges, music21_quantise, nearest
from numpy.typing import NDArray
from performed_data import UNITS, Performance, Piece, score_of
from played_answers import answered
from played_matched import matched_folder, matched_performances
from played_real import RealPerformance, data_folder, performances, pieces_of
from played_renderings import EXPRESSIVE, Manner, drawn_pieces, drum_pieces, render
from played_ways import nearest_sixteenth, plain_viterbi, viterbi_by_steps

from pegwright.ask.request import Beat
from pegwright.columns import frozen_floats
from pegwright.played.bar_places import SongMetre, metre_of
from pegwright.played.beats import TAP_SPREAD_S, BeatTrack, seconds_of
from pegwright.played.quantise import quantise_performed
from pegwright.played.result import PerformedResult
from pegwright.score import LOW_CONFIDENCE, Score

SEEDS = (11, 12, 13, 14, 15)  # fixed before anything was measured
DRUMS_SEED = 99
RATIOS = tuple(
    a / b for a, b in ((1, 1), (2, 1), (1, 2), (3, 2), (2, 3), (3, 1), (1, 3), (4, 1), (1, 4), (4, 3), (3, 4))
)
GUESSED_JITTER_S = 0.02
ORACLE = "nearest place struck"  # of those in the score
ANSWERED = "ours, answered"
BEHIND = 0.01  # on a composer: what the bench points out
PICKUP_QUARTERS = 48  # bars of every metre before the first bar line, for what begins before it
LOWEST = 0.9  # of a piece's notes right, below which a stretch has to be reported
CALIBRATION = (0.0, 0.5, 0.7, 0.8, 0.9, 0.95, 0.99, 1.0001)
Holes = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """One piece by one method: shares of notes judged."""

    exact: float
    shift: float
    ratio: float
    steps: float
    told: float = np.nan
    alarm: float = np.nan
    silent_loss: float = np.nan
    us_a_note: float = np.nan
    merged: float = np.nan


def shifted(holes: Holes, true: Holes) -> NDArray[np.bool_]:
    """Which notes are right but for the one shift that makes most of them right."""
    apart = holes - true
    values, count = np.unique(apart, return_counts=True)
    right: NDArray[np.bool_] = apart == values[count.argmax()]
    return right


def measured(holes: Holes, true: Holes, *, wants_shift: bool) -> tuple[Measured, NDArray[np.bool_]]:
    """The shares right, and which notes count as right.

    Args:
        holes: as computed, of the notes judged.
        true: as meant.
        wants_shift: whether one shift is allowed where right notes are counted.
    """
    right = shifted(holes, true)
    ratio = max(float(shifted(np.round(holes * by).astype(np.int64), true).mean()) for by in RATIOS)
    steps = float((np.diff(holes) == np.diff(true)).mean())
    exact = holes == true
    return Measured(float(exact.mean()), float(right.mean()), ratio, steps), right if wants_shift else exact


@dataclass
class Table:
    """What was measured of each method, piece by piece, and how sure notes were that were right or wrong."""

    by_method: dict[str, list[tuple[str, Measured]]] = field(default_factory=lambda: defaultdict(list))
    sure: list[NDArray[np.float64]] = field(default_factory=list)
    right: list[NDArray[np.bool_]] = field(default_factory=list)
    sure_after: list[NDArray[np.float64]] = field(default_factory=list)
    right_after: list[NDArray[np.bool_]] = field(default_factory=list)
    asked: list[int] = field(default_factory=list)
    rounds: int = 1

    def printed(self, task: str, *, by_composer: bool = False) -> None:
        """Print a line for each method, the calibration of ours, and composers with five pieces or more."""
        columns = ("exact", "shift", "ratio", "steps", "told", "alarm", "silent_loss", "us_a_note", "merged")
        print(f"\n{task}: {len(self.by_method['ours'])} pieces")
        print(f"  {'':22s}" + "".join(f"{name.replace('_', ' '):>13s}" for name in columns))
        for method, rows in self.by_method.items():
            cells = []
            for name in columns:
                values = np.array([getattr(row, name) for _, row in rows])
                mean = float(np.nanmean(values)) if not np.isnan(values).all() else np.nan
                cells.append(f"{'':>13s}" if np.isnan(mean) else f"{mean if name == 'us_a_note' else 100 * mean:13.2f}")
            print(f"  {method:22s}" + "".join(cells))
        if self.rounds > 1:
            shift = [row.shift for _, row in self.by_method["ours"]]
            means = np.reshape(shift, (self.rounds, -1)).mean(axis=1)
            print(f"  shift over {self.rounds} seeds: {100 * means.min():.1f} to {100 * means.max():.1f}")
        if self.sure:
            self._calibration()
        if self.asked:
            after = told_and_alarm(np.concatenate(self.sure_after), np.concatenate(self.right_after))
            print(f"  after {np.mean(self.asked):.1f} answers a piece: {after}")
        if by_composer:
            self._composers()

    def _calibration(self) -> None:
        sure, right = np.concatenate(self.sure), np.concatenate(self.right)
        print(f"  of all notes: {told_and_alarm(sure, right)}")
        cells = []
        for low, high in itertools.pairwise(CALIBRATION):
            inside = (sure >= low) & (sure < high)
            if inside.any():
                cells.append(f"{low:.2f}: {100 * right[inside].mean():.0f} % of {inside.sum()}")
        print("  right by confidence from: " + ", ".join(cells))

    def _composers(self) -> None:
        names = sorted({name.split("/")[0] for name, _ in self.by_method["ours"]})
        for composer in names:
            cells = [
                (method, [row.shift for name, row in rows if name.split("/")[0] == composer])
                for method, rows in self.by_method.items()
            ]
            if len(cells[0][1]) >= 5:
                text = ", ".join(f"{method} {100 * np.mean(values):.1f}" for method, values in cells)
                best = max(np.mean(values) for method, values in cells if method not in (ORACLE, ANSWERED))
                behind = "  BEHIND" if best - np.mean(cells[0][1]) > BEHIND else ""
                print(f"    {composer} ({len(cells[0][1])}): {text}{behind}")


def told_and_alarm(sure: NDArray[np.float64], right: NDArray[np.bool_]) -> str:
    """Shares of wrong notes and of right ones that are called unsure, as text."""
    low = sure < LOW_CONFIDENCE
    told = 100 * float(low[~right].mean()) if not right.all() else np.nan
    alarm = 100 * float(low[right].mean()) if right.any() else np.nan
    return f"{told:.1f} % of the wrong ones told, {alarm:.1f} % of the right ones called unsure"


def ours(
    score: Score, beats: BeatTrack | None, beat: Beat, metre: SongMetre | None = None
) -> tuple[PerformedResult, bool, float]:
    """Our result, whether a stretch was reported, and microseconds a note.

    Args:
        score: as played.
        beats: those given, or None.
        beat: how far they are to be trusted.
        metre: if it is known.
    """
    start = time.process_time()
    result, findings = quantise_performed(score, beats, beat, metre=metre)
    taken = time.process_time() - start
    told = any(finding.code == "beat-unsure" for finding in findings)
    return result, told, 1e6 * taken / score.note_count


def add(
    table: Table,
    name: str,
    score: Score,
    true: Holes,
    made: tuple[PerformedResult, bool, float],
    *,
    wants_shift: bool = True,
) -> None:
    """Measure our result and put it into a table.

    Args:
        table: where it goes.
        name: of the piece.
        score: as played.
        true: shape (n,), -1 where a note is not judged.
        made: from `ours`.
        wants_shift: whether one shift of the whole is allowed.
    """
    result, told, us = made
    judged = true >= 0
    row, right, sure = doubted(result, true, wants_shift=wants_shift)
    merged = merges(result.onset_units[judged], true[judged], score.part[judged], score.pitch_midi[judged])
    silent_loss = float(right.mean() < LOWEST and not told)
    table.sure.append(sure)
    table.right.append(right)
    whole = replace(row, silent_loss=silent_loss, us_a_note=us, merged=merged / max(1, int(judged.sum())))
    table.by_method["ours"].append((name, whole))
    if wants_shift and result.doubts is not None:
        units = np.where(judged, true * result.resolution // UNITS, -1)
        result, asked = answered(result, units, score.onset_ticks)
        table.asked.append(asked)
        row, right, sure = doubted(result, true, wants_shift=wants_shift)
    if wants_shift:
        table.by_method[ANSWERED].append((name, row))
    table.sure_after.append(sure)
    table.right_after.append(right)


def doubted(
    result: PerformedResult, true: Holes, *, wants_shift: bool
) -> tuple[Measured, NDArray[np.bool_], NDArray[np.float64]]:
    """The shares right and in doubt, which notes judged count as right, and how sure each of them is.

    Args:
        result: ours.
        true: shape (n,), -1 where a note is not judged.
        wants_shift: whether one shift of the whole is allowed.
    """
    judged = true >= 0
    row, right = measured(result.onset_units[judged], true[judged], wants_shift=wants_shift)
    sure = np.array(result.confidence[judged])
    low = sure < LOW_CONFIDENCE
    told = float(low[~right].mean()) if (~right).any() else np.nan
    return replace(row, told=told, alarm=float(low[right].mean()) if right.any() else np.nan), right, sure


def other(table: Table, method: str, name: str, holes: Holes, true: Holes) -> None:
    """Put the result of another method into a table.

    Args:
        table: where it goes.
        method: what it is called.
        name: of the piece.
        holes: shape (n,), as that method has them.
        true: shape (n,), -1 where a note is not judged.
    """
    judged = true >= 0
    table.by_method[method].append((name, measured(holes[judged], true[judged], wants_shift=True)[0]))


def simulated(
    pieces: Sequence[Piece],
    seeds: Sequence[int],
    manner: Manner,
    beat: Beat,
    written: Callable[[Performance, float], float],
    *,
    metre_known: bool = False,
) -> Table:
    """Play pieces and have them understood.

    Args:
        pieces: what is played.
        seeds: one round for each.
        manner: how they are played.
        beat: how the program is to know the beat.
        written: the tempo in the file, from the performance and a number at random (normal, mean 0).
        metre_known: whether the metre and the place of the first note are given, where a piece has them.
    """
    table = Table(rounds=len(seeds))
    for seed in seeds:
        rng = np.random.default_rng(seed)
        for piece in pieces:
            played = render(piece, rng, manner)
            tempo = written(played, float(rng.normal()))
            score, true = score_of(played, tempo)
            metre = metre_of(piece.metre, piece.first_quarters) if metre_known and piece.metre else None
            made = ours(score, None, beat, metre)
            add(table, piece.name, score, true, made, wants_shift=beat is not Beat.KEEP)
            clock, length = np.array(score.onset_ticks / score.resolution), 60 / tempo
            lengths = np.full(len(clock), length)
            other(table, "nearest hole", piece.name, nearest(clock), true)
            other(table, "least squares a beat", piece.name, least_squares(clock, length, manner.jitter_s), true)
            if manner == Manner(manner.jitter_s):
                other(table, "plain Viterbi", piece.name, plain_viterbi(clock, lengths, manner.jitter_s), true)
            else:
                steps = viterbi_by_steps(seconds_of(score, score.onset_ticks), length, manner.jitter_s)
                other(table, "plain Viterbi", piece.name, steps, true)
                _oracle(table, piece.name, score, played, true)
    return table


def _oracle(table: Table, name: str, score: Score, played: Performance, true: Holes) -> None:
    """What our quantiser makes of it where the true beat is given."""
    result, _ = quantise_performed(score, true_beats(score, played, true), Beat.KEEP)
    other(table, "ours, true beat", name, result.onset_units, true)


def true_beats(score: Score, played: Performance, true: Holes) -> BeatTrack:
    """When the beats of a simulated player fell, on the clock of the score made of the playing."""
    quarters = np.arange(len(played.line_s)) + float(true[0] - played.hole[0]) / UNITS
    seconds = seconds_of(score, score.onset_ticks)
    lead = float(np.median(seconds - np.interp(true / UNITS, quarters, played.line_s)))
    return BeatTrack(frozen_floats(played.line_s + lead), frozen_floats(quarters))


def drums_tapped(drums: Sequence[Piece], seed: int) -> Table:
    """Drums whose tempo drifts within bounds, with 20 ms of jitter and taps of 20 ms."""
    rng, table = np.random.default_rng(seed), Table()
    for piece in drums:
        played = render(piece, rng, Manner(0.02, bounded=0.01))
        score, true = score_of(played, played.quarters_per_minute)
        beats = tapped(true_beats(score, played, true), rng)
        add(table, piece.name, score, true, ours(score, beats, Beat.KEEP))
        at_s = seconds_of(score, score.onset_ticks)
        quarters, lengths = beats.quarters_at(at_s), beats.quarter_s_at(at_s)
        other(table, "nearest hole", piece.name, nearest(quarters), true)
        other(table, "plain Viterbi", piece.name, plain_viterbi(quarters, lengths, GUESSED_JITTER_S), true)
    return table


def tapped(beats: BeatTrack, rng: np.random.Generator | None) -> BeatTrack:
    """Beats as they are, or as tapped with 20 ms."""
    if rng is None:
        return beats
    taps = beats.seconds + rng.normal(0, TAP_SPREAD_S, len(beats.seconds))
    rising = np.arange(len(taps)) * 1e-6
    taps = np.maximum.accumulate(taps - rising) + rising
    return BeatTrack(frozen_floats(taps), beats.quarters, TAP_SPREAD_S)


def nearest_struck(quarters: NDArray[np.float64], true: Holes) -> Holes:
    """The nearest of the holes that the score strikes anywhere: what one could do who knows them all, but not whose.

    Args:
        quarters: shape (n,), where the beat puts each onset.
        true: shape (n,), -1 where a note is not judged.
    """
    struck = np.unique(true[true >= 0])
    after = np.clip(np.searchsorted(struck, quarters * UNITS), 1, len(struck) - 1)
    early, late = struck[after - 1], struck[after]
    return np.where(quarters * UNITS - early <= late - quarters * UNITS, early, late)


def real_tables(kind: str, pieces: Sequence[RealPerformance], seed: int) -> Iterator[tuple[str, Callable[[], Table]]]:
    """Tasks on real performances.

    Args:
        kind: of data set, with which the names of the tasks begin.
        pieces: what was played.
        seed: for taps and for errors of the tempo at the start.
    """

    def with_beats(jitter: bool) -> Table:
        rng, table = np.random.default_rng(seed), Table()
        for real in pieces:
            beats = tapped(real.beats, rng if jitter else None)
            add(table, real.name, real.score, real.true, ours(real.score, beats, Beat.KEEP))
            quarters = beats.quarters_at(seconds_of(real.score, real.score.onset_ticks))
            lengths = beats.quarter_s_at(seconds_of(real.score, real.score.onset_ticks))
            other(table, "nearest sixteenth", real.name, nearest_sixteenth(quarters), real.true)
            other(table, "nearest hole", real.name, nearest(quarters), real.true)
            squares = least_squares(quarters, float(np.median(lengths)), GUESSED_JITTER_S)
            other(table, "least squares a beat", real.name, squares, real.true)
            other(table, "plain Viterbi", real.name, plain_viterbi(quarters, lengths, GUESSED_JITTER_S), real.true)
            other(table, "music21 (4, 3)", real.name, music21_quantise(quarters, (4, 3)), real.true)
            other(table, ORACLE, real.name, nearest_struck(quarters, real.true), real.true)
        return table

    def by_notes(beat: Beat, start_known: bool, metre_known: bool = False) -> Table:
        rng, table = np.random.default_rng(seed), Table()
        for real in pieces:
            seconds = seconds_of(real.score, real.score.onset_ticks)
            away = float(np.clip(rng.normal(0, 0.05), -0.1, 0.1))
            length, guide, metre = 0.5, None, None
            start = float(real.beats.quarters_at(seconds[:1])[0]) - real.bar_line_quarters
            if metre_known:
                metre = metre_of(real.metre, Fraction(round(start * UNITS), UNITS))
            if start_known:
                first = seconds[0] + np.arange(2) * 4.0
                length = float(np.diff(first)[0] / np.diff(real.beats.quarters_at(first))[0]) * (1 + away)
                times = frozen_floats(seconds[0] + np.array([0, length]))
                guide = BeatTrack(times, frozen_floats(start + PICKUP_QUARTERS + np.arange(2)))
            add(table, real.name, real.score, real.true, ours(real.score, guide, beat, metre))
            holes = viterbi_by_steps(seconds, length, GUESSED_JITTER_S)
            other(table, "plain Viterbi", real.name, holes, real.true)
        return table

    yield f"{kind}, exact beats", lambda: with_beats(False)
    yield f"{kind}, taps with 20 ms", lambda: with_beats(True)
    yield f"{kind}, start tempo within 10 %, metre and first note given", lambda: by_notes(Beat.FOLLOW, True, True)
    yield f"{kind}, start tempo within 10 % and first note given", lambda: by_notes(Beat.FOLLOW, True)
    yield f"{kind}, follow, the file says 120", lambda: by_notes(Beat.FOLLOW, False)
    yield f"{kind}, find, nothing given", lambda: by_notes(Beat.FIND, False)


def simulated_tables(
    pieces: Sequence[Piece], drums: Sequence[Piece], seeds: Sequence[int]
) -> Iterator[tuple[str, Callable[[], Table]]]:
    """Tasks on simulated players.

    Args:
        pieces: of the corpus.
        drums: patterns.
        seeds: one round for each.
    """

    def task(
        those: Sequence[Piece],
        manner: Manner,
        beat: Beat,
        error: float = 0.0,
        file: float = 0.0,
        *,
        metre_known: bool = False,
    ) -> Callable[[], Table]:
        def written(played: Performance, chance: float) -> float:
            return file or played.quarters_per_minute * (1 + float(np.clip(chance * error, -0.1, 0.1)))

        return lambda: simulated(those, seeds, manner, beat, written, metre_known=metre_known)

    for ms in (10, 15, 20, 30):
        yield f"to a click, keep, {ms} ms", task(pieces, Manner(ms / 1000), Beat.KEEP)
    for ms in (10, 20):
        yield f"to a click, follow, {ms} ms", task(pieces, Manner(ms / 1000), Beat.FOLLOW)
        yield f"steady, the file's tempo 0.2 % off, {ms} ms", task(pieces, Manner(ms / 1000), Beat.FOLLOW, 0.002)
    yield "drums to a click, keep, 20 ms", task(drums, Manner(0.02), Beat.KEEP)
    yield "drums tapped along, 20 ms", lambda: drums_tapped(drums, seeds[0])
    for ms in (10, 20):
        yield f"random walk 1 %, {ms} ms", task(pieces, Manner(ms / 1000, wander=0.01), Beat.FOLLOW, 0.01)
        yield f"bounded drift 1 %, {ms} ms", task(pieces, Manner(ms / 1000, bounded=0.01), Beat.FOLLOW, 0.01)
    for stops in (1, 3):
        yield f"steady but for {stops} stops, 10 ms", task(pieces, Manner(0.01, stops=stops), Beat.FOLLOW, 0.01)
    yield "steady but for one ritardando, 10 ms", task(pieces, Manner(0.01, holds=1), Beat.FOLLOW, 0.01)
    yield "steady but for one other tempo, 10 ms", task(pieces, Manner(0.01, changes=1), Beat.FOLLOW, 0.01)
    yield "swaying by 12 %, 10 ms", task(pieces, Manner(0.01, sways=0.12), Beat.FOLLOW, 0.01)
    yield "expressive, start tempo within 10 %", task(pieces, EXPRESSIVE, Beat.FOLLOW, 0.05)
    for name, manner, error in (
        ("bounded drift 1 %, 10 ms", Manner(0.01, bounded=0.01), 0.01),
        ("expressive", EXPRESSIVE, 0.05),
    ):
        yield f"{name}, begun anywhere", task(pieces, replace(manner, anywhere=True), Beat.FOLLOW, error)
    known = task(pieces, EXPRESSIVE, Beat.FOLLOW, metre_known=True)
    yield "expressive, metre, first note and start tempo given", known
    yield "expressive, follow, the file says 120", task(pieces, EXPRESSIVE, Beat.FOLLOW, file=120.0)
    yield "expressive, find", task(pieces, EXPRESSIVE, Beat.FIND, file=120.0)


def main() -> None:
    """Print every table."""
    judge, every = "--judge" in sys.argv, 6 if "--quick" in sys.argv else 1
    only = sys.argv[sys.argv.index("--only") + 1] if "--only" in sys.argv else ""
    seeds = SEEDS if judge else SEEDS[:1]
    pieces = drawn_pieces(judged=judge)[::every]
    drums = drum_pieces(np.random.default_rng(DRUMS_SEED + judge), 20)[::every]
    print(f"{'judging' if judge else 'building'}: {len(pieces)} pieces, {len(drums)} drum patterns, {len(seeds)} seeds")
    tasks = list(simulated_tables(pieces, drums, seeds))
    folder = data_folder()
    if isinstance(folder, str):
        print(folder)
    else:
        names = pieces_of(folder, judged=judge)[::every]
        tasks += real_tables("real", list(performances(folder, names)), seeds[0])
    matched = matched_folder()
    if isinstance(matched, str):
        print(matched)
    else:
        tasks += real_tables("matched", list(matched_performances(matched))[::every], seeds[0])
    tables = []
    for task, measure in tasks:
        if only in task:
            tables.append(measure())
            tables[-1].printed(task, by_composer=task.startswith(("real", "matched")) and every == 1)
    for when, sure, right in (("", "sure", "right"), (", answered", "sure_after", "right_after")):
        columns = [[column for table in tables for column in getattr(table, name)] for name in (sure, right)]
        if columns[0]:
            print(f"over all tasks{when}: {told_and_alarm(*map(np.concatenate, columns))}")


if __name__ == "__main__":
    main()

"""Scores that were put together in memory: what readers see to in a file is checked here."""

from __future__ import annotations

import re

import numpy as np

from pegwright.columns import Ints
from pegwright.errors import UsageError
from pegwright.formats import MAX_NOTES, MAX_QUARTERS
from pegwright.score import Score
from pegwright.units import plural

MAX_RESOLUTION = 10_000_000  # ticks per quarter; with the longest song it stays far inside 64 bits
NOTE_COLUMNS = ("onset_ticks", "duration_ticks", "pitch_midi", "velocity", "part")
OPTIONAL_COLUMNS = ("ornament", "written")


def check_score(score: Score) -> None:
    """Refuse a score whose fields do not hold what `Score` says of them; one that was read holds it always.

    Raises:
        UsageError: with the first field at fault, the value seen and its bound.
    """
    if not re.fullmatch("[0-9a-f]{64}", score.sha256):
        _refuse(score, f"sha256 is {score.sha256[:80]!r}, not 64 hex digits", "hashlib.sha256(data).hexdigest() is one")
    if not 1 <= score.resolution <= MAX_RESOLUTION:
        _refuse(score, f"resolution is {score.resolution}, outside 1 to {MAX_RESOLUTION:,} ticks per quarter")
    if score.tolerance_ticks < 0:
        _refuse(score, f"tolerance_ticks is {score.tolerance_ticks}, below 0")
    _check_columns(score)
    _check_notes(score)
    _check_tempi(score)
    _check_bars(score)


def _check_columns(score: Score) -> None:
    count = len(score.onset_ticks)
    for name in (*NOTE_COLUMNS, *OPTIONAL_COLUMNS):
        column = getattr(score, name)
        _check_column(score, name, column)
        if len(column) != count and (len(column) or name in NOTE_COLUMNS):
            _refuse(
                score, f"{name} has {plural(len(column), 'value')}, onset_ticks {count:,}", "give one for each note"
            )
    if count > MAX_NOTES:
        _refuse(score, f"{count:,} notes exceed {MAX_NOTES:,}, the maximum")


def _check_notes(score: Score) -> None:
    longest = MAX_QUARTERS * score.resolution
    _check_range(score, "onset_ticks", score.onset_ticks, 0, longest)
    _check_range(score, "duration_ticks", score.duration_ticks, 0, longest)
    _check_range(score, "pitch_midi", score.pitch_midi, 0, 127)
    _check_range(score, "velocity", score.velocity, 1, 127)
    _check_range(score, "part", score.part, 0, len(score.parts) - 1)
    _check_range(score, "ornament", score.ornament, -1, len(score.ornaments) - 1)
    names = [part.name for part in score.parts]
    if len(set(names)) != len(names) or "" in names:
        _refuse(score, f"parts are called {names!r}"[:200], "give every part a name of its own")
    order = np.lexsort([score.pitch_midi, score.part, score.onset_ticks])
    if not np.array_equal(order, np.arange(len(order))):
        note = int(np.flatnonzero(order != np.arange(len(order)))[0])
        _refuse(
            score,
            f"note {note} is not where it belongs by onset, then part, then pitch",
            "score.with_notes(numpy.lexsort([score.pitch_midi, score.part, score.onset_ticks])) is in order",
        )


def _check_tempi(score: Score) -> None:
    tempi = score.tempo_map
    _check_starts(score, "tempo_map", tempi.ticks)
    _check_column(score, "tempo_map.us_per_quarter", tempi.us_per_quarter)
    _check_lengths(score, "tempo_map", len(tempi.ticks), us_per_quarter=len(tempi.us_per_quarter))
    _check_range(score, "tempo_map.us_per_quarter", tempi.us_per_quarter, 1, 60_000_000)


def _check_bars(score: Score) -> None:
    bars = score.bar_map
    _check_starts(score, "bar_map", bars.ticks)
    for name, column in (("beats", bars.beats), ("beat_types", bars.beat_types)):
        _check_column(score, f"bar_map.{name}", column)
        _check_range(score, f"bar_map.{name}", column, 1, 10_000)
    lengths = {"labels": len(bars.labels), "beats": len(bars.beats), "beat_types": len(bars.beat_types)}
    _check_lengths(score, "bar_map", len(bars.ticks), **lengths)
    if bars.swing:
        _check_lengths(score, "bar_map", len(bars.ticks), swing=len(bars.swing))
    last = max(int(bars.ticks[-1]) + 1, int(score.onset_ticks.max()) if score.note_count else 0)
    if not last <= bars.end_ticks <= MAX_QUARTERS * score.resolution:
        span = f"{last:,} to {MAX_QUARTERS * score.resolution:,}"
        _refuse(score, f"bar_map.end_ticks is {bars.end_ticks:,}, outside {span}", "end the last bar after its notes")


def _check_column(score: Score, name: str, column: object) -> None:
    if not isinstance(column, np.ndarray) or column.ndim != 1 or column.dtype != np.int64:
        seen = f"{column.dtype} of shape {column.shape}" if isinstance(column, np.ndarray) else type(column).__name__
        _refuse(score, f"{name} is {seen}, not int64 of shape (n,)", "numpy.array(values, dtype=numpy.int64) is such")


def _check_range(score: Score, name: str, column: Ints, least: int, most: int) -> None:
    outside = np.flatnonzero((column < least) | (column > most))
    if len(outside):
        at = int(outside[0])
        more = f", and {len(outside) - 1:,} more" if len(outside) > 1 else ""
        _refuse(score, f"{name}[{at}] is {int(column[at]):,}, outside {least:,} to {most:,}{more}")


def _check_starts(score: Score, name: str, ticks: Ints) -> None:
    _check_column(score, f"{name}.ticks", ticks)
    if not len(ticks) or ticks[0] != 0 or np.any(np.diff(ticks) <= 0):
        _refuse(score, f"{name}.ticks is {ticks.tolist()[:8]}", "begin with 0 and rise strictly")


def _check_lengths(score: Score, name: str, count: int, **lengths: int) -> None:
    for field, length in lengths.items():
        if length != count:
            _refuse(score, f"{name}.{field} has {plural(length, 'value')}, {name}.ticks {count:,}", "give as many")


def _refuse(score: Score, message: str, hint: str = "") -> None:
    raise UsageError(message, where=score.file or score.title, hint=hint)

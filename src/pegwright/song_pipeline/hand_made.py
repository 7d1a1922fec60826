"""Scores that were put together in memory: what readers see to in a file is checked here."""

from __future__ import annotations

import re
from collections.abc import Sequence, Sized

import numpy as np

from pegwright.columns import Ints
from pegwright.errors import UsageError
from pegwright.formats import MAX_NOTES, MAX_QUARTERS, MAX_RESOLUTION
from pegwright.score import Score
from pegwright.units import plural

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
    _check_notes(score)
    _check_map(score, "tempo_map", ("us_per_quarter",), 60_000_000)
    swing = ("swing",) if score.bar_map.swing else ()
    _check_map(score, "bar_map", ("beats", "beat_types"), 10_000, lists=("labels", *swing))
    _check_end(score)


def _check_notes(score: Score) -> None:
    count, longest = len(score.onset_ticks), MAX_QUARTERS * score.resolution
    bounds = {
        "onset_ticks": (0, longest),
        "duration_ticks": (0, longest),
        "pitch_midi": (0, 127),
        "velocity": (1, 127),
        "part": (0, len(score.parts) - 1),
        "ornament": (-1, len(score.ornaments) - 1),
    }
    for name in (*bounds, "written"):
        column = getattr(score, name)
        _check_column(score, name, column)
        if len(column) or name not in OPTIONAL_COLUMNS:
            _check_length(score, name, column, "onset_ticks", count, "give one for each note")
    _check_confidence(score, count)
    _check_spelling(score, count)
    if count > MAX_NOTES:
        _refuse(score, f"{count:,} notes exceed {MAX_NOTES:,}, the maximum")
    for name, (minimum, maximum) in bounds.items():
        _check_range(score, name, getattr(score, name), minimum, maximum)
    names = [part.name for part in score.parts]
    if len(set(names)) != len(names) or "" in names:
        _refuse(score, f"parts are called {names!r}"[:200], "give every part a name of its own")
    astray = np.flatnonzero(np.lexsort([score.pitch_midi, score.part, score.onset_ticks]) != np.arange(count))
    if len(astray):
        hint = "score.with_notes(numpy.lexsort([score.pitch_midi, score.part, score.onset_ticks])) is in order"
        _refuse(score, f"note {astray[0]} is not where it belongs by onset, then part, then pitch", hint)


def _check_map(score: Score, name: str, columns: Sequence[str], maximum: int, lists: Sequence[str] = ()) -> None:
    """Check the changes of tempo or the bars.

    Args:
        score: the score.
        name: of its field that holds them.
        columns: its columns of a value for each change or bar, from 1 to the maximum.
        maximum: of these values.
        lists: its further fields of a value for each.
    """
    held = getattr(score, name)
    _check_column(score, f"{name}.ticks", held.ticks)
    if not len(held.ticks) or held.ticks[0] != 0 or np.any(np.diff(held.ticks) <= 0):
        _refuse(score, f"{name}.ticks is {held.ticks.tolist()[:8]}", "begin with 0 and rise strictly")
    for field in columns:
        _check_column(score, f"{name}.{field}", getattr(held, field))
        _check_range(score, f"{name}.{field}", getattr(held, field), 1, maximum)
    for field in (*lists, *columns):
        _check_length(score, f"{name}.{field}", getattr(held, field), f"{name}.ticks", len(held.ticks), "give as many")


def _check_end(score: Score) -> None:
    bars = score.bar_map
    last = max(int(bars.ticks[-1]) + 1, int(score.onset_ticks.max()) if score.note_count else 0)
    if not last <= bars.end_ticks <= MAX_QUARTERS * score.resolution:
        span = f"{last:,} to {MAX_QUARTERS * score.resolution:,}"
        _refuse(score, f"bar_map.end_ticks is {bars.end_ticks:,}, outside {span}", "end the last bar after its notes")


def _check_spelling(score: Score, count: int) -> None:
    column = score.spelling
    if not isinstance(column, np.ndarray) or column.ndim != 1 or column.dtype != np.int8:
        seen = f"{column.dtype} of shape {column.shape}" if isinstance(column, np.ndarray) else type(column).__name__
        _refuse(
            score, f"spelling is {seen}, not int8 of shape (n,)", "numpy.array([], dtype=numpy.int8) is such, for none"
        )
    if len(column):
        _check_length(score, "spelling", column, "onset_ticks", count, "give one for each note, or none")


def _check_confidence(score: Score, count: int) -> None:
    column = score.confidence
    if not isinstance(column, np.ndarray) or column.ndim != 1 or column.dtype != np.float64:
        seen = f"{column.dtype} of shape {column.shape}" if isinstance(column, np.ndarray) else type(column).__name__
        _refuse(score, f"confidence is {seen}, not float64 of shape (n,)", "numpy.array([]) is such, for none")
    if len(column):
        _check_length(score, "confidence", column, "onset_ticks", count, "give one for each note, or none")
    outside = np.flatnonzero(~((column >= 0) & (column <= 1)))
    if len(outside):
        _refuse(score, f"confidence[{outside[0]}] is {column[outside[0]]:g}, outside 0 to 1")


def _check_column(score: Score, name: str, column: object) -> None:
    if not isinstance(column, np.ndarray) or column.ndim != 1 or column.dtype != np.int64:
        seen = f"{column.dtype} of shape {column.shape}" if isinstance(column, np.ndarray) else type(column).__name__
        _refuse(score, f"{name} is {seen}, not int64 of shape (n,)", "numpy.array(values, dtype=numpy.int64) is such")


def _check_range(score: Score, name: str, column: Ints, minimum: int, maximum: int) -> None:
    outside = np.flatnonzero((column < minimum) | (column > maximum))
    if len(outside):
        at = int(outside[0])
        more = f", and {len(outside) - 1:,} more" if len(outside) > 1 else ""
        _refuse(score, f"{name}[{at}] is {int(column[at]):,}, outside {minimum:,} to {maximum:,}{more}")


def _check_length(score: Score, name: str, column: Sized, other: str, count: int, hint: str) -> None:
    if len(column) != count:
        _refuse(score, f"{name} has {plural(len(column), 'value')}, {other} {count:,}", hint)


def _refuse(score: Score, message: str, hint: str = "") -> None:
    raise UsageError(message, where=score.file or score.title, hint=hint)

"""Thinning a texture: no more than a given number of notes at once; each note dropped is reported.

Where too many notes begin together, they are dropped in this order until few enough are left:
    doublings   a note an octave or more from another of its name, or in unison with it; outer notes are kept
    inner       a note that is neither the highest nor the lowest
    ornaments   a note of a 32nd or less
    weights     the lowest priority of its part, then the lowest velocity
and within each kind the lowest weight first, then the later in the score. Percussion goes by its weight alone.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.columns import Ints
from pegwright.errors import UsageError
from pegwright.findings import Finding, Severity
from pegwright.fit.arrange import PRIORITY_WEIGHT, note_priorities
from pegwright.score import Score
from pegwright.units import plural

KINDS = ("doubling", "inner note", "ornament", "least weight")
ORNAMENT_QUARTERS = 8  # a note no longer than 1 / this of a quarter: a 32nd
MAX_FINDINGS = 2000  # beyond, one finding sums up


def thin(score: Score, most_at_once: int, options: FitOptions) -> tuple[Score, tuple[Finding, ...]]:
    """Leave at most `most_at_once` notes beginning at one moment.

    Args:
        score: the song.
        most_at_once: maximum of notes that may begin together, at least 1.
        options: for the priorities of parts.

    Returns:
        The thinner score, and a finding for each note dropped.

    Raises:
        UsageError: the number is below 1, or a priority is given for a part that the score does not have.
    """
    if most_at_once < 1:
        raise UsageError(f"{most_at_once} notes at once is below 1", where="thin", hint="leave at least one")
    weight = PRIORITY_WEIGHT * note_priorities(score, options) + score.velocity
    dropped: list[tuple[int, int]] = []
    _, first, count = np.unique(score.onset_ticks, return_index=True, return_counts=True)
    for start, size in zip(first[count > most_at_once].tolist(), count[count > most_at_once].tolist(), strict=True):
        dropped += _drop(score, weight, list(range(start, start + size)), size - most_at_once)
    if not dropped:
        return score, ()
    kept = np.ones(score.note_count, dtype=bool)
    kept[[note for note, _ in dropped]] = False
    return score.with_notes(kept), _findings(score, sorted(dropped), most_at_once)


def _drop(score: Score, weight: Ints, notes: list[int], too_many: int) -> Iterator[tuple[int, int]]:
    """The notes of one moment that go, each with its kind (an index into KINDS)."""
    for _ in range(too_many):
        kinds = {note: _kind(score, note, notes) for note in notes}
        going = min(notes, key=lambda note: (kinds[note], int(weight[note]), -note))
        notes = [note for note in notes if note != going]
        yield going, kinds[going]


def _kind(score: Score, note: int, notes: list[int]) -> int:
    if score.parts[int(score.part[note])].percussion:
        return 3
    pitch = int(score.pitch_midi[note])
    others = [
        int(score.pitch_midi[other])
        for other in notes
        if other != note and not score.parts[int(score.part[other])].percussion
    ]
    outer = not others or pitch > max(others) or pitch < min(others)
    if pitch in others or (not outer and any((pitch - other) % 12 == 0 for other in others)):
        return 0
    if not outer:
        return 1
    return 2 if score.duration_ticks[note] * ORNAMENT_QUARTERS <= score.resolution else 3


def _findings(score: Score, dropped: list[tuple[int, int]], most_at_once: int) -> tuple[Finding, ...]:
    if len(dropped) > MAX_FINDINGS:
        counts = [sum(kind == number for _, kind in dropped) for number in range(len(KINDS))]
        by_kind = ", ".join(f"{count:,} as {kind}" for count, kind in zip(counts, KINDS, strict=True) if count)
        message = f"{plural(len(dropped), 'note')} dropped to leave {most_at_once} at once: {by_kind}"
        return (Finding("thinned", Severity.CHANGED, score.file, message, count=len(dropped)),)
    percussion = score.percussion_notes()
    return tuple(
        Finding(
            f"thinned-{KINDS[kind].replace(' ', '-')}",
            Severity.CHANGED,
            str(score.source(note)),
            f"{_sound(score, note, bool(percussion[note]))} dropped ({KINDS[kind]}) to leave "
            f"{plural(most_at_once, 'note')} at once",
        )
        for note, kind in dropped
    )


def _sound(score: Score, note: int, percussion: bool) -> str:
    pitch = int(score.pitch_midi[note])
    return f"percussion key {pitch}" if percussion else f"{score.pitch_name(note)} ({pitch})"

"""The findings on a performance that was put on the grid."""

from __future__ import annotations

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.findings import Finding, Severity
from pegwright.played.beats import BeatTrack, seconds_of
from pegwright.score import Score
from pegwright.units import plural

LOW_CONFIDENCE = 0.9
BARS_NAMED = 12
UNSURE_ONSETS = 24
UNSURE_CONFIDENCE = 0.6
BEATS_CARRIED_ON = 2  # beyond the first or last beat given, before it is reported: a pickup, a last chord


def findings_of(
    score: Score, units: Ints, confidence: Floats, beats: BeatTrack, player_ms: float
) -> tuple[Finding, ...]:
    """The summary, notes that are not sure, stretches where the beat is lost, and notes that share a hole.

    Args:
        score: as played.
        units: shape (n,), hole of each note, in units of the grid.
        confidence: shape (n,), 0..1.
        beats: the beat track of the result.
        player_ms: standard deviation of the onsets about their holes.
    """
    if score.note_count == 0:
        return (Finding("no-notes", Severity.NOTE, score.file, "there are no notes to put on the grid"),)
    tempo = 60 * np.diff(beats.quarters) / np.diff(beats.seconds)
    slow, fast = (round(float(value)) for value in (tempo.min(), tempo.max()))
    pace = f"{slow}" if slow == fast else f"{slow} to {fast}"
    findings = [
        Finding(
            "performed",
            Severity.NOTE,
            score.file,
            f"{plural(score.note_count, 'note')} played by hand put on the grid: {pace} quarters a minute, "
            f"notes lie within {player_ms:.0f} ms of their holes (standard deviation)",
            count=score.note_count,
        )
    ]
    findings += _low(score, confidence)
    findings += _lost_beat(score, confidence)
    findings += _shared(score, units)
    return tuple(findings)


def beyond_beats(score: Score, beats: BeatTrack) -> tuple[Finding, ...]:
    """Notes played well before the first of the beats that were given, or after the last.

    Args:
        score: as played.
        beats: as tapped, or read from a file.
    """
    seconds = seconds_of(score, score.onset_ticks)
    room_s = BEATS_CARRIED_ON * float(np.median(np.diff(beats.seconds)))
    beyond = np.flatnonzero((seconds < beats.seconds[0] - room_s) | (seconds > beats.seconds[-1] + room_s))
    if len(beyond) == 0:
        return ()
    return (
        Finding(
            "beats-too-few",
            Severity.CHANGED,
            score.file,
            f"{plural(len(beyond), 'note')} played before the first of the {plural(len(beats.seconds), 'beat')} given "
            "or after the last, where the beat was carried on",
            "give the beats of the whole song",
            count=len(beyond),
        ),
    )


def _low(score: Score, confidence: Floats) -> list[Finding]:
    low = np.flatnonzero(confidence < LOW_CONFIDENCE)
    if len(low) == 0:
        return []
    bars = list(dict.fromkeys(score.bar_map.labels[score.bar_map.bar_of(int(score.onset_ticks[note]))] for note in low))
    named = ", ".join(bars[:BARS_NAMED]) + (
        f" and {plural(len(bars) - BARS_NAMED, 'more')}" if len(bars) > BARS_NAMED else ""
    )
    worst = low[int(np.argmin(confidence[low]))]
    return [
        Finding(
            "low-confidence",
            Severity.CHANGED,
            str(score.source(int(worst))),
            f"{plural(len(low), 'note')} may belong in another hole than the one chosen",
            f"listen to bars {named}" if len(bars) > 1 else f"listen to bar {named}",
            count=len(low),
        )
    ]


def _lost_beat(score: Score, confidence: Floats) -> list[Finding]:
    """A stretch of notes that are unsure on the whole: there the beat was lost."""
    width = min(UNSURE_ONSETS, len(confidence))
    total = np.cumsum(np.concatenate([[0.0], confidence]))
    mean = (total[width:] - total[:-width]) / width
    if mean.min() >= UNSURE_CONFIDENCE:
        return []
    first = int(np.flatnonzero(mean < UNSURE_CONFIDENCE)[0])
    return [
        Finding(
            "beat-unsure",
            Severity.CHANGED,
            str(score.source(first)),
            "from here the beat is uncertain",
            "tap the beat into a part of its own or a CSV file, or record to a click",
            count=int(np.count_nonzero(mean < UNSURE_CONFIDENCE)),
        )
    ]


def _shared(score: Score, units: Ints) -> list[Finding]:
    order = np.lexsort([score.onset_ticks, units, score.pitch_midi, score.part])
    same = np.ones(len(order) - 1, dtype=bool)
    for column in (score.part, score.pitch_midi, units):
        same &= np.diff(column[order]) == 0
    same &= np.diff(score.onset_ticks[order]) != 0
    if not same.any():
        return []
    note = int(order[1:][same].min())
    return [
        Finding(
            "repeats-share-hole",
            Severity.CHANGED,
            str(score.source(note)),
            f"{plural(int(same.sum()), 'note')} repeated too soon for a hole of its own",
            "take a slower tempo, or leave the repeats out",
            count=int(same.sum()),
        )
    ]

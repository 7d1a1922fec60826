"""The findings on a performance that was put on the grid."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from pegwright.columns import Floats, Ints, firsts
from pegwright.findings import Finding, Occurrences, Severity
from pegwright.played.beats import BeatTrack, seconds_of
from pegwright.score import LOW_CONFIDENCE, Score
from pegwright.units import plural

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
    return (
        _summary(score, beats, player_ms),
        *_low(score, confidence),
        *_lost_beat(score, confidence),
        *_shared(score, units),
    )


def _summary(score: Score, beats: BeatTrack, player_ms: float) -> Finding:
    tempo = 60 * np.diff(beats.quarters) / np.diff(beats.seconds)
    slow, fast = (round(float(value)) for value in (tempo.min(), tempo.max()))
    message = (
        f"{plural(score.note_count, 'note')} played by hand put on the grid: "
        f"{slow if slow == fast else f'{slow} to {fast}'} quarter notes a minute, "
        f"notes lie within {player_ms:.0f} ms of their holes (standard deviation)"
    )
    return Finding("performed", Severity.NOTE, score.file, message, count=score.note_count)


def own_beat_kept(score: Score) -> Finding:
    """The beat that the file states was kept throughout, though it had only been asked to hold at the beginning."""
    message = "played to the file's own beat throughout, as to a click: that beat was kept (--beats keep)"
    return Finding("own-beat-kept", Severity.NOTE, score.file, message, count=score.note_count)


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
    message = (
        f"{plural(len(beyond), 'note')} played before the first of the {plural(len(beats.seconds), 'beat')} given "
        "or after the last, where the beat was carried on"
    )
    hint = "give the beats of the whole song"
    return (Finding("beats-too-few", Severity.CHANGED, score.file, message, hint, count=len(beyond)),)


def _low(score: Score, confidence: Floats) -> Iterator[Finding]:
    low = np.flatnonzero(confidence < LOW_CONFIDENCE)
    if len(low) == 0:
        return
    places = Counter(str(score.source(note)) for note in low.tolist())
    outcome = "in doubt: another hole than the one chosen may be meant (bars {bars})"
    counted = Occurrences("note", outcome, (), tuple(places.items()))
    where, hint = str(score.source(int(low[np.argmin(confidence[low])]))), "listen to these bars"
    yield Finding("low-confidence", Severity.NOTE, where, counted.message, hint, counted.count, counted)


def _lost_beat(score: Score, confidence: Floats) -> Iterator[Finding]:
    """Stretches of notes that are unsure on the whole: there the beat may be another."""
    width = min(UNSURE_ONSETS, len(confidence))
    total = np.cumsum(np.concatenate([[0.0], confidence]))
    unsure = np.flatnonzero((total[width:] - total[:-width]) / width < UNSURE_CONFIDENCE)
    for windows in np.split(unsure, np.flatnonzero(np.diff(unsure) > width) + 1):
        if len(windows):
            first, last = int(windows[0]), int(windows[-1]) + width - 1
            message = f"from here to {score.source(last).bar_beat} the beat is uncertain, and so is every note"
            hint = "tap the beat into a part of its own or a CSV file, or record to a click"
            where = str(score.source(first))
            yield Finding("beat-unsure", Severity.NOTE, where, message, hint, count=last - first + 1)


def _shared(score: Score, units: Ints) -> Iterator[Finding]:
    order = np.lexsort([score.onset_ticks, units, score.pitch_midi, score.part])
    same = ~firsts(score.part[order], score.pitch_midi[order], units[order]) & firsts(score.onset_ticks[order])
    count = int(np.count_nonzero(same))
    if count:
        message = f"{plural(count, 'note')} repeated too soon for a hole of its own"
        hint, where = "take a slower tempo, or leave the repeats out", str(score.source(int(order[same].min())))
        yield Finding("repeats-share-hole", Severity.CHANGED, where, message, hint, count=count)

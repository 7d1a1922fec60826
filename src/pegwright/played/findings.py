"""The findings on a performance that was put on the grid."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction

import numpy as np

from pegwright.ask.beat_shifts import BeatShift
from pegwright.ask.request import FASTEST_START, SLOWEST_START
from pegwright.columns import Floats, firsts
from pegwright.findings import Finding, Occurrences, Severity
from pegwright.played.alternatives import Alternative
from pegwright.played.beats import BeatTrack, seconds_of
from pegwright.played.chords import UNISON_S
from pegwright.played.note_values import OTHER_TEMPI
from pegwright.played.on_grid import placed_on_grid
from pegwright.played.result import PerformedResult
from pegwright.score import LOW_CONFIDENCE, Score
from pegwright.units import fraction_text, plural, printed

BARS_NAMED = 12
UNSURE_ONSETS = 24
UNSURE_CONFIDENCE = 0.85
LENGTHS = {
    Fraction(1, 4): "a sixteenth",
    Fraction(1, 2): "an eighth",
    Fraction(3, 4): "three sixteenths",
    Fraction(1): "a quarter",
    Fraction(3, 2): "three eighths",
    Fraction(2): "two quarters",
}
BEATS_ABOUT = 4  # on either side, among which a beat is uneven:
SOON, LATE = 0.55, 1.8  # by these ratios to their median
BEATS_CARRIED_ON = 2  # beyond the first or last beat given, before it is reported: a pickup, a last chord


def findings_of(
    score: Score, result: PerformedResult, metre: str | None = None, shifts: Sequence[BeatShift] = ()
) -> tuple[Finding, ...]:
    """The summary, notes and stretches in doubt, and notes that share a hole; places are those of the song on the grid.

    Args:
        score: as played, in order of time.
        result: where its notes were put.
        metre: in which its bars are counted; see `score_on_grid`.
        shifts: of its beat, that were made.
    """
    if score.note_count == 0:
        return (Finding("no-notes", Severity.NOTE, score.file, "there are no notes to put on the grid"),)
    placed = placed_on_grid(score, result, metre)
    return (
        _summary(score, result.beats, result.player_ms),
        *_low(placed, result.confidence),
        *_lost_beat(placed, result.confidence),
        *_otherwise(placed, result, shifts),
        *_shared(placed, seconds_of(score, score.onset_ticks)),
        *([_own_beat_kept(score)] if result.own_beat_kept else []),
        *([_tempo_open(score, result.beats)] if result.tempo_open else []),
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


def _own_beat_kept(score: Score) -> Finding:
    """The beat that the file states was kept throughout, though it had only been asked to hold at the beginning."""
    message = "played to the file's own beat throughout, as to a click: that beat was kept (--beats keep)"
    return Finding("own-beat-kept", Severity.NOTE, score.file, message, count=score.note_count)


def _tempo_open(score: Score, beats: BeatTrack) -> Finding:
    """The beat was found, and so was what it counts: at twice the tempo the same playing lies in other holes."""
    tempo = round(60 / float(np.median(np.diff(beats.seconds) / np.diff(beats.quarters))))
    message = (
        f"counted at about {tempo} quarter notes a minute; nothing given says so, and at half or twice that tempo, or "
        "two thirds of it or one and a half times, all notes lie in other holes"
    )
    others = [round(tempo * ratio) for ratio in OTHER_TEMPI]
    *more, last = [str(each) for each in others if SLOWEST_START <= each <= FASTEST_START]
    tempi = f"{', '.join(more)} or {last}" if more else last
    hint = f"if the song is written otherwise, give its tempo: --beats {tempi}"
    return Finding("tempo-open", Severity.NOTE, score.file, message, hint, count=score.note_count)


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


def uneven_beats(beats: BeatTrack) -> tuple[Finding, ...]:
    """Beats that come much sooner after the one before than those about it, or much later.

    Args:
        beats: as tapped, or read from a file.
    """
    apart_s = np.diff(beats.seconds) / np.diff(beats.quarters)
    padded = np.pad(np.array(apart_s), BEATS_ABOUT, mode="edge")
    usual_s = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * BEATS_ABOUT + 1), axis=1)
    odd = np.flatnonzero((apart_s < SOON * usual_s) | (apart_s > LATE * usual_s))
    if not len(odd):
        return ()
    first = int(odd[0])
    are, at_s = "is" if len(odd) == 1 else "are", beats.seconds[first + 1]
    message = (
        f"{len(odd)} of the {plural(len(beats.seconds), 'beat')} given {are} far from even; beat {first + 2}, at "
        f"{at_s:.2f} s, makes a quarter of {apart_s[first]:.2f} s among some of {usual_s[first]:.2f} s"
    )
    hint = "a beat that was struck twice or left out puts all that follows in another place: look at those beats"
    return (Finding("beats-uneven", Severity.NOTE, f"beat {first + 2}", message, hint, count=len(odd)),)


def _low(score: Score, confidence: Floats) -> Iterator[Finding]:
    low = np.flatnonzero(confidence < LOW_CONFIDENCE)
    if len(low) == 0:
        return
    places = Counter(str(score.source(note)) for note in low.tolist())
    outcome = "in doubt: another hole than the one chosen may be meant ({bars})"
    counted = Occurrences("note", outcome, (), tuple(places.items()))
    where, hint = str(score.source(int(low[0]))), "listen to these bars"
    yield Finding("low-confidence", Severity.NOTE, where, counted.message, hint, counted.count, counted)


def _lost_beat(score: Score, confidence: Floats) -> Iterator[Finding]:
    """Stretches of notes that are unsure on the whole, from the first in doubt to the last: the beat may be another."""
    width = min(UNSURE_ONSETS, len(confidence))
    total = np.cumsum(np.concatenate([[0.0], confidence]))
    unsure = np.flatnonzero((total[width:] - total[:-width]) / width < UNSURE_CONFIDENCE)
    for windows in np.split(unsure, np.flatnonzero(np.diff(unsure) > width) + 1):
        if len(windows):
            low = windows[0] + np.flatnonzero(confidence[windows[0] : windows[-1] + width] < LOW_CONFIDENCE)
            first, last = int(low[0]), int(low[-1])
            count, end = last - first + 1, score.source(last).bar_beat
            message = f"from here to {end} the beat is uncertain, with {len(low)} of {plural(count, 'note')} in doubt"
            hint = (
                "listen; where it sounds wrong tap the beat into a part of its own or a CSV file, with which nine "
                "notes in ten of real performances come right, or record to a click"
            )
            where = str(score.source(first))
            yield Finding("beat-unsure", Severity.NOTE, where, message, hint, count=count)


def _otherwise(placed: Score, result: PerformedResult, shifts: Sequence[BeatShift]) -> Iterator[Finding]:
    """Places from which on other readings of the beat put all notes elsewhere, and the options that do the same.

    Args:
        placed: the song on the grid.
        result: where its notes were put.
        shifts: that were made.
    """
    after = f", each after {', '.join(map(str, shifts))}" if shifts else ""
    by_tick: dict[int, list[Alternative]] = {}
    for each in result.alternatives:
        by_tick.setdefault(int(placed.onset_ticks[each.note]), []).append(each)
    for number, (tick, there) in enumerate(sorted(by_tick.items())):
        moves = sorted({each.quarters for each in there}, key=lambda quarters: (abs(quarters), quarters))
        words = [move_in_words(each) for each in moves]
        readings = "another reading" if len(moves) == 1 else "other readings"
        message = f"from here on perhaps {' or '.join(words)}, by {readings} of the beat"
        options = " or ".join(f"--beat-shift {_shift_at(placed, tick, each)}" for each in moves)
        right = _shift_at(placed, tick, Fraction())
        first_of_all = "settle the places before it first, then listen" if number else "listen"
        answers = f"if it is so add {options}, if the bars after it sound right --beat-shift {right}{after}"
        hint = f"{first_of_all}: {answers}; or tap the beat"
        first = there[0].note
        yield Finding(
            "beat-otherwise", Severity.NOTE, str(placed.source(first)), message, hint, count=placed.note_count - first
        )


def length_in_words(quarters: Fraction) -> str:
    """How far a stretch may be moved: `a sixteenth`, `1 1/3 quarters`."""
    if quarters in LENGTHS:
        return LENGTHS[quarters]
    return f"{fraction_text(quarters)} of a quarter" if quarters < 1 else f"{fraction_text(quarters)} quarters"


def move_in_words(quarters: Fraction) -> str:
    """How far notes are moved, and which way: `a sixteenth earlier`."""
    return f"{length_in_words(abs(quarters))} {'later' if quarters > 0 else 'earlier'}"


def _shift_at(placed: Score, tick: int, quarters: Fraction) -> BeatShift:
    bars = placed.bar_map
    bar = bars.bar_of(tick)
    return BeatShift(printed(bar), bars.beat_of(bar, Fraction(tick), placed.resolution), quarters)


def _shared(placed: Score, seconds: Floats) -> Iterator[Finding]:
    """Repeats on one hole; those of a unison belong there."""
    units = placed.onset_ticks
    order = np.lexsort([seconds, units, placed.pitch_midi, placed.part])
    later = np.diff(seconds[order], prepend=-np.inf) >= UNISON_S
    same = ~firsts(placed.part[order], placed.pitch_midi[order], units[order]) & later
    count = int(np.count_nonzero(same))
    if count:
        own = "a hole of its own" if count == 1 else "holes of their own"
        message = f"{plural(count, 'note')} repeated too soon for {own}"
        hint, where = "take a slower tempo, or leave the repeats out", str(placed.source(int(order[same].min())))
        yield Finding("repeats-share-hole", Severity.CHANGED, where, message, hint, count=count)

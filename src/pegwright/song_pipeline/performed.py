"""A song played by hand is put on the holes that were meant, before any other change is made to it."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

from pegwright.ask.beat_shifts import BeatShift
from pegwright.ask.request import METRES, SLOWEST_START, SUBDIVISIONS, Beat, Played, Request
from pegwright.columns import frozen_floats, frozen_ints
from pegwright.errors import UsageError
from pegwright.findings import Finding, Severity
from pegwright.played.bar_places import metre_of
from pegwright.played.beats import BeatTrack, beats_of_tempo_map, seconds_of, tapped_beats
from pegwright.played.doubts import FURTHEST_OVER
from pegwright.played.findings import beyond_beats, findings_of, length_in_words, move_in_words, uneven_beats
from pegwright.played.model import wheel_places
from pegwright.played.on_grid import begun_at, first_metre, placed_on_grid, score_on_grid
from pegwright.played.quantise import put_on_holes
from pegwright.played.result import PerformedResult
from pegwright.played.shifted import shifted
from pegwright.read.beats import read_beats
from pegwright.score import Score
from pegwright.units import fraction_text, plural, printed
from pegwright.wheel import Wheel

UNSTATED = "4/4"
IN_SECONDS = "give beats in seconds, one for each quarter note, or dotted quarter in 6/8"
MAX_QUARTERS_PER_MINUTE = 1000  # of a song played by hand
MAX_QUARTER_S = 3600.0  # of a song played by hand; the longest that a MIDI tempo can say is 16.8 s


def put_on_grid(score: Score, wheel: Wheel, request: Request) -> tuple[Score, tuple[Finding, ...]]:
    """Put the onsets of a song played by hand where they were meant.

    Args:
        score: as it was played.
        wheel: whose holes they are put on.
        request: how it was played, and what is known of its rhythm.

    Returns:
        The song; what was found.

    Raises:
        InputError: a file of beats cannot be read.
        UsageError: there is no such part of taps, the beats are too fast to be played, or the wheel has no hole at the
            subdivisions, for the first note or at a beat shift, or a shift lies outside the song.
    """
    played, beats, first = request.played or Played(), None, _first_quarters(score, request)
    if played.beats_file is not None:
        beats = read_beats(played.beats_file, _tap_quarters(score, request))
    elif played.tapped_part is not None:
        score, beats = tapped_beats(score, played.tapped_part, _tap_quarters(score, request))
    elif played.start_tempo is not None and score.note_count:
        beats = _beginning_at(score, played.start_tempo, first or Fraction())
    _check_pace(score, beats_of_tempo_map(score) if beats is None else beats, played)
    places = _places(wheel, request.subdivisions)
    metre = request.metre or _stated_metre(score)  # a first note alone says nothing of it
    result = put_on_holes(score, beats, played.beat, places, None if metre is None else metre_of(metre, first))
    result = begun_at(result, _on_a_place(first, result, request))
    shifts: list[Finding] = []
    for shift in request.beat_shifts:
        before = result
        result = _shifted(placed_on_grid(score, before, request.metre), before, shift, places)
        shifts.append(_as_shifted(shift, before, result, score.file))
    findings = (*shifts, *findings_of(score, result, request.metre, request.beat_shifts))
    if beats is not None and played.start_tempo is None:
        findings = (*beyond_beats(score, beats), *uneven_beats(beats), *findings)
    return score_on_grid(score, result, request.metre), findings


def _stated_metre(score: Score) -> str | None:
    """The one metre that a file states, unless it is 4/4, which recorders write that know none; else None."""
    bars = score.bar_map
    stated = {f"{beats}/{kind}" for beats, kind in zip(bars.beats.tolist(), bars.beat_types.tolist(), strict=True)}
    metre = stated.pop()
    return metre if not stated and metre != UNSTATED and metre in METRES else None


def _tap_quarters(score: Score, request: Request) -> Fraction:
    """How long a tap is: a quarter, but for compound time, whose beats are dotted notes."""
    metre = metre_of(request.metre or first_metre(score.bar_map))
    return metre.beat_quarters if metre.compound else Fraction(1)


def _beginning_at(score: Score, tempo: Fraction, first_quarters: Fraction) -> BeatTrack:
    """The beats of the beginning.

    Args:
        score: as it was played.
        tempo: quarter notes a minute.
        first_quarters: where in its bar the first note begins.
    """
    first_s = float(seconds_of(score, score.onset_ticks).min())
    times = first_s + np.array([0.0, 60 / float(tempo)])
    return BeatTrack(frozen_floats(times), frozen_floats(float(first_quarters % 1) + np.arange(2.0)))


def _as_shifted(shift: BeatShift, before: PerformedResult, after: PerformedResult, file: str) -> Finding:
    """What one beat shift did.

    Args:
        shift: one of the request.
        before: where the notes were.
        after: where they are.
        file: of the song.
    """
    where = f"beat shift {shift}"
    if not shift.quarters:
        said = "the beat goes on there as it was read" if before.doubts else "nothing was in doubt there about the beat"
        return Finding("beat-settled", Severity.NOTE, file, f"{where}: {said}")
    by = after.onset_units - before.onset_units
    moved, other = np.count_nonzero(by), np.count_nonzero(by[by != 0] != shift.quarters * after.resolution)
    words = f"{plural(int(moved), 'note')} {move_in_words(shift.quarters)}"
    if not moved:
        words = "no note, for the hole nearest to the new place is the one that it has"
    elif other:
        words += f", {'all' if other == moved else other} of them by another distance, to the nearest hole"
    return Finding("beat-shifted", Severity.NOTE, file, f"{where}: {words}", count=int(moved))


def _shifted(placed: Score, result: PerformedResult, shift: BeatShift, places: tuple[Fraction, ...]) -> PerformedResult:
    """The result with one beat shift.

    Args:
        placed: the song on the grid, in whose bars the shift is given.
        result: where its notes are.
        shift: one of the request.
        places: holes of the wheel within a quarter.
    """
    where = f"beat shift {shift}"
    if (shift.quarters * placed.resolution).denominator != 1:
        fault = f"{shift.quarters} quarters lie between the places of the grid, 1/{placed.resolution} quarter"
        raise UsageError(fault, where=where, hint="give sixteenths such as 1/4, or thirds such as 1/3")
    begins = _beginning(placed, shift, where)
    if begins > placed.onset_ticks.max(initial=0):
        raise UsageError("no note begins there or later", where=where, hint="give an earlier place")
    _check_order(result, begins, shift, where)
    moved = shifted(result, begins, shift.quarters, places)
    if moved.onset_units.min(initial=0) < 0:
        early = Fraction(-int(moved.onset_units.min()), placed.resolution)
        fault = f"the first note would lie {length_in_words(early)} before bar 1"
        raise UsageError(fault, where=where, hint="give a later bar, or use --first-note")
    return moved


def _check_order(result: PerformedResult, begins: int, shift: BeatShift, where: str) -> None:
    """Refuse a shift that lays notes over those before them, but for a note or two about the place.

    Args:
        result: where the notes are.
        begins: the place from which on they are moved, in units.
        shift: one of the request.
        where: how errors name it.
    """
    early, late = result.onset_units[result.onset_units < begins], result.onset_units[result.onset_units >= begins]
    if not len(early) or not len(late):
        return
    over = Fraction(int(early.max()) - int(late.min()), result.resolution) - shift.quarters
    if over > FURTHEST_OVER:
        fault = f"the first note moved would lie {length_in_words(over)} before the last note before it"
        raise UsageError(fault, where=where, hint="give a smaller shift, or an earlier place")


def _beginning(placed: Score, shift: BeatShift, where: str) -> int:
    """The tick from which on a shift holds."""
    bars = placed.bar_map
    last = printed(bars.bar_of(int(placed.onset_ticks.max(initial=0))))
    if shift.bar > last:
        fault = f"bar {shift.bar} lies after {last}, the last bar with a note"
        raise UsageError(fault, where=where, hint=f"give a bar from 1 to {last}")
    bar, ends = shift.bar - 1, [int(tick) for tick in (*bars.ticks, bars.end_ticks)]
    beats = Fraction(ends[bar + 1] - ends[bar], placed.resolution) * int(bars.beat_types[bar]) / 4
    if shift.beat >= beats + 1:
        fault = f"bar {shift.bar} has {plural(int(beats), 'beat')}, and no beat {fraction_text(shift.beat)}"
        raise UsageError(fault, where=where, hint=f"give a beat from 1 to below {int(beats) + 1}")
    return ends[bar] + math.ceil((shift.beat - 1) * 4 * placed.resolution / int(bars.beat_types[bar]))


def _places(wheel: Wheel, subdivisions: str | None) -> tuple[Fraction, ...]:
    """Holes of the wheel within a quarter that these subdivisions reach."""
    places = wheel_places(wheel)
    if subdivisions is None:
        return places
    parts = SUBDIVISIONS[subdivisions]
    chosen = tuple(place for place in places if any(each % place.denominator == 0 for each in parts))
    if not chosen:
        fault = f"the wheel has no hole at {subdivisions}"
        raise UsageError(fault, where="subdivisions", hint="give others, or leave them out")
    return chosen


def _first_quarters(score: Score, request: Request) -> Fraction | None:
    """Where in its bar the first note begins, in quarters; None where the request does not say."""
    if request.first_note is None:
        return None
    metre = request.metre or first_metre(score.bar_map)
    beats, beat_type = map(int, metre.split("/"))
    if request.first_note >= beats + 1:
        fault = f"a bar of {metre} has {plural(beats, 'beat')}, and no beat {fraction_text(request.first_note)}"
        raise UsageError(fault, where="first note", hint=f"give a beat from 1 to below {beats + 1}, or --metre")
    return (request.first_note - 1) * 4 / beat_type


def _on_a_place(quarters: Fraction | None, result: PerformedResult, request: Request) -> Fraction | None:
    """The same, which has to be a place of the grid."""
    if quarters is not None and (quarters * result.resolution).denominator != 1:
        beat, finest = float(request.first_note or 0), f"1/{result.resolution} quarter"
        fault = f"beat {beat:g} lies between the places of the grid, {finest}"
        raise UsageError(fault, where="first note", hint="give a beat such as 1, 2.5 or 4.75")
    return quarters


def _check_pace(score: Score, beats: BeatTrack, played: Played) -> None:
    """Refuse beats too fast to be played, before they make the song too long for memory, and beats without end."""
    if not score.note_count or played.beat is Beat.FIND:
        return
    slowest_s = float(beats.quarter_s_at(seconds_of(score, score.onset_ticks)).max())
    if slowest_s > MAX_QUARTER_S:
        raise UsageError(
            f"by these beats a quarter note of the song lasts {slowest_s:.3g} s, more than {MAX_QUARTER_S:,.0f} s",
            where=str(played.beats_file or score.file),
            hint=IN_SECONDS,
        )
    seconds = seconds_of(score, frozen_ints([score.onset_ticks.min(), score.onset_ticks.max()]))
    lasts_s, quarters = float(np.ptp(seconds)), float(np.ptp(beats.quarters_at(seconds)))
    if (played.beats_file or played.tapped_part) and quarters * 60 < SLOWEST_START * lasts_s:
        raise UsageError(
            f"by these beats the song is played at {quarters * 60 / lasts_s:.2g} quarter notes a minute, "
            f"below {SLOWEST_START}",
            where=str(played.beats_file or score.file),
            hint=IN_SECONDS,
        )
    if quarters > 1 and quarters * 60 > MAX_QUARTERS_PER_MINUTE * lasts_s:
        pace = quarters * 60 / lasts_s if lasts_s else np.inf
        pace_text = f"{pace:,.0f}" if pace < 1e15 else f"{pace:.0e}"
        raise UsageError(
            f"by these beats the song is played at {pace_text} quarter notes a minute, "
            f"above {MAX_QUARTERS_PER_MINUTE:,}",
            where=str(played.beats_file or score.file),
            hint="give beats in seconds, or let them be found: --beats find",
        )

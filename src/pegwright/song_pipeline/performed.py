"""A song played by hand is put on the holes that were meant, before any other change is made to it."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

from pegwright.ask.beat_shifts import BeatShift
from pegwright.ask.request import SUBDIVISIONS, Beat, Played, Request
from pegwright.columns import frozen_floats, frozen_ints
from pegwright.errors import UsageError
from pegwright.findings import Finding
from pegwright.played.alternatives import shifted
from pegwright.played.bar_places import SongMetre, metre_of
from pegwright.played.beats import BeatTrack, beats_of_tempo_map, seconds_of, tapped_beats
from pegwright.played.findings import beyond_beats, findings_of
from pegwright.played.model import wheel_places
from pegwright.played.on_grid import begun_at, placed_on_grid, score_on_grid
from pegwright.played.quantise import put_on_holes
from pegwright.played.result import PerformedResult
from pegwright.read.beats import read_beats
from pegwright.score import Score
from pegwright.units import fraction_text, plural, printed
from pegwright.wheel import Wheel

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
    played, beats = request.played or Played(), None
    if played.beats_file is not None:
        beats = read_beats(played.beats_file)
    elif played.tapped_part is not None:
        score, beats = tapped_beats(score, played.tapped_part)
    elif played.start_tempo is not None and score.note_count:
        beats = _beginning_at(score, played.start_tempo, request)
    _check_pace(score, beats_of_tempo_map(score) if beats is None else beats, played)
    places = _places(wheel, request.subdivisions)
    result = put_on_holes(score, beats, played.beat, places, _metre(request))
    result = begun_at(result, _first_quarters(result, request))
    for shift in request.beat_shifts:
        result = _shifted(placed_on_grid(score, result, request.metre), result, shift, places)
    beyond = () if beats is None or played.start_tempo is not None else beyond_beats(score, beats)
    return score_on_grid(score, result, request.metre), (*beyond, *findings_of(score, result, request.metre))


def _beginning_at(score: Score, tempo: Fraction, request: Request) -> BeatTrack:
    """The first beat at a tempo in quarter notes a minute; the first note is on it, unless the request says where."""
    first_s = float(seconds_of(score, score.onset_ticks).min())
    inside = float((_first_quarters_asked(request) or Fraction()) % 1)
    times = first_s + np.array([0.0, 60 / float(tempo)])
    return BeatTrack(frozen_floats(times), frozen_floats(inside + np.arange(2.0)))


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
    moved = shifted(result, _beginning(placed, shift, where), shift.quarters, places)
    if moved.onset_units.min(initial=0) < 0:
        fault = f"the first note would lie {-int(moved.onset_units.min())}/{placed.resolution} quarter before bar 1"
        raise UsageError(fault, where=where, hint="give a later bar, or use --first-note")
    return moved


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


def _metre(request: Request) -> SongMetre | None:
    """What the request states of the metre; the first note alone says nothing of it."""
    return None if request.metre is None else metre_of(request.metre, _first_quarters_asked(request))


def _first_quarters(result: PerformedResult, request: Request) -> Fraction | None:
    """Where the first note begins in its bar, in quarters; None leaves it where it is."""
    quarters = _first_quarters_asked(request)
    if quarters is not None and (quarters * result.resolution).denominator != 1:
        beat, finest = float(request.first_note or 0), f"1/{result.resolution} quarter"
        fault = f"beat {beat:g} lies between the places of the grid, {finest}"
        raise UsageError(fault, where="first note", hint="give a beat such as 1, 2.5 or 4.75")
    return quarters


def _first_quarters_asked(request: Request) -> Fraction | None:
    if request.first_note is None:
        return None
    return (request.first_note - 1) * 4 / int((request.metre or "4/4").partition("/")[2])


def _check_pace(score: Score, beats: BeatTrack, played: Played) -> None:
    """Refuse beats too fast to be played, before they make the song too long for memory, and beats without end."""
    if not score.note_count or played.beat is Beat.FIND:
        return
    slowest_s = float(beats.quarter_s_at(seconds_of(score, score.onset_ticks)).max())
    if slowest_s > MAX_QUARTER_S:
        raise UsageError(
            f"by these beats a quarter note of the song lasts {slowest_s:.3g} s, more than {MAX_QUARTER_S:,.0f} s",
            where=str(played.beats_file or score.file),
            hint="give beats in seconds, one for each quarter note",
        )
    seconds = seconds_of(score, frozen_ints([score.onset_ticks.min(), score.onset_ticks.max()]))
    lasts_s, quarters = float(np.ptp(seconds)), float(np.ptp(beats.quarters_at(seconds)))
    if quarters > 1 and quarters * 60 > MAX_QUARTERS_PER_MINUTE * lasts_s:
        pace = quarters * 60 / lasts_s if lasts_s else np.inf
        pace_text = f"{pace:,.0f}" if pace < 1e15 else f"{pace:.0e}"
        raise UsageError(
            f"by these beats the song is played at {pace_text} quarter notes a minute, "
            f"above {MAX_QUARTERS_PER_MINUTE:,}",
            where=str(played.beats_file or score.file),
            hint="give beats in seconds, or let them be found: --beats find",
        )

"""The first stages: a file is read, and the changes that were requested are made."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path, PurePath

import numpy as np

from pegwright.ask.request import AUTO, Beat, Played, Request
from pegwright.columns import frozen_ints
from pegwright.edit.bars import select_bars
from pegwright.edit.offset import constant_offset, shift
from pegwright.edit.ornaments import write_out_ornaments
from pegwright.edit.parts import move_part
from pegwright.edit.swing import swing_as_marked, swing_score
from pegwright.edit.thinning import thin
from pegwright.errors import UsageError
from pegwright.findings import Finding, Severity
from pegwright.played.beats import BeatTrack, beats_of_tempo_map, seconds_of, tapped_beats
from pegwright.played.findings import beyond_beats
from pegwright.played.model import wheel_places
from pegwright.played.on_grid import score_on_grid
from pegwright.played.quantise import quantise_performed
from pegwright.read import score_bytes, score_of
from pegwright.read.beats import read_beats
from pegwright.score import Score
from pegwright.song import EditedSong
from pegwright.units import ratio_text
from pegwright.wheel import Wheel

MAX_QUARTERS_PER_MINUTE = 1000  # of a song played by hand
MAX_QUARTER_S = 3600.0  # of a song played by hand; the longest that a MIDI tempo can say is 16.8 s
OFFSET_CODE = "constant-offset"  # the finding of a reader that onsets are late, with what takes it out
PLAIN_ORNAMENTS = ("ornaments", "tremolos")  # findings of a reader, that they are played as plain notes


def edit_song(song: Path, wheel: Wheel, request: Request) -> EditedSong:
    """Read a song and make the changes that were asked for; see `edit_score`.

    Args:
        song: the file.
        wheel: the wheel, whose holes notes played by hand are put on.
        request: the changes.

    Raises:
        InputError: the file cannot be read as music, or a file of beats cannot.
        UsageError: the request cannot be met, such as bars that the song does not have.
    """
    data = score_bytes(song)
    whole, findings = score_of(data, song)
    return replace(edit_score(whole, wheel, request, findings), path=song, data=data)


def edit_score(whole: Score, wheel: Wheel, request: Request, findings: tuple[Finding, ...] = ()) -> EditedSong:
    """Make the changes that were asked for: offset, playing, bars, ornaments, parts, swing, texture.

    Args:
        whole: the song as it was read.
        wheel: the wheel.
        request: the options.
        findings: of reading.

    Raises:
        InputError: a file of beats cannot be read.
        UsageError: the request cannot be met, such as bars that the song has not.
    """
    if request.offset == AUTO:
        request = replace(request, offset=constant_offset(whole))
    score, edits = _without_offset(whole, int(request.offset or 0))
    if request.offset and not constant_offset(score):
        findings = tuple(finding for finding in findings if finding.code != OFFSET_CODE)
    read, dropped = whole.note_count, {}
    if request.played is not None:
        notes = score.note_count
        score, performed = _put_on_grid(score, wheel, request.played)
        dropped["beats"] = notes - score.note_count
        edits = (*edits, *performed)
    if request.bars is not None:
        notes = score.note_count
        score = select_bars(score, *request.bars)
        dropped["bars"] = notes - score.note_count
    if request.ornaments is not None:
        notes = score.note_count
        score, played = write_out_ornaments(score, request.ornaments)
        read += score.note_count - notes
        findings = tuple(finding for finding in findings if finding.code not in PLAIN_ORNAMENTS)
        edits = (*edits, *played)
    for name, semitones in request.part_semitones:
        score, moved = move_part(score, name, semitones)
        edits = (*edits, *moved)
    score, swung = _swung(score, request.swing)
    edits = (*edits, *swung)
    if request.most_at_once is not None:
        notes = score.note_count
        score, thinned = thin(score, request.most_at_once, request.options)
        dropped["thin"] = notes - score.note_count
        edits = (*edits, *thinned)
    return EditedSong(PurePath(whole.file), read, score, request, (*findings, *edits), dropped)


def _swung(score: Score, ratio: Fraction | None) -> tuple[Score, tuple[Finding, ...]]:
    """The score with its eighths swung as requested, or as it marks."""
    if ratio is not None:
        message = f"pairs of eighths swung {ratio_text(ratio)}"
        return swing_score(score, ratio), (Finding("swung", Severity.NOTE, score.file, message),)
    if not score.bar_map.swing:
        return score, ()
    message, hint = "pairs of eighths swung as the score marks", "--swing 1:1 plays them even"
    return swing_as_marked(score), (Finding("swung", Severity.NOTE, score.file, message, hint),)


def _put_on_grid(score: Score, wheel: Wheel, played: Played) -> tuple[Score, tuple[Finding, ...]]:
    """A song played by hand with its onsets where they were meant."""
    beats = None
    if played.beats_file is not None:
        beats = read_beats(played.beats_file)
    elif played.tapped_part is not None:
        score, beats = tapped_beats(score, played.tapped_part)
    _check_pace(score, beats_of_tempo_map(score) if beats is None else beats, played)
    result, findings = quantise_performed(score, beats, played.beat, wheel_places(wheel))
    beyond = () if beats is None else beyond_beats(score, beats)
    return score_on_grid(score, result), (*beyond, *findings)


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
            f"by these beats the song is played at {pace_text} quarters a minute, above {MAX_QUARTERS_PER_MINUTE:,}",
            where=str(played.beats_file or score.file),
            hint="give beats in seconds, or let them be found: --beats find",
        )


def _without_offset(score: Score, ticks: int) -> tuple[Score, tuple[Finding, ...]]:
    if not ticks:
        return score, ()
    message = f"every onset taken {abs(ticks)} of the file's ticks {'earlier' if ticks > 0 else 'later'}"
    return shift(score, ticks), (Finding("offset-taken-out", Severity.NOTE, score.file, message),)

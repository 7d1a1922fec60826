"""The first stages: a file is read, and the changes that were requested are made."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path, PurePath
from typing import TypeAlias

from pegwright.ask.kinds import STRAIGHT
from pegwright.ask.request import AUTO, Request
from pegwright.edit.bars import select_bars, silent_bars
from pegwright.edit.by_hand import by_hand_finding, judged
from pegwright.edit.note_edits import edit_notes
from pegwright.edit.offset import constant_offset, shift
from pegwright.edit.ornaments import write_out_ornaments
from pegwright.edit.parts import matching_parts, move_part, without_parts
from pegwright.edit.swing import straighten, swing_as_marked, swing_score
from pegwright.edit.thinning import thin
from pegwright.findings import Finding, Severity, bar_of_place
from pegwright.read import score_bytes, score_of
from pegwright.score import Score, bar_name
from pegwright.song import EditedSong
from pegwright.units import plural, printed, ratio_text
from pegwright.wheel import Wheel

OFFSET_CODE = "constant-offset"  # the finding of a reader that onsets are late, with what takes it out
METRE_ASSUMED = "metre-assumed"  # that a file states no metre; a request may
PLAIN_ORNAMENTS = ("ornaments", "tremolos")  # findings of a reader, that they are played as plain notes
_Findings: TypeAlias = tuple[Finding, ...]


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
    """Make the changes that were asked for: offset, playing, notes, parts, bars, silence, ornaments, swing, texture.

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
    read, dropped = whole.note_count, dict[str, int]()
    if request.played is not None:
        notes = score.note_count
        score, findings, performed = _as_meant(score, wheel, request, findings)
        dropped["beats"] = notes - score.note_count
        edits = (*edits, *performed)
    elif (judgement := judged(score, constant_offset(score))).by_hand:
        edits = (*edits, by_hand_finding(score, judgement))
    notes_edited = edit_notes(score, request.note_edits, wheel, request.options.transpose_semitones)
    read, dropped["note-edit"] = read + notes_edited.added, notes_edited.dropped
    score, chosen = chosen_parts(notes_edited.score, request, dropped)
    edits = (*edits, *notes_edited.findings, *chosen)
    if request.bars is not None:
        score, findings, edits = _selected(score, request, findings, edits, dropped)
    score, silence = _silence(score, request.skip_silence)
    edits = (*edits, *silence)
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


def _as_meant(score: Score, wheel: Wheel, request: Request, findings: _Findings) -> tuple[Score, _Findings, _Findings]:
    """A song played by hand on the holes that were meant; the findings of reading that still hold; what was found.

    Args:
        score: as it was played.
        wheel: the wheel.
        request: the options.
        findings: of reading.
    """
    from pegwright.song_pipeline.performed import put_on_grid  # noqa: PLC0415  # loaded where notes were played

    if request.metre is not None:
        findings = tuple(finding for finding in findings if finding.code != METRE_ASSUMED)
    meant, performed = put_on_grid(score, wheel, request)
    return meant, findings, performed


def chosen_parts(score: Score, request: Request, dropped: dict[str, int]) -> tuple[Score, tuple[Finding, ...]]:
    """The score with the notes of the parts that `only` and `without` leave.

    Args:
        score: the song.
        request: the options.
        dropped: gets the number of the other notes, by option.

    Raises:
        UsageError: no part has such a name.
    """
    findings: tuple[Finding, ...] = ()
    only, without = (
        matching_parts(score, patterns, option)
        for patterns, option in ((request.only, "--only"), (request.without, "--without"))
    )
    for option, left_out in (
        ("only", [bool(request.only) and not taken for taken in only]),
        ("without", without),
    ):
        notes = score.note_count
        score, named = without_parts(score, left_out, f"--{option}")
        dropped[option] = notes - score.note_count
        findings = (*findings, *named)
    return score, findings


def _selected(
    score: Score, request: Request, findings: _Findings, edits: _Findings, dropped: dict[str, int]
) -> tuple[Score, _Findings, _Findings]:
    """The bars that are asked for, and what was found in them."""
    assert request.bars is not None  # noqa: S101  # the caller looked
    selected = select_bars(score, *request.bars)
    dropped["bars"] = score.note_count - selected.note_count
    if request.played is None or request.played.in_own_quarters:  # else the file's bars are others than the grid's
        edits = _in_bars(selected, edits)
    return selected, _in_bars(selected, findings), edits


def _silence(score: Score, skip: bool) -> tuple[Score, tuple[Finding, ...]]:
    """The score without the bars of silence before its first note, or a finding on them."""
    bars = silent_bars(score)
    if not bars:
        return score, ()
    silence = f"{plural(bars, 'bar')} of silence before the first note"
    if not skip:
        hint = "--skip-silence leaves them out" if bars > 1 else "--skip-silence leaves it out"
        return score, (Finding("silence-first", Severity.NOTE, score.file, f"the song begins with {silence}", hint),)
    score = select_bars(score, printed(bars), len(score.bar_map.ticks))
    return score, (Finding("silence-skipped", Severity.NOTE, score.file, f"{silence} left out", count=bars),)


def _in_bars(score: Score, findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """The findings that are on bars of a score, or on no bar; what other bars of the file hold is nothing to it."""
    bars = {bar_name(label).partition(",")[0] for label in score.bar_map.labels}

    def is_kept(where: str) -> bool:
        return bar_of_place(where) in {"", *bars}

    return tuple(kept for finding in findings if (kept := finding.only_where(is_kept)))


def _swung(score: Score, ratio: Fraction | str | None) -> tuple[Score, tuple[Finding, ...]]:
    """The score with its eighths swung or straightened as requested, or as it marks."""
    if ratio == STRAIGHT:
        return straighten(score)
    if isinstance(ratio, Fraction):
        message = f"pairs of eighths swung {ratio_text(ratio)}"
        return swing_score(score, ratio), (Finding("swung", Severity.NOTE, score.file, message),)
    if not score.bar_map.swing:
        return score, ()
    message, hint = "pairs of eighths swung as the score marks", "--swing 1:1 plays them even"
    return swing_as_marked(score), (Finding("swung", Severity.NOTE, score.file, message, hint),)


def _without_offset(score: Score, ticks: int) -> tuple[Score, tuple[Finding, ...]]:
    if not ticks:
        return score, ()
    message = f"every onset taken {abs(ticks)} of the file's ticks {'earlier' if ticks > 0 else 'later'}"
    return shift(score, ticks), (Finding("offset-taken-out", Severity.NOTE, score.file, message),)

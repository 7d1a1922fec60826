"""The fit report as plain text: the verdict first, then the reasons."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import PurePath

import numpy as np

from pegwright.ask.text import typed_options
from pegwright.findings import Finding, Severity
from pegwright.note_count import NoteCount
from pegwright.placement import Outcome, Placement, Status
from pegwright.running import running_summary
from pegwright.score import Score
from pegwright.song import FittedSong
from pegwright.tell.audible import Audibility
from pegwright.tell.counts import count_words, damage_words
from pegwright.tell.findings import FLAM_CODE
from pegwright.tell.hints import folding_hint
from pegwright.tell.report import Report, ReportedNote, ReportedNotes
from pegwright.tell.wheel import HEADED
from pegwright.units import figures, fraction_text, percent_text, plural, quarters_per_minute, turning_text
from pegwright.write.places import part_words, place_words
from pegwright.write.report.leads import apart_lines
from pegwright.write.start import start_of
from pegwright.write.tables import (
    HANG,
    LINE_CELLS,
    Line,
    TextTable,
    UncutLine,
    one_line,
    paragraphs,
    unbroken_options,
)

LISTED = 5  # notes or lines of a group before "and N more"
THINNED = "thinned"  # how the codes of findings on notes dropped by --thin begin
NAME_CELLS = 40
PART_CELLS = 20
PLACE_CELLS = 60
_INDENT = "  "
_CUT = re.compile(rf"{_INDENT}and [0-9,]+ more\b")
_SEAM = re.compile(r"lost at the seam between plates \d+ and \d+")
_TITLES = {
    Severity.LOST: "Also lost",
    Severity.CHANGED: "Changed",
    Severity.MENDED: "Mended in reading",
    Severity.NOTE: "Worth knowing",
}


def report_text(song: FittedSong, width: int = LINE_CELLS) -> str:
    """Verdict, what was fitted to what, notes left out by reason and dropped, those that sound, and all other findings.

    Args:
        song: on its wheel.
        width: cells of a line.

    Returns:
        lines; long lists are cut, with the number of lines that are left out.
    """
    report, count, apart = song.report, song.count, song.apart
    blocks: list[list[Line]] = [[f"{count_words(count)}. {damage_words(report)}".strip(), *apart.words()]]
    blocks.append([*_fitted(song), *_options(song)])
    blocks += [_left_out(reason, notes) for reason, notes in report.reasons().items()]
    elsewhere = {*HEADED, FLAM_CODE} if apart.pairs else HEADED  # the pairs have these chords, with their leads
    kinds = {
        severity: {code: kind for code, kind in report.kinds(severity).items() if code not in elsewhere}
        for severity in _TITLES
    }
    thinned = {code: kind for each in kinds.values() for code, kind in each.items() if code.startswith(THINNED)}
    if thinned:
        title = f"Dropped on request, --thin: {plural(count.dropped_by_option.get('thin', 0), 'note')}"
        blocks.append(_finding_lines(title, thinned, song.score))
    blocks += [_sounding(count, report), apart_lines(song.wheel, apart), _shared(report)] if count.sounding else []
    for severity, title in _TITLES.items():
        others = {code: kind for code, kind in kinds[severity].items() if code not in thinned}
        blocks += [_finding_lines(f"{title}:", others, song.score)] if others else []
    if any(isinstance(line, str) and _CUT.match(line) for block in blocks for line in block):
        blocks.append([f"Lists stop after {LISTED} here; the report as JSON holds every one."])
    return paragraphs(blocks, width)


def _fitted(song: FittedSong) -> list[Line]:
    score, wheel, report, placement = song.score, song.wheel, song.report, song.whole_placement
    bars = plural(len(score.bar_map.ticks), "bar")
    tempo = f"{quarters_per_minute(placement.us_per_quarter):.4g} quarter notes a minute"
    plate, step = start_of(wheel, placement)
    semitones = placement.transpose_semitones
    rows = [
        ("Song", f"{_song(score)}, {bars}"),
        ("Wheel", f"{one_line(wheel.name, NAME_CELLS)}, {plural(wheel.plate_count, 'plate')}"),
        ("Length", _length(score, report)),
        ("Tempo", f"{tempo}, {turning_text(report.turn_s)}"),
        ("Start", f"plate {plate}, step {step}"),
    ]
    rows += [("Note", _with_hint(finding)) for code in HEADED for finding in report.of_code(code)]
    if song.several_turns:
        rows.insert(3, ("Turns", _turns(song)))
    if semitones:
        rows.append(("Pitch", f"{plural(abs(semitones), 'semitone')} {'up' if semitones > 0 else 'down'}"))
    if placement.status != Status.OPTIMAL:
        rows.append(("Search", _search(placement)))
    return [f"{name:8}{HANG}{text}" for name, text in rows]


def _with_hint(finding: Finding) -> str:
    return f"{finding.message} ({finding.hint})" if finding.hint else finding.message


def _options(song: FittedSong) -> list[Line]:
    given = typed_options(song.request)
    room, shown = 6 * LINE_CELLS, 0
    while shown < len(given) and (cells := len(given[shown]) + 1) <= room:
        room, shown = room - cells, shown + 1
    shown = max(shown, 1)  # one that is longer than all the room is cut
    text = one_line(" ".join(given[:shown]), 6 * LINE_CELLS)
    more = f" and {len(given) - shown:,} more" if len(given) > shown else ""
    return [UncutLine(f"Options {HANG}{unbroken_options(text)}{more}")] if given else []


def _turns(song: FittedSong) -> str:
    """`A A B A: 4 turns with 2 different sets of plates`."""
    sets = plural(len(song.pinnings), "set", "different sets")
    return f"{running_summary(song.running)}: {plural(len(song.turns), 'turn')} with {sets} of plates"


def _song(score: Score) -> str:
    file = one_line(score.file, NAME_CELLS)
    return file if PurePath(score.file).stem == score.title else f"{one_line(score.title, NAME_CELLS)} ({file})"


def _length(score: Score, report: Report) -> str:
    quarters = fraction_text(Fraction(score.length_ticks, score.resolution))
    if report.turns == 1:
        return f"{quarters} quarters, exactly one turn"
    turns = float(report.turns)
    if turns < 1:
        return f"{quarters} quarters, {percent_text(turns)} of a turn"
    return f"{quarters} quarters, {figures(turns)} turns"


def _search(placement: Placement) -> str:
    short = placement.weight_bound - placement.weight
    gain = percent_text(short / max(1, placement.weight_bound), 1)
    return f"stopped before proving the best: at most {gain} could be gained"


def _left_out(reason: Outcome, notes: ReportedNotes) -> list[Line]:
    heading = f"Left out, {reason.words}: {plural(len(notes), 'note')}"
    if reason == Outcome.NO_CHANNEL:
        return [heading, *_by_pitch(notes)]
    if reason == Outcome.PAST_TURN:
        return [heading, f"{_INDENT}from {_place_words(notes[0])} on"]
    return [heading, *_note_lines(notes)]


def _shared(report: Report) -> list[Line]:
    if not report.shared:
        return []
    heading = f"Sounding by the pin of another note: {plural(len(report.shared), 'note')}"
    return [heading, *_note_lines(report.shared)]


def _note_lines(notes: ReportedNotes) -> list[Line]:
    lines: list[Line] = []
    for note in notes[:LISTED]:
        detail = note.detail or _pitch(note)
        lines.append(_sentence(f"{_place_words(note)}: {detail}", note.hint))
    return lines + _more(len(notes))


def _by_pitch(notes: ReportedNotes) -> list[Line]:
    """One line for each pitch of a part: a channel that is missing is missing for all its notes."""
    kind = notes.kind
    _, first, counts = np.unique(kind, return_index=True, return_counts=True)
    largest = np.lexsort([first, -counts])
    lines: list[Line] = []
    for place in largest[:LISTED].tolist():
        group = notes.some(kind == kind[first[place]])
        note = group[0]
        where = f"from {_bar_beat(note)} on" if len(group) > 1 else f"at {_bar_beat(note)}"
        what = f"{_pitch(note)}: {plural(len(group), 'note')} of {part_words(note.source.part)}"
        lines.append(_sentence(f"{what}, {where}", _hint_of_all(group)))
    return lines + _more(len(largest), "of other pitch or part")


def _hint_of_all(group: ReportedNotes) -> str:
    """The hint of notes of one pitch and part; where there are several, for how many of them it is true."""
    if len(group) == 1:
        return group[0].hint
    octaves, channels = group.folded()
    sounding = np.flatnonzero(channels >= 0)
    if not len(sounding):
        return ""
    which = "each of them by itself" if len(sounding) == len(group) else f"{len(sounding):,} of them, each by itself,"
    on = set(channels[sounding].tolist())
    return folding_hint(int(octaves[sounding[0]]), group.channel_name(on.pop()) if len(on) == 1 else "", which)


def _sounding(count: NoteCount, report: Report) -> list[Line]:
    counts = [f"{notes:,} {level.words}" for level, notes in report.audibility_counts.items() if notes]
    counts += [f"{count.shared_pin:,} by the pin of another note"] if count.shared_pin else []
    lines: list[Line] = [f"Sounding: {plural(count.sounding, 'note')}, {', '.join(counts)}"]
    if report.moved:
        lines.append(f"{_INDENT}how audible a move is: a guide from listening tests, not a pass mark")
    for level in sorted(Audibility, reverse=True):
        notes = report.moved.some(report.moved.level == level)
        if level > Audibility.UNHEARD and notes:
            rows = [
                (f"{note.deviation_ms:+.1f} ms", *_place(note), _pitch(note), _seam(note)) for note in notes[:LISTED]
            ]
            table = TextTable([""] * 5, rows, left=(1, 2, 3, 4), indent=_INDENT)
            lines += [f"{level.words.capitalize()}: moved by", table, *_more(len(notes))]
    return lines


def _finding_lines(title: str, kinds: Mapping[str, Sequence[Finding]], score: Score) -> list[Line]:
    lines: list[Line] = [title]
    for kind in kinds.values():
        for finding in kind[:LISTED]:
            place = place_words(finding.where, score)
            where = f"{one_line(place, LINE_CELLS)}: " if place else ""
            lines.append(_sentence(f"{where}{finding.message}", finding.hint))
        lines += _more(len(kind))
    return lines


def _sentence(text: str, hint: str) -> str:
    """A sentence with its hint in brackets; what is very long is cut."""
    in_brackets = f" ({one_line(hint, 4 * LINE_CELLS)})" if hint else ""
    return f"{_INDENT}{one_line(text, 4 * LINE_CELLS)}{in_brackets}"


def _more(count: int, things: str = "") -> list[Line]:
    return [f"{_INDENT}and {count - LISTED:,} more {things}".rstrip()] if count > LISTED else []


def _place(note: ReportedNote) -> tuple[str, str]:
    return one_line(note.source.part, PART_CELLS), _bar_beat(note)


def _place_words(note: ReportedNote) -> str:
    return f"{part_words(note.source.part)} {_bar_beat(note)}"


def _bar_beat(note: ReportedNote) -> str:
    return one_line(note.source.bar_beat, PLACE_CELLS)


def _seam(note: ReportedNote) -> str:
    """The seam that takes the nearest hole of a moved note, or nothing."""
    seam = _SEAM.search(note.detail)
    return f"hole {seam[0]}" if seam else ""


def _pitch(note: ReportedNote) -> str:
    return f"{note.pitch} ({note.pitch_midi})"
